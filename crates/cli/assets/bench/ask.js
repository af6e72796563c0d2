// Everything that the page asks of the bench, and the state that all parts of the page show.

/** @typedef {{text: string|null, wrong: {sentence: string, missing: boolean}|null, done: boolean, late: boolean}} StepLine */
/** @typedef {{step: string, line: string, share: number, seconds: number, stopping: boolean}} Doing */
/** @typedef {{step: string, ok: boolean, code: string|null, text: string, seconds: number}} Ended */
/**
 * @typedef {{
 *   folder: string, largest: number, caution: string,
 *   job: {revision: number, scan: {path: string, sha256: string, bytes: number}|null, repeats: {path: string, sha256: string, bytes: number}[], choices: Record<string, Record<string, string[]>>, photographs: {file: string, caption: string}[]|null},
 *   lines: Record<string, StepLine>,
 *   work: {number: number, now: Doing|null, last: Ended|null},
 *   files: Record<string, {bytes: number, stamp: string}>,
 *   quick: {setting_deg: number|null, rpm: number, radius_ratio: number, line: string, diameter_m: number, blades: number}|null,
 * }} State
 */

/** Time between two looks at the state, ms: while something is done, and while not. */
const OFTEN = 300;
const SELDOM = 1500;

/** @type {State|null} */
let state = null;
/** @type {((now: State, before: State|null, isOwn: boolean) => void)[]} */
const listeners = [];
/** @type {(sentence: string) => void} */
let alarm = () => {};

/** The last choice that is on its way: each is made on the revision that the one before it left.
 * @type {Promise<unknown>} */
let waiting = Promise.resolve();
let wasLate = false;

/** The state of now. */
export const now = () => state;
/** @param {(now: State, before: State|null, isOwn: boolean) => void} listener Called at every change; `isOwn`: this window chose something. */
export const listen = listener => { listeners.push(listener); };
/** @param {(sentence: string) => void} teller Called with what the user must know at once; with an empty text when it holds no longer. */
export const onAlarm = teller => { alarm = teller; };

/** @param {State} next @param {boolean} [isOwn] */
const take = (next, isOwn = false) => {
  if (JSON.stringify(next) === JSON.stringify(state)) return;
  const before = state;
  state = next;
  listeners.forEach(listener => listener(next, before, isOwn));
};

/** A refusal in the bench's own sentence. */
export class Refused extends Error {
  /** @param {string} sentence @param {number} status */
  constructor(sentence, status) {
    super(sentence);
    this.status = status;
  }
}

const GONE = 'The bench does not answer: it was closed, or its window was out of sight for long. Nothing is lost. Start bladeform bench with the same folder again.';
let isGone = false;

/** @param {string} path @param {RequestInit} [init] */
const fetched = async (path, init) => {
  let answer;
  try {
    answer = await fetch(path, init);
  } catch {
    isGone = true;
    alarm(GONE);
    throw new Refused(GONE, 0);
  }
  if (isGone) { isGone = false; alarm(''); }
  if (answer.ok) return answer;
  const told = await answer.json().catch(() => ({}));
  if (told.state) take(told.state);
  throw new Refused(told.sentence || `the bench refused this (${answer.status})`, answer.status);
};

/** @param {string} path A JSON document of the bench. */
export const get = async path => (await fetched(path)).json();
/** @param {string} path The bytes of a file of the bench. */
export const bytes = async path => (await fetched(path)).arrayBuffer();
/** @param {string} path A text of the bench. */
export const text = async path => (await fetched(path)).text();
/** @param {string} path @param {unknown} body */
export const post = async (path, body = {}) => (await fetched(path, { method: 'POST', body: JSON.stringify(body) })).json();

/** Asks for the state. */
export const look = async () => take(await get('state'));

/**
 * Work that is asked for more often than it is done: while it is under way, only the last asking counts.
 * @param {() => Promise<void>} work @returns {() => Promise<void>}
 */
export const latest = work => {
  let [asked, isBusy] = [0, false];
  return async () => {
    asked += 1;
    if (isBusy) return;
    isBusy = true;
    for (let done = -1; done !== asked;) {
      done = asked;
      await work();
    }
    isBusy = false;
  };
};

/** The end of the work that is done now, so that what it made is seen at once. @type {Promise<unknown>|null} */
let end = null;
const ended = () => {
  // A bench that is gone says so by itself at the next look.
  end ||= get('ended').catch(() => new Promise(done => setTimeout(done, SELDOM))).then(() => { end = null; });
  return end;
};

let wake = (/** @type {unknown} */ _) => {};

/** Looks at the state as long as the page is open. */
export const follow = async () => {
  for (;;) {
    try {
      await look();
    } catch {
      // It was said already.
    }
    const pause = new Promise(done => { wake = done; setTimeout(done, state?.work.now ? OFTEN : SELDOM); });
    await (state?.work.now ? Promise.race([pause, ended()]) : pause);
  }
};

/**
 * Chooses the values of an option; none take it away. Says what is wrong as a text, or nothing.
 * @param {string} command @param {string} option @param {string[]} values @returns {Promise<string>}
 */
export const choose = (command, option, values) => {
  const made = waiting.then(async () => {
    try {
      take(await post('choose', { command, option, values, revision: state?.job.revision }), true);
      // Only what was said of a late change holds no longer.
      if (wasLate) alarm('');
      wasLate = false;
      return '';
    } catch (e) {
      const refused = /** @type {Refused} */ (e);
      wasLate = refused.status === 409;
      if (wasLate) alarm(refused.message[0].toUpperCase() + refused.message.slice(1) + '.');
      return refused.message;
    }
  });
  waiting = made;
  return made;
};

/** @param {string} command @param {string} option @returns {string[]} The values that were chosen. */
export const chosen = (command, option) => state?.job.choices[command]?.[option.replaceAll('-', '_')] || [];

/**
 * Begins a step. Says why it cannot as a text, or nothing.
 * @param {string} step @param {boolean} [overwrite]
 */
export const run = async (step, overwrite = false) => {
  try {
    await post('run', { step, overwrite });
    await look();
    wake(null);
    return '';
  } catch (e) {
    return /** @type {Error} */ (e).message;
  }
};

/**
 * Sends a file; `also` goes into the address. `told` hears the part that was sent; the answer has a way to break off.
 * @param {string} path @param {File} file @param {(share: number) => void} told @param {string} [also]
 * @returns {{done: Promise<any>, stop: () => void}}
 */
export const send = (path, file, told, also = '') => {
  const request = new XMLHttpRequest();
  const done = new Promise((fine, failed) => {
    request.open('POST', `${path}?name=${encodeURIComponent(file.name)}${also}`);
    request.responseType = 'json';
    request.upload.addEventListener('progress', event => told(event.loaded / Math.max(1, event.total)));
    request.addEventListener('load', () => {
      if (request.status === 200) fine(request.response);
      else failed(new Refused(request.response?.sentence || `the bench refused the file (${request.status})`, request.status));
    });
    request.addEventListener('error', () => failed(new Refused('the file did not arrive: the connection to the bench was broken off; drop it again', 0)));
    request.addEventListener('abort', () => failed(new Refused('sending the file was stopped; nothing was kept', 0)));
    request.send(file);
  });
  return { done, stop: () => request.abort() };
};
