// The record page in headless Chromium. node record.cjs PAGE.html OUT_FOLDER
// Prints the facts it measured as JSON; every broken promise is a line on standard error and exit status 1. Exit status 3: something is missing.
'use strict';
const fs = require('node:fs');
const { execFileSync } = require('node:child_process');
const { facts, finish, open, prints, promise, readsByKeys, sorts, suitsEveryScreen } = require('./common.cjs');
const { doesWithoutWebGl, isLitMirrored, isPrinted, ready, turns } = require('./space.cjs');

const [pageFile, outFolder] = process.argv.slice(2);

// Pages that hold a section sheet: a figure that is told beside each drawing and nowhere else.
const sheetPages = pdf => execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8', maxBuffer: 1 << 28 }).split('\f').filter(text => text.includes('angle of the longest chord')).length;

// The curves of lengths as they are shown: name of the axis, and what is told at each point against the table's figure.
const chartsInUnit = () => {
  const json = JSON.parse(document.getElementById('table-json').textContent);
  const unit = document.getElementById('unit').value;
  const per = { mm: 1e-3, in: 0.0254, m: 1 }[unit];
  const keys = { chord: 'chord_m', thickness: 'thickness_m', 'mid-chord x': 'mid_chord_x_m', 'mid-chord y': 'mid_chord_y_m', pitch: 'pitch_m', 'face pitch': 'face_pitch_m' };
  const wrong = [];
  let count = 0;
  for (const figure of document.querySelectorAll('#curves figure.chart')) {
    if (figure.hidden) continue;
    const texts = [...figure.querySelectorAll('svg text')].map(t => t.textContent);
    const told = JSON.parse(figure.dataset.hover).map(p => p[2]);
    if (figure.dataset.in && !texts.some(t => t.endsWith(`[${unit}]`))) wrong.push(`${figure.querySelector('figcaption').textContent}: no axis in ${unit}`);
    for (const text of told) {
      const [, ratio, name, value, its] = /^([\d.]+) R: (.+?) (-?[\d.]+)(?: ± [\d.]+)? (\S+?)(?:,| \(|$)/.exec(text) || [];
      const key = keys[name];
      if (!key) continue;
      const station = json.stations.find(s => Math.abs(s.radius_ratio - Number(ratio)) < 6e-4);
      count += 1;
      const decimals = (value.split('.')[1] || '').length;
      if (its !== unit || Math.abs(Number(value) - station[key] / per) > 0.501 * 10 ** -decimals) wrong.push(`${text} for ${station[key]} m`);
    }
  }
  for (const text of document.querySelectorAll('text.q[data-k=length][data-a], span.q[data-k=length][data-a]')) {
    if (!text.textContent.slice((text.dataset.p || '').length).split(' ').includes(unit)) wrong.push(`${text.textContent} is not in ${unit}`);
  }
  return { count, wrong };
};

// Figures of the performance in the chosen unit against their exact values, and sentences that have figures of the other family.
// Sizes in SI: NIST SP 811 (2008), appendix B.8.
const performanceInUnit = () => {
  const inches = document.getElementById('unit').value === 'in';
  const sizes = inches
    ? { force: ['lbf', 4.448222], torque: ['lbf ft', 1.355818], power: ['hp', 745.6999], speed: ['mph', 0.44704], stream: ['ft/s', 0.3048], volume: ['in³', 1.638706e-5], altitude: ['ft', 0.3048] }
    : { force: ['N', 1], torque: ['N m', 1], power: ['kW', 1000], speed: ['m/s', 1], stream: ['m/s', 1], volume: ['cm³', 1e-6], altitude: ['m', 1] };
  const wrong = [];
  let count = 0;
  for (const q of document.querySelectorAll('.q[data-k]')) {
    const size = sizes[q.dataset.k];
    if (!size) continue;
    count += 1;
    const [, number, its] = /^(?:± )?(-?[\d.]+) ?(.*)$/.exec(q.textContent) || [];
    const decimals = (number.split('.')[1] || '').length;
    if (Math.abs(Number(number) - Number(q.dataset.v) / size[1]) > 0.502 * 10 ** -decimals) wrong.push(`${q.textContent} for ${q.dataset.v}`);
    if (q.dataset.a !== undefined && its !== size[0]) wrong.push(`${q.textContent} is not in ${size[0]}`);
  }
  for (const u of document.querySelectorAll('.unit[data-unit]')) {
    const size = sizes[u.dataset.unit];
    if (size && u.textContent !== size[0]) wrong.push(`heading ${u.textContent}, not ${size[0]}`);
  }
  const metric = /\d (mm|cm|m|m\/s|N|N m|kW)(?![\w/²³])/;
  for (const said of document.querySelectorAll('.said')) {
    if (inches === metric.test(said.textContent)) wrong.push(`sentence: ${said.textContent.slice(0, 80)}`);
  }
  for (const figure of document.querySelectorAll('.performance figure[data-in]')) {
    if (figure.hidden) continue;
    const texts = [...figure.querySelectorAll('svg text')].map(t => t.textContent);
    if (!texts.some(t => (inches ? /\[(lbf|lbf ft|hp)\]$/ : /\[(N|N m|kW)\]$/).test(t))) wrong.push(`chart: ${texts.slice(-3).join(', ')}`);
  }
  return { count, wrong };
};

// Every position of the sliders of every velocity triangle: names that lie on one another, reach out of the drawing or are missing.
const crowdedTriangles = () => {
  const found = [];
  let count = 0;
  for (const box of document.querySelectorAll('.triangle')) {
    const inputs = [...box.querySelectorAll('.sliders input')];
    const first = inputs.map(i => i.value);
    const put = (input, value) => { input.value = value; input.dispatchEvent(new Event('input')); };
    const look = () => {
      count += 1;
      const where = inputs.map(i => `${i.dataset.name} ${i.value}`).join(', ');
      const svg = box.querySelector('.drawing svg');
      const frame = svg.getBoundingClientRect();
      const texts = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
      for (const name of ['flight', 'rotation', 'resultant', 'lift', 'drag', 'thrust', 'torque force', 'angle of attack']) {
        if (!texts.some(([text]) => text.startsWith(name))) found.push(`${where}: no ${name}`);
      }
      texts.forEach(([text, a], i) => {
        if (a.left < frame.left || frame.right < a.right || a.top < frame.top || frame.bottom < a.bottom) found.push(`${where}: ${text} is cut`);
        for (const [other, b] of texts.slice(0, i)) {
          if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) found.push(`${where}: ${text} on ${other}`);
        }
      });
    };
    const walk = k => {
      if (k === inputs.length) { look(); return; }
      for (let value = Number(inputs[k].min); value <= Number(inputs[k].max); value++) { put(inputs[k], value); walk(k + 1); }
    };
    walk(0);
    inputs.forEach((input, k) => put(input, first[k]));
  }
  return { count, found };
};

