// The velocity triangle: the section at its blade angle with the velocities and the forces, to scale, for the chosen station and setting.
(() => {
  const SVG = 'http://www.w3.org/2000/svg';
  const W = 720, H = 620;
  const DEG = Math.PI / 180;
  // Indices in a row of the data.
  const R = 0, RATIO = 1, CHORD = 2, BLADE = 3, INFLOW = 4, ATTACK = 5, AXIAL = 6, SWIRL = 7, SPEED = 8, LIFT = 9, DRAG = 10, MACH = 11, REYNOLDS = 12, STALLED = 13, REGION = 14;

  const svgOf = (name, attributes, text) => {
    const e = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    if (text !== undefined) e.textContent = text;
    return e;
  };
  // The largest number of the form 1, 2 or 5 times a power of ten that is not above `value`.
  const roundBelow = value => {
    const power = 10 ** Math.floor(Math.log10(value));
    return power * [5, 2, 1].find(n => n * power <= value * (1 + 1e-9));
  };
  const same = (a, b) => Math.abs((a ?? NaN) - (b ?? NaN)) < 1e-6;
  const distinct = values => [...new Set(values.filter(v => v !== null).map(v => Number(v.toFixed(6))))].sort((a, b) => a - b);

  // Labels are placed last: next to the labelled item, on no other text, and across as few lines as possible.
  const GAPS = [4, 9, 16, 26, 40, 58, 80, 110, 150];
  const WAYS = 16;
  // Cost of a line through a label, as a distance from the labelled item, units.
  const CROSSED = 22;
  // A label farther away than this gets a leader line to its item, units.
  const FAR = 20;
  const APART = 3;
  const INSIDE = { left: 8, right: W - 8, top: 42, bottom: H - 70 };
  const labeller = svg => {
    const strokes = [], taken = [], wanted = [];
    const measured = text => {
      svg.append(text);
      const box = text.getBBox();
      // Not drawn yet: letters of this type are about half as wide as high.
      return box.width > 0 ? box : { x: Number(text.getAttribute('x')), y: Number(text.getAttribute('y')) - 11, width: 6.6 * text.textContent.length, height: 14 };
    };
    const apart = (a, b) => a.x + a.width + APART < b.x || b.x + b.width + APART < a.x || a.y + a.height + APART < b.y || b.y + b.height + APART < a.y;
    const inside = b => INSIDE.left <= b.x && b.x + b.width <= INSIDE.right && INSIDE.top <= b.y && b.y + b.height <= INSIDE.bottom;
    // Whether a straight line meets the box: clipped by its four sides (Liang and Barsky, 1984).
    const meets = ([a, b], box) => {
      let from = 0, end = 1;
      for (const [p, q] of [[a[0] - b[0], a[0] - box.x], [b[0] - a[0], box.x + box.width - a[0]], [a[1] - b[1], a[1] - box.y], [b[1] - a[1], box.y + box.height - a[1]]]) {
        if (p === 0) { if (q < 0) return false; continue; }
        if (p < 0) from = Math.max(from, q / p); else end = Math.min(end, q / p);
      }
      return from <= end;
    };
    const placed = ({ width, height, points }) => {
      let best = null;
      for (const [order, point] of points.entries()) for (const gap of GAPS) for (let way = 0; way < WAYS; way++) {
        if (best && best.cost <= gap + 5 * order) continue;
        const [ux, uy] = [Math.cos(2 * Math.PI * way / WAYS), Math.sin(2 * Math.PI * way / WAYS)];
        const reach = gap + width / 2 * Math.abs(ux) + height / 2 * Math.abs(uy);
        const box = { x: point[0] + reach * ux - width / 2, y: point[1] + reach * uy - height / 2, width, height };
        if (!inside(box) || !taken.every(other => apart(box, other))) continue;
        const cost = gap + 5 * order + CROSSED * strokes.filter(s => meets(s, { x: box.x - 2, y: box.y - 1, width: width + 4, height: height + 2 })).length;
        if (!best || cost < best.cost) best = { box, cost, gap, point };
      }
      return best;
    };
    return {
      avoid: points => points.slice(1).forEach((p, i) => strokes.push([points[i], p])),
      write: (attributes, text) => taken.push(measured(svgOf('text', attributes, text))),
      name: (text, points) => wanted.push({ text, points }),
      place: () => {
        for (const { text, points } of wanted) {
          const element = svgOf('text', { class: 'label clear', x: 0, y: 0 }, text);
          const { x, y, width, height } = measured(element);
          const found = placed({ width, height, points });
          // No free place: the value is in the list next to the drawing.
          if (!found) { element.remove(); continue; }
          const { box, gap, point } = found;
          element.setAttribute('x', box.x - x);
          element.setAttribute('y', box.y - y);
          taken.push(box);
          if (gap <= FAR) continue;
          const end = [Math.max(box.x, Math.min(point[0], box.x + width)), Math.max(box.y, Math.min(point[1], box.y + height))];
          svg.insertBefore(svgOf('path', { class: 'leader', d: `M${point}L${end}` }), element);
        }
      },
    };
  };

  for (const box of document.querySelectorAll('.triangle')) {
    const data = JSON.parse(document.getElementById(box.dataset.source).textContent);
    const sliders = box.querySelector('.sliders');
    const slider = (name, count, start) => {
      const label = document.createElement('label');
      const text = document.createElement('span');
      const input = document.createElement('input');
      Object.assign(input, { type: 'range', min: 0, max: Math.max(0, count - 1), step: 1, value: start });
      input.dataset.name = name;
      label.append(text, input);
      if (count > 1) sliders.append(label);
      input.addEventListener('input', () => draw());
      return { input, text, at: () => Number(input.value) };
    };
    const settings = distinct(data.points.map(p => p.setting_deg));
    const ratios = distinct(data.points.map(p => p.advance_ratio));
    const most = Math.max(...data.points.map(p => p.rows.length));
    const station = slider('station', most, Math.round(0.7 * (most - 1)));
    const setting = slider('setting', settings.length, Math.floor((settings.length - 1) / 2));
    const advance = slider('advance', ratios.length, Math.floor((ratios.length - 1) / 2));

    const draw = () => {
      const wantedSetting = settings[setting.at()], wantedRatio = ratios[advance.at()];
      const point = data.points.find(p => same(p.setting_deg, wantedSetting) && same(p.advance_ratio, wantedRatio))
        || data.points.find(p => same(p.setting_deg, wantedSetting)) || data.points[0];
      const row = point.rows[Math.min(station.at(), point.rows.length - 1)];
      station.text.textContent = `Station: ${row[RATIO]?.toFixed(3) ?? '–'} R, r = ${lengths.text(row[R] ?? 0, 0)}`;
      setting.text.textContent = `Setting: ${point.setting_deg?.toFixed(2) ?? '–'} deg`;
      advance.text.textContent = `Advance ratio: ${point.advance_ratio?.toFixed(3) ?? '–'}`;
      for (const s of [station, setting, advance]) s.input.setAttribute('aria-valuetext', s.text.textContent);
      const f = figures(point, row);
      const svg = svgOf('svg', { class: 'figure', viewBox: `0 0 ${W} ${H}`, role: 'img', style: '--paper-width:135mm' });
      box.querySelector('.drawing').replaceChildren(svg);
      picture(svg, f, row);
      box.querySelector('.values').replaceChildren(values(f, row, point));
    };

    // Velocities of the air relative to the section: x is the direction of blade motion, y the flight direction. Forces are per metre of span.
    const figures = (point, row) => {
      const rotation = point.rpm / 60 * 2 * Math.PI * row[R];
      // With a body the stream over the disc is that of the resultant less the induced velocity; without one it is flight.
      const known = point.has_body && row[SPEED] !== null && row[INFLOW] !== null;
      const stream = known ? row[SPEED] * Math.sin(row[INFLOW] * DEG) - (row[AXIAL] ?? 0) : point.speed_m_s;
      const relative = [-(rotation - (row[SWIRL] ?? 0)), -(stream + (row[AXIAL] ?? 0))];
      const speed = Math.hypot(...relative);
      const along = relative.map(v => v / speed);
      // Lift is perpendicular to the relative flow, towards the back.
      const across = [along[1], -along[0]];
      const pressure = 0.5 * data.density_kg_m3 * speed * speed * row[CHORD];
      const [lift, drag] = [pressure * (row[LIFT] ?? 0), pressure * (row[DRAG] ?? 0)];
      const force = [0, 1].map(k => lift * across[k] + drag * along[k]);
      return { rotation, flight: point.speed_m_s, stream, named: known ? 'stream' : 'flight', relative, speed, along, across, lift, drag, force, thrust: force[1], resisting: -force[0] };
    };

    // Draws into `svg`, which must be on the page, because labels are measured before they are placed.
    const picture = (svg, f, row) => {
      svg.append(svgOf('title', {}, 'Velocity triangle'), svgOf('desc', {}, `Blade angle ${row[BLADE]} degrees, inflow angle ${row[INFLOW]} degrees, angle of attack ${row[ATTACK]} degrees. The values are listed next to the drawing.`));
      const labels = labeller(svg);
      const origin = [285, 330];
      const to = ([x, y], k, from = origin) => [from[0] + k * x, from[1] - k * y];
      const stroke = (from, end, kind, label) => {
        const length = Math.hypot(end[0] - from[0], end[1] - from[1]);
        if (length < 1) { if (label) labels.name(label, [end]); return; }
        const [ux, uy] = [(end[0] - from[0]) / length, (end[1] - from[1]) / length];
        const head = Math.min(10, length / 2);
        const base = [end[0] - head * ux, end[1] - head * uy];
        svg.append(svgOf('path', { class: kind, d: `M${from}L${base}` }));
        svg.append(svgOf('path', { class: `head-${kind}`, d: `M${end}L${base[0] - 0.4 * head * uy},${base[1] + 0.4 * head * ux}L${base[0] + 0.4 * head * uy},${base[1] - 0.4 * head * ux}z` }));
        labels.avoid([from, end]);
        if (label) labels.name(label, [0.5, 0.65, 0.35, 0.8].map(t => [from[0] + t * (end[0] - from[0]), from[1] + t * (end[1] - from[1])]));
      };
      const line = (from, end, kind) => { svg.append(svgOf('path', { class: kind, d: `M${from}L${end}` })); labels.avoid([from, end]); };
      line([40, origin[1]], [W - 20, origin[1]], 'axis');
      labels.write({ class: 'small', x: 40, y: H - 56 }, 'Dash-dotted horizontal line: plane of rotation. The blade moves to the right; flight is upwards.');

      // The section, with its quarter-chord point at the origin.
      const outline = data.outlines.reduce((best, o) => Math.abs(o.radius_ratio - row[RATIO]) < Math.abs((best?.radius_ratio ?? 9) - row[RATIO]) ? o : best, null);
      const angle = (row[BLADE] ?? 0) * DEG;
      const CHORD_UNITS = 250;
      const put = ([x, y]) => {
        const ahead = (0.25 - x) * CHORD_UNITS, up = y * CHORD_UNITS;
        return to([ahead * Math.cos(angle) - up * Math.sin(angle), ahead * Math.sin(angle) + up * Math.cos(angle)], 1);
      };
      if (outline) {
        const points = outline.points.map(put);
        svg.append(svgOf('path', { class: 'body', d: `M${points.join('L')}z` }));
        labels.avoid([...points, points[0]]);
      }
      // Chord line and relative flow, with the angle between them.
      const ray = (direction, length) => to([length * Math.cos(direction), length * Math.sin(direction)], 1);
      line(put([1.15, 0]), ray(angle, 250), 'chord-line');
      const stream = (row[INFLOW] ?? 0) * DEG;
      if (Math.abs(angle - stream) > 0.002) {
        const [from, end] = [ray(stream, 225), ray(angle, 225)];
        svg.append(svgOf('path', { class: 'thin', d: `M${from}A225,225 0 0 ${angle > stream ? 0 : 1} ${end}` }));
        labels.avoid([from, ray((angle + stream) / 2, 225), end]);
      }

      // Velocities of the air head to tail: flight, rotation, induced velocity. The resultant ends at the origin.
      const k = 270 / Math.max(f.rotation, f.speed, f.stream, 1);
      const start = to(f.relative.map(v => -v), k);
      const corner = [start[0], start[1] + k * f.stream];
      const before = [corner[0] - k * f.rotation, corner[1]];
      stroke(start, corner, 'flow', `${f.named} ${lengths.text(f.stream, 1, 'stream')}`);
      stroke(corner, before, 'flow', `rotation ${lengths.text(f.rotation, 1, 'stream')}`);
      const induced = Math.hypot(row[AXIAL] ?? 0, row[SWIRL] ?? 0);
      stroke(before, origin, 'induced', k * induced > 1 ? `induced ${lengths.text(induced, 1, 'stream')}` : '');
      stroke(start, origin, 'flow', `resultant ${lengths.text(f.speed, 1, 'stream')}`);

      // Forces, to a separate scale.
      const q = 190 / Math.max(Math.abs(f.lift), Math.hypot(...f.force), 1e-9);
      const lift = to(f.across.map(v => v * f.lift), q), total = to(f.force, q);
      stroke(origin, lift, 'force', `lift ${lengths.text(f.lift, 0, 'span-force')}`);
      stroke(lift, total, 'force', `drag ${lengths.text(f.drag, 1, 'span-force')}`);
      stroke(origin, [origin[0], total[1]], 'force', `thrust ${lengths.text(f.thrust, 0, 'span-force')}`);
      stroke(origin, [total[0], origin[1]], 'force', `torque force ${lengths.text(f.resisting, 0, 'span-force')}`);
      const attack = row[ATTACK];
      const middle = (angle + stream) / 2;
      labels.name(`angle of attack ${attack?.toFixed(2) ?? '–'} deg`, [ray(middle, 225), ray(angle, 225)]);
      labels.write({ class: 'label strong', x: 40, y: 28 }, `blade angle ${row[BLADE]?.toFixed(2) ?? '–'} deg − inflow angle ${row[INFLOW]?.toFixed(2) ?? '–'} deg = angle of attack ${attack?.toFixed(2) ?? '–'} deg`);
      // Bars of a round length in the unit shown.
      const round = (most, kind) => roundBelow(most * lengths.of(kind).factor) / lengths.of(kind).factor;
      const named = (value, kind) => `${Number((value * lengths.of(kind).factor).toPrecision(1))} ${lengths.of(kind).unit}`;
      const speedBar = round(110 / k, 'stream'), forceBar = round(110 / q, 'span-force');
      line([40, H - 34], [40 + k * speedBar, H - 34], 'flow');
      labels.write({ class: 'small', x: 40 + k * speedBar + 8, y: H - 30 }, named(speedBar, 'stream'));
      line([40, H - 14], [40 + q * forceBar, H - 14], 'force');
      labels.write({ class: 'small', x: 40 + q * forceBar + 8, y: H - 10 }, `${named(forceBar, 'span-force')} (one blade, per length of span); the section is not drawn to these scales`);
      labels.place();
    };

    const values = (f, row, point) => {
      const list = document.createElement('dl');
      list.className = 'figures';
      // `kind`: what the unit switch converts, or a unit that it does not.
      const add = (name, value, decimals, kind) => {
        const div = document.createElement('div');
        const [dt, dd] = [document.createElement('dt'), document.createElement('dd')];
        dt.textContent = name;
        dd.textContent = value === null || value === undefined || Number.isNaN(value) ? '–' : lengths.of(kind) ? lengths.text(value, decimals, kind) : `${value.toFixed(decimals)} ${kind}`.trim();
        dd.dataset.name = name;
        div.append(dt, dd);
        list.append(div);
      };
      add('blade angle', row[BLADE], 2, 'deg');
      add('inflow angle', row[INFLOW], 2, 'deg');
      add('angle of attack', row[ATTACK], 2, 'deg');
      add('rotation', f.rotation, 2, 'stream');
      add('flight', f.flight, 2, 'stream');
      if (point.has_body) add('stream over the disc', f.stream, 2, 'stream');
      add('axial induced velocity', row[AXIAL], 2, 'stream');
      add('swirl induced velocity', row[SWIRL], 2, 'stream');
      add('resultant', row[SPEED], 2, 'stream');
      add('Mach number', row[MACH], 3, '');
      add('Reynolds number', row[REYNOLDS], 0, '');
      add('lift coefficient', row[LIFT], 3, '');
      add('drag coefficient', row[DRAG], 4, '');
      add('lift', f.lift, 1, 'span-force');
      add('drag', f.drag, 1, 'span-force');
      add('thrust', f.thrust, 1, 'span-force');
      add('torque force', f.resisting, 1, 'span-force');
      const note = document.createElement('p');
      const told = [`Polar: ${row[REGION]}.`];
      if (row[STALLED]) told.push('The section is stalled.');
      // The triangle of a table from another source may not close. This must be reported.
      if (row[SPEED] !== null && Math.abs(f.speed / row[SPEED] - 1) > 0.005) told.push(`The stated resultant differs from the ${lengths.text(f.speed, 2, 'stream')} of the triangle.`);
      const flags = lengths.unit === 'in' ? point.flags_in : point.flags;
      if (flags.length) told.push(`Flags of this operating point: ${flags.join('; ')}.`);
      note.textContent = told.join(' ');
      const both = document.createDocumentFragment();
      both.append(list, note);
      return both;
    };
    document.addEventListener('unitchange', () => draw());
    draw();
    box.dataset.ready = 'true';
  }
})();
