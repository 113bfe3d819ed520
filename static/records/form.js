/** From a kind's form description to a list of inputs that a view can draw. No DOM here. */

/**
 * @typedef {object} Input
 * @property {string} name the field
 * @property {string} title
 * @property {string} about one line under it; '' where there is none
 * @property {'number'|'choices'|'yesno'|'text'|'instant'|'date'|'ref'|'list'} control yesno gives true and false
 * @property {boolean} required the form insists on it
 * @property {boolean} last whether the last value is shown beside it
 * @property {boolean} whole whether only whole numbers fit
 * @property {string} unit '' where it has none
 * @property {number|null} least hard limits, inclusive; of a list, how many items
 * @property {number|null} most
 * @property {[number, number]|null} plausible outside these the form asks "sure?"
 * @property {{value: string|number, label: string}[]} choices
 * @property {number|null} letters the greatest length of a text
 * @property {boolean} long whether a text wants several lines
 * @property {string|null} refers the kind a ref points to, or the field of the same record that names it
 * @property {boolean} across whether it may name a record of another site; for leads of both
 * @property {Input[]} [inner] of a list, the inputs of one item
 * @property {boolean} [isBare] whether the items of a list are its one inner field's values
 * @property {any} initial the value proposed in a new record; null where there is none
 */

/** From how many letters on a text is given several lines. */
const LONG_TEXT = 300;

/** @type {Record<string, Input['control']>} */
const CONTROLS = {
  number: 'number', whole: 'number', choice: 'choices', yesno: 'yesno', text: 'text', tag: 'text',
  zone: 'text', instant: 'instant', date: 'date', ref: 'ref', list: 'list',
};

/** @param {Record<string, any>} of @returns {Input['choices']} */
function choicesOf(of) {
  const value = of['x-type'] === 'whole' ? Number : String;
  return Object.entries(of['x-labels'] ?? {}).map(([word, label]) => ({ value: value(word), label }));
}

/** @param {string} name @param {Record<string, any>} of @param {boolean} required @returns {Input} */
function inputOf(name, of, required) {
  const choices = choicesOf(of);
  return {
    name,
    title: of.title,
    about: of.description ?? '',
    control: choices.length > 0 ? 'choices' : CONTROLS[of['x-type']],
    required,
    last: of['x-last'] === true,
    whole: of['x-type'] === 'whole',
    unit: of['x-unit'] ?? '',
    least: of.minimum ?? of.minItems ?? null,
    most: of.maximum ?? of.maxItems ?? null,
    plausible: of['x-plausible'] ?? null,
    choices,
    letters: of.maxLength ?? null,
    long: (of.maxLength ?? 0) >= LONG_TEXT,
    refers: of['x-ref'] ?? null,
    across: of['x-across'] === true,
    initial: of.default ?? null,
    ...(of['x-type'] === 'list' ? innerOf(of.items) : {}),
  };
}

/** @param {Record<string, any>} items what a list says of its items */
const innerOf = (items) => ({
  isBare: !items.properties,
  inner: items.properties
    ? Object.entries(items.properties).map(([name, of]) => inputOf(name, of, items.required.includes(name)))
    : [inputOf(items['x-name'], items, true)],
});

/**
 * The inputs of a kind, in the order of declaration. Fields that no person types (hashes, flag ids, the mark
 * of a removed record) are left out.
 * @param {import('./validate.js').Form} form
 * @returns {Input[]}
 */
export const describe = (form) =>
  Object.entries(form.properties)
    .filter(([name, of]) => !name.startsWith('_') && Object.hasOwn(CONTROLS, of['x-type']))
    .map(([name, of]) => inputOf(name, of, (form.required ?? []).includes(name)));
