/**
 * The sentences in which a value is doubted or turned down: what, the value, the limit with its unit, what to do.
 * fieldlog/records/sentences.py says the same, letter for letter (tests/vectors/records_values.json).
 */

const SHOWN_LETTERS = 40;

/** @param {string} text @returns {string[]} its letters, as code points */
export const letters = (text) => Array.from(text);

/** @param {string} text */
const shortened = (text) => {
  const all = letters(text);
  return all.length <= SHOWN_LETTERS ? text : `${all.slice(0, SHOWN_LETTERS).join('')}…`;
};

/** @param {string} number @param {string|undefined} unit */
const withUnit = (number, unit) => (unit === undefined ? number : unit === '°' ? `${number}°` : `${number} ${unit}`);

/** @param {unknown} value @returns {string} what kind of JSON value this is, said to a person */
function told(value) {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'number') return `the number ${value}`;
  if (typeof value === 'string') return `the text “${shortened(value)}”`;
  return Array.isArray(value) ? 'a list' : 'a group of values';
}

/** @param {string} wanted @param {string|undefined} unit */
export const inUnit = (wanted, unit) =>
  unit === undefined ? wanted : `${wanted} in ${unit === '°' ? 'degrees' : unit}`;

/** @param {string} title @param {string} wanted @param {unknown} value */
export const notA = (title, wanted, value) => `${title} must be ${wanted}; ${told(value)} is not. Enter it again.`;

/** @param {number} value @param {number} least @param {number} most @param {boolean} whole */
function slip(value, least, most, whole) {
  if (!whole && value > most && [10, 100, 1000].some((power) => least <= value / power && value / power <= most)) {
    return 'Was the decimal point left out?';
  }
  return least <= -value && -value <= most ? 'Is the sign right?' : 'Correct it, then save again.';
}

/**
 * @param {string} title @param {number} value @param {number} least @param {number} most @param {string|undefined} unit
 * @param {boolean} whole it has no decimal point to be left out
 */
export const outside = (title, value, least, most, unit, whole) =>
  `${title} is ${withUnit(String(value), unit)}; it must lie between ${withUnit(`${least} and ${most}`, unit)}. ` +
  slip(value, least, most, whole);

/** @param {string} title @param {number} value @param {number} least @param {number} most @param {string} [unit] */
export const unlikely = (title, value, least, most, unit) =>
  `${title} is ${withUnit(String(value), unit)}; ` +
  `it usually lies between ${withUnit(`${least} and ${most}`, unit)}. Is that right?`;

/** @param {string} title @param {number} count @param {number} least @param {number} most */
export const length = (title, count, least, most) =>
  count > most
    ? `${title} has ${count} letters; it may have ${most} at most. Shorten it, then save again.`
    : `${title} has ${count} letters; it must have ${least} at least. Say a little more, then save again.`;

/** @param {string} title @param {string} value @param {string[]} labels */
export const notOffered = (title, value, labels) =>
  `${title} is “${shortened(value)}”; it must be one of: ${labels.join('; ')}. Choose again.`;

/** @param {string} kindTitle @param {string} name */
export const noSuchField = (kindTitle, name) =>
  `“${kindTitle}” has no field “${shortened(name)}” in this version. ` +
  'The entry is kept; it is taken as soon as the version that knows it is here.';

/** @param {string} title */
export const missing = (title) => `${title} is not filled in. Fill it in, then save again.`;
