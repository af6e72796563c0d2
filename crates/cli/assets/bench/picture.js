// The picture of the blade: the scan in the coordinates of its file, or the measured blade in its own axes, with marks on it.
import { bytes, post } from './ask.js';
import { poseOf, turned, turnedBack } from './pose.js';

/** @typedef {[number, number, number]} Vector */
/**
 * A mark; `from` is a place inside the blade under it, by which it is told whether the mark lies on the side that is seen.
 * @typedef {{at: Vector, text: string, hint?: string, doubtful?: boolean, isPoint?: boolean, isChosen?: boolean, from?: Vector, act?: () => void}} Mark
 */

const canvas = /** @type {HTMLCanvasElement} */ (document.getElementById('stage'));
const marks = /** @type {HTMLElement} */ (document.getElementById('marks'));
const readout = /** @type {HTMLElement} */ (document.getElementById('sight-readout'));
/** More pixels per CSS pixel cost time and show no more detail. */
const MOST_RATIO = 2;
/** A pointer that moved farther than this between down and up was turning the view, CSS pixels. */
const TAP = 4;
const HELP = 'Drag to rotate. Pinch, or click the view and use the wheel, to zoom. Shift and drag to pan. Keys: arrows rotate, + and − zoom, 0 goes back to the first view.';

const colour = name => {
  const digits = getComputedStyle(document.documentElement).getPropertyValue(name).trim().slice(1);
  const hex = digits.length === 3 ? digits.replace(/./g, '$&$&') : digits;
  return bodies3d.share([0, 2, 4].map(at => Number.parseInt(hex.slice(at, at + 2), 16)));
};

/** Triangles, about, and pixels for each pixel of a view that is turned on a computer without a graphics card. */
const LIGHT_TRIANGLES = 12000;
const LIGHT_RATIO = 0.8;
/** The same surface with fewer triangles: corners in one cell of a grid become the first of them. @param {any} body */
const lightBody = body => {
  const { positions: p, index } = body;
  let area = 0;
  for (let f = 0; f < index.length; f += 3) {
    const [a, b, c] = [3 * index[f], 3 * index[f + 1], 3 * index[f + 2]];
    const [u, v] = [[0, 1, 2].map(k => p[b + k] - p[a + k]), [0, 1, 2].map(k => p[c + k] - p[a + k])];
    area += space3d.size(space3d.cross(u, v)) / 2;
  }
  // As for the picture itself: two triangles for each cell, and as many again on a rough surface.
  const size = Math.sqrt(4 * area / LIGHT_TRIANGLES) || 1;
  const first = new Map();
  const of = new Uint32Array(p.length / 3);
  body.normals ||= space3d.normals(p, index);
  const n = body.normals;
  for (let i = 0; i < of.length; i++) {
    const at = [0, 1, 2].map(k => Math.floor(p[3 * i + k] / size));
    // The two sides of a thin edge must not become one.
    const key = `${at} ${n[3 * i] < 0}${n[3 * i + 1] < 0}${n[3 * i + 2] < 0}`;
    if (!first.has(key)) first.set(key, i);
    of[i] = first.get(key);
  }
  const out = [];
  for (let f = 0; f < index.length; f += 3) {
    const [a, b, c] = [of[index[f]], of[index[f + 1]], of[index[f + 2]]];
    if (a === b || b === c || c === a) continue;
    // A fold is laid back: the triangle faces the way its corners do.
    const [u, v] = [[0, 1, 2].map(k => p[3 * b + k] - p[3 * a + k]), [0, 1, 2].map(k => p[3 * c + k] - p[3 * a + k])];
    const faces = space3d.dot(space3d.cross(u, v), [0, 1, 2].map(k => n[3 * a + k] + n[3 * b + k] + n[3 * c + k])) >= 0;
    out.push(...(faces ? [a, b, c] : [a, c, b]));
  }
  return { ...body, index: new Uint32Array(out), light: undefined };
};

