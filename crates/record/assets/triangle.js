// The velocity triangle: the section at its angle with what flows past it and the forces, to scale, for the chosen station and setting.
(() => {
  const SVG = 'http://www.w3.org/2000/svg';
  const W = 720, H = 620;
  const DEG = Math.PI / 180;
  // Places in a row of the data.
  const R = 0, RATIO = 1, CHORD = 2, BLADE = 3, INFLOW = 4, ATTACK = 5, AXIAL = 6, SWIRL = 7, SPEED = 8, LIFT = 9, DRAG = 10, MACH = 11, REYNOLDS = 12, STALLED = 13, REGION = 14;

  const svgOf = (name, attributes, text) => {
    const e = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
    if (text !== undefined) e.textContent = text;
    return e;
  };
  const same = (a, b) => Math.abs((a ?? NaN) - (b ?? NaN)) < 1e-6;
  const distinct = values => [...new Set(values.filter(v => v !== null).map(v => Number(v.toFixed(6))))].sort((a, b) => a - b);

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
      station.text.textContent = `Station: ${row[RATIO]?.toFixed(3) ?? '–'} R, r = ${((row[R] ?? 0) * 1000).toFixed(0)} mm`;
      setting.text.textContent = `Setting: ${point.setting_deg?.toFixed(2) ?? '–'} deg`;
      advance.text.textContent = `Advance ratio: ${point.advance_ratio?.toFixed(3) ?? '–'}`;
      for (const s of [station, setting, advance]) s.input.setAttribute('aria-valuetext', s.text.textContent);
      const f = figures(point, row);
      box.querySelector('.drawing').replaceChildren(picture(f, row));
      box.querySelector('.values').replaceChildren(values(f, row, point));
    };

    // Velocities of the air relative to the section, x the way the blade moves, y towards flight; forces per metre of span.
    const figures = (point, row) => {
      const rotation = point.rpm / 60 * 2 * Math.PI * row[R];
      const relative = [-(rotation - (row[SWIRL] ?? 0)), -(point.speed_m_s + (row[AXIAL] ?? 0))];
      const speed = Math.hypot(...relative);
      const along = relative.map(v => v / speed);
      // Lift stands at right angles to the stream, towards the back.
      const across = [along[1], -along[0]];
      const pressure = 0.5 * data.density_kg_m3 * speed * speed * row[CHORD];
      const [lift, drag] = [pressure * (row[LIFT] ?? 0), pressure * (row[DRAG] ?? 0)];
      const force = [0, 1].map(k => lift * across[k] + drag * along[k]);
      return { rotation, flight: point.speed_m_s, relative, speed, along, across, lift, drag, force, thrust: force[1], resisting: -force[0] };
    };

    const picture = (f, row) => {
      const svg = svgOf('svg', { class: 'figure', viewBox: `0 0 ${W} ${H}`, role: 'img', style: '--paper-width:150mm' });
      svg.append(svgOf('title', {}, 'Velocity triangle'), svgOf('desc', {}, `Section at ${row[BLADE]} degrees, stream at ${row[INFLOW]} degrees, angle of attack ${row[ATTACK]} degrees. The values are listed beside the drawing.`));
      const origin = [285, 330];
      const to = ([x, y], k, from = origin) => [from[0] + k * x, from[1] - k * y];
      const stroke = (from, end, kind, label, side = [8, -6]) => {
        const length = Math.hypot(end[0] - from[0], end[1] - from[1]);
        if (length < 1) return;
        const [ux, uy] = [(end[0] - from[0]) / length, (end[1] - from[1]) / length];
        const head = Math.min(10, length / 2);
        const base = [end[0] - head * ux, end[1] - head * uy];
        svg.append(svgOf('path', { class: kind, d: `M${from}L${base}` }));
        svg.append(svgOf('path', { class: `head-${kind}`, d: `M${end}L${base[0] - 0.4 * head * uy},${base[1] + 0.4 * head * ux}L${base[0] + 0.4 * head * uy},${base[1] - 0.4 * head * ux}z` }));
        if (label) svg.append(svgOf('text', { class: 'label', x: (from[0] + end[0]) / 2 + side[0], y: (from[1] + end[1]) / 2 + side[1] }, label));
      };
      const line = (from, end, kind) => svg.append(svgOf('path', { class: kind, d: `M${from}L${end}` }));
      line([40, origin[1]], [W - 20, origin[1]], 'axis');
      svg.append(svgOf('text', { class: 'small', x: 40, y: H - 56 }, 'Dash-dotted across: the plane of rotation. The blade moves to the right, flight is up.'));

      // The section, a quarter of its chord behind the leading edge at the origin.
      const outline = data.outlines.reduce((best, o) => Math.abs(o.radius_ratio - row[RATIO]) < Math.abs((best?.radius_ratio ?? 9) - row[RATIO]) ? o : best, null);
      const angle = (row[BLADE] ?? 0) * DEG;
      const CHORD_UNITS = 250;
      const put = ([x, y]) => {
        const ahead = (0.25 - x) * CHORD_UNITS, up = y * CHORD_UNITS;
        return to([ahead * Math.cos(angle) - up * Math.sin(angle), ahead * Math.sin(angle) + up * Math.cos(angle)], 1);
      };
      if (outline) svg.append(svgOf('path', { class: 'body', d: `M${outline.points.map(put).join('L')}z` }));
      // Chord line and stream with the angle between them.
      const ray = (direction, length) => to([length * Math.cos(direction), length * Math.sin(direction)], 1);
      line(put([1.15, 0]), ray(angle, 250), 'chord-line');
      const stream = (row[INFLOW] ?? 0) * DEG;
      if (Math.abs(angle - stream) > 0.002) {
        const [from, end] = [ray(stream, 225), ray(angle, 225)];
        svg.append(svgOf('path', { class: 'thin', d: `M${from}A225,225 0 0 ${angle > stream ? 0 : 1} ${end}` }));
      }
      const name = ray(angle, 262);
      svg.append(svgOf('text', { class: 'label', x: name[0] - 8, y: name[1] - 6, 'text-anchor': 'end' }, `angle of attack ${row[ATTACK]?.toFixed(2) ?? '–'} deg`));

      // Velocities head to tail, as the air meets the section: flight, rotation, what the propeller induces; the resultant arrives at the origin.
      const k = 300 / Math.max(f.rotation, f.speed, f.flight, 1);
      const start = to(f.relative.map(v => -v), k);
      const corner = [start[0], start[1] + k * f.flight];
      stroke(start, corner, 'flow', `flight ${f.flight.toFixed(1)} m/s`, [10, 4]);
      const before = [corner[0] - k * f.rotation, corner[1]];
      stroke(corner, before, 'flow');
      svg.append(svgOf('text', { class: 'label', x: corner[0] + 10, y: Math.max(corner[1], origin[1]) + 20, 'text-anchor': 'end' }, `rotation ${f.rotation.toFixed(1)} m/s`));
      stroke(before, origin, 'induced');
      const induced = Math.hypot(row[AXIAL] ?? 0, row[SWIRL] ?? 0);
      if (k * induced > 1) svg.append(svgOf('text', { class: 'label', x: origin[0] + 2, y: origin[1] + 40 }, `induced ${induced.toFixed(1)} m/s`));
      stroke(start, origin, 'flow');
      svg.append(svgOf('text', { class: 'label', x: start[0] + 10, y: start[1] - 4 }, `resultant ${f.speed.toFixed(1)} m/s`));

      // Forces, to a scale of their own.
      const q = 190 / Math.max(Math.abs(f.lift), Math.hypot(...f.force), 1e-9);
      const lift = to(f.across.map(v => v * f.lift), q), total = to(f.force, q);
      stroke(origin, lift, 'force', '', [0, 0]);
      svg.append(svgOf('text', { class: 'label', x: lift[0] - 8, y: lift[1] - 8, 'text-anchor': 'end' }, `lift ${f.lift.toFixed(0)} N/m`));
      stroke(lift, total, 'force', '', [0, 0]);
      svg.append(svgOf('text', { class: 'label', x: Math.min(lift[0], total[0]) - 8, y: total[1] + 14, 'text-anchor': 'end' }, `drag ${f.drag.toFixed(1)} N/m`));
      stroke(origin, [origin[0], total[1]], 'force', '', [0, 0]);
      svg.append(svgOf('text', { class: 'label', x: origin[0] + 8, y: total[1] + 4 }, `thrust ${f.thrust.toFixed(0)} N/m`));
      stroke(origin, [total[0], origin[1]], 'force', '', [0, 0]);
      svg.append(svgOf('text', { class: 'label', x: total[0] - 6, y: origin[1] - 8, 'text-anchor': 'end' }, `torque force ${f.resisting.toFixed(0)} N/m`));
      const attack = row[ATTACK];
      svg.append(svgOf('text', { class: 'label strong', x: 40, y: 28 }, `blade angle ${row[BLADE]?.toFixed(2)} deg − stream ${row[INFLOW]?.toFixed(2)} deg = angle of attack ${attack?.toFixed(2)} deg`));
      const speedBar = 50, forceBar = 10 ** Math.floor(Math.log10(100 / q));
      line([40, H - 34], [40 + k * speedBar, H - 34], 'flow');
      svg.append(svgOf('text', { class: 'small', x: 40 + k * speedBar + 8, y: H - 30 }, `${speedBar} m/s`));
      line([40, H - 14], [40 + q * forceBar, H - 14], 'force');
      svg.append(svgOf('text', { class: 'small', x: 40 + q * forceBar + 8, y: H - 10 }, `${forceBar} N/m (one blade, per metre of span); section not to these scales`));
      return svg;
    };

    const values = (f, row, point) => {
      const list = document.createElement('dl');
      list.className = 'figures';
      const add = (name, value, decimals, unit) => {
        const div = document.createElement('div');
        const [dt, dd] = [document.createElement('dt'), document.createElement('dd')];
        dt.textContent = name;
        dd.textContent = value === null || value === undefined || Number.isNaN(value) ? '–' : `${value.toFixed(decimals)} ${unit}`.trim();
        dd.dataset.name = name;
        div.append(dt, dd);
        list.append(div);
      };
      add('blade angle', row[BLADE], 2, 'deg');
      add('stream to plane of rotation', row[INFLOW], 2, 'deg');
      add('angle of attack', row[ATTACK], 2, 'deg');
      add('rotation', f.rotation, 2, 'm/s');
      add('flight', f.flight, 2, 'm/s');
      add('induced along the axis', row[AXIAL], 2, 'm/s');
      add('induced swirl', row[SWIRL], 2, 'm/s');
      add('resultant', row[SPEED], 2, 'm/s');
      add('Mach number', row[MACH], 3, '');
      add('Reynolds number', row[REYNOLDS], 0, '');
      add('lift coefficient', row[LIFT], 3, '');
      add('drag coefficient', row[DRAG], 4, '');
      add('lift', f.lift, 1, 'N/m');
      add('drag', f.drag, 1, 'N/m');
      add('thrust', f.thrust, 1, 'N/m');
      add('torque force', f.resisting, 1, 'N/m');
      const note = document.createElement('p');
      const told = [`Polar: ${row[REGION]}.`];
      if (row[STALLED]) told.push('The section is stalled.');
      // A table by another hand may not close: that must not pass unsaid.
      if (row[SPEED] !== null && Math.abs(f.speed / row[SPEED] - 1) > 0.005) told.push(`The stated resultant differs from the triangle's ${f.speed.toFixed(2)} m/s.`);
      if (point.flags.length) told.push(`Of the whole point: ${point.flags.join('; ')}.`);
      note.textContent = told.join(' ');
      const both = document.createDocumentFragment();
      both.append(list, note);
      return both;
    };
    draw();
    box.dataset.ready = 'true';
  }
})();
