// The bench in headless Chromium, from a dropped scan to the record. node bench.cjs COMMAND JOB_FOLDER SCAN OUT_FOLDER
// Prints the facts it measured as JSON, among them the command line that the page shows; every broken promise is a line on standard error and exit status 1.
// Exit status 3: something is missing.
'use strict';
const fs = require('node:fs');
const http = require('node:http');
const path = require('node:path');
const { spawn } = require('node:child_process');
const { facts, finish, launch, promise } = require('./common.cjs');

const [command, folder, scan, outFolder] = process.argv.slice(2);
const files = () => fs.readdirSync(folder).sort();

// The bench, and the address that it prints.
const begin = () => new Promise((fine, failed) => {
  const child = spawn(command, ['bench', folder, '--no-browser', '--largest', '50'], { stdio: ['ignore', 'pipe', 'pipe'] });
  let [said, wrong] = ['', ''];
  child.stderr.on('data', data => { wrong += data; });
  const ended = new Promise(done => child.on('exit', code => done({ code, said, wrong })));
  child.stdout.on('data', data => {
    said += data;
    const found = /http:\/\/127\.0\.0\.1:(\d+)\/([0-9a-f]{32})\//.exec(said);
    if (found) fine({ child, address: found[0], port: Number(found[1]), token: found[2], ended });
  });
  ended.then(({ code }) => failed(new Error(`the bench ended with ${code}: ${wrong}`)));
});

// The status of a bare request.
const status = (port, target, headers = {}, method = 'GET') => new Promise((fine, failed) => {
  const request = http.request({ host: '127.0.0.1', port, path: target, method, headers }, answer => { answer.resume(); fine(answer.statusCode); });
  request.on('error', failed);
  request.end();
});

const strangersAreTurnedAway = async ({ port, token }) => {
  for (const [what, target, headers, method] of [
    ['an address without the token', '/'], ['a wrong token', `/${'0'.repeat(32)}/state`], ['a foreign host', `/${token}/`, { Host: 'example.org' }],
    ['a foreign origin', `/${token}/stop`, { Origin: 'http://example.org' }, 'POST'], ['a page from a file', `/${token}/state`, { Origin: 'null' }],
  ]) {
    const got = await status(port, target, headers, method);
    promise(got === 403, `${what} is answered with ${got}`);
  }
  const up = await status(port, `/${token}/file/..%2f..%2fetc%2fpasswd`);
  promise(up === 404, `a path out of the folder is answered with ${up}`);
};

// Drops a file on the page as a user does.
const drop = async (page, name, bytes) => {
  const data = await page.evaluateHandle(([fileName, text]) => {
    const raw = Uint8Array.from(atob(text), c => c.charCodeAt(0));
    const transfer = new DataTransfer();
    transfer.items.add(new File([raw], fileName));
    return transfer;
  }, [name, bytes.toString('base64')]);
  for (const kind of ['dragenter', 'dragover', 'drop']) await page.dispatchEvent('#panel', kind, { dataTransfer: data });
};

const to = (page, name) => page.click(`#steps button:has-text("${name}")`);
const says = (page, pattern) => page.waitForFunction(([source]) => new RegExp(source).test(document.getElementById('doing-text').textContent), [pattern.source]).catch(async e => { throw new Error(`${pattern} is not said, but: ${await page.textContent('#doing-text')} (${e.message.split('\n')[0]})`); });
const type = async (page, id, text) => {
  // A field that is folded away is unfolded.
  await page.waitForSelector(id, { state: 'attached' });
  if (!await page.isVisible(id)) await page.click('#panel summary');
  await page.fill(id, text);
  await page.keyboard.press('Tab');
};
const shots = Boolean(process.env.BLADEFORM_SHOTS);
const shot = async (page, name) => {
  if (!shots) return;
  for (const [size, width, height] of [['wide', 1280, 900], ['narrow', 390, 844]]) {
    await page.setViewportSize({ width, height });
    for (const colorScheme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme });
      await page.waitForTimeout(400);
      await page.screenshot({ path: path.join(outFolder, `${name}-${size}-${colorScheme}.png`), fullPage: true });
    }
  }
  await page.emulateMedia({ colorScheme: 'light' });
  await page.setViewportSize({ width: 1280, height: 900 });
};

