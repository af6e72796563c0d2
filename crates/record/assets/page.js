// The behaviour of the page: units, theme, sorting, saving, chart readouts, choice of the section sheet. No library, no request.
'use strict';
// Figures in the chosen unit, for all scripts of the page. Values are in SI; `decimals` is the number of decimals in the unit of the SI page (mm, N, kW ...).
const lengths = (() => {
  // For every state of the switch and every kind of figure: the unit, its factor from SI, and decimals more than in the SI page.
  const STATES = JSON.parse(document.getElementById('units').textContent);
  const plain = text => (/^-0(\.0*)?$/.test(text) ? text.slice(1) : text);
  const self = {
    unit: 'mm',
    of: kind => STATES[self.unit][kind],
    digits: (value, kind, decimals) => {
      const { factor, more } = self.of(kind);
      return plain((value * factor).toFixed(Math.max(0, decimals + more)));
    },
    text: (value, decimals, kind = 'length') => `${self.digits(value, kind, decimals)} ${self.of(kind).unit}`,
  };
  return self;
})();

(() => {
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];
  const one = id => document.getElementById(id);

  // Values: `p` is the text before the value, `a` the text after the unit. Without `a` no unit is shown.
  const setUnit = unit => {
    lengths.unit = unit;
    for (const q of all('.q[data-k]')) {
      const { k, v, d, p = '', a } = q.dataset;
      if (k) q.textContent = p + lengths.digits(Number(v), k, Number(d)) + (a === undefined ? '' : ` ${lengths.of(k).unit}${a}`);
    }
    for (const u of all('.unit[data-unit]')) u.textContent = lengths.of(u.dataset.unit).unit;
    for (const figure of all('figure[data-in]')) figure.hidden = !figure.dataset.in.split(' ').includes(unit);
    const family = unit === 'in' ? 'in' : 'mm';
    for (const said of all('.said[data-in]')) said.textContent = said.dataset[family];
    for (const shown of all('[title][data-in]')) shown.title = shown.dataset[family];
    document.dispatchEvent(new Event('unitchange'));
  };
  one('unit').addEventListener('change', event => setUnit(event.target.value));
  setUnit(one('unit').value);

  one('theme').addEventListener('change', event => {
    if (event.target.value) document.documentElement.dataset.theme = event.target.value;
    else delete document.documentElement.dataset.theme;
    document.dispatchEvent(new Event('themechange'));
  });

  // Sorting uses the exact value. Missing values come last in both directions.
  const table = one('stations-table');
  if (table) all('th .sort', table).forEach((button, column) => {
    button.addEventListener('click', () => {
      const head = button.parentElement;
      const up = head.getAttribute('aria-sort') !== 'ascending';
      all('th[aria-sort]', table).forEach(th => th.setAttribute('aria-sort', 'none'));
      head.setAttribute('aria-sort', up ? 'ascending' : 'descending');
      const key = row => { const v = row.cells[column].dataset.v; return v === undefined ? null : Number(v); };
      const rows = [...table.tBodies[0].rows].sort((a, b) => {
        const [x, y] = [key(a), key(b)];
        if (x === null || y === null) return (x === null) - (y === null);
        return up ? x - y : y - x;
      });
      table.tBodies[0].append(...rows);
    });
  });

  const tell = text => { one('table-note').textContent = text; };
  const csv = () => JSON.parse(one('table-csv').textContent);
  one('copy-csv')?.addEventListener('click', async () => {
    const text = csv();
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      // A page opened from disk may be denied the clipboard. The older method needs no permission.
      const area = document.createElement('textarea');
      area.value = text;
      document.body.append(area);
      area.select();
      const done = document.execCommand('copy');
      area.remove();
      if (!done) { tell('The browser does not allow copying; use Download instead.'); return; }
    }
    tell(`Copied ${text.trimEnd().split('\n').length - 1} rows.`);
  });
  one('save-json')?.addEventListener('click', () => {
    const link = document.createElement('a');
    link.href = URL.createObjectURL(new Blob([one('table-json').textContent], { type: 'application/json' }));
    link.download = 'stations.json';
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    tell('stations.json was saved.');
  });

  // Charts: show the values of the nearest point, by pointer or by arrow keys.
  const SVG = 'http://www.w3.org/2000/svg';
  for (const figure of all('figure.chart')) {
    const points = JSON.parse(figure.dataset.hover);
    const svg = figure.querySelector('svg');
    const readout = figure.querySelector('.readout');
    const cursor = document.createElementNS(SVG, 'circle');
    cursor.setAttribute('class', 'cursor');
    cursor.setAttribute('r', '9');
    let chosen = -1;
    const choose = index => {
      chosen = Math.max(0, Math.min(points.length - 1, index));
      const [x, y, text] = points[chosen];
      cursor.setAttribute('cx', x);
      cursor.setAttribute('cy', y);
      if (!cursor.parentNode) svg.append(cursor);
      readout.textContent = text;
    };
    svg.addEventListener('pointermove', event => {
      const box = svg.getBoundingClientRect();
      const k = svg.viewBox.baseVal.width / box.width;
      const [x, y] = [(event.clientX - box.left) * k, (event.clientY - box.top) * k];
      let best = 0;
      // The vertical distance has a low weight, because a column of points is entered from above or below.
      const far = ([px, py]) => (px - x) ** 2 + 0.15 * (py - y) ** 2;
      points.forEach((p, index) => { if (far(p) < far(points[best])) best = index; });
      choose(best);
    });
    figure.addEventListener('keydown', event => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (event.key === 'Home') choose(0);
      else if (event.key === 'End') choose(points.length - 1);
      else if (step) choose(chosen + step);
      else return;
      event.preventDefault();
    });
  }

  // Section sheets: one at a time on the screen, all on paper.
  const tools = one('sheet-tools');
  const sheets = all('.sheet');
  if (tools) {
    const choice = one('sheet-choice');
    sheets.forEach((sheet, index) => choice.append(new Option(sheet.dataset.name, index)));
    document.addEventListener('unitchange', () => sheets.forEach((sheet, index) => { choice.options[index].text = sheet.querySelector('h3 .place').textContent; }));
    const show = () => sheets.forEach((sheet, index) => sheet.classList.toggle('off', !one('sheet-all').checked && index !== Number(choice.value)));
    const step = by => { choice.value = Math.max(0, Math.min(sheets.length - 1, Number(choice.value) + by)); show(); };
    choice.addEventListener('change', show);
    one('sheet-all').addEventListener('change', show);
    one('sheet-before').addEventListener('click', () => step(-1));
    one('sheet-after').addEventListener('click', () => step(1));
    // The middle of the only or the first blade.
    choice.value = Math.floor(all('.sheet:not(.later)').length / 2);
    one('sheet-every')?.addEventListener('change', event => one('sections').classList.toggle('every', event.target.checked));
    tools.hidden = false;
    show();
  }
})();