/** Pieces of lines from which on they have a lighter copy, and the pieces that become one in it. */
const LIGHT_PIECES = 500;
const JOINED = 10;
/** The same lines of longer pieces. @param {any} body */
const lightLines = body => {
  const { ends } = body;
  const out = [];
  for (let k = 0; k < ends.length;) {
    let last = k;
    const follows = at => [0, 1, 2].every(i => ends[at + 3 + i] === ends[at + 6 + i]);
    while (last + 6 < ends.length && last < k + 6 * (JOINED - 1) && follows(last)) last += 6;
    out.push(...ends.subarray(k, k + 3), ...ends.subarray(last + 3, last + 6));
    k = last + 6;
  }
  return { ...body, ends: new Float32Array(out), light: undefined };
};

/** What is shown; each has a canvas of its own, because a canvas keeps the bodies and the handlers that it was given. */
class View {
  /** @param {any[]} bodies @param {{lone: boolean, mirror: number, views: (isWide: boolean) => Record<string, number[]>, label: string}} how */
  constructor(bodies, how) {
    this.canvas = /** @type {HTMLCanvasElement} */ (canvas.cloneNode(false));
    this.canvas.setAttribute('aria-label', how.label + ' Arrow keys rotate the view; with Shift they pan it; plus and minus zoom; 0 or Home resets the view.');
    this.bodies = bodies;
    this.how = how;
    const { centre: home, sides } = bodies3d.extentOf(bodies.filter(b => !b.aside), how.mirror);
    this.size = space3d.size(sides);
    for (const body of bodies.filter(b => b.kind === 'lines' && b.ends.length > 6 * LIGHT_PIECES)) body.light = lightLines(body);
    for (const body of bodies.filter(b => b.kind === 'surface' && b.index.length > 3 * LIGHT_TRIANGLES)) body.light = lightBody(body);
    this.painter = space3d.painter(this.canvas, bodies.flatMap(body => (body.light ? [body, body.light] : [body])));
    this.home = home;
    /** @type {any} How it is turned; none before it is on the page. */
    this.orbit = null;
  }

  /** Begins to turn; the canvas must be on the page, because its first view depends on its shape. */
  begin(changed, pointed) {
    this.orbit = orbit3d(this.canvas, { home: this.home, size: this.size, lone: this.how.lone, mirror: this.how.mirror, views: this.how.views, changed, pointed });
    this.orbit.look(Object.keys(this.how.views(true))[0]);
    this.canvas.addEventListener('webglcontextlost', event => event.preventDefault());
    this.canvas.addEventListener('webglcontextrestored', () => { this.painter.load(); changed(); });
  }

  /** Where a point of the bodies lies on the canvas, CSS pixels, and how far away; null behind the viewer. @param {Vector} p */
  placeOf(p) {
    const m = this.orbit.camera().clip;
    const w = m[3] * p[0] + m[7] * p[1] + m[11] * p[2] + m[15];
    if (w <= 0) return null;
    const [x, y] = [0, 1].map(k => (m[k] * p[0] + m[4 + k] * p[1] + m[8 + k] * p[2] + m[12 + k]) / w);
    return [(x + 1) / 2 * this.canvas.clientWidth, (1 - y) / 2 * this.canvas.clientHeight, w];
  }
}

/** @type {View|null} */
let view = null;
/** @type {{view: View, centre: Vector, rows: Vector[]}|null} */
let scan = null;
/** @type {View|null} */
let blade = null;
/** @type {'scan'|'blade'} */
let wanted = 'scan';
/** @type {Mark[]} */
let marked = [];
/** @type {((point: Vector) => void)|null} */
let picking = null;
/** The marks as text, to see whether they have changed. */
let marksKey = '';
let isWithoutWebGl = false;

