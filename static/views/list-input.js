/**
 * A list in a form: numbers are typed as a run, 23 31 18; anything else is a group of inputs an item, added and
 * removed.
 * What is typed stays as it is until it is saved: a run as its text, items as what stands in their inputs.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { dayWords } from '../days.js';
import { checkItem, ordinal } from '../records/validate.js';
import { counted, fromBox, inBox, typedNumber } from './words.js';

/** @typedef {import('../records/form.js').Input} Input */
/** @typedef {Record<string, any>} Item what stands in an item's inputs, by their fields */

/** @param {Input} input @returns {Input[]} */
const innerOf = (input) => /** @type {Input[]} */ (input.inner);

/** @param {Input} input @returns {boolean} whether a list is typed as a run of numbers */
const isRun = (input) => input.isBare === true && innerOf(input)[0].control === 'number';

/** @param {Input} inner @param {boolean} feet @returns {boolean} whether it is shown in feet */
const inFeet = (inner, feet) => feet && inner.unit === 'm';

/** @param {string} text @returns {string[]} a comma between numbers parts them, one within a number is its point */
const partsOf = (text) => text.split(/[\s;]+/u).map((part) => part.replace(/,+$/u, '')).filter(Boolean);

/**
 * @param {Input} input @param {any[]} value @param {boolean} feet
 * @returns {string|Item[]} the list as it stands in the form
 */
export function typedList(input, value, feet) {
  const box = (/** @type {Input} */ inner, /** @type {any} */ item) =>
    (typeof item === 'number' && inner.control === 'number' ? inBox(item, inFeet(inner, feet)) : item);
  const [first] = innerOf(input);
  if (isRun(input)) return value.map((item) => box(first, item)).join(' ');
  return value.map((item) => (input.isBare ? { [first.name]: item }
    : Object.fromEntries(innerOf(input).filter(({ name }) => (item[name] ?? null) !== null)
      .map((inner) => [inner.name, box(inner, item[inner.name])]))));
}

/** @param {string} text @param {string} field */
const noNumber = (text, field) => ({ field, word: 'bad-type', hard: true,
  sentence: `\u201c${text}\u201d is not a number. Type digits, with a point or a comma for decimals.` });

/** @param {Input} inner @param {any} typed @param {boolean} feet @returns {{value: any, faults: any[]}} */
function readValue(inner, typed, feet) {
  if (inner.control !== 'number') return { value: typed, faults: [] };
  const number = typedNumber(String(typed));
  return number === null ? { value: null, faults: [noNumber(typed, inner.name)] }
    : { value: fromBox(number, inFeet(inner, feet)), faults: [] };
}

/** @param {Input} input @param {Item} item @param {boolean} feet @returns {{value: any, faults: any[]}} */
function readItem(input, item, feet) {
  const filled = innerOf(input).filter(({ name }) => (item[name] ?? '') !== '');
  const read = filled.map((inner) => ({ name: inner.name, ...readValue(inner, item[inner.name], feet) }));
  const faults = read.flatMap((part) => part.faults);
  if (input.isBare) return { value: read[0]?.value ?? null, faults };
  const value = read.filter((part) => part.value !== null).map((part) => [part.name, part.value]);
  return { value: Object.fromEntries(value), faults };
}

/**
 * What is typed, as the record's list.
 * @param {Input} input @param {string|Item[]} typed @param {boolean} feet
 * @returns {{value: any[], faults: any[]}} faults: what is no number; the list's limits are `check`'s to judge
 */
export function readList(input, typed, feet) {
  const read = typeof typed === 'string' ? partsOf(typed).map((part) => readValue(innerOf(input)[0], part, feet))
    : typed.map((item) => readItem(input, item, feet));
  const faults = read.flatMap((item, n) => item.faults.map((fault) =>
    ({ ...fault, field: input.name, sentence: `${input.title}, the ${ordinal(n + 1)}: ${fault.sentence}` })));
  return { value: typeof typed === 'string' ? read.map(({ value }) => value).filter((value) => value !== null)
    : read.map(({ value }) => value), faults };
}

/**
 * @param {Input} input @param {any} value @param {any} other
 * @returns {boolean} whether two values of a field are the same; lists are where they say the same
 */
export function isSameValue(input, value, other) {
  if (input.control !== 'list') return value === other;
  const plain = (/** @type {any} */ list) => JSON.stringify((list ?? []).map((/** @type {any} */ item) =>
    (input.isBare ? item : innerOf(input).map(({ name }) => item[name] ?? null))));
  return plain(value) === plain(other);
}

/**
 * 23, 31, 18 mm; of small records how many there are, as the server says it (fieldlog/flags/values.py).
 * @param {Input} input @param {any[]} items
 */
export function listWords(input, items) {
  const [inner] = innerOf(input);
  if (!items.length) return 'an empty list';
  if (!input.isBare || inner.control === 'ref') return `a list of ${items.length}`;
  const word = (/** @type {any} */ item) => inner.choices.find((choice) => choice.value === item)?.label
    ?? (typeof item === 'boolean' ? (item ? 'yes' : 'no') : inner.control === 'date' ? dayWords(item, { year: true })
      : String(item));
  return `${items.map(word).join(', ')}${inner.unit ? `${inner.unit === '\u00b0' ? '' : ' '}${inner.unit}` : ''}`;
}

