// Times of the bench on a scan, by hand: node bench_speed.cjs COMMAND SCAN [LENGTH DIAMETER]
// BLADEFORM_PREDICT=0 leaves the prediction out.
// First picture after the scan has arrived, table against the command's own time, pictures a second, live sections, quick answers of the prediction.
'use strict';
const fs = require('node:fs');
const os = require('node:os');
const path = require('node:path');
const { execFileSync, spawn } = require('node:child_process');
const { facts, finish, launch } = require('./common.cjs');

const [command, scan, length = '1300mm', diameter = '2840mm'] = process.argv.slice(2);
const median = list => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];

// Polars once, then answers of the three sliders.
const predicts = async page => {
  await page.click('#steps button:has-text("Prediction")');
  for (const [option, text] of [['blades', '2'], ['rpm', '1200'], ['speed', '60mph'], ['setting', '20deg@0.75']]) {
    await page.fill(`#field-predict-${option}`, text);
    await page.keyboard.press('Tab');
  }
  await page.waitForFunction(() => !document.getElementById('run').disabled);
  const begun = Date.now();
  await page.click('#ready');
  await page.waitForSelector('#slider-setting');
  facts.polars_s = (Date.now() - begun) / 1000;
  const answers = [];
  for (const [name, key] of [['setting', 'ArrowRight'], ['rpm', 'ArrowLeft'], ['speed', 'ArrowRight']]) {
    await page.focus(`#slider-${name}`);
    for (let k = 0; k < 5; k++) {
      await page.keyboard.press(key);
      await page.waitForTimeout(300);
      answers.push(Number(await page.getAttribute('#quick-answers', 'data-ms')));
    }
  }
  facts.answer_ms = { median: median(answers), most: Math.max(...answers) };
};

finish(async () => {
  const at = fs.mkdtempSync(path.join(os.tmpdir(), 'bench-speed-'));
  const folder = path.join(at, 'job');
  const child = spawn(command, ['bench', folder, '--no-browser'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const address = await new Promise(done => { let said = ''; child.stdout.on('data', data => { said += data; const found = /http:\S+/.exec(said); if (found) done(found[0]); }); });
  const browser = await launch(path.join(at, 'profile'));
  const page = await browser.newPage();
  page.setDefaultTimeout(600000);
  page.on('pageerror', e => process.stderr.write(`${e.stack}\n`));
  await page.goto(address);
  await page.waitForSelector('#scan-file');
  // When the last byte was sent, and when the first picture was drawn, by the page's own clock.
  await page.evaluate(() => {
    const { send } = XMLHttpRequest.prototype;
    XMLHttpRequest.prototype.send = function timed(...what) { this.upload.addEventListener('load', () => { window.arrived = performance.now(); }); return send.apply(this, what); };
  });
  await page.setInputFiles('#scan-file', scan);
  await page.waitForFunction(() => Number(document.getElementById('stage').dataset.pictures) > 0 && document.documentElement.dataset.picture);
  facts.first_picture_s = await page.evaluate(() => (performance.now() - window.arrived) / 1000);
  // Processor time of all processes of the browser but the first, which shows nothing, s.
  const session = await browser.browser().newBrowserCDPSession();
  const processorTime = async () => (await session.send('SystemInfo.getProcessInfo')).processInfo.filter(p => p.type !== 'browser').reduce((sum, p) => sum + p.cpuTime, 0);
  // The view is turned for two seconds, one step for each picture.
  const turning = async () => {
    const before = await processorTime();
    const { pictures, seconds } = await turned();
    return { pictures_a_second: pictures / seconds, processor_ms_a_picture: 1000 * (await processorTime() - before) / pictures };
  };
  const turned = () => page.evaluate(async () => {
    const stage = document.getElementById('stage');
    // How fast the computer is is seen first.
    for (let k = 0; k < 10; k++) {
      stage.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight' }));
      await new Promise(requestAnimationFrame);
    }
    const [begun, before] = [performance.now(), Number(stage.dataset.pictures)];
    while (performance.now() - begun < 2000) {
      stage.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight' }));
      await new Promise(requestAnimationFrame);
    }
    return { pictures: Number(stage.dataset.pictures) - before, seconds: (performance.now() - begun) / 1000 };
  });
  facts.turning_scan = await turning();
  await page.click('#steps button:has-text("Size")');
  await page.fill('#field-measure-length', length);
  await page.keyboard.press('Tab');
  await page.fill('#field-measure-diameter', diameter);
  await page.keyboard.press('Tab');
  await page.waitForFunction(() => /--diameter.*--length/.test(document.getElementById('line').textContent) && !document.getElementById('run').disabled);
  const idle = await processorTime();
  // By the page's own clock: from the press of the button to the table.
  await page.evaluate(() => {
    document.getElementById('run').addEventListener('click', () => { window.pressed = performance.now(); }, { capture: true, once: true });
    const seen = new MutationObserver(() => {
      if (!document.querySelector('#outcome table.stations tbody tr')) return;
      seen.disconnect();
      window.shown = performance.now();
    });
    seen.observe(document.getElementById('outcome'), { childList: true, subtree: true });
  });
  await page.click('#run');
  await page.waitForFunction(() => window.shown);
  facts.table_s = await page.evaluate(() => (window.shown - window.pressed) / 1000);
  facts.browser_processor_s = await processorTime() - idle;
  facts.of_it_work_s = await page.evaluate(() => fetch('state').then(answer => answer.json()).then(state => state.work.last.seconds));
  const begun = Date.now();
  execFileSync(command, ['measure', path.join(folder, path.basename(scan)), '--length', length, '--diameter', diameter, '--out', path.join(at, 'again')], { stdio: 'ignore' });
  facts.command_s = (Date.now() - begun) / 1000;
  await page.click('#steps button:has-text("Stations")');
  await page.waitForSelector('.ruler .station');
  await page.waitForTimeout(1500);
  facts.turning_blade = await turning();
  await page.focus('.ruler .station[data-k="12"]');
  const sections = [];
  for (let k = 0; k < 8; k++) {
    await page.keyboard.press('ArrowRight');
    await page.waitForTimeout(1000);
    sections.push(Number(await page.getAttribute('#section-aside .live', 'data-ms')));
  }
  facts.live_section_ms = { median: median(sections), most: Math.max(...sections) };
  if (process.env.BLADEFORM_PREDICT !== '0') await predicts(page);
  if (process.env.BLADEFORM_SHOTS) await page.screenshot({ path: process.env.BLADEFORM_SHOTS, fullPage: true });
  await page.click('#end');
  await browser.close();
  fs.rmSync(at, { recursive: true, force: true });
});
