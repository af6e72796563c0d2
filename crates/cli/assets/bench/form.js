// Fields of a step: each shows an option as it was chosen and changes it.
import { choose, chosen } from './ask.js';

/** @param {string} tag @param {Record<string, any>} [set] @param {(Node|string)[]} [children] @returns {any} An element. */
export const make = (tag, set = {}, children = []) => {
  const el = document.createElement(tag);
  for (const [key, value] of Object.entries(set)) {
    if (key.startsWith('on')) el.addEventListener(key.slice(2), value);
    else if (key in el && key !== 'list') Object.assign(el, { [key]: value });
    else el.setAttribute(key, value);
  }
  el.append(...children);
  return el;
};

/** @param {string} command @param {string} option The name of a field on the page. */
export const idOf = (command, option) => `field-${command}-${option}`;

/**
 * A field with its label, hint and what is wrong with it.
 * @param {string} command @param {import('./fields.js').Field} field @param {() => void} [changed]
 */
export const fieldBox = (command, field, changed = () => {}) => {
  const id = idOf(command, field.option);
  const values = chosen(command, field.option);
  const wrong = make('p', { className: 'wrong', id: `${id}-wrong`, role: 'alert', hidden: true });
  const hint = field.hint ? [make('p', { className: 'hint', id: `${id}-hint` }, [field.hint])] : [];
  const described = `${field.hint ? `${id}-hint ` : ''}${id}-wrong`;
  let input;
  const keep = async value => {
    const sentence = await choose(command, field.option, value);
    wrong.textContent = sentence ? sentence.replace(/^--\S+: /, '') : '';
    wrong.hidden = !sentence;
    input.setAttribute('aria-invalid', String(Boolean(sentence)));
    if (!sentence) changed();
  };
  if (field.kind === 'choice') {
    input = make('select', { id, onchange: () => keep(input.value ? [input.value] : []) }, (field.choices || []).map(([value, name]) => make('option', { value }, [name])));
    input.value = values[0] || '';
  } else if (field.kind === 'switch') {
    input = make('input', { id, type: 'checkbox', checked: values.length > 0, onchange: () => keep(input.checked ? [''] : []) });
  } else {
    const trimmed = () => input.value.trim();
    input = make(field.kind === 'area' ? 'textarea' : 'input', { id, autocomplete: 'off', spellcheck: field.kind === 'area', onchange: () => keep(trimmed() || field.clears ? [trimmed()] : []) });
    if (field.kind !== 'area') input.type = 'text';
    input.value = values[0] || '';
  }
  input.setAttribute('aria-describedby', described);
  input.dataset.option = field.option;
  const label = make('label', { className: 'name', htmlFor: id }, [field.name]);
  return make('div', { className: `field${field.short ? ' short' : ''}` }, [label, ...hint, input, wrong]);
};

/** All fields of a step, the rarely used ones folded away. @param {import('./fields.js').Step} step @param {() => void} [changed] */
export const fieldBoxes = (step, changed) => {
  const command = step.command || '';
  const [first, more] = [step.fields.filter(f => !f.more), step.fields.filter(f => f.more)];
  const boxes = first.map(f => fieldBox(command, f, changed));
  if (more.length > 0) {
    const used = more.some(f => chosen(command, f.option).length > 0);
    boxes.push(make('details', { open: used }, [make('summary', {}, ['More choices']), ...more.map(f => fieldBox(command, f, changed))]));
  }
  return boxes;
};
