// The view in space of a record: what is drawn, how it is turned, what becomes of it without a graphics card and on paper.
'use strict';
const fs = require('node:fs');
const path = require('node:path');
const { execFileSync } = require('node:child_process');
const { facts, promise } = require('./common.cjs');

// Pixels of a canvas that are not its background, how many colours there are, and how light the drawn pixels are on average, 0 to 255.
const countPixels = id => {
  const canvas = document.getElementById(id);
  const copy = document.createElement('canvas');
  Object.assign(copy, { width: canvas.width, height: canvas.height });
  const pen = copy.getContext('2d', { willReadFrequently: true });
  pen.drawImage(canvas, 0, 0);
  const data = new Uint32Array(pen.getImageData(0, 0, copy.width, copy.height).data.buffer);
  const colours = new Map();
  let sum = 0;
  for (const colour of data) {
    colours.set(colour, (colours.get(colour) || 0) + 1);
    sum = (sum * 31 + colour) | 0;
  }
  const background = [...colours].reduce((a, b) => (b[1] > a[1] ? b : a))[0];
  const lightness = colour => ((colour & 255) + (colour >> 8 & 255) + (colour >> 16 & 255)) / 3;
  const drawn = data.length - colours.get(background);
  let light = 0;
  for (const [colour, count] of colours) if (colour !== background) light += lightness(colour) * count / drawn;
  return { drawn: drawn / data.length, colours: colours.size, sum, light, width: copy.width, height: copy.height };
};
const pixels = (page, id = 'stage') => page.evaluate(countPixels, id);

// Waits until something holds, as long as a busy machine may take; tells whether it does.
const until = async holds => {
  const end = Date.now() + 30000;
  for (;;) {
    if (await holds()) return true;
    if (Date.now() > end) return false;
    await new Promise(again => setTimeout(again, 50));
  }
};

const ready = page => page.waitForFunction(() => document.getElementById('stage')?.dataset.ready === 'true');

// Every way to turn, shift and zoom changes the picture, once each; when nothing happens nothing is drawn.
const turns = async page => {
  const first = await pixels(page);
  facts.drawn_share = first.drawn;
  promise(first.drawn > 0.02 && first.colours > 50, `the view in space is empty: ${JSON.stringify(first)}`);
  await page.evaluate(() => {
    window.pictures = 0;
    const { clear } = WebGL2RenderingContext.prototype;
    WebGL2RenderingContext.prototype.clear = function counted(...what) { window.pictures += 1; return clear.apply(this, what); };
  });

  let last = first;
  const changes = async (what, act) => {
    await act();
    const before = last.sum;
    promise(await until(async () => { last = await pixels(page); return last.sum !== before; }), `${what} does not change the picture`);
  };
  const returns = async (what, act, to = first) => {
    await act();
    promise(await until(async () => { last = await pixels(page); return last.sum === to.sum; }), `${what} does not bring the picture back`);
  };
  const press = key => () => page.keyboard.press(key);
  await page.focus('#stage');
  for (const key of ['ArrowRight', 'ArrowUp', 'Shift+ArrowLeft', '+', '-']) await changes(`the key ${key}`, press(key));
  await returns('the key 0', press('0'));
  await changes('the key ArrowDown', press('ArrowDown'));
  await returns('the key Home', press('Home'));

  // A single key draws a single picture; then nothing is drawn for as long as nothing happens.
  const pictures = () => page.evaluate(() => window.pictures);
  const idle = await page.evaluate(async () => {
    const before = window.pictures;
    for (let frame = 0; frame < 20; frame++) await new Promise(requestAnimationFrame);
    return window.pictures - before;
  });
  const drawn = await pictures();
  await changes('the key ArrowLeft', press('ArrowLeft'));
  facts.pictures = { idle, key: await pictures() - drawn };
  promise(idle === 0 && facts.pictures.key === 1, `pictures drawn: ${JSON.stringify(facts.pictures)}`);

  await page.locator('#stage').scrollIntoViewIfNeeded();
  const box = await page.locator('#stage').boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const drag = button => async () => {
    await page.mouse.move(x, y);
    await page.mouse.down({ button });
    await page.mouse.move(x + 60, y + 30, { steps: 3 });
    await page.mouse.up({ button });
  };
  await changes('dragging', drag('left'));
  await changes('dragging with the right button', drag('right'));
  await page.keyboard.down('Shift');
  await changes('dragging with Shift', drag('left'));
  await page.keyboard.up('Shift');
  await changes('the wheel', () => page.mouse.wheel(0, -300));
  const session = await page.context().newCDPSession(page);
  const touch = (type, ...points) => session.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(([dx, dy], id) => ({ x: x + dx, y: y + dy, id })) });
  await changes('pinching', async () => {
    await touch('touchStart', [-50, 0], [50, 0]);
    for (const gap of [60, 80, 110]) await touch('touchMove', [-gap, 0], [gap, 0]);
    await touch('touchEnd');
  });

  // The figure under the pointer.
  await returns('the button Back', () => page.click('[data-view=back]'));
  const told = () => page.textContent('#stage-readout');
  await page.mouse.move(x, y);
  let side = 0;
  promise(await until(async () => { side = 3 - side; await page.mouse.move(x + side, y); return /^r = \d+ mm: the scan lies [\d.]+ mm (in|out)side/.test(await told()); }), `nothing is read under the pointer: ${await told()}`);

  for (const name of ['scan', 'outlines', 'planes', 'surface', 'colour']) {
    const shown = await page.isChecked(`.space input[name=${name}]`);
    await changes(`the switch ${name}`, () => page.setChecked(`.space input[name=${name}]`, !shown));
    await returns(`the switch ${name}`, () => page.setChecked(`.space input[name=${name}]`, shown));
  }

  // The graphics card is taken away and given back.
  await page.focus('#stage');
  await changes('a turn', press('ArrowRight'));
  const turned = last;
  const lose = await page.evaluateHandle(() => document.getElementById('stage').getContext('webgl2').getExtension('WEBGL_lose_context'));
  const isLost = () => page.evaluate(() => document.getElementById('stage').getContext('webgl2').isContextLost());
  await lose.evaluate(card => card.loseContext());
  promise(await until(isLost), 'the graphics card was not taken away: the test tests nothing');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('ArrowLeft');
  // Only a card whose loss the page has been told of can be given back.
  await page.evaluate(() => new Promise(requestAnimationFrame));
  await returns('the graphics card', () => lose.evaluate(card => card.restoreContext()), turned);

  // Size of the window and number of pixels, at most two to one.
  const sized = async (what, width, height, deviceScaleFactor) => {
    await session.send('Emulation.setDeviceMetricsOverride', { width, height, deviceScaleFactor, mobile: false });
    const fits = () => page.evaluate(k => {
      const stage = document.getElementById('stage');
      return stage.width === stage.clientWidth * k && stage.height === stage.clientHeight * k;
    }, Math.min(2, deviceScaleFactor));
    promise(await until(fits), `${what}: the picture does not have the size of its place`);
    last = await pixels(page);
    promise(last.drawn > 0.02, `${what}: the view in space is empty`);
  };
  await sized('two pixels to one', 1000, 800, 2);
  await sized('a narrow window', 390, 844, 3);
  await sized('the window of before', 1280, 900, 1);
  await returns('the window of before', () => {}, turned);
};