const place = () => {
  const shown = view;
  if (!shown) return;
  [...marks.children].forEach((child, k) => {
    const at = shown.placeOf(marked[k].at);
    const el = /** @type {HTMLElement} */ (child);
    el.hidden = !at;
    const inside = marked[k].from && shown.placeOf(/** @type {Vector} */ (marked[k].from));
    el.classList.toggle('behind', Boolean(at && inside && at[2] > inside[2]));
    if (at) {
      // A mark beyond the edge would be out of reach.
      el.style.left = `${Math.max(30, Math.min(shown.canvas.clientWidth - 30, at[0]))}px`;
      el.style.top = `${Math.max(14, Math.min(shown.canvas.clientHeight - 14, at[1]))}px`;
    }
  });
  // Where marks would lie on one another, the later one goes below.
  const boxes = /** @type {DOMRect[]} */ ([]);
  for (const child of marks.children) {
    const el = /** @type {HTMLElement} */ (child);
    if (el.hidden || el.classList.contains('point')) continue;
    let box = el.getBoundingClientRect();
    for (let round = 0; round < 6; round++) {
      const over = boxes.find(b => box.left < b.right && b.left < box.right && box.top < b.bottom && b.top < box.bottom);
      if (!over) break;
      el.style.top = `${Number.parseFloat(el.style.top) + over.bottom - box.top + 2}px`;
      box = el.getBoundingClientRect();
    }
    boxes.push(box);
  }
};
/** While a view is turned: when its last picture was drawn, and the time from one to the next, ms, smoothed. */
let [drawnAt, pace] = [0, 0];
/** Whether that is slow; so it stays, because a light picture does not tell how long a full one takes. */
let isSlow = false;
/** Whether the view is being turned, and the end of that. */
let turning = 0;
/** Slower than this, ms for a picture, a view is turned with fewer triangles and pixels. A graphics card is never so slow. */
const SLOW = 33;
/** A view rests when it was not turned for so long, ms. */
const REST = 300;
const moved = () => {
  // A picture may take longer than the rest.
  if (performance.now() - drawnAt > 2 * REST) drawnAt = 0;
  clearTimeout(turning);
  turning = window.setTimeout(() => { turning = 0; soon(); }, REST);
  soon();
};
const draw = () => {
  if (!view) return;
  const isLight = turning > 0 && isSlow;
  const ratio = Math.min(MOST_RATIO, window.devicePixelRatio || 1) * (isLight ? LIGHT_RATIO : 1);
  const [width, height] = [view.canvas.clientWidth * ratio, view.canvas.clientHeight * ratio].map(Math.round);
  if (width <= 0 || height <= 0) return;
  for (const body of view.bodies) {
    if (body.kind === 'lines') body.tint = bodies3d.lineTint(body, view.bodies, colour);
    if (body.kind === 'planes') body.tint = [...colour('--one'), 0.16];
  }
  // Last, when every colour is known.
  for (const body of view.bodies) {
    if (body.light) { body.light.shown = body.shown && isLight; body.light.tint = body.tint; }
    body.hidden = isLight && Boolean(body.light);
  }
  const full = view.bodies.filter(body => body.hidden && body.shown);
  full.forEach(body => { body.shown = false; });
  view.painter.draw(view.orbit.camera(), width, height, ratio, colour('--panel'), isLight);
  full.forEach(body => { body.shown = true; });
  place();
  const time = performance.now();
  if (turning && drawnAt && !isLight) {
    pace = pace ? 0.7 * pace + 0.3 * (time - drawnAt) : time - drawnAt;
    isSlow = pace > SLOW;
  }
  drawnAt = time;
  view.canvas.dataset.pictures = String(Number(view.canvas.dataset.pictures || 0) + 1);
};
let waiting = false;
const soon = () => {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => { waiting = false; draw(); });
};

/** Puts a view on the page in place of the last. @param {View} next */
const show = next => {
  if (view === next) return;
  const held = document.getElementById('stage');
  held?.replaceWith(next.canvas);
  /** @type {HTMLElement} */ (document.getElementById('nothing')).hidden = true;
  view = next;
  if (!next.orbit) {
    let down = /** @type {number[]|null} */ (null);
    next.begin(moved, () => {});
    next.canvas.addEventListener('pointerdown', event => { down = [event.clientX, event.clientY]; });
    next.canvas.addEventListener('pointerup', event => {
      const isTap = down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < TAP;
      if (isTap && picking && view === scan?.view) pick(event.clientX, event.clientY);
    });
    next.canvas.addEventListener('keydown', event => {
      if (event.key !== 'Enter' || !picking || view !== scan?.view) return;
      event.preventDefault();
      const box = next.canvas.getBoundingClientRect();
      pick(box.left + box.width / 2, box.top + box.height / 2);
    });
    new ResizeObserver(soon).observe(next.canvas);
  }
  next.canvas.classList.toggle('picking', Boolean(picking));
  looks();
  soon();
};
const decide = () => {
  const next = wanted === 'blade' ? blade || scan?.view : scan?.view || blade;
  if (next) show(next);
};

