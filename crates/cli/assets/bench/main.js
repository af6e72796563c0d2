// The page of the bench: steps from left to right, the picture, the choices of a step, the work, and what came out.
import { choose, chosen, follow, get, listen, look, now, onAlarm, post, run, send } from './ask.js';
import { READINGS, STEPS, fieldOf } from './fields.js';
import { fieldBoxes, idOf, make } from './form.js';
import { inPicture, loadBlade, loadScan, pickPoints, prefer, setMarks, showsBlade } from './picture.js';
import { HELPS, part, results, said, warnings } from './results.js';
import { sliderBox } from './sliders.js';
import { chosenStation, hideSpan, showSpan } from './span.js';

/** @param {string} id @returns {any} */
const one = id => document.getElementById(id);
const panel = one('panel');

let step = STEPS.find(s => `#${s.id}` === location.hash) || STEPS[0];
/** @type {number[][]} Points that were clicked for a known distance. */
let points = [];
let isMarking = false;
/** @type {{stop: () => void}|null} */
let sending = null;
let solidStep = 'stl';
let shownScan = '';
let shownResults = '';
/** What the panel shows; while it is the same it is left alone, so that nothing is lost while someone types. */
let shownPanel = '';

const runOf = () => (step.id === 'solid' ? solidStep : step.run);
/** A sentence begins with a capital letter, but the name of a file stays as it is. @param {string} sentence */
const capital = sentence => (/^[a-z][a-z'’-]*[ ,:;]/.test(sentence) ? sentence[0].toUpperCase() + sentence.slice(1) : sentence);
const asSentence = sentence => capital(sentence) + (/[.!?]$/.test(sentence) ? '' : '.');

onAlarm(sentence => { one('alert').textContent = sentence; one('alert').hidden = !sentence; });

/** What is told about the last thing that was done, as text or as a refusal. @param {string} sentence @param {boolean} [isWrong] */
const tellDoing = (sentence, isWrong = false) => {
  const place = one('doing-text');
  place.replaceChildren(...withLinks(asSentence(sentence), step.command || 'measure'));
  place.classList.toggle('state', isWrong);
  place.classList.toggle('doubt', isWrong);
};

/** A sentence in which options of a command lead to their fields. @param {string} sentence @param {string} command @returns {(Node|string)[]} */
const withLinks = (sentence, command) => {
  if (!sentence || sentence === '.') return [''];
  return sentence.split(/(--[a-z][a-z-]*)/).map(word => {
    const field = word.startsWith('--') && fieldOf(word.slice(2), command);
    return field ? make('button', { type: 'button', className: 'link', onclick: () => goTo(field.step, command, field.option) }, [word]) : word;
  });
};

/** A sentence of a command that ended: where it names an option, the page names the field. @param {string} sentence @param {string} command @returns {(Node|string)[]} */
const withFields = (sentence, command) => sentence.split(/(--[a-z][a-z-]*)/).map(word => {
  const found = word.startsWith('--') && [command, 'measure'].map(c => ({ c, field: fieldOf(word.slice(2), c) })).find(({ field }) => field);
  if (!found || !found.field) return word;
  const { c, field: { step: id, option } } = found;
  const name = STEPS.find(s => s.id === id)?.fields.find(f => f.option === option)?.name;
  return name ? make('button', { type: 'button', className: 'link', onclick: () => goTo(id, c, option) }, [`“${name}”`]) : word;
});

/** Shows a step, and puts the focus on one of its fields. @param {string} id @param {string} [command] @param {string} [option] */
const goTo = async (id, command, option) => {
  step = STEPS.find(s => s.id === id) || step;
  history.replaceState(null, '', `#${step.id}`);
  shownPanel = '';
  if (step.id !== 'size') marking(false);
  const isShown = render();
  // The fields of a step are made anew; only then can one of them have the focus.
  if (option) await isShown;
  const field = option && one(idOf(command || '', option));
  if (field) {
    field.closest('details')?.setAttribute('open', '');
    field.focus();
  } else {
    panel.focus({ preventScroll: true });
  }
};

// --- the steps

let shownSteps = '';
const steps = () => {
  const state = now();
  // Made anew only when something is different, so that the focus stays where it is.
  const key = JSON.stringify([step.id, state?.files, state?.job.scan, Object.values(state?.lines || {}).map(l => [l.text, l.late])]);
  if (key === shownSteps) return;
  shownSteps = key;
  const hadFocus = one('steps').contains(document.activeElement);
  const has = name => Boolean(state?.files[name]);
  const isLate = word => Boolean(state?.lines[word]?.late);
  const ready = { scan: state?.job.scan, prediction: has('prediction.json'), solid: has('propeller.stl') || has('propeller.step') };
  one('steps').replaceChildren(...STEPS.map((s, k) => {
    // A step where nothing was typed is not done because the blade was measured.
    const isReady = s.id === 'readings' ? has('stations.json') && chosen('measure', 'reading').length > 0 : s.command === 'measure' ? has('stations.json') : ready[s.id];
    const late = isReady && s.run && isLate(s.run);
    const said = late ? ', older than the choices' : isReady ? ', done' : '';
    return make('button', { type: 'button', className: isReady ? (late ? 'late' : 'ready') : '', 'aria-current': s === step ? 'step' : 'false', onclick: () => goTo(s.id) }, [
      make('span', { className: 'n' }, [String(k + 1)]), make('span', { className: 'word' }, [s.word]), make('span', { className: 'said' }, [said]),
    ]);
  }));
  one('steps').querySelectorAll('[aria-current=false]').forEach(b => b.removeAttribute('aria-current'));
  if (hadFocus) one('steps').querySelector('[aria-current=step]')?.focus();
};

// --- the scan

/** @param {File} file @param {boolean} [isRepeat] Whether it is a further scan of the same blade. */
const take = async (file, isRepeat = false) => {
  const state = now();
  if (!state) return;
  if (file.size > state.largest) {
    tellDoing(`${file.name} has ${Math.ceil(file.size / 1e6)} MB, more than the ${state.largest / 1e6} MB that may be dropped here; name it by its path instead`, true);
    return;
  }
  const bar = one('bar');
  const begun = performance.now();
  const sent = send('scan', file, share => {
    bar.value = share;
    const left = (performance.now() - begun) / 1000 * (1 - share) / Math.max(share, 1e-3);
    tellDoing(share < 1 ? `sending ${file.name}, ${Math.round(100 * share)} %, about ${Math.ceil(left)} s left` : `reading ${file.name}`);
  }, isRepeat ? '&repeat=1' : '');
  sending = sent;
  bar.hidden = false;
  bar.value = 0;
  one('stop').hidden = false;
  try {
    const { facts, sentence } = await sent.done;
    one('alert').textContent = asSentence(sentence);
    one('alert').hidden = !sentence;
    tellDoing(`${file.name} was taken: ${facts.format}, ${facts.triangles.toLocaleString('en')} triangles`);
    await look();
  } catch (e) {
    tellDoing(/** @type {Error} */ (e).message, true);
  }
  sending = null;
  doing();
};

/** Further scans of the same blade. @param {{path: string, sha256: string}[]} repeats @param {(from: any, repeat: boolean) => void} name */
const repeatsBox = (repeats, name) => {
  const picker = make('input', { type: 'file', id: 'repeat-file', accept: '.ply,.stl,.obj,.glb', onchange: () => { if (picker.files?.[0]) take(picker.files[0], true); picker.value = ''; } });
  const path = make('input', { type: 'text', id: 'repeat-path', autocomplete: 'off', spellcheck: false });
  const forget = async s => { await post('forget-scan', { path: s.path }); await look(); };
  return make('details', { open: repeats.length > 0 }, [
    make('summary', {}, ['More scans of this blade']),
    make('p', {}, ['Measuring then takes the mean of all scans and says whether they agree; the picture is that of the first. Each must be of this same blade.']),
    make('ul', { className: 'chips' }, repeats.map(s => make('li', {}, [s.path, make('button', { type: 'button', 'aria-label': `Take away ${s.path}`, onclick: () => forget(s) }, ['Take away'])]))),
    make('p', {}, [make('label', { htmlFor: 'repeat-file' }, ['Add a scan: ']), picker]),
    make('div', { className: 'pair' }, [make('div', {}, [make('label', { htmlFor: 'repeat-path' }, ['Or its path']), path]), make('button', { type: 'button', onclick: () => name(path, true) }, ['Add this file'])]),
    make('p', { className: 'hint' }, ['The blades of one propeller that were scanned one by one are no scans of one blade: give each a folder of its own, and compare the tables: ', make('code', {}, ['bladeform compare one/stations.json two/stations.json']), '.']),
  ]);
};

const scanPanel = () => {
  const state = now();
  const scan = state?.job.scan;
  const picker = make('input', { type: 'file', id: 'scan-file', accept: '.ply,.stl,.obj,.glb', onchange: () => { if (picker.files?.[0]) take(picker.files[0]); picker.value = ''; } });
  const path = make('input', { type: 'text', id: 'scan-path', autocomplete: 'off', spellcheck: false });
  const name = async (from = path, repeat = false) => {
    try { await post('path', { path: from.value, repeat }); await look(); } catch (e) { tellDoing(/** @type {Error} */ (e).message, true); }
  };
  path.addEventListener('keydown', event => { if (event.key === 'Enter') name(); });
  return [
    make('div', { className: 'drop' }, [make('label', { htmlFor: 'scan-file' }, ['Drop the file anywhere on this page, or choose it: ']), picker]),
    make('div', { className: 'field' }, [
      make('label', { className: 'name', htmlFor: 'scan-path' }, ['Or the path of the file']),
      make('p', { className: 'hint' }, ['It stays where it is; the job keeps its path, and its SHA-256: a fingerprint by which a changed file is noticed.']),
      make('div', { className: 'pair' }, [path, make('button', { type: 'button', onclick: () => name() }, ['Use this file'])]),
    ]),
    ...(scan ? [make('dl', { className: 'figures' }, [['Scan', scan.path], ['Size', `${(scan.bytes / 1e6).toFixed(1)} MB`], ['Fingerprint (SHA-256)', scan.sha256]].map(([k, v]) => make('div', {}, [make('dt', {}, [k]), make('dd', {}, [v])]))),
      make('p', {}, [make('button', { type: 'button', onclick: () => goTo('size') }, ['Next: size'])]),
      repeatsBox(state?.job.repeats || [], name)] : []),
  ];
};

for (const kind of ['dragenter', 'dragover']) {
  addEventListener(kind, event => {
    const drag = /** @type {DragEvent} */ (event);
    if (![...(drag.dataTransfer?.types || [])].includes('Files')) return;
    event.preventDefault();
    one('drop-here').hidden = false;
  });
}
addEventListener('dragleave', event => { if (!event.relatedTarget) one('drop-here').hidden = true; });
addEventListener('drop', event => {
  event.preventDefault();
  one('drop-here').hidden = true;
  const files = [...(event.dataTransfer?.files || [])];
  if (files.length === 0) return;
  if (files.every(file => file.type.startsWith('image/'))) { if (step.id !== 'record') goTo('record'); addPhotos(files); }
  else {
    goTo('scan');
    const rest = `of ${files.length} files only ${files[0].name} was read; add further scans of the same blade one by one`;
    take(files[0]).then(() => { if (files.length > 1) tellDoing(rest, true); });
  }
});

// --- size

const marking = on => {
  isMarking = on;
  points = [];
  pickPoints(on ? point => {
    points = [...points.slice(-1), point].slice(points.length === 2 ? -1 : 0);
    if (points.length === 2) pickPoints(null);
    showPoints();
    const place = one('marked');
    if (place) place.textContent = points.length === 2 ? 'Both points are marked. Type their distance and add it.' : 'One point is marked; click the second.';
    if (points.length === 2) one('marked-length')?.focus();
  } : null);
  showPoints();
};
const showPoints = () => {
  if (step.id !== 'size' || showsBlade()) return;
  const known = chosen('measure', 'distance').flatMap(text => {
    const [, a, b] = /@(.*)\.\.(.*)$/.exec(text) || [];
    return [a, b].filter(Boolean).map(t => t.split(',').map(Number));
  });
  const all = points.length > 0 ? points : known;
  setMarks(all.map((p, k) => ({ at: inPicture(p), text: 'AB'[k % 2], isPoint: true })));
};
const sizePanel = () => {
  const length = make('input', { type: 'text', id: 'marked-length', autocomplete: 'off', placeholder: '250mm' });
  const wrong = make('p', { className: 'wrong', role: 'alert', hidden: true });
  const add = async () => {
    const told = text => { wrong.textContent = text; wrong.hidden = !text; };
    if (points.length < 2) { told('Mark two points on the scan first.'); return; }
    const place = p => p.map(v => Number(v.toPrecision(9))).join(',');
    const value = `${length.value.trim()}@${place(points[0])}..${place(points[1])}`;
    const sentence = await choose('measure', 'distance', [...chosen('measure', 'distance'), value]);
    told(sentence ? asSentence(sentence.replace(/^--\S+: /, '')) : '');
    if (!sentence) { marking(false); shownPanel = ''; render(); }
  };
  return [
    ...fieldBoxes(step),
    make('h3', {}, ['Known distances']),
    make('p', {}, ['Two points whose distance was measured, also on a scale bar beside the part.']),
    chips('measure', 'distance', text => text.replace(/@.*/, '') + ' between the points A and B'),
    make('div', { className: 'tools' }, [
      make('button', { type: 'button', id: 'mark', onclick: () => { prefer('scan'); marking(!isMarking || points.length === 2); shownPanel = ''; render(); } }, [isMarking && points.length < 2 ? 'Stop marking' : 'Mark two points on the scan']),
      make('span', { id: 'marked', role: 'status' }, [points.length === 2 ? 'Both points are marked. Type their distance and add it.' : '']),
    ]),
    make('div', { className: 'field short' }, [make('label', { className: 'name', htmlFor: 'marked-length' }, ['Their distance']), make('p', { className: 'hint' }, ['250mm, or, if you know how well it was read, with its standard uncertainty: 250mm+-0.1mm.']), make('div', { className: 'pair' }, [length, make('button', { type: 'button', id: 'add-distance', onclick: add }, ['Add'])]), wrong]),
  ];
};

/** The values of an option that may be given several times, each with a button that takes it away. @param {string} command @param {string} option @param {(text: string) => string} shown */
const chips = (command, option, shown) => make('ul', { className: 'chips' }, chosen(command, option).map((text, k) => make('li', {}, [
  shown(text),
  make('button', { type: 'button', 'aria-label': `Take away ${shown(text)}`, onclick: async () => { await choose(command, option, chosen(command, option).filter((_, j) => j !== k)); shownPanel = ''; render(); } }, ['Take away']),
])));

// --- blade

const overrule = async what => {
  const all = chosen('measure', 'swap');
  const sentence = await choose('measure', 'swap', all.includes(what) ? all.filter(w => w !== what) : [...all, what]);
  shownPanel = '';
  render();
  if (sentence) tellDoing(sentence, true);
  else if (now()?.files['stations.json']) await begin('measure');
};

/** What is known of ends, edges and sides, and how well. @param {any} table */
const findings = table => {
  const codes = warnings(table).map(w => w.code);
  const is = (...list) => list.some(code => codes.includes(code));
  const hand = table.frame?.hand || 'right';
  const basis = table.frame?.hand_basis || (table.frame?.hand_certain ? 'certain' : 'assumed');
  const words = { given: 'given', certain: 'certain from the shape', assumed: 'assumed, not certain' };
  const swaps = chosen('measure', 'swap');
  const state = (what, doubt) => (swaps.includes(what) ? 'overruled by you' : doubt ? 'not certain' : 'certain from the shape');
  const handDoubt = is('hand-doubtful', 'sides-uncertain') || basis === 'assumed';
  return [
    { what: 'ends', name: 'Tip and root end', state: state('ends', is('ends-uncertain')), doubt: is('ends-uncertain'), button: 'Take the other end for the tip' },
    { what: 'edges', name: 'Leading edge', state: state('edges', is('edge-by-rule') || handDoubt), doubt: is('edge-by-rule') || handDoubt, button: 'Take the other edge for the leading edge' },
    { what: 'sides', name: 'Back (the side towards flight) and face', state: state('sides', is('back-by-rule') || handDoubt), doubt: is('back-by-rule') || handDoubt, button: 'Take the other side for the back' },
    { what: 'hand', name: `Hand: ${hand}`, state: words[basis] || basis, doubt: basis === 'assumed', button: '' },
  ];
};

const bladePanel = found => {
  if (!found) return [make('p', {}, ['Measure first; then ends, edges, sides and hand are shown here.']), ...fieldBoxes(step)];
  const rotation = found.table.blades?.length > 1 ? `Whole propeller, ${found.table.blades.length} blades.` : 'A single blade.';
  const how = found.table.frame?.method;
  return [
    make('p', {}, [rotation, how ? ` How its axes were found: ${how}.` : '']),
    ...findings(found.table).map(f => make('div', { className: 'choice' }, [
      make('p', {}, [`${f.name}: `, make('span', { className: `state${f.doubt ? ' doubt' : ''}` }, [f.state])]),
      ...(f.button ? [make('button', { type: 'button', 'aria-pressed': String(chosen('measure', 'swap').includes(f.what)), onclick: () => overrule(f.what) }, [f.button])] : []),
    ])),
    ...fieldBoxes(step, () => { if (now()?.files['stations.json']) begin('measure'); }),
  ];
};

/** Marks on the measured blade, on its own axes: z along the span, x where the blade moves, y where it flies. */
const bladeMarks = found => {
  const outlines = found?.view?.outlines || [];
  if (outlines.length === 0) return [];
  const list = findings(found.table);
  const of = what => list.find(f => f.what === what);
  const pointsOf = o => bodies3d.pointsOf(o);
  const lone = found.view.surfaces.length < 2;
  const [first, last] = [outlines[0], lone ? outlines[outlines.length - 1] : outlines[Math.floor(outlines.length / found.view.surfaces.length) - 1]];
  const mid = outlines[Math.floor((lone ? outlines.length : outlines.length / found.view.surfaces.length) / 2)];
  // Apart along the blade, because from an edge both lie at one place.
  const count = lone ? outlines.length : Math.floor(outlines.length / found.view.surfaces.length);
  const side = [0.35, 0.65].map(part => outlines[Math.min(count - 1, Math.round(part * count))]);
  const most = (o, f) => pointsOf(o).reduce((a, b) => (f(b) > f(a) ? b : a));
  const centre = o => pointsOf(o).reduce((s, p, _, all) => s.map((v, k) => v + p[k] / all.length), [0, 0, 0]);
  const beyond = (o, by) => { const c = centre(o); return [c[0], c[1], c[2] + by * found.view.radius_m]; };
  const mark = (at, text, f) => ({ at, text: f.doubt ? `${text} ?` : text, doubtful: f.doubt, hint: `${capital(f.state)}. Press to overrule: ${f.button.toLowerCase()}.`, act: () => overrule(f.what) });
  // The chord's direction from the two points that lie farthest apart; the leading edge is where the blade moves to.
  const ps = pointsOf(mid);
  const c = centre(mid);
  const far = ps.reduce((a, b) => (Math.hypot(b[0] - c[0], b[1] - c[1]) > Math.hypot(a[0] - c[0], a[1] - c[1]) ? b : a));
  const d = [far[0] - c[0], far[1] - c[1]];
  const s = d[0] >= 0 ? 1 : -1;
  const along = p => s * ((p[0] - c[0]) * d[0] + (p[1] - c[1]) * d[1]);
  const across = p => s * (-(p[0] - c[0]) * d[1] + (p[1] - c[1]) * d[0]);
  // A place under the surface tells whether the side is seen.
  const onSide = (at, text, sign) => ({ ...mark(at, text, of('sides')), from: [at[0] + sign * s * d[1], at[1] - sign * s * d[0], at[2]] });
  return [
    mark(beyond(last, 1 - last.ratio), 'Tip', of('ends')), mark(beyond(first, -0.05), 'Root end', of('ends')),
    mark(most(mid, along), 'Leading edge', of('edges')), mark(most(mid, p => -along(p)), 'Trailing edge', of('edges')),
    onSide(most(side[0], across), 'Back', 1), onSide(most(side[1], p => -across(p)), 'Face', -1),
  ];
};

// --- stations, readings, record

/** The chosen station on the picture; none while its place is not measured. */
const stationMark = found => {
  const chosenOne = chosenStation();
  const outline = chosenOne && !chosenOne.moved && (found?.view?.outlines || []).find(o => Math.abs(o.ratio - chosenOne.ratio) < 1e-4);
  if (!outline) return [];
  const at = bodies3d.pointsOf(outline).reduce((a, b) => (b[0] < a[0] ? b : a));
  return [{ at, text: `${chosenOne.ratio.toFixed(3)} R`, isChosen: true }];
};

const stationsPanel = found => {
  const aside = make('div', { id: 'section-aside' });
  if (found) showSpan(found, aside, () => { if (step.id === 'stations' && showsBlade()) setMarks(stationMark(found)); }); else hideSpan();
  return [...(found ? [aside] : [make('p', {}, ['Measure first; then the stations stand on a ruler under the picture.'])]), ...fieldBoxes(step)];
};

const readingsPanel = found => {
  const what = make('select', { id: 'reading-what' }, READINGS.map(([word, name]) => make('option', { value: word }, [name])));
  const input = (id, name, example) => { const i = make('input', { type: 'text', id, autocomplete: 'off', placeholder: example }); return [make('div', {}, [make('label', { htmlFor: id }, [name]), i]), i]; };
  const [valueBox, value] = input('reading-value', 'Reading', READINGS[0][2]);
  const [uBox, u] = input('reading-u', 'Uncertainty, if known', '0.2mm');
  const [atBox, at] = input('reading-at', 'Station', '0.6');
  const [toBox, to] = input('reading-to', 'To the station', '0.75');
  toBox.hidden = true;
  what.addEventListener('change', () => {
    const chosenOne = READINGS.find(r => r[0] === what.value);
    value.placeholder = chosenOne?.[2] || '';
    u.placeholder = /deg/.test(value.placeholder) ? '0.5deg' : '0.2mm';
    toBox.hidden = what.value !== 'length';
  });
  const wrong = make('p', { className: 'wrong', role: 'alert', hidden: true });
  const add = async () => {
    const t = i => i.value.trim();
    const text = `${what.value}=${t(value)}${t(u) ? `+-${t(u)}` : ''}@${t(at)}${what.value === 'length' ? `..${t(to)}` : ''}`;
    const sentence = await choose('measure', 'reading', [...chosen('measure', 'reading'), text]);
    wrong.textContent = sentence ? asSentence(sentence.replace(/^--\S+: /, '')) : '';
    wrong.hidden = !sentence;
    if (!sentence) { shownPanel = ''; await render(); one('reading-value')?.focus(); }
  };
  const nameOf = text => {
    const [, word, rest] = /^([a-z-]+)=(.*)$/.exec(text) || [];
    return `${READINGS.find(r => r[0] === word)?.[1] || word}: ${(rest || text).replace('+-', ' ± ').replace('@', ' at ')}`;
  };
  const compared = found && part(found.document, '#warnings table');
  const remarks = found && part(found.document, '#warnings ul.readings');
  return [
    chips('measure', 'reading', nameOf),
    make('div', { className: 'field' }, [make('label', { className: 'name', htmlFor: 'reading-what' }, ['What was read']), what]),
    make('div', { className: 'pair' }, [valueBox, uBox, atBox, toBox, make('button', { type: 'button', id: 'add-reading', onclick: add }, ['Add'])]),
    make('p', { className: 'hint' }, ['The station is a fraction of the tip radius, 0.6, or a radius, 600mm. Without an uncertainty that of the usual tool is taken: calipers 0.1 mm, protractor 0.25 deg, tape 0.5 mm.']),
    wrong,
    ...(compared ? [make('h3', {}, ['Readings against the scan']), make('div', { className: 'scroll', tabindex: '0', role: 'region', 'aria-label': 'Readings against the scan' }, [compared]), make('p', { className: 'hint' }, ['Difference: reading less scan. Over its u: the difference divided by its standard uncertainty; beyond 2 a single reading contradicts the scan. Small numbers: half width of the 95 % interval.']), ...(remarks ? [remarks] : []),
      ...(found?.table.readings?.angle_shift_deg === undefined || found?.table.readings?.angle_shift_deg === null ? [] : [make('p', {}, ['An angle that was read against the plane of rotation makes all angles absolute, typed as the ', make('button', { type: 'button', className: 'link', onclick: () => goTo('blade', 'measure', 'setting') }, ['known blade angle']), '.'])])] : []),
  ];
};

/** What is told of the photographs that were added last. @type {string[]} */
let photoNotes = [];
/** A photograph that is larger, in bytes or in pixels of its longer side, is scaled down before it is kept. */
const LARGE_PHOTO = { bytes: 1.5e6, pixels: 2400 };
/** The picture as it is kept; a large one is made smaller here, and so is one that only this browser can read. @param {File} file @returns {Promise<File>} */
const lessened = async file => {
  const picture = await createImageBitmap(file).catch(() => null);
  const longer = picture ? Math.max(picture.width, picture.height) : 0;
  const isKept = /^image\/(jpeg|png|webp)$/.test(file.type) && file.size <= LARGE_PHOTO.bytes && longer <= LARGE_PHOTO.pixels;
  // What the browser cannot read is refused by the bench in its own words.
  if (!picture || isKept) return file;
  const scale = Math.min(1, LARGE_PHOTO.pixels / longer);
  const canvas = Object.assign(document.createElement('canvas'), { width: Math.round(scale * picture.width), height: Math.round(scale * picture.height) });
  canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const blob = await new Promise(done => canvas.toBlob(done, 'image/jpeg', 0.85));
  if (!blob) return file;
  photoNotes.push(`${file.name} was scaled from ${picture.width} × ${picture.height} to ${canvas.width} × ${canvas.height} pixels, ${(blob.size / 1e6).toFixed(1)} MB, for the record; keep the original elsewhere.`);
  return new File([blob], file.name.replace(/\.[^.]*$/, '') + '.jpg');
};
/** @param {File[]} files */
const addPhotos = async files => {
  photoNotes = [];
  for (const file of files) {
    try {
      await send('photograph', await lessened(file), () => {}).done;
    } catch (e) {
      photoNotes.push(asSentence(/** @type {Error} */ (e).message));
    }
  }
  await look();
  shownPanel = '';
  render();
};
const recordPanel = () => {
  const state = now();
  const picker = make('input', { type: 'file', id: 'photo-file', accept: 'image/*', multiple: true, onchange: () => addPhotos([...(picker.files || [])]) });
  const photos = (state?.job.photographs || []).map((p, k) => {
    const name = p.file.replace(/^.*\//, '');
    const caption = make('input', { type: 'text', id: `caption-${k}`, autocomplete: 'off', placeholder: 'What it shows', 'aria-label': `What ${name} shows`, value: p.caption, onchange: async () => { await post('caption', { file: p.file, caption: caption.value }); await look(); } });
    return make('figure', {}, [
      make('img', { src: p.file, alt: p.caption || `Photograph ${name}` }),
      make('figcaption', {}, [caption, make('span', { className: 'hint' }, [name, ' ']), make('button', { type: 'button', className: 'link', 'aria-label': `Take away ${name}`, onclick: async () => { await post('forget-photograph', { file: p.file }); await look(); } }, ['Take away'])]),
    ]);
  });
  return [
    ...fieldBoxes(step),
    make('h3', {}, ['Photographs of the part']),
    make('p', { className: 'hint' }, [`The page record.html shows them when it is written next. They are kept in the folder of the job; one of more than ${LARGE_PHOTO.pixels} pixels or ${LARGE_PHOTO.bytes / 1e6} MB is scaled down first.`]),
    make('div', { id: 'photo-notes', role: 'status' }, photoNotes.map(note => make('p', { className: 'wrong' }, [note]))),
    make('div', { className: 'photos' }, photos),
    make('div', { className: 'drop' }, [make('label', { htmlFor: 'photo-file' }, ['Drop photographs anywhere on this page, or choose them: ']), picker]),
  ];
};

/** What is said of a diameter that is a guess. @param {any} found @param {string} command @returns {Node[]} */
const guessedDiameter = (found, command) => {
  if (!found || chosen(command, 'diameter').length > 0 || !warnings(found.table).some(w => w.code === 'no-root-radius')) return [];
  return [make('p', { className: 'wrong', id: 'guessed-diameter' }, [
    'The diameter is a guess: the root radius is not known and was taken as 0. Thrust, power and the place of the blade are wrong by it. Type the diameter or the root radius at the step Size, and measure again. ',
    make('button', { type: 'button', className: 'link', onclick: () => goTo('size', 'measure', 'root-radius') }, ['Root radius']),
  ])];
};

const solidPanel = found => {
  const state = now();
  const pick = (word, name) => make('label', {}, [make('input', { type: 'radio', name: 'solid', value: word, checked: solidStep === word, onchange: () => { solidStep = word; doing(); } }), ` ${name}`]);
  const files = [['propeller.stl', 'propeller.stl'], ['propeller.step', 'propeller.step'], ['templates/sections.pdf', 'templates, all on one PDF']].filter(([f]) => state?.files[f]);
  return [
    ...guessedDiameter(found, 'solid'),
    make('div', { className: 'tools', role: 'radiogroup', 'aria-label': 'What is made' }, [pick('stl', 'STL, triangles'), pick('step', 'STEP, one smooth solid'), pick('templates', 'Section templates')]),
    ...fieldBoxes(step),
    ...(files.length ? [make('h3', {}, ['Made']), make('ul', {}, files.map(([f, name]) => make('li', {}, [make('a', { href: `save/${f}`, download: '' }, [name]), ` ${((state?.files[f].bytes || 0) / 1e6).toFixed(1)} MB`])))] : []),
  ];
};

// --- work

const begin = async (word, overwrite = false) => {
  const sentence = await run(word, overwrite);
  if (sentence) tellDoing(sentence, true);
};

const doing = () => {
  const state = now();
  if (!state) return;
  const word = runOf();
  const { now: busy, last } = state.work;
  const line = word ? state.lines[word] : null;
  const button = one('run');
  button.hidden = !word;
  button.textContent = step.id === 'solid' ? { stl: 'Make propeller.stl', step: 'Make propeller.step', templates: 'Make the templates' }[solidStep] : step.runs;
  button.disabled = Boolean(busy || sending || !line?.text || line.wrong);
  one('stop').hidden = !(busy || sending);
  one('stop').textContent = busy?.stopping ? 'Stopping …' : 'Stop';
  one('line-box').hidden = !line?.text;
  if (line?.text && one('line').textContent !== line.text) one('line').replaceChildren(...line.text.split(/ (?=--)/).flatMap((piece, k) => [...(k ? [' '] : []), make('span', {}, [piece])]));
  one('bar').hidden = !(busy || sending);
  const names = { measure: 'Measuring', predict: 'Predicting', stl: 'Making the solid', step: 'Making the solid', templates: 'Making the templates', ready: 'Computing polars', scan: 'Reading the scan' };
  if (busy) {
    one('bar').value = busy.share;
    tellDoing(`${names[busy.step] || busy.step}: ${busy.line}`);
  } else if (!sending) {
    const isOf = last && (last.step === word || (last.step === 'ready' && step.id === 'prediction') || (last.step === 'scan' && step.id === 'scan') || (!last.ok && last.step !== word));
    if (line?.wrong && word) tellDoing(line.wrong.missing ? missing(line.wrong.sentence) : line.wrong.sentence, !line.wrong.missing);
    else if (last && isOf && !last.ok) failed(last);
    else if (line?.late) tellDoing(`${step.command === 'measure' ? 'the choices were' : 'the choices or the table were'} changed since; what is shown below is older; press “${button.textContent}”`, true);
    else if (step.command !== 'measure' && state.lines.measure?.late) tellDoing('the table is older than the choices of the steps before it; measure again first', true);
    else if (last && isOf && last.ok && last.step === 'scan' && last.text) tellDoing(last.text, true);
    else if (last && isOf && last.ok) tellDoing(`done in ${last.seconds.toFixed(1)} s`);
    else if (word && !state.job.scan) tellDoing('a scan is needed first');
    else if (step.id !== 'scan') tellDoing('');
  }
  const made = { measure: 'stations.json', predict: 'prediction.json' }[word || ''];
  onward(state, Boolean(!busy && !sending && line && !line.late && !line.wrong && made && state.files[made]));
  one('doing').classList.toggle('bare', !word && !busy && !sending && !one('doing-text').textContent);
};

/** Where to go on after the work of a step. @param {any} state @param {boolean} isDone */
const onward = (state, isDone) => {
  const place = one('onward');
  const next = STEPS[STEPS.indexOf(step) + 1];
  const key = isDone ? step.id : '';
  if (place.dataset.key === key && place.children.length > 0 === isDone) return;
  place.dataset.key = key;
  if (!isDone) { place.replaceChildren(); return; }
  const below = () => {
    (one('outcome').querySelector('iframe') || one('outcome')).scrollIntoView();
    one('outcome').focus({ preventScroll: true });
  };
  const what = { record: 'Read the record below', prediction: 'Read the prediction below' }[step.id] || 'Warnings and table below';
  place.replaceChildren(
    make('button', { type: 'button', onclick: below }, [what]),
    ...(step.id === 'record' ? [make('a', { href: 'file/record.html', target: '_blank', rel: 'noopener' }, ['Open the record to print it'])] : []),
    ...(next && step.id !== 'record' ? [make('button', { type: 'button', onclick: () => goTo(next.id) }, [`Next: ${next.word.toLowerCase()}`])] : []),
  );
};

/** What is still needed, by the names of the fields. @param {string} sentence */
const missing = sentence => {
  const options = [...sentence.matchAll(/--([a-z][a-z-]*)/g)].map(found => found[1]);
  const names = options.map(o => step.fields.find(f => f.option === o)?.name).filter(Boolean);
  return names.length > 0 ? `still needed: ${names.slice(0, 3).join(', ')}` : sentence;
};

/** @param {import('./ask.js').Ended} last */
const failed = last => {
  const command = STEPS.find(s => s.run === last.step)?.command || (last.step === 'step' || last.step === 'templates' ? 'solid' : 'measure');
  const place = one('doing-text');
  place.className = last.code === 'stopped' ? '' : 'state doubt';
  place.replaceChildren(...withLinks(last.code === 'stopped' ? 'Stopped; nothing was written.' : asSentence(last.text), command));
  if (/--overwrite/.test(last.text)) {
    place.append(' ', make('button', { type: 'button', onclick: () => begin(last.step, true) }, ['Replace what the folder holds']));
  }
};

one('run').addEventListener('click', () => { const word = runOf(); if (word) begin(word); });
one('stop').addEventListener('click', () => { if (sending) sending.stop(); else post('stop').then(look); });
one('copy-line').addEventListener('click', async () => {
  const text = one('line').textContent;
  try {
    await navigator.clipboard.writeText(text);
    one('copied').textContent = 'Copied.';
  } catch {
    getSelection()?.selectAllChildren(one('line'));
    one('copied').textContent = 'Selected; copy it with the keys of your system.';
  }
});
one('end').addEventListener('click', async () => {
  await post('end');
  document.body.replaceChildren(make('main', {}, [make('p', {}, ['The bench is closed. Everything is in the folder; this window can be closed.'])]));
});
one('log-box').addEventListener('toggle', async () => {
  if (!one('log-box').open) return;
  const lines = await get('log');
  one('log').replaceChildren(...lines.reverse().map(l => make('li', {}, [make('time', {}, [l.time.replace('T', ' ').replace('Z', ' UTC')]), ` ${l.what}`])));
});

// --- what came out

/** @param {import('./results.js').Results|null} found */
const outcome = found => {
  const state = now();
  const place = one('outcome');
  if (!state) return;
  const key = JSON.stringify([step.id, state.files, state.work.last?.text, solidStep]);
  if (place.dataset.key === key) return;
  place.dataset.key = key;
  const out = [];
  const isTable = step.command === 'measure' || step.id === 'scan';
  if (found && isTable) {
    const list = warnings(found.table);
    if (list.length > 0) {
      out.push(make('h2', {}, ['Warnings']), make('ul', { className: 'warnings' }, list.map(w => {
        const helps = HELPS[w.code];
        const field = helps && fieldOf(helps, 'measure');
        const name = field && (STEPS.find(s => s.id === field.step)?.fields.find(f => f.option === helps)?.name || 'Ends, edges and sides');
        return make('li', {}, [asSentence(w.sentence), ...(field ? [make('button', { type: 'button', onclick: () => goTo(field.step, 'measure', helps) }, [`${name} …`])] : [])]);
      })));
    }
    const flags = part(found.document, '#warnings ul.flags');
    if (flags) out.push(make('h3', {}, ['Flagged stations']), flags);
  }
  if (found && isTable && step.id !== 'record') {
    const table = part(found.document, '#stations table');
    if (table) out.push(make('h2', {}, ['Station table']), make('p', {}, ['The small number is the half width of the 95 % interval. r is the radius and R that of the tip; t/c is thickness over chord; LE and TE are leading and trailing edge; flags are explained above.']), make('div', { className: 'scroll', tabindex: '0', role: 'region', 'aria-label': 'Station table, scrolls sideways' }, [table]));
    const curves = step.id === 'stations' && part(found.document, '#curves .charts');
    if (curves) out.push(make('h2', {}, ['Blade-form curves']), curves);
  }
  const pages = step.id === 'record' ? ['record.html'] : step.id === 'prediction' && state.files['prediction.json'] ? ['prediction.html', 'record.html'] : [];
  const pageFile = pages.find(p => state.files[p]);
  const last = state.work.last;
  const isOwn = last?.ok && (step.id === 'prediction' ? last.step === 'predict' : step.id === 'solid' && ['stl', 'step', 'templates'].includes(last.step || ''));
  if (last && isOwn) out.push(make('h2', {}, ['What the command says']), make('div', { className: 'said-by' }, said(last.text, sentence => withFields(sentence, step.command || ''))));
  if (pageFile) {
    const anchor = step.id === 'prediction' ? '#performance' : '';
    out.push(
      make('h2', {}, [`The page ${pageFile}`]),
      make('p', {}, [make('a', { href: `file/${pageFile}${anchor}`, target: '_blank', rel: 'noopener' }, ['Open it in a window of its own']), ' to read or print it; ', make('a', { href: `save/${pageFile}`, download: '' }, ['save it']), '; ', make('a', { href: 'save/stations.csv', download: '' }, ['save the table as CSV']), '.']),
      make('iframe', { src: `file/${pageFile}${anchor}`, title: `The page ${pageFile}`, sandbox: 'allow-scripts allow-downloads allow-modals' }),
    );
  }
  place.replaceChildren(...out);
};

// --- all together

const PANELS = { scan: scanPanel, size: sizePanel, blade: bladePanel, stations: stationsPanel, readings: readingsPanel, record: recordPanel, prediction: found => [...guessedDiameter(found, 'predict'), ...fieldBoxes(step), sliderBox(s => { if (s) tellDoing(s, true); })], solid: solidPanel };

/** What of the state a panel depends on; while someone types, other changes do not take the field away. */
const panelKey = state => {
  const files = state.files;
  const table = `${files['stations.json']?.stamp}`;
  const by = { scan: JSON.stringify([state.job.scan, state.job.repeats]), blade: table, stations: table, readings: table, record: JSON.stringify((state.job.photographs || []).map(p => p.file)), prediction: JSON.stringify(state.quick), solid: ['propeller.stl', 'propeller.step', 'templates/sections.pdf'].map(f => files[f]?.stamp).join() };
  return `${step.id} ${by[step.id] || ''}`;
};

let isRendering = false;
let again = false;
let whenShown = Promise.resolve();
/** Shows the state as it is now; the promise ends when it is shown. @returns {Promise<void>} */
const render = () => {
  if (isRendering) again = true;
  else whenShown = renderAll();
  return whenShown;
};
const renderAll = async () => {
  isRendering = true;
  do {
    again = false;
    const state = now();
    if (!state) break;
    one('folder').textContent = state.folder;
    one('caution').textContent = state.caution;
    one('title').textContent = (state.job.choices.measure?.title || [])[0] || state.job.scan?.path.replace(/^.*[\\/]/, '') || 'A blade without a name';
    document.title = `${one('title').textContent} – bench`;
    steps();
    doing();
    const scanOf = state.job.scan?.sha256 || '';
    if (scanOf && scanOf !== shownScan) {
      shownScan = scanOf;
      loadScan().then(() => { document.documentElement.dataset.picture = scanOf; }, e => tellDoing(e.message, true));
    }
    // Sentences of failures are shown by whoever asked.
    const found = await results().catch(() => null);
    const stamp = `${state.files['record.html']?.stamp} ${state.files['stations.json']?.stamp}`;
    const isOfScan = found && (!found.table.source?.sha256 || found.table.source.sha256 === scanOf);
    const key = panelKey(state);
    if (key !== shownPanel) {
      shownPanel = key;
      if (step.id !== 'stations') hideSpan();
      panel.replaceChildren(make('h2', {}, [step.word]), make('p', {}, [step.lead]), ...PANELS[step.id](found));
    }
    outcome(found);
    if (found) document.documentElement.dataset.table = found.table.stations.length;
    if (stamp !== shownResults) {
      shownResults = stamp;
      // The table is on the screen before the picture is made.
      await new Promise(done => setTimeout(done));
      const colours = isOfScan ? ['#view .scale', '#view .words'].map(s => part(found.document, s)) : [];
      loadBlade(isOfScan ? found.view : null, /** @type {HTMLElement[]} */ (colours.filter(Boolean)));
    }
    prefer(['scan', 'size'].includes(step.id) && state.job.scan ? 'scan' : 'blade');
    if (step.id === 'blade' && showsBlade()) setMarks(bladeMarks(found));
    else if (step.id === 'stations' && showsBlade()) setMarks(stationMark(found));
    else if (step.id === 'size') showPoints();
    else setMarks([]);
  } while (again);
  isRendering = false;
};

listen((state, before, isOwn) => {
  // Fields that another window changed are shown anew, unless this window has the focus in one.
  if (!isOwn && before && state.job.revision !== before.job.revision && JSON.stringify(state.job.choices) !== JSON.stringify(before.job.choices) && !panel.contains(document.activeElement)) shownPanel = '';
  render();
});
addEventListener('pagehide', () => navigator.sendBeacon('closed'));
follow();
