/** How a number is written in a sentence, digit for digit as the server writes it (fieldlog/rounding.py). */

/** @param {number} value @param {number} digits @returns {string} halves rounded up, never "-0" */
export function rounded(value, digits) {
  const scale = 10 ** digits;
  return (Math.floor(value * scale + 0.5) / scale + 0).toFixed(digits);
}

/** A number with its noun: 1 entry, 3 entries. @param {number} count @param {string} singular @param {string} [many] */
export const counted = (count, singular, many = `${singular}s`) => `${count} ${count === 1 ? singular : many}`;

/** @param {number} value @param {number} digits @returns {string} as `rounded`, without zeros at the end */
export function shortest(value, digits) {
  const text = rounded(value, digits);
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
}
