// What all page tests share: headless Chromium, promises, and what holds for every page of the project.
// Every broken promise is a line on standard error and exit status 1. Exit status 3: something is missing.
'use strict';
const fs = require('node:fs');
const path = require('node:path');
const { execFileSync } = require('node:child_process');
const { pathToFileURL } = require('node:url');

const CHROMIUM = process.env.BLADEFORM_CHROMIUM || '/usr/bin/chromium';

let chromium;
try {
  ({ chromium } = require('playwright-core'));
} catch {
  console.error('missing: playwright-core; run npm ci --prefix tests/browser');
  process.exit(3);
}
if (!fs.existsSync(CHROMIUM)) {
  console.error(`missing: ${CHROMIUM}; apt-get install chromium`);
  process.exit(3);
}
try {
  execFileSync('pdftotext', ['-v'], { stdio: 'ignore' });
} catch {
  console.error('missing: pdftotext; apt-get install poppler-utils');
  process.exit(3);
}

const broken = [];
const promise = (holds, what) => { if (!holds) broken.push(what); };
const facts = {};

// Corners of every drawing marked with a text of its own, so that the printed page can be asked where they came to lie.
const markDrawings = () => {
  const SVG = 'http://www.w3.org/2000/svg';
  let count = 0;
  for (const svg of document.querySelectorAll('figure:not([hidden]) svg.figure')) {
    const box = svg.viewBox.baseVal;
    for (const [name, x, y, anchor] of [['T', 0, 7, 'start'], ['B', box.width, box.height - 1, 'end']]) {
      const text = document.createElementNS(SVG, 'text');
      for (const [k, v] of Object.entries({ x, y, 'text-anchor': anchor, 'font-size': 5, class: 'probe' })) text.setAttribute(k, v);
      text.textContent = `QQ${name}${count}QQ`;
      svg.append(text);
    }
    count += 1;
  }
  return count;
};

// Which drawings are cut by the end of a page or run over its side.
const cutDrawings = (pdf, count) => {
  const html = execFileSync('pdftotext', ['-bbox', pdf, '-'], { encoding: 'utf8', maxBuffer: 1 << 28 });
  const found = new Map();
  const pages = html.split('<page ').slice(1);
  pages.forEach((page, number) => {
    const width = Number(/width="([\d.]+)"/.exec(page)[1]);
    for (const [, x0, x1, word] of page.matchAll(/<word xMin="([-\d.]+)" yMin="[-\d.]+" xMax="([-\d.]+)" yMax="[-\d.]+">(QQ[TB]\d+QQ)</g)) {
      found.set(word, { page: number, inside: Number(x0) >= 0 && Number(x1) <= width + 0.5 });
    }
  });
  const cut = [];
  for (let k = 0; k < count; k++) {
    const [top, bottom] = [found.get(`QQT${k}QQ`), found.get(`QQB${k}QQ`)];
    if (!top || !bottom || top.page !== bottom.page || !top.inside || !bottom.inside) cut.push(k);
  }
  // Pages whose last word stands high up. The table lies across: it and what goes before it end where their parts do, as the last page does.
  const size = (page, name) => Number(new RegExp(`${name}="([\\d.]+)"`).exec(page)[1]);
  const lies = pages.map(page => size(page, 'width') > size(page, 'height'));
  const lowest = page => Math.max(0, ...[...page.matchAll(/yMax="([\d.]+)"/g)].map(m => Number(m[1]))) / size(page, 'height');
  const empty = pages.flatMap((page, k) => (lies[k] || lies[k + 1] || k + 1 === pages.length || lowest(page) >= 0.4 ? [] : [k + 1]));
  return { cut, pages: pages.length, empty };
};

// Headless Chromium with a profile of its own in a folder.
const launch = profile => chromium.launchPersistentContext(profile, {
  executablePath: CHROMIUM,
  headless: true,
  viewport: { width: 1280, height: 900 },
  acceptDownloads: true,
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update',
    '--disable-sync', '--enable-unsafe-swiftshader'],
});

