// Results as the record page has them: table, warnings, sheets and curves are taken from record.html, so that every digit is the same.
import { now, text } from './ask.js';
import { make } from './form.js';

/** @typedef {{document: Document, view: any, table: any}} Results */

/** @type {{stamp: string, results: Results}|null} */
let kept = null;

/** What record.html and stations.json hold; null before the first measurement. @returns {Promise<Results|null>} */
export const results = async () => {
  const files = now()?.files || {};
  const [page, table] = [files['record.html'], files['stations.json']];
  if (!page || !table) { kept = null; return null; }
  const stamp = `${page.stamp} ${table.stamp}`;
  if (kept?.stamp === stamp) return kept.results;
  const [html, json] = await Promise.all([text('file/record.html'), text('file/stations.json')]);
  // The parser runs no scripts and loads nothing. This page allows no styles but its own; those of the record belong to its own window and to paper.
  const plain = html.replace(/<style>[^]*?<\/style>/, '').replaceAll(/ style="[^"]*"/g, '');
  const found = new DOMParser().parseFromString(plain, 'text/html');
  const view = found.getElementById('view-data')?.textContent;
  kept = { stamp, results: { document: found, view: view ? JSON.parse(view) : null, table: JSON.parse(json) } };
  return kept.results;
};

/** Part of the record page, ready to be shown here; null if it has no such part. @param {Document} page @param {string} selector @returns {HTMLElement|null} */
export const part = (page, selector) => {
  const found = page.querySelector(selector);
  if (!found) return null;
  const copy = /** @type {HTMLElement} */ (found.cloneNode(true));
  const inside = [copy, ...copy.querySelectorAll('*')];
  for (const el of inside) {
    if (el.id && !el.closest('svg')) el.removeAttribute('id');
  }
  copy.querySelectorAll('script, .readout, .tools').forEach(el => el.remove());
  // Headings sort on the record page only.
  copy.querySelectorAll('button.sort').forEach(button => {
    const span = document.createElement('span');
    span.title = button.getAttribute('title') || '';
    span.append(...button.childNodes);
    button.replaceWith(span);
  });
  copy.querySelectorAll('figure.chart').forEach(figure => { figure.removeAttribute('tabindex'); figure.removeAttribute('aria-label'); });
  return /** @type {HTMLElement} */ (document.importNode(copy, true));
};

/** Code and sentence of every warning of the table. @param {any} table @returns {{code: string, sentence: string}[]} */
export const warnings = table => (table.warnings || []).map(warning => {
  const [, code, sentence] = /^([a-z0-9-]+): (.*)$/s.exec(String(warning)) || [null, '', String(warning)];
  return { code: code || '', sentence: sentence[0].toUpperCase() + sentence.slice(1) };
});

/** The option that helps with a warning, by its code. */
export const HELPS = {
  'relative-angles': 'setting', 'no-length': 'length', 'unlikely-size': 'length', 'no-root-radius': 'root-radius', 'root-radius-needed': 'root-radius', 'resolution-estimated': 'resolution', 'resolution-doubtful': 'resolution',
  'long-range-unknown': 'scan-accuracy', 'ends-uncertain': 'swap', 'wide-planes': 'sections', 'hand-doubtful': 'hand', 'edge-by-rule': 'hand', 'back-by-rule': 'hand', 'sides-uncertain': 'hand',
  'swap-changes-hand': 'hand', 'setting-unused': 'setting', 'root-radius-unused': 'root-radius', 'length-unused': 'length',
};

/** What a command printed: its lines are as long as those of a terminal, so that sentences are joined again and run as wide as the window; rows of figures keep their places. @param {string} printed @param {(sentence: string) => (Node|string)[]} linked What a sentence becomes on the page. @returns {Node[]} */
export const said = (printed, linked) => {
  /** @type {{isRow: boolean, lines: string[]}[]} */
  const blocks = [];
  for (const line of printed.split('\n').filter(l => l.trim())) {
    const before = blocks.at(-1);
    const isRow = /\S {2,}\S.* {2,}\S/.test(line);
    const goesOn = !isRow && /^ {4}\S/.test(line);
    // The row of units below a head may hold few words.
    const isUnder = before?.isRow && /^ {5}/.test(line);
    if (before && (isRow || isUnder ? before.isRow : goesOn && !before.isRow)) before.lines.push(line);
    else blocks.push({ isRow, lines: [line] });
  }
  return blocks.map(({ isRow, lines }) => isRow
    ? make('pre', { tabindex: '0', role: 'region', 'aria-label': 'Figures, scroll sideways' }, [lines.join('\n')])
    : make('p', {}, linked(lines.map(l => l.trim()).join(' '))));
};