// The first screen: picture, name, eight figures, verdict and caution are seen without scrolling; where the figures come from is told later.
const firstScreen = async page => {
  await page.setViewportSize({ width: 1280, height: 800 });
  const seen = await page.evaluate(() => {
    const bottom = selector => Math.round(document.querySelector(selector).getBoundingClientRect().bottom);
    const portrait = document.getElementById('portrait');
    const pen = portrait.getContext('2d');
    const data = pen.getImageData(0, 0, portrait.width, portrait.height).data;
    let drawn = 0;
    for (let i = 3; i < data.length; i += 4) if (data[i] > 0) drawn += 1;
    const hash = document.querySelector('#part code');
    return {
      bottoms: ['h1', '.picture', '.eight', '.verdict', '.fields', '.front .caution'].map(s => [s, bottom(s)]),
      figures: [...document.querySelectorAll('.eight dd')].map(dd => dd.textContent.trim()),
      portrait: drawn / (portrait.width * portrait.height),
      edges: [...Array(portrait.height).keys()].some(y => data[4 * y * portrait.width + 3] > 0 || data[4 * ((y + 1) * portrait.width - 1) + 3] > 0),
      hashBelow: hash !== null && document.querySelector('#sections').compareDocumentPosition(hash) === Node.DOCUMENT_POSITION_FOLLOWING,
    };
  });
  facts.first_screen = seen;
  promise(seen.bottoms.every(([, bottom]) => bottom <= 800), `beyond the first screen: ${JSON.stringify(seen.bottoms)}`);
  promise(seen.figures.length === 8 && seen.figures.every(text => text.length > 3), `eight figures: ${seen.figures.join(' | ')}`);
  promise(seen.portrait > 0.3 && !seen.edges, `the picture of the blade is empty or cut: ${seen.portrait}, ${seen.edges}`);
  promise(seen.hashBelow, 'the checksum of the scan does not stand after the sections');
};

