// The stations on a ruler along the blade: dragged or moved by keys, with the section of the scan and a quick fit beside.
import { choose, latest, post } from './ask.js';
import { idOf, make } from './form.js';
import { part } from './results.js';

/** Steps of the arrow keys, fractions of the tip radius; with Shift ten times as much. */
const STEP = 0.005;
/** Two stations closer than this are one. */
const LEAST_GAP = 0.002;

/** @typedef {{ratio: number, index: number, flagged: boolean, moved: boolean}} Handle */

const box = /** @type {HTMLElement} */ (document.getElementById('span'));
/** @type {Handle[]} */
let handles = [];
let current = -1;
/** @type {import('./results.js').Results|null} */
let shown = null;
let stamp = '';
/** @type {HTMLElement|null} */
let aside = null;
/** Told of the chosen station. @type {() => void} */
let chosenChanged = () => {};
let lengths = { unit: 'mm', factor: 1000, digits: 1 };

const rows = () => shown?.table.stations || [];
const rootRatio = () => {
  const { root_radius_m: root, radius_m: tip } = shown?.table.blade || {};
  const first = rows()[0]?.radius_ratio || 0.3;
  return Math.max(0.02, Math.min(first, root && tip ? root / tip : first));
};
const left = ratio => 100 * (ratio - rootRatio()) / (1 - rootRatio());

/** The fraction of the tip radius of the chosen station, and whether its place is measured; none without a ruler. @returns {{ratio: number, moved: boolean}|null} */
export const chosenStation = () => (aside && handles[current]) || null;

/** Takes the ruler off the page. */
export const hideSpan = () => { box.replaceChildren(); aside = null; };

/**
 * Shows the stations of a table and the chosen one's section in `place`; `changed` is called when another one is chosen.
 * @param {import('./results.js').Results} results @param {HTMLElement} place @param {() => void} changed
 */
export const showSpan = (results, place, changed) => {
  chosenChanged = changed;
  const fresh = JSON.stringify(results.table.stations.map(s => s.radius_ratio)) + results.table.source?.sha256;
  shown = results;
  aside = place;
  const isInch = results.table.record?.units === 'in';
  lengths = isInch ? { unit: 'in', factor: 1 / 0.0254, digits: 3 } : { unit: 'mm', factor: 1000, digits: 1 };
  if (fresh !== stamp || handles.length === 0) {
    stamp = fresh;
    handles = rows().map((s, index) => ({ ratio: s.radius_ratio, index, flagged: (s.flags || []).length > 0, moved: false }));
    current = Math.floor(handles.length / 2);
  }
  draw();
  section();
};

const apply = async () => {
  const list = handles.map(h => Number(h.ratio.toFixed(4))).sort((a, b) => a - b);
  // A number of stations and their places exclude one another.
  await choose('measure', 'stations', []);
  await choose('measure', 'at', [list.join(',')]);
  for (const [option, value] of [['stations', ''], ['at', list.join(',')]]) {
    const field = /** @type {HTMLInputElement|null} */ (document.getElementById(idOf('measure', option)));
    if (field) field.value = value;
  }
};

/** @param {number} k @param {number} to */
const move = (k, to) => {
  const others = handles.filter((_, j) => j !== k).map(h => h.ratio);
  const ratio = Math.max(rootRatio() + 0.001, Math.min(0.999, to));
  if (others.some(o => Math.abs(o - ratio) < LEAST_GAP)) return;
  handles[k].ratio = Math.round(ratio * 1e4) / 1e4;
  handles[k].moved = true;
  const el = /** @type {HTMLElement|null} */ (box.querySelector(`[data-k="${k}"]`));
  if (el) {
    el.style.left = `${left(handles[k].ratio)}%`;
    tell(el, handles[k]);
    el.classList.add('moved');
  }
  live();
};