/**
 * @typedef {(form: import('./record-form.js').RecordForm, input: Input, title: string, hint: unknown,
 *   words: unknown[]) => unknown} Draw words: what is wrong or odd with it
 */

/** A list's inputs. @type {Draw} */
export const listInput = (form, input, ...told) => (isRun(input) ? runInput : itemsInput)(form, input, ...told);

/**
 * A run. A phone's digits have no key for a space, so a button begins the next number.
 * @type {Draw}
 */
function runInput(form, input, title, hint, words) {
  const id = `f-${input.name}`;
  const text = String(form.typed[input.name] ?? '');
  const unit = form.unitOf(innerOf(input)[0]);
  const numbers = partsOf(text).map(typedNumber);
  const next = () => {
    form.set(input.name, `${text.trimEnd()} `);
    document.getElementById(id)?.focus();
  };
  return html`<div class="field ${words.length ? 'wrong' : ''}"><label class="label-text" for=${id}>${title}${unit
    ? `, ${unit}` : ''}<small id="${id}-hint">${hint}</small></label>
    <div class="lead"><textarea class="line" rows="2" id=${id} name=${input.name} autocomplete="off"
      inputmode=${(innerOf(input)[0].least ?? -1) < 0 ? 'text' : 'decimal'}
      aria-invalid=${form.isWrong(input.name) ? 'true' : nothing} aria-describedby="${id}-hint ${id}-read ${id}-said"
      .value=${text} @input=${(/** @type {any} */ event) => form.set(input.name, event.target.value)}></textarea>
      <button type="button" class="or" aria-label="Next number: ${title}" @click=${next}>Next number</button></div>
    <small id="${id}-read" role="status">${numbers.length && numbers.every((number) => number !== null)
      ? `${counted(numbers.length, 'number')}: ${numbers.join(', ')}${unit ? ` ${unit}` : ''}` : ''}</small>
    <div id="${id}-said">${words}</div></div>`;
}

/** Items, each a group. @type {Draw} */
function itemsInput(form, input, title, hint, words) {
  const id = `f-${input.name}`;
  /** @type {Item[]} */ const items = form.typed[input.name] ?? [];
  const focusOn = (/** @type {string} */ selector) => queueMicrotask(() =>
    /** @type {HTMLElement|null} */ (document.querySelector(selector))?.focus());
  const add = () => {
    form.set(input.name, [...items, {}]);
    focusOn(`#${CSS.escape(`${id}-${items.length}`)} :is(input, select, textarea)`);
  };
  const remove = (/** @type {number} */ n) => {
    form.set(input.name, items.filter((_item, place) => place !== n));
    focusOn(`#${CSS.escape(`${id}-add`)}`);
  };
  return html`<fieldset name=${input.name} tabindex="-1"
    aria-describedby="${id}-said"><legend>${title}</legend><small>${hint}</small>
    ${items.map((item, n) => html`<div class="item" role="group" id="${id}-${n}"
      aria-label="${title}, the ${ordinal(n + 1)}"><b aria-hidden="true">${ordinal(n + 1)}</b>
      ${itemInputs(form, input, item, n)}
      <button type="button" class="or" aria-label="Remove: ${title}, the ${ordinal(n + 1)}"
        @click=${() => remove(n)}>Remove</button></div>`)}
    ${input.most !== null && items.length >= input.most ? nothing : html`<button type="button" class="or"
      id="${id}-add" aria-label="Add one: ${title}" @click=${add}>Add one</button>`}
    <div id="${id}-said">${words}</div></fieldset>`;
}

/**
 * The inputs of one item: the form's own ways to draw and to say what is wrong, over this item alone.
 * @param {import('./record-form.js').RecordForm} form @param {Input} input @param {Item} item @param {number} n
 */
function itemInputs(form, input, item, n) {
  const fullName = (/** @type {string} */ name) => `${input.name}.${n}.${name}`;
  const inner = innerOf(input).map((each) => ({ ...each, name: fullName(each.name), field: each.name }));
  const { feet } = form.stage.settings;
  const { value, faults } = readItem(input, item, feet);
  const wrong = faults.concat(checkItem(form.form.properties[input.name], value)
    .filter(({ field, word }) => (word !== 'missing' || form.tried) && !faults.some((fault) => fault.field === field)));
  const ofItem = Object.assign(Object.create(form), {
    last: null, asked: new Map(), inputs: new Map(inner.map((each) => [each.name, each])),
    typed: Object.fromEntries(Object.entries(item).map(([name, typed]) => [fullName(name), typed])),
    refs: Object.fromEntries(inner.map((each) => [each.name, form.refs[`${input.name}.${each.field}`]])),
    saidOf: (/** @type {string} */ name) => wrong.filter(({ field }) => fullName(field) === name),
    set: (/** @type {string} */ name, /** @type {any} */ typed) => {
      const { field } = /** @type {{field: string}} */ (inner.find((each) => each.name === name));
      const { [field]: _was, ...rest } = item;
      const changed = typed === '' || typed === null ? rest : { ...rest, [field]: typed };
      form.set(input.name, form.typed[input.name].map((/** @type {Item} */ other, /** @type {number} */ place) =>
        (place === n ? changed : other)));
    },
  });
  return inner.map(({ name }) => ofItem.input(name));
}
