// How a scan lies in the coordinates of its file: its longest direction, for a first view along which the blade lies level.

/** @typedef {[number, number, number]} Vector */

/**
 * Rows of a rotation that turns the longest direction of points into z and the shortest into y; corners of an even surface count alike.
 * @param {Float32Array} p Coordinates, three for each point.
 * @returns {Vector[]}
 */
export const poseOf = p => {
  const n = Math.max(1, p.length / 3);
  const mean = [0, 0, 0];
  for (let i = 0; i < p.length; i++) mean[i % 3] += p[i] / n;
  const c = [[0, 0, 0], [0, 0, 0], [0, 0, 0]];
  for (let i = 0; i < p.length; i += 3) {
    const d = [p[i] - mean[0], p[i + 1] - mean[1], p[i + 2] - mean[2]];
    for (let a = 0; a < 3; a++) for (let b = 0; b < 3; b++) c[a][b] += d[a] * d[b] / n;
  }
  const times = v => c.map(row => row[0] * v[0] + row[1] * v[1] + row[2] * v[2]);
  const size = v => Math.hypot(...v);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  /** The largest direction normal to `others`, by repeated multiplication. */
  const largest = (others, begin) => {
    let v = begin;
    for (let round = 0; round < 60; round++) {
      let w = times(v);
      for (const o of others) { const k = dot(w, o); w = w.map((x, i) => x - k * o[i]); }
      if (size(w) < 1e-30) break;
      v = w.map(x => x / size(w));
    }
    for (const o of others) { const k = dot(v, o); v = v.map((x, i) => x - k * o[i]); }
    return v.map(x => x / (size(v) || 1));
  };
  const z = largest([], [0.36, 0.48, 0.8]);
  const start = Math.abs(z[0]) < 0.8 ? [1, 0.1, 0.2] : [0.1, 1, 0.2];
  const x = largest([z], start);
  const y = [z[1] * x[2] - z[2] * x[1], z[2] * x[0] - z[0] * x[2], z[0] * x[1] - z[1] * x[0]];
  return /** @type {Vector[]} */ ([x, y, z]);
};

/** @param {Vector[]} rows @param {ArrayLike<number>} v @returns {Vector} A vector turned by the rows. */
export const turned = (rows, v) => /** @type {Vector} */ (rows.map(r => r[0] * v[0] + r[1] * v[1] + r[2] * v[2]));
/** @param {Vector[]} rows @param {ArrayLike<number>} v @returns {Vector} The same turned back. */
export const turnedBack = (rows, v) => /** @type {Vector} */ ([0, 1, 2].map(k => rows[0][k] * v[0] + rows[1][k] * v[1] + rows[2][k] * v[2]));