/** @param {HTMLElement} el @param {Handle} h */
const tell = (el, h) => {
  el.setAttribute('aria-valuenow', h.ratio.toFixed(3));
  el.setAttribute('aria-valuetext', `${h.ratio.toFixed(3)} R${h.flagged && !h.moved ? ', flagged' : ''}${h.moved ? ', moved, not measured yet' : ''}`);
};

const choose1 = k => {
  current = k;
  box.querySelectorAll('.station').forEach(el => el.setAttribute('aria-current', String(Number(/** @type {HTMLElement} */ (el).dataset.k) === k)));
  section();
};

const draw = () => {
  const ruler = make('div', { className: 'ruler' });
  for (let tick = Math.ceil(rootRatio() * 10); tick <= 10; tick++) {
    const el = make('span', { className: 'tick' }, [tick === 10 ? '1 R' : `0.${tick}`]);
    el.style.left = `${left(tick / 10)}%`;
    ruler.append(el);
  }
  handles.forEach((h, k) => {
    const el = make('button', {
      type: 'button', className: `station${h.flagged ? ' flagged' : ''}${h.moved ? ' moved' : ''}`, role: 'slider', 'aria-label': 'Station', 'aria-valuemin': rootRatio().toFixed(3), 'aria-valuemax': '1', 'aria-current': String(k === current), 'data-k': String(k),
      onfocus: () => { if (current !== k) choose1(k); },
      onkeydown: event => {
        const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
        if (by) move(k, handles[k].ratio + by * STEP * (event.shiftKey ? 10 : 1));
        else if (event.key === 'Delete') { remove(k); return; } else return;
        event.preventDefault();
      },
      onkeyup: event => { if (event.key.startsWith('Arrow') && handles[k].moved) apply(); },
      onpointerdown: event => {
        el.setPointerCapture(event.pointerId);
        const [x0, from] = [event.clientX, handles[k].ratio];
        const width = ruler.getBoundingClientRect().width;
        const follow = e => { if (Math.abs(e.clientX - x0) > 1) move(k, from + (e.clientX - x0) / width * (1 - rootRatio())); };
        el.addEventListener('pointermove', follow);
        el.addEventListener('pointerup', () => { el.removeEventListener('pointermove', follow); if (handles[k].moved) apply(); }, { once: true });
        el.focus();
        choose1(k);
      },
    });
    el.style.left = `${left(h.ratio)}%`;
    tell(el, h);
    ruler.append(el);
  });
  const tools = make('div', { className: 'tools' }, [
    make('button', { type: 'button', onclick: () => choose1(Math.max(0, current - 1)) }, ['Previous']),
    make('button', { type: 'button', onclick: () => choose1(Math.min(handles.length - 1, current + 1)) }, ['Next']),
    make('button', { type: 'button', onclick: add }, ['Add a station']),
    make('button', { type: 'button', onclick: () => remove(current) }, ['Remove this station']),
  ]);
  const key = handles.some(h => h.flagged) ? [make('p', { className: 'hint' }, ['Orange: a station with a flag; the flags are explained below.'])] : [];
  const hadFocus = box.contains(document.activeElement);
  box.replaceChildren(ruler, tools, ...key);
  if (hadFocus) /** @type {HTMLElement|null} */ (box.querySelector(`[data-k="${current}"]`))?.focus();
};

const add = () => {
  const here = handles[current]?.ratio ?? 0.7;
  const next = handles.map(h => h.ratio).filter(r => r > here + 1e-9).sort((a, b) => a - b)[0] ?? Math.min(0.98, here + 0.05);
  handles.push({ ratio: Math.round(5e3 * (here + next)) / 1e4, index: -1, flagged: false, moved: true });
  current = handles.length - 1;
  draw();
  apply();
  section();
};
const remove = k => {
  if (handles.length <= 3) return;
  handles.splice(k, 1);
  current = Math.min(current, handles.length - 1);
  draw();
  apply();
  section();
};

