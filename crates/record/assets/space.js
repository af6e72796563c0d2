// The 3-D view of the blade: scan, section planes, fitted outlines and the surface through them, rotated by pointer, touch and keys.
// A picture is drawn only when something has changed. There is no animation, so there is no motion to reduce.
(() => {
  const source = document.getElementById('view-data');
  const canvas = document.getElementById('stage');
  if (!source || !canvas) return;
  const box = canvas.closest('.space');
  const readout = document.getElementById('stage-readout');
  const { plus, times, dot, size: lengthOf } = space3d;

  /** Marks a point without a distance, among distances in micrometres. */
  const NO_DISTANCE = -32768;
  // Lightness increases from inside to outside, so that the scale is readable in grey as well. The same colours are in page.css.
  const RAMP = [[0x12, 0x30, 0x5a], [0x47, 0x68, 0x8f], [0x8f, 0x90, 0x8a], [0xd8, 0xa5, 0x44], [0xfb, 0xe9, 0xa8]];
  const PLAIN = [0xb4, 0xb6, 0xb0];
  const LOFT = [0x9a, 0xa6, 0xad];
  const PLANE_OPACITY = 0.16;
  /** Widths of outlines in CSS pixels; flagged stations differ in width as well as in colour. */
  const WIDTH = { plain: 1.2, flagged: 1.6 };
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

  const bytes = text => {
    const raw = atob(text);
    const out = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
    return out;
  };
  const share = colour => colour.map(c => c / 255);
  const coloured = fraction => {
    const at = (Math.max(-1, Math.min(1, fraction)) + 1) * 2;
    const k = Math.min(3, Math.floor(at));
    return RAMP[k].map((c, i) => c + (at - k) * (RAMP[k + 1][i] - c));
  };

  /** The scan. Vertices are 16-bit steps within its bounding box; distances are in micrometres. */
  const scanBody = s => {
    const steps = new Uint16Array(bytes(s.vertices).buffer);
    const positions = new Float32Array(steps.length);
    for (let i = 0; i < steps.length; i++) positions[i] = s.low[i % 3] + steps[i] * s.step[i % 3];
    const faces = bytes(s.faces).buffer;
    const distances = new Int16Array(bytes(s.distances).buffer);
    const colours = new Uint8Array(4 * distances.length);
    distances.forEach((d, i) => colours.set(d === NO_DISTANCE ? PLAIN : coloured(d / 1000 / s.limit_mm), 4 * i));
    return { layer: 'scan', kind: 'surface', positions, index: s.wide ? new Uint32Array(faces) : new Uint16Array(faces), colours, distances, tint: [...share(PLAIN), 1] };
  };
  /** The surface through the outlines: rings of points, each joined to the next. */
  const loftBody = s => {
    const index = [];
    for (let level = 0; level + 1 < s.levels; level++) {
      for (let i = 0; i < s.ring; i++) {
        const [a, b] = [level * s.ring + i, level * s.ring + (i + 1) % s.ring];
        index.push(a, b, b + s.ring, a, b + s.ring, a + s.ring);
      }
    }
    return { layer: 'surface', kind: 'surface', positions: new Float32Array(bytes(s.points).buffer), index: new Uint32Array(index), tint: [...share(LOFT), 1] };
  };
  const pointsOf = outline => Array.from({ length: outline.points.length / 3 }, (_, i) => outline.points.slice(3 * i, 3 * i + 3));
  const linesBody = (outlines, name) => {
    const ends = outlines.flatMap(o => pointsOf(o).flatMap((p, i, all) => [...p, ...all[(i + 1) % all.length]]));
    return { layer: 'outlines', name, kind: 'lines', ends: new Float32Array(ends), width: WIDTH[name] };
  };
  /** A rectangle in the plane of an outline, a quarter larger than the outline. Its directions come from the outline points. */
  const rectangle = points => {
    const middle = points.reduce((sum, p) => plus(sum, p, 1 / points.length), [0, 0, 0]);
    const longest = list => list.reduce((a, b) => (lengthOf(b) > lengthOf(a) ? b : a));
    const from = points.map(p => plus(p, middle, -1));
    const chord = longest(from);
    const across = longest(from.map(w => plus(w, chord, -dot(w, chord) / (dot(chord, chord) || 1))));
    const u = times(chord, 1.25);
    const v = times(space3d.unit(across), 0.3 * lengthOf(u));
    const [a, b, c, d] = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([i, j]) => plus(plus(middle, u, i), v, j));
    return [a, b, c, a, c, d].flat();
  };

  const begin = () => {
    const data = JSON.parse(source.textContent);
    const scan = data.scan && scanBody(data.scan);
    const lines = ['plain', 'flagged'].map(name => linesBody(data.outlines.filter(o => o.flagged === (name === 'flagged')), name));
    const planes = { layer: 'planes', kind: 'planes', positions: new Float32Array(data.outlines.flatMap(o => rectangle(pointsOf(o)))) };
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

    // Centre and size of all bodies.
    const extentOf = bodies => {
      const [low, high] = [[Infinity, Infinity, Infinity], [-Infinity, -Infinity, -Infinity]];
      for (const body of bodies) {
        (body.positions || body.ends).forEach((v, i) => { low[i % 3] = Math.min(low[i % 3], v); high[i % 3] = Math.max(high[i % 3], v); });
      }
      const [x, y, z] = times(plus(low, high), 0.5);
      return { centre: [x * mirror, y, z], sides: plus(high, low, -1) };
    };
    const { centre: home, sides } = extentOf(bodies);
    const size = lengthOf(sides);

    // Viewing directions in blade axes: y is the flight direction, z the span, x the direction of blade motion.
    const lone = data.surfaces.length < 2;
    const aspect = () => canvas.clientWidth / Math.max(1, canvas.clientHeight);
    const isWide = () => aspect() > 1.15;
    const VIEWS = {
      back: () => [0.12, 0.16],
      face: () => [Math.PI + 0.12, 0.16],
      leading: () => [Math.PI / 2 * mirror, 0.1],
      // The flight direction is up, so that the blade angle is visible.
      tip: () => [isWide() ? -Math.PI / 2 : Math.PI, 1.45],
    };
    const state = { turn: 0, tilt: 0, near: 1, target: home };
    const look = name => {
      [state.turn, state.tilt] = VIEWS[name]();
      Object.assign(state, { near: name === 'tip' ? 0.8 : 1, target: home });
      soon();
    };
    const camera = () => {
      const [ct, st, ci, si] = [Math.cos(state.turn), Math.sin(state.turn), Math.cos(state.tilt), Math.sin(state.tilt)];
      // In a wide window the span is horizontal, in a narrow one vertical. A single blade is slender; a propeller needs room on all sides.
      const wide = isWide();
      const room = lone ? (wide ? Math.max(size / aspect(), size * 0.34) : size) : 0.72 * size * Math.max(1, 1 / aspect());
      const reach = room * 0.56 / space3d.HALF_HEIGHT * state.near;
      return space3d.camera({ target: state.target, away: [st * ci, ct * ci, si], up: wide ? [ct, -st, 0] : [0, 0, 1], reach, aspect: aspect(), mirror });
    };

    // Colours of the page as red, green and blue from 0 to 1. The style sheet has them as #rgb or #rrggbb.
    const colour = name => {
      const digits = getComputedStyle(document.documentElement).getPropertyValue(name).trim().slice(1);
      const hex = digits.length === 3 ? digits.replace(/./g, '$&$&') : digits;
      return share([0, 2, 4].map(at => Number.parseInt(hex.slice(at, at + 2), 16)));
    };
    const paint = (width, height, ratio, background, seen = camera()) => {
      lines.forEach(body => { body.tint = [...colour(body.name === 'flagged' ? '--two' : '--ink'), 1]; });
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

    const turn = (across, along) => {
      state.turn += across;
      state.tilt = Math.max(-1.5, Math.min(1.5, state.tilt + along));
      soon();
    };
    const shift = (dx, dy) => {
      const seen = camera();
      const k = 2 * seen.reach * space3d.HALF_HEIGHT / canvas.clientHeight;
      state.target = plus(plus(state.target, seen.right, -dx * k), seen.top, dy * k);
      soon();
    };
    const nearer = factor => { state.near = Math.max(0.03, Math.min(4, state.near * factor)); soon(); };

    // Pointer and touch: one finger rotates, two pan and zoom; Shift or the right button pans. In a wide window the span is horizontal, so the two directions are swapped.
    const fingers = new Map();
    canvas.addEventListener('pointerdown', event => {
      canvas.focus({ preventScroll: true });
      canvas.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      tell(event);
    });
    for (const end of ['pointerup', 'pointercancel']) canvas.addEventListener(end, event => fingers.delete(event.pointerId));
    canvas.addEventListener('contextmenu', event => event.preventDefault());
    canvas.addEventListener('pointermove', event => {
      const before = fingers.get(event.pointerId);
      if (!before) { tell(event); return; }
      const [dx, dy] = [event.clientX - before[0], event.clientY - before[1]];
      if (fingers.size === 2) {
        const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
        const gap = (x, y) => Math.hypot(x - other[0], y - other[1]);
        nearer(gap(...before) / Math.max(1, gap(event.clientX, event.clientY)));
        shift(dx / 2, dy / 2);
      } else if (event.shiftKey || (event.buttons & 2)) {
        shift(dx, dy);
      } else if (isWide()) {
        turn(dy * 0.008, dx * 0.006);
      } else {
        turn(-dx * 0.008, dy * 0.006);
      }
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
    });
    // The wheel scrolls the page until the view has been clicked. Some browsers report lines, of about 30 pixels.
    canvas.addEventListener('wheel', event => {
      if (document.activeElement !== canvas && !event.ctrlKey) return;
      event.preventDefault();
      nearer(Math.exp(event.deltaY * (event.deltaMode === 1 ? 30 : 1) * 0.001));
    }, { passive: false });
    canvas.addEventListener('keydown', event => {
      // Keys of the browser, for example for the text size, are left to the browser.
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (arrow && event.shiftKey) shift(40 * arrow[0], -40 * arrow[1]);
      else if (arrow) turn(0.12 * arrow[0], 0.12 * arrow[1]);
      else if (event.key === '+' || event.key === '=') nearer(0.85);
      else if (event.key === '-') nearer(1 / 0.85);
      else if (event.key === '0' || event.key === 'Home') look('back');
      else return;
      event.preventDefault();
    });

    // The distance under the pointer as a number: colour alone is not enough.
    let last = -Infinity;
    const tell = event => {
      if (!scan?.shown || event.timeStamp - last < READ_EVERY) return;
      last = event.timeStamp;
      const place = canvas.getBoundingClientRect();
      const [x, y] = [(event.clientX - place.left) / place.width, (event.clientY - place.top) / place.height];
      const met = space3d.hit(space3d.ray(camera(), 2 * x - 1, 1 - 2 * y), scan);
      if (!met) return;
      const d = scan.distances[met.corner];
      // Sections are normal to the span, so the radius of a single blade is z. With several blades the distance from the axis is given instead.
      const [px, , pz] = met.point;
      const at = lone ? `r = ${lengths.text(pz, 0)}` : `${lengths.text(Math.hypot(px, pz), 0)} from the axis`;
      readout.textContent = d === NO_DISTANCE ? `${at}: beyond the stations, or too few points; there is nothing to compare.` : `${at}: the scan lies ${lengths.text(Math.abs(d) / 1e6, 2)} ${d < 0 ? 'inside' : 'outside'} the outline, as the mean over ${lengths.text(data.scan.patch_m, 1)}.`;
    };

    for (const check of box.querySelectorAll('input[type=checkbox]')) {
      const apply = () => {
        if (check.name === 'colour') scan.tint[3] = check.checked ? 0 : 1;
        else bodies.filter(body => body.layer === check.name).forEach(body => { body.shown = check.checked; });
        soon();
      };
      apply();
      check.addEventListener('change', apply);
    }
    for (const button of box.querySelectorAll('[data-view]')) button.addEventListener('click', () => look(button.dataset.view));

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
      const [ct, st] = [Math.cos(VIEWS.back()[0]), Math.sin(VIEWS.back()[0])];
      const { centre, sides: [wide, deep, span] } = extentOf(main);
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
    look('back');
    portray();
    draw();
    canvas.dataset.ready = 'true';
  };
  // The text of the page is shown first.
  requestAnimationFrame(() => setTimeout(begin, 0));
})();
