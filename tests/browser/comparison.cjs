// The page of two tables side by side in headless Chromium. node comparison.cjs PAGE.html OUT_FOLDER
// Prints the facts it measured as JSON; every broken promise is a line on standard error and exit status 1. Exit status 3: something is missing.
'use strict';
const { facts, finish, open, prints, promise, readsByKeys, suitsEveryScreen } = require('./common.cjs');

const [pageFile, outFolder] = process.argv.slice(2);

// Every figure that is shown in a unit against the CSV that the page carries: rows of both are in the same order.
const figuresInUnit = () => {
  const csv = JSON.parse(document.getElementById('table-csv').textContent).trim().split('\n').map(line => line.split(','));
  const [keys, ...rows] = csv;
  const column = name => keys.indexOf(name);
  const unit = document.getElementById('unit').value;
  const per = { mm: 1e-3, in: 0.0254, m: 1 }[unit];
  const byFigure = new Map();
  for (const row of rows) {
    const key = row[column('figure')];
    byFigure.set(key, [...(byFigure.get(key) || []), row]);
  }
  const wrong = [];
  let count = 0;
  const tables = [...document.querySelectorAll('table.compared')];
  if (tables.length !== byFigure.size) wrong.push(`${tables.length} tables for ${byFigure.size} figures`);
  [...byFigure].forEach(([key, wanted], t) => {
    const shownRows = [...(tables[t]?.querySelectorAll('tbody tr') || [])];
    if (shownRows.length !== wanted.length) wrong.push(`${key}: ${shownRows.length} rows for ${wanted.length}`);
    const percent = ['thickness_ratio', 'thickness_position', 'camber_ratio', 'camber_position'].includes(key);
    const factor = key.endsWith('_m') ? 1 / per : percent ? 100 : 1;
    shownRows.forEach((row, r) => {
      [[0, 'radius_m', 1 / per], [2, 'first', factor], [3, 'second', factor], [4, 'difference', factor]].forEach(([cell, name, by]) => {
        const text = row.cells[cell].textContent.split('±')[0].trim();
        const decimals = (text.split('.')[1] || '').length;
        count += 1;
        if (text === '' || !(Math.abs(Number(text) - Number(wanted[r][column(name)]) * by) <= 0.501 * 10 ** -decimals)) wrong.push(`${key} ${name}: ${text} for ${wanted[r][column(name)]}`);
      });
      const remarks = row.cells[5].textContent;
      const flags = [['significant', 'beyond 2 u'], ['beyond_tolerance', 'beyond the tolerance']];
      for (const [name, words] of flags) {
        if ((wanted[r][column(name)] === 'yes') !== remarks.includes(words)) wrong.push(`${key} at ${wanted[r][0]}: ${remarks} for ${name} ${wanted[r][column(name)]}`);
      }
    });
  });
  // Each length's chart is there once, in the chosen unit.
  for (const figure of document.querySelectorAll('#curves figure.chart[data-in]')) {
    const texts = [...figure.querySelectorAll('svg text')].map(t => t.textContent);
    if (!figure.hidden && !texts.some(t => t.endsWith(`[${unit}]`))) wrong.push(`${figure.querySelector('figcaption').textContent}: no axis in ${unit}`);
  }
  return { count, wrong };
};

finish(async () => {
  const { page, close } = await open(pageFile, outFolder);
  for (const unit of ['mm', 'in', 'm']) {
    await page.selectOption('#unit', unit);
    const { count, wrong } = await page.evaluate(figuresInUnit);
    facts[`figures_in_${unit}`] = count;
    promise(count > 20 && wrong.length === 0, `in ${unit}: ${wrong.slice(0, 5).join('; ')} (${wrong.length} of ${count})`);
  }
  await page.selectOption('#unit', 'mm');
  await page.click('#copy-csv');
  await page.waitForFunction(() => document.getElementById('table-note').textContent.startsWith('Copied'), null, { timeout: 10000 })
    .catch(() => promise(false, 'copying does not work'));
  await readsByKeys(page);
  await suitsEveryScreen(page, outFolder);
  await prints(page, outFolder);
  await close();
});