/** The section of the chosen station: as measured, or where it was moved the scan with a quick fit. */
const section = () => {
  const h = handles[current];
  if (!h || !aside) return;
  chosenChanged();
  if (h.moved) { live(); return; }
  const sheet = shown && part(shown.document, `#sections article.sheet:nth-of-type(${h.index + 1})`);
  const at = rows()[h.index]?.radius_m;
  aside.replaceChildren(make('h3', {}, [`Measured section at ${h.ratio.toFixed(3)} R${at ? `, r = ${(at * lengths.factor).toFixed(lengths.digits)} ${lengths.unit}` : ''}`]));
  if (shown && sheet) {
    sheet.querySelector('h3')?.remove();
    const key = part(shown.document, '#sheet-key');
    if (key) aside.append(key);
    aside.append(sheet, make('p', { className: 'hint' }, ['The strip shows scan minus outline: dots on the back, rings on the face; dashed: twice the rms.']));
  }
};

const SVG = 'http://www.w3.org/2000/svg';
/** @param {number[][]} points @param {boolean} closed */
const pathOf = (points, closed) => points.map(([x, y], i) => `${i ? 'L' : 'M'}${(1000 * x).toFixed(2)} ${(-1000 * y).toFixed(2)}`).join('') + (closed ? 'Z' : '');

/** Asks for the section where the handle is now. */
const live = latest(async () => {
  const h = handles[current];
  if (!h) return;
  const begun = performance.now();
  try {
    const found = await post('section', { ratio: h.ratio });
    if (aside && handles[current] === h && h.moved) drawLive(found, performance.now() - begun);
  } catch (e) {
    if (aside) aside.replaceChildren(make('p', {}, [/** @type {Error} */ (e).message]));
  }
});

/** @param {any} found @param {number} ms */
const drawLive = (found, ms) => {
  const all = [...found.points, ...(found.outline || [])];
  const ys = all.map(p => p[1]);
  const xs = all.map(p => p[0]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const svg = document.createElementNS(SVG, 'svg');
  const pad = 0.04 * (x1 - x0 || 1);
  svg.setAttribute('viewBox', [x0 - pad, -y1 - pad, x1 - x0 + 2 * pad, y1 - y0 + 2 * pad].map(v => (1000 * v).toFixed(2)).join(' '));
  svg.setAttribute('role', 'img');
  svg.setAttribute('aria-label', `Section of the scan at ${found.ratio.toFixed(3)} R with a quick fit, leading edge on the left`);
  const add1 = (d, name) => { const p = document.createElementNS(SVG, 'path'); p.setAttribute('d', d); p.setAttribute('class', name); svg.append(p); };
  add1(found.points.map(([x, y]) => `M${(1000 * x).toFixed(2)} ${(-1000 * y).toFixed(2)}h0`).join(''), 'points');
  if (found.outline) add1(pathOf(found.outline, true), 'outline');
  const length = m => `${(m * lengths.factor).toFixed(lengths.digits)} ${lengths.unit}`;
  const rowsOf = found.outline ? [
    ['Chord', length(found.chord_m)], ['Blade angle', `${found.angle_deg.toFixed(2)} deg`],
    ...(found.thickness_ratio === undefined ? [] : [['Thickness', `${(100 * found.thickness_ratio).toFixed(2)} % of the chord`], ['Camber', `${(100 * found.camber_ratio).toFixed(2)} % of the chord`]]),
  ] : [];
  const why = found.why ? [make('p', { className: 'state doubt' }, [`No fit here: ${found.why}.`])] : [];
  const facts = make('dl', { className: 'figures' }, rowsOf.map(([name, value]) => make('div', {}, [make('dt', {}, [name]), make('dd', {}, [value])])));
  aside?.replaceChildren(
    make('h3', {}, [`Scan and quick fit at ${found.ratio.toFixed(3)} R, r = ${length(found.radius_m)}`]),
    make('div', { className: 'live', 'data-ms': ms.toFixed(0) }, [svg]), ...why, facts,
    make('p', { className: 'hint' }, ['The quick fit knows neither the resolution of the scan nor its other stations, and has no uncertainty. Measure again for figures to keep.']),
  );
};