// The head of a long table stays above its columns while the rows scroll, in a wide and in a narrow window, sideways too; on the table's box keys scroll.
const headStays = async page => {
  for (const [width, height] of [[1280, 360], [390, 420]]) {
    await page.setViewportSize({ width, height });
    for (const selector of ['#stations-table', '.points']) {
      if (await page.locator(selector).count() === 0) continue;
      const seen = await page.evaluate(selector => {
        const table = document.querySelector(selector);
        const box = table.closest('.scroll');
        box.scrollTo(1e6, 1e6);
        const place = element => element.getBoundingClientRect();
        const heads = [...table.tHead.rows[0].cells];
        const cells = [...table.tBodies[0].rows].at(-1).cells;
        const last = heads.length - 1;
        box.scrollIntoView();
        return {
          scrolled: box.scrollTop > 20,
          off: Math.abs(place(heads[last]).top - place(box).top),
          aside: Math.abs(place(heads[last]).left - place(cells[last]).left),
          corner: Math.abs(place(heads[0]).left - place(cells[0]).left) + Math.max(0, place(heads[0]).left - place(box).left - 2),
        };
      }, selector);
      facts[`head_${selector}_${width}`] = seen;
      promise(seen.scrolled && seen.off < 2.5 && seen.aside < 1 && seen.corner < 1, `${selector} at ${width}: its head does not stay: ${JSON.stringify(seen)}`);
    }
  }
  await page.setViewportSize({ width: 1280, height: 900 });
};

