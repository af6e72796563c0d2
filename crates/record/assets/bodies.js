// The bodies of a 3-D view of a blade: scan, surface through the outlines, outlines and section planes, from the data of a record.
const bodies3d = (() => {
  const { plus, times, dot, size: lengthOf } = space3d;

  /** Marks a point without a distance, among distances in micrometres. */
  const NO_DISTANCE = -32768;
  // Lightness increases from inside to outside, so that the scale is readable in grey as well. The same colours are in page.css.
  const RAMP = [[0x12, 0x30, 0x5a], [0x47, 0x68, 0x8f], [0x8f, 0x90, 0x8a], [0xd8, 0xa5, 0x44], [0xfb, 0xe9, 0xa8]];
  const PLAIN = [0xb4, 0xb6, 0xb0];
  const LOFT = [0x9a, 0xa6, 0xad];
  /** Widths of outlines in CSS pixels; flagged stations differ in width as well as in colour. */
  const WIDTH = { plain: 1.2, flagged: 1.6 };

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
  /** Colours of lines on a surface, which is light grey on a dark page as well: those of the light page, at least 3:1 against PLAIN (WCAG 2.2, 1.4.11). */
  const ON_SURFACE = { '--ink': [0x1d, 0x24, 0x29], '--two': [0xa4, 0x46, 0x0c] };
  /** The colour of lines among `bodies`: that of the page, `colour`, only where no surface is shown under them. */
  const lineTint = (body, bodies, colour) => {
    const name = body.name === 'flagged' || body.name === 'chosen' ? '--two' : '--ink';
    return [...(bodies.some(b => b.kind === 'surface' && b.shown) ? share(ON_SURFACE[name]) : colour(name)), 1];
  };
  /** The planes of all outlines. */
  const planesBody = outlines => ({ layer: 'planes', kind: 'planes', positions: new Float32Array(outlines.flatMap(o => rectangle(pointsOf(o)))) });
  /** Centre and sides of the box around bodies, as they are seen: with x reversed if `mirror` is -1. */
  const extentOf = (bodies, mirror) => {
    const [low, high] = [[Infinity, Infinity, Infinity], [-Infinity, -Infinity, -Infinity]];
    for (const body of bodies) {
      (body.positions || body.ends).forEach((v, i) => { low[i % 3] = Math.min(low[i % 3], v); high[i % 3] = Math.max(high[i % 3], v); });
    }
    const [x, y, z] = times(plus(low, high), 0.5);
    return { centre: [x * mirror, y, z], sides: plus(high, low, -1) };
  };

  return { NO_DISTANCE, PLAIN, bytes, extentOf, lineTint, linesBody, loftBody, planesBody, pointsOf, scanBody, share };
})();