// A browser with the page in it, and everything it complains about or asks for.
const open = async (pageFile, outFolder) => {
  const profile = fs.mkdtempSync(path.join(outFolder, 'profile-'));
  const browser = await launch(profile);
  const messages = [];
  const requests = [];
  const urls = new Set();
  // One more page; `before` runs in it ahead of the page's own scripts.
  const another = async (file, before = () => {}) => {
    const page = await browser.newPage();
    page.setDefaultTimeout(60000);
    page.on('console', m => { if (m.type() === 'error') messages.push(m.text()); });
    page.on('pageerror', e => messages.push(String(e)));
    page.on('request', r => requests.push(r.url()));
    await page.addInitScript(before);
    const url = pathToFileURL(path.resolve(file)).href;
    urls.add(url);
    await page.goto(url);
    return page;
  };
  // Processor time of the processes that show pages and draw, s. Unlike time on the clock it does not depend on what else the machine does.
  const session = await browser.browser().newBrowserCDPSession();
  const processorTime = async () => {
    const { processInfo } = await session.send('SystemInfo.getProcessInfo');
    return processInfo.filter(p => p.type !== 'browser').reduce((sum, p) => sum + p.cpuTime, 0);
  };
  const page = await another(pageFile);
  const close = async () => {
    promise(messages.length === 0, `console: ${messages.slice(0, 3).join(' | ')}`);
    const foreign = requests.filter(r => !urls.has(r) && !r.startsWith('data:') && !r.startsWith('blob:'));
    facts.requests = foreign.length;
    promise(foreign.length === 0, `requests: ${foreign.slice(0, 3).join(' ')}`);
    await browser.close();
    fs.rmSync(profile, { recursive: true, force: true });
  };
  return { page, another, processorTime, close };
};

// A heading sorts the rows by its column, and turns them round at a second click. `values`: reads the column from the top.
const sorts = async (page, heading, values) => {
  await page.click(heading);
  const rising = await values();
  promise(rising.length > 1 && rising.every((v, k) => k === 0 || rising[k - 1] <= v), `a heading does not sort: ${rising}`);
  await page.click(heading);
  const falling = await values();
  promise(falling.every((v, k) => k === 0 || falling[k - 1] >= v), 'a second click does not turn the order');
};

// Arrow keys read a chart point by point.
const readsByKeys = async page => {
  await page.focus('figure.chart:not([hidden])');
  await page.keyboard.press('ArrowRight');
  const first = await page.textContent('figure.chart:not([hidden]) .readout');
  await page.keyboard.press('ArrowRight');
  const second = await page.textContent('figure.chart:not([hidden]) .readout');
  promise(/ R: /.test(first) && first !== second, `arrow keys do not read the chart: ${first} / ${second}`);
};

// Narrow windows, a dark system, drawings that are told in words.
const suitsEveryScreen = async (page, outFolder) => {
  for (const [name, width, height] of [['phone', 390, 844], ['zoomed to 200 % on a window of 1280', 640, 450]]) {
    await page.setViewportSize({ width, height });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    promise(wide <= width + 1, `${name}: the page is ${wide} wide in a window of ${width}`);
    if (process.env.BLADEFORM_SHOTS) await page.screenshot({ path: path.join(outFolder, `${name.slice(0, 5)}.png`), fullPage: name === 'phone' });
  }
  await page.setViewportSize({ width: 1280, height: 900 });
  const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await paper();
  await page.emulateMedia({ colorScheme: 'dark' });
  promise(light !== await paper(), 'the page does not follow a dark system');
  if (process.env.BLADEFORM_SHOTS) {
    await page.waitForTimeout(500);
    await page.screenshot({ path: path.join(outFolder, 'dark.png'), fullPage: true });
    await page.emulateMedia({ colorScheme: 'light' });
    await page.waitForTimeout(500);
    await page.screenshot({ path: path.join(outFolder, 'wide.png'), fullPage: true });
  }
  await page.emulateMedia({ colorScheme: 'light' });
  const unnamed = await page.evaluate(() => [...document.querySelectorAll('svg.figure')].filter(s => !s.querySelector('title')?.textContent || !s.querySelector('desc')?.textContent).length);
  promise(unnamed === 0, `${unnamed} drawings say nothing to those who cannot see them`);
};

// On both papers no drawing is cut and no page is nearly empty. `look`: what else is to be seen in a printed file.
const prints = async (page, outFolder, look = () => {}) => {
  const drawings = await page.evaluate(markDrawings);
  facts.drawings = drawings;
  for (const format of ['A4', 'Letter']) {
    const pdf = path.join(outFolder, `record-${format}.pdf`);
    await page.pdf({ path: pdf, format, preferCSSPageSize: false, printBackground: true });
    const { cut, pages, empty } = cutDrawings(pdf, drawings);
    facts[`pages_${format}`] = pages;
    promise(cut.length === 0, `${format}: drawings ${cut.join(', ')} of ${drawings} are cut`);
    promise(empty.length === 0, `${format}: pages ${empty.join(', ')} of ${pages} are nearly empty`);
    look(format, pdf);
  }
};

// Runs a test to its end and says what it found.
const finish = run => run().then(() => {
  console.log(JSON.stringify(facts, null, 1));
  broken.forEach(what => console.error(`broken: ${what}`));
  process.exit(broken.length === 0 ? 0 : 1);
}, error => {
  console.error(`broken: ${error.stack || error}`);
  process.exit(1);
});

module.exports = { facts, finish, launch, open, prints, promise, readsByKeys, sorts, suitsEveryScreen };