const run = async () => {
  const { page, another, processorTime, close } = await open(pageFile, outFolder);
  await ready(page);
  // The work of opening a page once more, when the browser has started.
  const before = await processorTime();
  const again = await another(pageFile);
  await ready(again);
  facts.ready_processor_s = await processorTime() - before;
  facts.ready_s = await again.evaluate(() => performance.now() / 1000);
  await firstScreen(again);
  await again.close();
  promise(facts.ready_processor_s <= 2, `opening the page takes ${facts.ready_processor_s} s of processor time`);
  facts.size_mb = fs.statSync(pageFile).size / 1e6;
  promise(facts.size_mb < 6, `the page has ${facts.size_mb} MB`);

  await turns(page);
  await isLitMirrored(pageFile, outFolder, another);
  await doesWithoutWebGl(pageFile, outFolder, another);

  // Every figure of the table against the document that the page carries, in each unit.
  const compare = () => page.evaluate(() => {
    const json = JSON.parse(document.getElementById('table-json').textContent);
    const unit = document.getElementById('unit').value;
    const per = { mm: 1e-3, in: 0.0254, m: 1 }[unit];
    const wrong = [];
    let count = 0;
    [...document.querySelectorAll('#stations-table tbody tr')].forEach((row, r) => {
      for (const cell of row.querySelectorAll('td[data-key]')) {
        const key = cell.dataset.key;
        const value = json.stations[r][key];
        const shown = cell.querySelector('.q');
        if (value === null || value === undefined) { if (shown) wrong.push(`${r} ${key}: shown though missing`); continue; }
        const percent = ['thickness_ratio', 'thickness_position', 'camber_ratio', 'camber_position'].includes(key);
        const factor = key.endsWith('_m') ? 1 / per : key.endsWith('_m2') ? 1 / per ** 2 : percent ? 100 : 1;
        const decimals = (shown.textContent.split('.')[1] || '').length;
        count += 1;
        if (Math.abs(Number(shown.textContent) - value * factor) > 0.501 * 10 ** -decimals || Number(shown.dataset.v) !== value) wrong.push(`${r} ${key}: ${shown.textContent} for ${value}`);
      }
    });
    return { count, wrong };
  });
  for (const unit of ['mm', 'in', 'm']) {
    await page.selectOption('#unit', unit);
    const { count, wrong } = await compare();
    facts[`figures_in_${unit}`] = count;
    promise(count > 50 && wrong.length === 0, `in ${unit}: ${wrong.slice(0, 5).join('; ')} (${wrong.length} of ${count})`);
    const shown = await page.textContent('.unit[data-unit=length]');
    promise(shown === unit, `the unit is shown as ${shown} where ${unit} was chosen`);
    const charts = await page.evaluate(chartsInUnit);
    facts[`points_read_in_${unit}`] = charts.count;
    promise(charts.count > 20 && charts.wrong.length === 0, `charts in ${unit}: ${charts.wrong.slice(0, 4).join('; ')} (${charts.wrong.length})`);
    const performance = await page.evaluate(performanceInUnit);
    promise(performance.count > 20 && performance.wrong.length === 0, `performance in ${unit}: ${performance.wrong.slice(0, 4).join('; ')} (${performance.wrong.length} of ${performance.count})`);
  }
  await page.selectOption('#unit', 'mm');

  const column = await page.evaluate(() => [...document.querySelectorAll('#stations-table tbody tr:first-child td')].findIndex(td => td.dataset.key === 'chord_m'));
  const chords = () => page.evaluate(c => [...document.querySelectorAll('#stations-table tbody tr')].map(tr => Number(tr.cells[c].dataset.v)).filter(v => !Number.isNaN(v)), column);
  await sorts(page, `#stations-table th:nth-child(${column + 1}) button`, chords);

  const [download] = await Promise.all([page.waitForEvent('download'), page.click('#save-json')]);
  const saved = JSON.parse(fs.readFileSync(await download.path(), 'utf8'));
  const carried = await page.evaluate(() => JSON.parse(document.getElementById('table-json').textContent));
  promise(JSON.stringify(saved) === JSON.stringify(carried), 'the saved JSON is not the table');
  await page.click('#copy-csv');
  await page.waitForFunction(() => document.getElementById('table-note').textContent.startsWith('Copied'), null, { timeout: 10000 })
    .catch(() => promise(false, 'copying does not work'));

  await readsByKeys(page);
  const sheetBefore = await page.evaluate(() => document.querySelector('.sheet:not(.off)').dataset.name);
  await page.click('#sheet-after');
  const shown = await page.evaluate(() => [...document.querySelectorAll('.sheet:not(.off)')].map(s => s.dataset.name));
  promise(shown.length === 1 && shown[0] !== sheetBefore, 'the section sheets do not step');

  // The velocity triangle: sliders move it, and the shown components add up.
  facts.triangles = await page.locator('.triangle').count();
  if (facts.triangles > 0) {
    const state = () => page.evaluate(() => {
      const box = document.querySelector('.triangle');
      const value = name => Number.parseFloat(box.querySelector(`dd[data-name="${name}"]`).textContent);
      return { drawing: box.querySelector('.drawing').innerHTML, labels: box.querySelector('.sliders').textContent, v: Object.fromEntries(
        ['rotation', 'flight', 'axial induced velocity', 'swirl induced velocity', 'resultant', 'lift', 'drag', 'thrust', 'torque force', 'inflow angle', 'blade angle', 'angle of attack'].map(n => [n, value(n)])) };
    });
    const addsUp = ({ v }, where) => {
      const resultant = Math.hypot(v.rotation - v['swirl induced velocity'], v.flight + v['axial induced velocity']);
      promise(Math.abs(resultant - v.resultant) < 0.02 + 0.001 * resultant, `${where}: velocities add up to ${resultant}, not ${v.resultant}`);
      const phi = v['inflow angle'] * Math.PI / 180;
      const [thrust, resisting] = [v.lift * Math.cos(phi) - v.drag * Math.sin(phi), v.lift * Math.sin(phi) + v.drag * Math.cos(phi)];
      const near = (a, b) => Math.abs(a - b) < 0.2 + 0.002 * Math.abs(a);
      promise(near(thrust, v.thrust) && near(resisting, v['torque force']), `${where}: forces add up to ${thrust}, ${resisting}, not ${v.thrust}, ${v['torque force']}`);
      promise(Math.abs(v['blade angle'] - v['inflow angle'] - v['angle of attack']) < 0.03, `${where}: angles do not add up`);
    };
    const crowded = await page.evaluate(crowdedTriangles);
    facts.triangles_drawn = crowded.count;
    promise(crowded.count > 1 && crowded.found.length === 0, `velocity triangles: ${crowded.found.slice(0, 4).join('; ')} (${crowded.found.length})`);
    let last = await state();
    addsUp(last, 'first');
    const names = await page.evaluate(() => [...document.querySelector('.triangle').querySelectorAll('.sliders input')].map(i => i.dataset.name));
    facts.sliders = names;
    promise(names.includes('station') && names.includes('setting'), `sliders: ${names}`);
    for (const name of names) {
      await page.focus(`.triangle input[data-name=${name}]`);
      // To whichever end the slider is not at.
      const atFirst = await page.evaluate(n => document.querySelector(`.triangle input[data-name=${n}]`).value === '0', name);
      await page.keyboard.press(atFirst ? 'End' : 'Home');
      const next = await state();
      promise(next.drawing !== last.drawing && next.labels !== last.labels, `the slider ${name} does not move the drawing`);
      addsUp(next, name);
      last = next;
    }
  }

  // Nothing a reader sees names an option of the command: the page outlives it.
  const options = await page.evaluate(() => document.body.innerText.match(/.{0,30}(^|\s)--[a-z].{0,20}/gm) || []);
  promise(options.length === 0, `options of the command are named: ${options.slice(0, 3).join(' | ')}`);
  await headStays(page);
  await suitsEveryScreen(page, outFolder);
  // On paper those of the first blade.
  const sheets = await page.locator('.sheet:not(.later)').count();
  await prints(page, outFolder, (format, pdf) => {
    isPrinted(format, pdf);
    facts[`sheet_pages_${format}`] = sheetPages(pdf);
    promise(facts[`sheet_pages_${format}`] > 0 && facts[`sheet_pages_${format}`] <= Math.ceil(sheets / 5) + 2, `${format}: ${sheets} section sheets take ${facts[`sheet_pages_${format}`]} pages`);
  });
  await close();
};

finish(run);
