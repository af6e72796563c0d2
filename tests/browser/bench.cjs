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
const drop = async (page, name, bytes, kind = '') => {
  const data = await page.evaluateHandle(([fileName, text, type]) => {
    const raw = Uint8Array.from(atob(text), c => c.charCodeAt(0));
    const transfer = new DataTransfer();
    transfer.items.add(new File([raw], fileName, { type }));
    return transfer;
  }, [name, bytes.toString('base64'), kind]);
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
// A picture of the given size, as a camera or a program would write it.
const picture = async (page, width, height, kind) => Buffer.from((await page.evaluate(([w, h, type]) => {
  const canvas = Object.assign(document.createElement('canvas'), { width: w, height: h });
  const context = canvas.getContext('2d');
  context.fillStyle = '#8a6a42';
  context.fillRect(0, h / 3, w, h / 3);
  return canvas.toDataURL(type);
}, [width, height, kind])).split(',')[1], 'base64');
// Presses the mouse at a place of the window, moves it and lets it go.
const drag = async (page, [x, y], [dx, dy]) => {
  await page.mouse.move(x, y);
  await page.mouse.down();
  for (const part of [0.3, 0.7, 1]) await page.mouse.move(x + part * dx, y + part * dy);
  await page.mouse.up();
};
const middle = async (page, selector) => {
  const box = await page.locator(selector).boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
};

const shots = Boolean(process.env.BLADEFORM_SHOTS);
const shot = async (page, name) => {
  if (!shots) return;
  for (const [size, width, height] of [['wide', 1280, 900], ['narrow', 390, 844], ['zoom', 640, 450]]) {
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

// The sliders, with answers of a propeller made up here: the true polars take a minute. Their figures are compared with the command's by hand (docs/results.md).
const sliders = async page => {
  const asked = [];
  const quick = { setting_deg: 20, rpm: 1200, radius_ratio: 0.75, line: 'chord', diameter_m: 2.84, blades: 2 };
  await page.route('**/state', async route => { const answer = await route.fetch(); route.fulfill({ response: answer, json: { ...await answer.json(), quick } }); });
  await page.route('**/quick', route => {
    const of = route.request().postDataJSON();
    asked.push(of);
    route.fulfill({ json: { thrust_n: 10 * of.setting_deg, power_w: 1000 * of.speed_m_s, torque_nm: 1, efficiency: null, advance_ratio: 0.3, tip_mach: 0.5, stalled: 0.25 } });
  });
  await page.waitForSelector('#slider-setting');
  await page.focus('#slider-setting');
  for (let k = 0; k < 3; k++) await page.keyboard.press('ArrowRight');
  await page.waitForFunction(() => /203 N/.test(document.getElementById('quick-answers').textContent));
  await page.locator('#slider-speed').scrollIntoViewIfNeeded();
  const box = await page.locator('#slider-speed').boundingBox();
  await drag(page, [box.x + 8, box.y + box.height / 2], [box.width / 2 - 8, 0]);
  await page.waitForFunction(() => /(59|6[01])\.\d m\/s/.test(document.querySelector('#slider-speed').previousElementSibling.textContent));
  await page.waitForFunction(() => Math.abs(Number(/Power([\d.]+) kW/.exec(document.getElementById('quick-answers').textContent)?.[1]) - 60) < 1.1);
  promise(asked.length > 3 && Math.abs(asked.at(-1).setting_deg - 20.3) < 1e-9 && asked.at(-1).rpm === 1200, `the sliders ask for ${JSON.stringify(asked.at(-1))}`);
  promise(/Efficiencynone/.test(await page.textContent('#quick-answers')) && /25 %/.test(await page.textContent('#quick-answers')), 'an answer is not shown');
  await page.unroute('**/quick');
  await page.unroute('**/state');
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

  // A further scan of the same blade; the same one again says nothing new.
  await page.click('#panel summary');
  const name = 'again.ply';
  await page.setInputFiles('#repeat-file', { name, mimeType: '', buffer: fs.readFileSync(scan) });
  await says(page, /again\.ply is scan\.ply once more/);
  const changed = Buffer.concat([Buffer.from('ply\ncomment another\n'), fs.readFileSync(scan).subarray(4)]);
  await page.setInputFiles('#repeat-file', { name, mimeType: '', buffer: changed });
  await page.waitForSelector('.chips li');
  await to(page, 'Size');
  await page.waitForFunction(() => /scan\.ply \S*again\.ply/.test(document.getElementById('line').textContent));
  await to(page, 'Scan');
  await page.click('.chips button');
  await page.waitForFunction(() => !document.querySelector('.chips li'));
  fs.rmSync(path.join(folder, name));

  // Size: a wrong value is told beside its field and not kept; points are clicked on the scan.
  await to(page, 'Size');
  await type(page, '#field-measure-length', 'long');
  await page.waitForSelector('#field-measure-length[aria-invalid=true]');
  promise(/long/.test(await page.textContent('#field-measure-length-wrong')), 'a wrong length is not told');
  await type(page, '#field-measure-length', '1300mm');
  await type(page, '#field-measure-diameter', '2.84m');
  await page.click('#mark');
  // A drag turns the view and marks no point.
  const seen = () => page.evaluate(() => document.getElementById('stage').toDataURL());
  const before = await seen();
  await drag(page, await middle(page, '#stage'), [60, 10]);
  await page.waitForTimeout(100);
  promise(before !== await seen(), 'a drag does not turn the view');
  promise(await page.textContent('#marked') === '', 'a drag marks a point');
  await page.click('#looks button');
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
  const fields = await page.evaluate(() => ['reading-value', 'reading-u', 'reading-at', 'add-reading'].map(id => document.getElementById(id).getBoundingClientRect()).map(b => [b.left, b.right]));
  promise(fields.every(([left], k) => k === 0 || left >= fields[k - 1][1]), `the fields of a reading lie on one another: ${JSON.stringify(fields)}`);
  await page.click('#add-reading');
  await page.waitForSelector('.chips li');
  await to(page, 'Record');
  await type(page, '#field-measure-title', "Port blade, O'Neil");
  await type(page, '#field-measure-date', '2026-01-31');
  // Photographs: a small one is kept as it is, a large one is scaled down, anything else is refused.
  const small = await picture(page, 60, 40, 'image/png');
  await drop(page, 'back = 1.png', small, 'image/png');
  await page.waitForSelector('#caption-0');
  promise(fs.readFileSync(path.join(folder, 'photographs/back - 1.png')).equals(small), 'a small photograph was not kept as it is');
  await page.fill('#caption-0', 'The back = side 1');
  await page.keyboard.press('Tab');
  await drop(page, 'face.jpg', await picture(page, 3000, 2000, 'image/jpeg'), 'image/jpeg');
  await page.waitForSelector('#caption-1');
  promise(/3000 × 2000 to 2400 × 1600/.test(await page.textContent('#photo-notes')), 'nothing is said of a photograph that was scaled down');
  promise(await page.inputValue('#caption-0') === 'The back = side 1', 'a caption was lost');
  await drop(page, 'letter.jpg', Buffer.from('Dear Sir'), 'image/jpeg');
  await page.waitForFunction(() => /letter\.jpg: this is no JPEG/.test(document.getElementById('photo-notes')?.textContent));
  await shot(page, '5b-photographs');

  // Stopped work leaves nothing; a page that is loaded anew in the middle goes on.
  await page.waitForFunction(() => /2026-01-31/.test(document.getElementById('line').textContent));
  await page.click('#run');
  await page.waitForSelector('#stop:not([hidden])');
  await page.click('#stop');
  await says(page, /Stopped; nothing was written/);
  promise(JSON.stringify(files()) === '["job.json","photographs","scan.ply"]', `stopped work left ${files()}`);
  await page.click('#run');
  await page.waitForSelector('#stop:not([hidden])');
  await page.reload();
  await page.waitForFunction(() => document.documentElement.dataset.table === '6');
  await says(page, /Done in/);
  // Blade: ends, edges and sides are marked, and a mark is a button that overrules it.
  await to(page, 'Blade');
  await page.waitForSelector('#marks button');
  const tags = await page.evaluate(() => [...document.querySelectorAll('#marks button')].map(b => b.textContent.replace(' ?', '')));
  promise(tags.join() === 'Tip,Root end,Leading edge,Trailing edge,Back,Face', `marks: ${tags}`);
  // Back and face lie on different sides, and only the one that is seen is not told to be behind.
  const behind = () => page.evaluate(() => [...document.querySelectorAll('#marks .behind')].map(b => b.textContent.replace(' ?', '')).join());
  await page.waitForFunction(() => document.querySelector('#marks .behind'));
  promise(await behind() === 'Face', `from the back, behind lies: ${await behind()}`);
  await page.click('#looks button:has-text("Face")');
  await page.waitForFunction(() => document.querySelector('#marks .behind')?.textContent.startsWith('Back'));
  promise(await behind() === 'Back', `from the face, behind lies: ${await behind()}`);
  // Colours have a scale with a unit.
  promise(await page.isHidden('#scale'), 'a scale is shown without colours');
  await page.check('#looks label:has-text("coloured") input');
  promise(await page.isVisible('#scale .ramp') && /mm/.test(await page.textContent('#scale .ends')), 'colours without a scale');
  await page.uncheck('#looks label:has-text("coloured") input');
  const stopped = async () => {
    await page.waitForSelector('#stop:not([hidden])');
    await page.click('#stop');
    await page.waitForSelector('#stop', { state: 'hidden' });
  };
  await page.click('#marks button:has-text("Trailing edge")');
  await page.waitForFunction(() => /--swap edges/.test(document.getElementById('line').textContent));
  promise(/Leading edge: overruled by you/.test(await page.textContent('#panel')), 'what was overruled is not said');
  await stopped();
  // Taken back, and with a known angle at a radius all angles are absolute.
  await page.click('#panel button[aria-pressed=true]');
  await page.waitForFunction(() => !/--swap/.test(document.getElementById('line').textContent));
  await stopped();
  const { stamp } = await page.evaluate(() => fetch('state').then(answer => answer.json()).then(state => state.files['stations.json']));
  await type(page, '#field-measure-setting', '22deg@0.68');
  await page.waitForFunction(old => fetch('state').then(a => a.json()).then(({ files, work }) => files['stations.json'].stamp !== old && !work.now), stamp, { polling: 100 });
  await says(page, /Done in/);
  const table = JSON.parse(fs.readFileSync(path.join(folder, 'stations.json'), 'utf8'));
  const known = table.stations.find(row => Math.abs(row.radius_ratio - 0.68) < 1e-6).blade_angle_deg;
  promise(table.blade.setting.radius_ratio === 0.68 && Math.abs(known - 22) < 1e-9, `the known angle at 0.68 R is ${known}`);
  promise(!/--swap/.test(await page.textContent('#line')), 'what was overruled cannot be taken back');
  await shot(page, '3-blade');
  await suits(page, 'blade');

  await to(page, 'Record');
  facts.line = await page.textContent('#line');
  await page.waitForSelector('#field-measure-title');
  promise(await page.inputValue('#field-measure-title') === "Port blade, O'Neil", 'a text was lost by loading the page anew');
  await page.waitForFunction(() => document.querySelector('iframe'));
  const frame = await (await page.waitForSelector('iframe')).contentFrame();
  await frame.waitForSelector('h1');
  promise(/Port blade, O.Neil/.test(await frame.textContent('h1')), 'the record is not shown');
  promise(await frame.evaluate(() => [...document.querySelectorAll('.photograph img')].map(i => `${i.naturalWidth} ${i.alt}`).join()) === '60 The back = side 1,2400 Photograph face.jpg', 'the photographs are not on the record');
  promise(await page.getAttribute('#onward a', 'href') === 'file/record.html', 'nothing leads from the work to the record');
  await page.click('#onward button');
  promise(await page.evaluate(() => { const { top } = document.querySelector('iframe').getBoundingClientRect(); return top >= 0 && top < 200; }), 'the record is not brought into sight');
  await shot(page, '6-record');

  // Every figure of the page is that of the record, which is the command's.
  await to(page, 'Size');
  await page.waitForSelector('#outcome table.stations tbody tr');
  const shown = await page.evaluate(() => [...document.querySelectorAll('#outcome table.stations tbody td')].map(td => td.textContent));
  facts.table = shown;

  await to(page, 'Readings');
  await page.waitForSelector('#panel ul.readings');
  await shot(page, '5-readings');

  // A station moves by keys, and its section follows. The chosen one is marked on the picture where it was measured.
  await to(page, 'Stations');
  await page.waitForSelector('.ruler .station');
  await page.focus('.ruler .station[data-k="3"]');
  await page.waitForFunction(() => document.getElementById('marks').textContent === '0.680 R');
  for (let k = 0; k < 4; k++) await page.keyboard.press('ArrowRight');
  await page.waitForFunction(() => document.querySelector('#section-aside .live .outline') && /0\.700 R/.test(document.querySelector('#section-aside h3').textContent));
  facts.section_ms = Number(await page.getAttribute('#section-aside .live', 'data-ms'));
  facts.live_chord_mm = Number(/([\d.]+) mm/.exec(await page.textContent('#section-aside dl'))[1]);
  await page.waitForFunction(() => /0\.57,0\.7,0\.79/.test(document.getElementById('line').textContent));
  // And by the mouse: a fiftieth of the ruler inwards is a fiftieth of the span.
  const ruler = await page.locator('.ruler').boundingBox();
  await drag(page, await middle(page, '.ruler .station[data-k="4"]'), [-0.02 * ruler.width, 0]);
  await page.waitForFunction(() => !/0\.79/.test(document.getElementById('line').textContent));
  const moved = Number(/0\.57,0\.7,([\d.]+),0\.9/.exec(await page.textContent('#line'))[1]);
  const span = 1 - Number(await page.getAttribute('.ruler .station', 'aria-valuemin'));
  promise(Math.abs(moved - (0.79 - 0.02 * span)) < 2e-3, `a station dragged from 0.79 by a fiftieth of the ruler is at ${moved}`);
  await says(page, /changed since/);
  await shot(page, '4-stations');

  // Two windows: the one that is late is told, and shows what the other did.
  const other = await window();
  await to(other, 'Record');
  await other.waitForSelector('#field-measure-owner');
  // Its looks at the state are not answered until the route is taken away, as on a slow machine: it must be late.
  await other.route('**/state', () => {});
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
  await sliders(page);
  await to(page, 'Solid');
  await page.waitForFunction(() => /bladeform solid/.test(document.getElementById('line').textContent));
  await page.click('#run');
  await page.waitForSelector('#panel a[download]');
  promise(fs.existsSync(path.join(folder, 'propeller.stl')), 'no solid was made');
  await shot(page, '8-solid');
  await suits(page, 'solid');
  // What the command says fits a phone, and leads from the option that it names to the field.
  await page.setViewportSize({ width: 390, height: 844 });
  const wide = await page.evaluate(() => [...document.querySelectorAll('.said-by, .said-by p')].filter(el => el.scrollWidth > el.clientWidth + 1).length);
  promise(wide === 0 && await page.locator('.said-by p').count() > 3, `${wide} parts of what the command says are wider than a phone`);
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.click('.said-by button.link:has-text("Resolution of the scan")');
  const isThere = await page.waitForFunction(() => /resolution/.test(document.activeElement?.id || ''), null, { timeout: 5000 }).then(() => true, () => false);
  promise(isThere, 'a sentence of the command does not lead to the field that it names');

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