/** The point of the whole scan under a place of the window. */
const pick = async (x, y) => {
  if (!scan || !picking) return;
  const { from, towards } = scan.view.orbit.rayAt({ clientX: x, clientY: y });
  const back = turnedBack(scan.rows, from);
  const origin = back.map((v, k) => v + (scan ? scan.centre[k] : 0));
  const { point } = await post('ray', { from: origin, towards: turnedBack(scan.rows, towards) });
  if (point) picking?.(point);
  else readout.textContent = 'There is no surface at this place; click on the scan.';
};

/** Asks for points on the scan, or no longer. @param {((point: Vector) => void)|null} taker */
export const pickPoints = taker => {
  picking = taker;
  view?.canvas.classList.toggle('picking', Boolean(taker));
  readout.textContent = taker ? 'Click the first point on the scan, then the second. By keys: turn the view until the point is in the middle of the picture, then press Enter.' : HELP;
};

/** A point of the file in the axes of the picture. @param {number[]} p @returns {Vector} */
export const inPicture = p => (scan ? turned(scan.rows, p.map((v, k) => v - (scan ? scan.centre[k] : 0))) : [0, 0, 0]);

/** Reads the picture of the scan. */
export const loadScan = async () => {
  const data = await bytes('picture');
  const raw = new Uint8Array(data);
  const end = raw.indexOf(10);
  const head = JSON.parse(new TextDecoder().decode(raw.subarray(0, end)));
  const own = new Float32Array(data, end + 1, 3 * head.points);
  const outward = new Float32Array(data, end + 1 + 12 * head.points, 3 * head.points);
  const index = new Uint32Array(data, end + 1 + 24 * head.points, 3 * head.triangles);
  const rows = poseOf(own);
  const [positions, normals] = [own, outward].map(from => {
    const to = new Float32Array(from.length);
    for (let i = 0; i < from.length; i += 3) {
      for (let k = 0; k < 3; k++) to[i + k] = rows[k][0] * from[i] + rows[k][1] * from[i + 1] + rows[k][2] * from[i + 2];
    }
    return to;
  });
  const body = { layer: 'scan', kind: 'surface', positions, normals, index, tint: [...bodies3d.share(bodies3d.PLAIN), 1], shown: true };
  const views = isWide => ({ 'One side': [0.12, 0.16], 'Other side': [Math.PI + 0.12, 0.16], 'First edge': [Math.PI / 2, 0.1], 'Second edge': [-Math.PI / 2, 0.1], 'From an end': [isWide ? -Math.PI / 2 : Math.PI, 1.45] });
  try {
    scan = { centre: head.centre, rows, view: new View([body], { lone: true, mirror: 1, views, label: 'The scan as it is in its file.' }) };
  } catch {
    withoutWebGl();
    return;
  }
  decide();
  if (!picking) readout.textContent = HELP;
};

/** Shows the measured blade. @param {any} data The data of the 3-D view of a record. @param {HTMLElement[]} [scaleOf] What its colours mean. */
export const loadBlade = (data, scaleOf = []) => {
  scaleParts = scaleOf;
  if (!data) { blade = null; decide(); return; }
  const body = data.scan && bodies3d.scanBody(data.scan);
  if (body) Object.assign(body, { shown: true, tint: [...body.tint.slice(0, 3), 1] });
  const lines = ['plain', 'flagged'].map(name => Object.assign(bodies3d.linesBody(data.outlines.filter(o => o.flagged === (name === 'flagged')), name), { shown: true }));
  const planes = Object.assign(bodies3d.planesBody(data.outlines), { shown: false });
  const lofts = data.surfaces.map(s => Object.assign(bodies3d.loftBody(s), { shown: !body }));
  const mirror = data.mirrored ? -1 : 1;
  const views = isWide => ({ Back: [0.12, 0.16], Face: [Math.PI + 0.12, 0.16], 'Leading edge': [Math.PI / 2 * mirror, 0.1], 'From the tip': [isWide ? -Math.PI / 2 : Math.PI, 1.45, 0.8] });
  try {
    blade = new View([...(body ? [body] : []), ...lofts, ...lines, ...(data.planes ? [planes] : [])], { lone: data.surfaces.length < 2, mirror, views, label: 'The blade with its stations.' });
  } catch {
    withoutWebGl();
    return;
  }
  decide();
};