// A left-hand blade is the mirror image of its data. It is lit on the side that is seen, as a right-hand one is.
const isLitMirrored = async (pageFile, outFolder, another) => {
  const html = fs.readFileSync(pageFile, 'utf8');
  const light = async mirrored => {
    const file = path.join(outFolder, `mirrored-${mirrored}.html`);
    const flagged = html.replace(/"mirrored":(true|false)/, `"mirrored":${mirrored}`);
    promise(flagged.includes(`"mirrored":${mirrored}`), 'the page does not say whether its axes are mirrored');
    fs.writeFileSync(file, flagged);
    const page = await another(file);
    await ready(page);
    for (const name of ['colour', 'outlines', 'planes']) await page.setChecked(`.space input[name=${name}]`, false);
    const found = [];
    for (const view of ['back', 'leading']) {
      await page.click(`[data-view=${view}]`);
      // The picture drawn after the switches.
      await page.evaluate(() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done))));
      found.push(await pixels(page));
    }
    await page.close();
    return found;
  };
  const [plain, mirrored] = [await light(false), await light(true)];
  facts.light = [...plain, ...mirrored].map(picture => picture.light);
  promise(plain.every((picture, k) => picture.sum !== mirrored[k].sum), 'a left-hand blade is not mirrored');
  // A grey of 180 that is lit nearly fully stays near 180, at the edge above 130. Lit from behind, or without the way back to sRGB, it is below. The lamp is over one
  // shoulder, so the two hands differ a little.
  promise(facts.light.every(value => value > 130 && value < 200), `lightness of a grey blade: ${facts.light}`);
  promise(plain.every((picture, k) => Math.abs(picture.light - mirrored[k].light) < 15), `a mirrored blade is lit otherwise: ${facts.light}`);
};

// Sizes of the pictures in a printed file.
const picturesIn = pdf => execFileSync('pdfimages', ['-list', pdf], { encoding: 'utf8' }).split('\n').slice(2).map(line => line.trim().split(/\s+/)).filter(c => c[2] === 'image').map(c => [Number(c[3]), Number(c[4])]);

// On paper is a picture of the view.
const isPrinted = (format, pdf) => {
  facts[`pictures_${format}`] = picturesIn(pdf);
  // The picture of the first screen, and the view in space.
  promise(facts[`pictures_${format}`].length === 2 && facts[`pictures_${format}`].every(([width]) => width >= 1000), `${format}: the view in space is not printed: ${JSON.stringify(facts[`pictures_${format}`])}`);
};

// Where WebGL is missing the page says so, and the drawing of the two views remains, on paper too.
const doesWithoutWebGl = async (pageFile, outFolder, another) => {
  const page = await another(pageFile, () => {
    const { getContext } = HTMLCanvasElement.prototype;
    HTMLCanvasElement.prototype.getContext = function without(kind, ...more) { return /webgl/.test(kind) ? null : getContext.call(this, kind, ...more); };
  });
  await page.waitForFunction(() => document.getElementById('stage-readout').textContent.startsWith('This browser offers no WebGL 2'));
  promise(await page.locator('#stage').count() === 0, 'an empty view is left without WebGL');
  promise(await page.locator('#front svg.figure').first().isVisible(), 'without WebGL there is no drawing');
  const pdf = path.join(outFolder, 'without.pdf');
  await page.pdf({ path: pdf, format: 'A4', printBackground: true });
  promise(picturesIn(pdf).length === 0, 'without WebGL an empty picture is printed');
  await page.close();
};

module.exports = { countPixels, doesWithoutWebGl, isLitMirrored, isPrinted, ready, turns };
