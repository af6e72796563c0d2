// The 3-D view of the blade: scan, section planes, fitted outlines and the surface through them, rotated by pointer, touch and keys.
// A picture is drawn only when something has changed. There is no animation, so there is no motion to reduce.
(() => {
  const source = document.getElementById('view-data');
  const canvas = document.getElementById('stage');
  if (!source || !canvas) return;
  const box = canvas.closest('.space');
  const readout = document.getElementById('stage-readout');
  const { NO_DISTANCE, extentOf, linesBody, loftBody, planesBody, scanBody, share } = bodies3d;

  const PLANE_OPACITY = 0.16;
  /** More pixels per CSS pixel cost time and show no more detail. */
  const MOST_RATIO = 2;
  /** Pixels along the longer side of the printed picture: about 240 per inch on A4. */
  const PRINT_PIXELS = 1700;
  /** Pixels along the picture of the first screen, two for each CSS pixel, the room around the blade in it, and its width over its height before it is cut. */
  const PORTRAIT_PIXELS = 1300;
  const PORTRAIT_ROOM = 1.1;
  const PORTRAIT_SHAPE = 2;
  /** Minimum time between two readouts at the pointer, ms. */
  const READ_EVERY = 60;

  const begin = () => {
    const data = JSON.parse(source.textContent);
    const scan = data.scan && scanBody(data.scan);
    const lines = ['plain', 'flagged'].map(name => linesBody(data.outlines.filter(o => o.flagged === (name === 'flagged')), name));
    const planes = planesBody(data.outlines);
    const bodies = [...(scan ? [scan] : []), ...data.surfaces.map(loftBody), ...lines, ...(data.planes ? [planes] : [])];
    let painter;
    try {
      painter = space3d.painter(canvas, bodies);
    } catch {
      readout.textContent = 'This browser offers no WebGL 2, so there is no 3-D view. The drawing at the top of the page shows the blade.';
      canvas.parentElement.remove();
      box.querySelectorAll('.tools').forEach(tools => tools.remove());
      return;
    }
    // The table axes of a left-hand blade are mirrored. The view mirrors them back, so that it shows the real part.
    const mirror = data.mirrored ? -1 : 1;

    const { centre: home, sides } = extentOf(bodies, mirror);
    const size = space3d.size(sides);

    // Viewing directions in blade axes: y is the flight direction, z the span, x the direction of blade motion.
    const lone = data.surfaces.length < 2;
    // The flight direction is up in the view from the tip, so that the blade angle is visible.
    const viewsOf = isWide => ({
      back: [0.12, 0.16],
      face: [Math.PI + 0.12, 0.16],
      leading: [Math.PI / 2 * mirror, 0.1],
      tip: [isWide ? -Math.PI / 2 : Math.PI, 1.45, 0.8],
    });

    // Colours of the page as red, green and blue from 0 to 1. The style sheet has them as #rgb or #rrggbb.
    const colour = name => {
      const digits = getComputedStyle(document.documentElement).getPropertyValue(name).trim().slice(1);
      const hex = digits.length === 3 ? digits.replace(/./g, '$&$&') : digits;
      return share([0, 2, 4].map(at => Number.parseInt(hex.slice(at, at + 2), 16)));
    };
    const paint = (width, height, ratio, background, seen = orbit.camera()) => {
      lines.forEach(body => { body.tint = bodies3d.lineTint(body, bodies, colour); });
      planes.tint = [...colour('--one'), PLANE_OPACITY];
      painter.draw(seen, width, height, ratio, background);
    };
    const draw = () => {
      const ratio = Math.min(MOST_RATIO, window.devicePixelRatio || 1);
      const [width, height] = [canvas.clientWidth * ratio, canvas.clientHeight * ratio].map(Math.round);
      // A canvas without size has nothing to draw.
      if (width > 0 && height > 0) paint(width, height, ratio, colour('--panel'));
    };
    let waiting = false;
    const soon = () => {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(() => { waiting = false; draw(); });
    };

    // The distance under the pointer as a number: colour alone is not enough.
    let last = -Infinity;
    const tell = event => {
      if (!scan?.shown || event.timeStamp - last < READ_EVERY) return;
      last = event.timeStamp;
      const met = space3d.hit(orbit.rayAt(event), scan);
      if (!met) return;
      const d = scan.distances[met.corner];
      // Sections are normal to the span, so the radius of a single blade is z. With several blades the distance from the axis is given instead.
      const [px, , pz] = met.point;
      const at = lone ? `r = ${lengths.text(pz, 0)}` : `${lengths.text(Math.hypot(px, pz), 0)} from the axis`;
      readout.textContent = d === NO_DISTANCE ? `${at}: beyond the stations, or too few points; there is nothing to compare.` : `${at}: the scan lies ${lengths.text(Math.abs(d) / 1e6, 2)} ${d < 0 ? 'inside' : 'outside'} the outline, as the mean over ${lengths.text(data.scan.patch_m, 1)}.`;
    };

    const orbit = orbit3d(canvas, { home, size, lone, mirror, views: viewsOf, changed: () => soon(), pointed: tell });

    for (const check of box.querySelectorAll('input[type=checkbox]')) {
      const apply = () => {
        if (check.name === 'colour') scan.tint[3] = check.checked ? 0 : 1;
        else bodies.filter(body => body.layer === check.name).forEach(body => { body.shown = check.checked; });
        soon();
      };
      apply();
      check.addEventListener('change', apply);
    }
    for (const button of box.querySelectorAll('[data-view]')) button.addEventListener('click', () => orbit.look(button.dataset.view));

    // A browser may lose the graphics context, for example after sleep, and restore it later.
    canvas.addEventListener('webglcontextlost', event => event.preventDefault());
    canvas.addEventListener('webglcontextrestored', () => { painter.load(); soon(); });

    // On paper: a still picture of the screen view, in the colours of the light theme. A second canvas holds it and is ready as soon as it is drawn.
    const still = document.getElementById('stage-still');
    addEventListener('beforeprint', () => {
      box.classList.toggle('still', !painter.lost());
      if (painter.lost()) return;
      const root = document.documentElement.dataset;
      const chosen = root.theme;
      root.theme = 'light';
      const ratio = PRINT_PIXELS / Math.max(1, canvas.clientWidth, canvas.clientHeight);
      const [width, height] = [canvas.clientWidth, canvas.clientHeight].map(length => Math.max(1, Math.round(length * ratio)));
      paint(width, height, ratio, null);
      if (chosen === undefined) delete root.theme; else root.theme = chosen;
      Object.assign(still, { width, height });
      still.getContext('2d').drawImage(canvas, 0, 0);
      box.classList.toggle('plain', !scan?.shown || scan.tint[3] === 1);
      draw();
    });

    // On the first screen: the scan in one colour, or else the surface through the outlines, seen on the back. It is drawn once and fits every theme.
    const portrait = document.getElementById('portrait');
    const portray = () => {
      const main = bodies.filter(body => body.layer === (scan ? 'scan' : 'surface'));
      if (!portrait || main.length === 0) return;
      const [ct, st] = [Math.cos(viewsOf(true).back[0]), Math.sin(viewsOf(true).back[0])];
      const { centre, sides: [wide, deep, span] } = extentOf(main, mirror);
      const across = Math.hypot(wide, deep);
      // Drawn as wide as the view, so that the perspective stays weak; the strip with the blade is cut out of it.
      const reach = PORTRAIT_ROOM * Math.max(span / PORTRAIT_SHAPE, across) / 2 / space3d.HALF_HEIGHT;
      const seen = space3d.camera({ target: centre, away: [st, ct, 0], up: [ct, -st, 0], reach, aspect: PORTRAIT_SHAPE, mirror });
      const [width, height] = [PORTRAIT_PIXELS, Math.round(PORTRAIT_PIXELS / PORTRAIT_SHAPE)];
      const strip = Math.min(height, Math.ceil(height * PORTRAIT_ROOM * across / (2 * reach * space3d.HALF_HEIGHT)));
      const before = bodies.map(body => [body, body.shown, body.tint]);
      bodies.forEach(body => { body.shown = main.includes(body); });
      main.forEach(body => { body.tint = [...body.tint.slice(0, 3), 1]; });
      paint(width, height, 2, null, seen);
      before.forEach(([body, shown, tint]) => Object.assign(body, { shown, tint }));
      Object.assign(portrait, { width, height: strip, hidden: false });
      portrait.getContext('2d').drawImage(canvas, 0, (strip - height) / 2);
    };

    new ResizeObserver(soon).observe(canvas);
    document.addEventListener('themechange', soon);
    matchMedia('(prefers-color-scheme: dark)').addEventListener('change', soon);
    // Another screen or another zoom has another pixel ratio.
    const watchRatio = () => matchMedia(`(resolution: ${window.devicePixelRatio}dppx)`).addEventListener('change', () => { soon(); watchRatio(); }, { once: true });
    watchRatio();
    orbit.look('back');
    portray();
    draw();
    canvas.dataset.ready = 'true';
  };
  // The text of the page is shown first.
  requestAnimationFrame(() => setTimeout(begin, 0));
})();