const withoutWebGl = () => {
  isWithoutWebGl = true;
  readout.textContent = 'This browser offers no WebGL 2, so there is no picture in space. Measuring works all the same; points of known distances must be typed.';
  document.querySelector('.stage')?.remove();
};

/** Which of the two is shown, where both are there. @param {'scan'|'blade'} which */
export const prefer = which => { if (wanted !== which) { wanted = which; decide(); } };
/** Whether the picture is that of the measured blade. */
export const showsBlade = () => view !== null && view === blade;

/** What the colours of the scan mean, as the record has it; empty without one. @type {HTMLElement[]} */
let scaleParts = [];
const showScale = isShown => {
  const box = /** @type {HTMLElement} */ (document.getElementById('scale'));
  box.hidden = !isShown;
  box.replaceChildren(...(isShown ? scaleParts : []));
};

/** The buttons over the picture. */
const looks = () => {
  const box = /** @type {HTMLElement} */ (document.getElementById('looks'));
  box.replaceChildren();
  showScale(view === blade && Boolean(view?.bodies.some(b => b.layer === 'scan' && b.tint[3] === 0)));
  if (!view || isWithoutWebGl) return;
  const shownView = view;
  for (const name of Object.keys(view.how.views(true))) {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = name;
    button.addEventListener('click', () => shownView.orbit.look(name));
    box.append(button);
  }
  const has = layer => shownView.bodies.some(b => b.layer === layer);
  if (shownView !== blade) return;
  for (const [layer, name] of [['scan', 'Scan'], ['outlines', 'Fitted outlines'], ['planes', 'Cutting planes'], ['surface', 'Fitted surface'], ['colour', 'Scan coloured by its distance']]) {
    if (layer === 'colour' ? !has('scan') : !has(layer)) continue;
    const label = document.createElement('label');
    const check = document.createElement('input');
    check.type = 'checkbox';
    const of = shownView.bodies.filter(b => b.layer === (layer === 'colour' ? 'scan' : layer));
    check.checked = layer === 'colour' ? of[0].tint[3] === 0 : of[0].shown;
    check.addEventListener('change', () => {
      for (const b of of) { if (layer === 'colour') b.tint[3] = check.checked ? 0 : 1; else b.shown = check.checked; }
      if (layer === 'colour') showScale(check.checked);
      soon();
    });
    label.append(check, ` ${name}`);
    box.append(label);
  }
};

/** Marks on the picture. A mark with an act is a button. @param {Mark[]} list */
export const setMarks = list => {
  const key = JSON.stringify(list);
  // A mark that is the same keeps the focus, and no picture is drawn for it.
  if (key === marksKey && marks.children.length === list.length) return;
  marksKey = key;
  marked = list;
  marks.replaceChildren(...list.map(mark => {
    const el = document.createElement(mark.act ? 'button' : 'span');
    el.className = `tag${mark.doubtful ? ' doubtful' : ''}${mark.isPoint ? ' point' : ''}${mark.isChosen ? ' chosen' : ''}`;
    el.textContent = mark.text;
    if (mark.hint) el.title = mark.hint;
    if (mark.act && el instanceof HTMLButtonElement) {
      el.type = 'button';
      el.setAttribute('aria-label', `${mark.text}. ${mark.hint || ''}`);
      el.addEventListener('click', mark.act);
    }
    return el;
  }));
  soon();
};

document.addEventListener('themechange', soon);
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', soon);
