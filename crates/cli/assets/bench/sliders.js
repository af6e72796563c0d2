// Quick answers of a prediction: sliders for setting, rotational speed and flight speed, from polars that are kept.
import { latest, now, post, run } from './ask.js';
import { make } from './form.js';

/** Units of what is shown, by how the speed or the power was typed. */
const SPEEDS = { 'm/s': 1, mph: 0.44704, 'km/h': 1 / 3.6, kt: 1852 / 3600 };
/** One mechanical horsepower, W: 550 ft lbf/s, exact from the units of 1959. */
const HORSEPOWER = 745.6998715822702;
const POUND_FORCE = 4.4482216152605;

/** @type {Record<string, number>} */
const at = {};

/** @param {import('./ask.js').State} state */
const unitsOf = state => {
  const choices = state.job.choices.predict || {};
  const typed = (choices.speed || [])[0] || '';
  const unit = Object.keys(SPEEDS).find(u => typed.endsWith(u)) || 'm/s';
  const isImperial = /hp/.test((choices.power || [])[0] || '') || (state.job.choices.measure?.units || [])[0] === 'in' || unit === 'mph';
  return { unit, factor: SPEEDS[unit], isImperial };
};

/** The box of the sliders. @param {(step: string) => void} told Called with why the polars cannot be made ready. */
export const sliderBox = told => {
  const state = now();
  const box = make('section', { 'aria-label': 'Quick answers' }, [make('h3', {}, ['Quick answers'])]);
  if (!state) return box;
  const quick = state.quick;
  const ready = make('button', { type: 'button', id: 'ready', onclick: async () => told(await run('ready')) }, [quick ? 'Renew the polars' : 'Make the sliders ready']);
  if (!quick) {
    box.append(make('p', {}, ['With the polars, lift and drag of the sections, computed once, each move of a slider is answered at once, by blade elements: the blade taken as narrow strips. Number of blades and rotational speed are needed.']), ready);
    return box;
  }
  const { unit, factor, isImperial } = unitsOf(state);
  const sound = 340 / factor;
  const top = unit === 'm/s' ? 120 : Math.round(120 / factor / 10) * 10;
  const typed = Number.parseFloat((state.job.choices.predict?.speed || [])[0] || '0') || 0;
  at.setting ??= quick.setting_deg ?? 20;
  at.rpm ??= quick.rpm;
  at.speed ??= Math.min(typed, sound);
  const answers = make('dl', { className: 'quick', id: 'quick-answers' });
  const note = make('p', { className: 'hint', role: 'status' });
  const show = latest(async () => {
    const begun = performance.now();
    try {
      const f = await post('quick', { setting_deg: at.setting, rpm: at.rpm, speed_m_s: at.speed * factor });
      answers.dataset.ms = (performance.now() - begun).toFixed(0);
      const one = (name, value) => make('div', {}, [make('dt', {}, [name]), make('dd', {}, [value])]);
      answers.replaceChildren(
        one('Thrust', isImperial ? `${(f.thrust_n / POUND_FORCE).toFixed(1)} lbf` : `${f.thrust_n.toFixed(0)} N`),
        one('Power', isImperial ? `${(f.power_w / HORSEPOWER).toFixed(1)} hp` : `${(f.power_w / 1000).toFixed(2)} kW`),
        one('Efficiency', f.efficiency === null ? 'none' : `${(100 * f.efficiency).toFixed(1)} %`),
        one('Advance ratio V/nD', f.advance_ratio.toFixed(3)),
        one('Tip Mach number', f.tip_mach.toFixed(3)),
        one('Stalled part of the blade', `${(100 * f.stalled).toFixed(0)} %`),
      );
      note.textContent = f.advance_ratio < 0.2 ? 'Near rest blade elements alone are less sure; Predict adds the free wake.' : '';
    } catch (e) {
      answers.replaceChildren();
      note.textContent = /** @type {Error} */ (e).message;
    }
  });
  const slider = (key, name, least, most, step, digits, u) => {
    const value = () => `${at[key].toFixed(digits)} ${u}`;
    const out = make('output', {}, [value()]);
    const input = make('input', { type: 'range', min: String(least), max: String(most), step: String(step), id: `slider-${key}`, 'aria-label': `${name}, ${u}` });
    input.value = String(at[key]);
    at[key] = Number(input.value);
    out.textContent = value();
    input.addEventListener('input', () => { at[key] = Number(input.value); out.textContent = value(); input.setAttribute('aria-valuetext', value()); show(); });
    return make('div', { className: 'slider' }, [make('label', { htmlFor: `slider-${key}` }, [name]), out, input]);
  };
  box.append(
    slider('setting', `Setting of the ${quick.line === 'face' ? 'face line' : 'chord line'} at ${quick.radius_ratio} R`, -10, 60, 0.1, 1, 'deg'),
    slider('rpm', 'Rotational speed', Math.round(0.3 * quick.rpm), Math.round(1.3 * quick.rpm), 1, 0, 'rpm'),
    slider('speed', 'Flight speed', 0, top, unit === 'm/s' ? 0.5 : 1, unit === 'm/s' ? 1 : 0, unit),
    answers, note,
    make('p', { className: 'hint' }, [`Blade elements without the second model and without intervals; ${quick.blades} blades, diameter ${(1000 * quick.diameter_m).toFixed(0)} mm, polars computed for ${quick.rpm.toFixed(0)} rpm. Predict gives the figures to keep.`]),
    ready,
  );
  show();
  return box;
};