// The page fits a phone and a zoom of 200 %, follows a dark system, and every control has a name.
const suits = async (page, where) => {
  const unnamed = await page.evaluate(() => [...document.querySelectorAll('input, select, textarea, button, iframe, canvas, progress')].filter(el => {
    if (el.hidden) return false;
    const names = [el.getAttribute('aria-label'), el.title, el.textContent, ...[...(el.labels || [])].map(l => l.textContent)];
    return !names.some(n => n && n.trim());
  }).map(el => el.outerHTML.slice(0, 80)));
  promise(unnamed.length === 0, `${where}: controls without a name: ${unnamed.join(' ')}`);
  for (const [width, height] of [[390, 844], [640, 450]]) {
    await page.setViewportSize({ width, height });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    promise(wide <= width + 1, `${where}: the page is ${wide} wide in a window of ${width}`);
  }
  await page.setViewportSize({ width: 1280, height: 900 });
};

const run = async () => {
  const bench = await begin();
  await strangersAreTurnedAway(bench);
  const profile = fs.mkdtempSync(path.join(outFolder, 'profile-'));
  const browser = await launch(profile);
  const [messages, foreign] = [[], []];
  // What the page is refused on purpose is on its console as well.
  const isExpected = text => /status of (409|413|422)|net::ERR_FAILED/.test(text);
  const window = async () => {
    const page = await browser.newPage();
    page.setDefaultTimeout(60000);
    page.on('console', m => { if (m.type() === 'error' && !isExpected(m.text())) messages.push(m.text()); });
    page.on('pageerror', e => messages.push(String(e)));
    page.on('request', r => { if (!r.url().startsWith(bench.address) && !/^(data|blob):/.test(r.url())) foreign.push(r.url()); });
    await page.goto(bench.address);
    await page.waitForSelector('#steps button');
    return page;
  };
  const page = await window();
  await shot(page, '0-empty');
  await suits(page, 'empty');

  // A wrong file is refused in a sentence, and takes nothing's place.
  await drop(page, 'letter.ply', Buffer.from('Dear Sir, the blade is in the box.'));
  await says(page, /letter\.ply/);
  promise(JSON.stringify(files()) === '["job.json"]', `a wrong file left ${files()}`);
  await drop(page, 'job.json', Buffer.from('{}'));
  await says(page, /name of a file of results/);

  // The scan.
  const began = Date.now();
  await drop(page, 'scan.ply', fs.readFileSync(scan));
  await page.waitForFunction(() => document.documentElement.dataset.picture && Number(document.getElementById('stage').dataset.pictures) > 0);
  facts.picture_ms = Date.now() - began;
  await shot(page, '1-scan');
  promise(fs.readFileSync(path.join(folder, 'scan.ply')).equals(fs.readFileSync(scan)), 'the scan was not kept as it is');

  // Size: a wrong value is told beside its field and not kept; points are clicked on the scan.
  await to(page, 'Size');
  await type(page, '#field-measure-length', 'long');
  await page.waitForSelector('#field-measure-length[aria-invalid=true]');
  promise(/long/.test(await page.textContent('#field-measure-length-wrong')), 'a wrong length is not told');
  await type(page, '#field-measure-length', '1300mm');
  await type(page, '#field-measure-diameter', '2.84m');
  await page.click('#mark');
  const box = await page.locator('#stage').boundingBox();
  for (const x of [0.35, 0.65]) await page.mouse.click(box.x + x * box.width, box.y + box.height / 2), await page.waitForTimeout(150);
  await page.waitForFunction(() => /Both points/.test(document.getElementById('marked').textContent));
  await page.fill('#marked-length', '500mm+-1mm');
  await page.click('#add-distance');
  await page.waitForFunction(() => /--distance/.test(document.getElementById('line').textContent));
  facts.distance = /--distance (\S+)/.exec(await page.textContent('#line'))[1];
  await shot(page, '2-size');
  await page.click('.chips button');
  await page.waitForFunction(() => !/--distance/.test(document.getElementById('line').textContent));

  // Stations, a reading and texts, before anything is measured.
  await to(page, 'Stations');
  await type(page, '#field-measure-at', '0.35,0.46,0.57,0.68,0.79,0.9');
  await to(page, 'Readings');
  for (const [id, text] of [['#reading-value', '21.9mm'], ['#reading-u', '0.2mm'], ['#reading-at', '0.68']]) await page.fill(id, text);
  await page.click('#add-reading');
  await page.waitForSelector('.chips li');
  await to(page, 'Record');
  await type(page, '#field-measure-title', "Port blade, O'Neil");
  await type(page, '#field-measure-date', '2026-01-31');

  // Stopped work leaves nothing; a page that is loaded anew in the middle goes on.
  await page.waitForFunction(() => /2026-01-31/.test(document.getElementById('line').textContent));
  await page.click('#run');
  await page.waitForSelector('#stop:not([hidden])');
  await page.click('#stop');
  await says(page, /Stopped; nothing was written/);
  promise(JSON.stringify(files()) === '["job.json","scan.ply"]', `stopped work left ${files()}`);
  await page.click('#run');
  await page.waitForSelector('#stop:not([hidden])');
  await page.reload();
  await page.waitForFunction(() => document.documentElement.dataset.table === '6');
  await says(page, /Done in/);
  facts.line = await page.textContent('#line');
  promise(await page.inputValue('#field-measure-title') === "Port blade, O'Neil", 'a text was lost by loading the page anew');
  await page.waitForFunction(() => document.querySelector('iframe'));
  const frame = await (await page.waitForSelector('iframe')).contentFrame();
  await frame.waitForSelector('h1');
  promise(/Port blade, O.Neil/.test(await frame.textContent('h1')), 'the record is not shown');
  await shot(page, '6-record');

  // Every figure of the page is that of the record, which is the command's.
  await to(page, 'Size');
  await page.waitForSelector('#outcome table.stations tbody tr');
  const shown = await page.evaluate(() => [...document.querySelectorAll('#outcome table.stations tbody td')].map(td => td.textContent));
  facts.table = shown;

  // Blade: ends, edges and sides are marked, and a mark is a button.
  await to(page, 'Blade');
  await page.waitForSelector('#marks button');
  const tags = await page.evaluate(() => [...document.querySelectorAll('#marks button')].map(b => b.textContent.replace(' ?', '')));
  promise(tags.join() === 'Tip,Root end,Leading edge,Trailing edge,Back,Face', `marks: ${tags}`);
  await shot(page, '3-blade');
  await suits(page, 'blade');

  // A station moves by keys, and its section follows.
  await to(page, 'Stations');
  await page.waitForSelector('.ruler .station');
  await page.focus('.ruler .station[data-k="3"]');
  for (let k = 0; k < 4; k++) await page.keyboard.press('ArrowRight');
  await page.waitForFunction(() => document.querySelector('#section-aside .live .outline') && /0\.700 R/.test(document.querySelector('#section-aside h3').textContent));
  facts.section_ms = Number(await page.getAttribute('#section-aside .live', 'data-ms'));
  facts.live_chord_mm = Number(/([\d.]+) mm/.exec(await page.textContent('#section-aside dl'))[1]);
  await page.waitForFunction(() => /0\.57,0\.7,0\.79/.test(document.getElementById('line').textContent));
  await says(page, /changed since/);
  await shot(page, '4-stations');

  // Two windows: the one that is late is told, and shows what the other did.
  const other = await window();
  await to(other, 'Record');
  await other.waitForSelector('#field-measure-owner');
  await other.route('**/state', route => route.abort());
  await to(page, 'Record');
  await type(page, '#field-measure-owner', 'the first window');
  await page.waitForFunction(() => /the first window/.test(document.getElementById('line').textContent));
  await type(other, '#field-measure-maker', 'the second window');
  await other.waitForFunction(() => /another window/i.test(document.getElementById('alert').textContent));
  await other.unroute('**/state');
  await other.waitForFunction(() => /the first window/.test(document.getElementById('line').textContent));
  promise(!/second window/.test(fs.readFileSync(path.join(folder, 'job.json'), 'utf8')), 'a late change was kept');
  await other.close();

  // The other steps say what they still need, in the words of their fields.
  await to(page, 'Prediction');
  await says(page, /Still needed: Number of blades/);
  await shot(page, '7-prediction');
  await to(page, 'Solid');
  await page.waitForFunction(() => /bladeform solid/.test(document.getElementById('line').textContent));
  await page.click('#run');
  await page.waitForSelector('#panel a[download]');
  promise(fs.existsSync(path.join(folder, 'propeller.stl')), 'no solid was made');
  await shot(page, '8-solid');
  await suits(page, 'solid');

  promise(messages.length === 0, `console: ${messages.slice(0, 3).join(' | ')}`);
  promise(foreign.length === 0, `requests: ${foreign.slice(0, 3).join(' ')}`);
  await page.click('#end');
  const { code, said } = await bench.ended;
  promise(code === 0 && /The bench is closed/.test(said), `the bench ended with ${code}`);
  promise(!files().some(f => f.startsWith('.')), `files are left: ${files()}`);
  await browser.close();
  fs.rmSync(profile, { recursive: true, force: true });
};

finish(run);
