/** A signature as strokes, each the text of an SVG path: whole numbers in a box of 300 by 100. */

export const BOX = { width: 300, height: 100 };
/** As fieldlog/records/waiver_signed.py has them: strokes, and letters of one; and of all together, which is plenty. */
export const MOST_STROKES = 12;
const MOST_LETTERS = 2000;
const MOST_IN_ALL = 6000;

/** A path of our own making, and nothing else: what came from another phone is drawn only where it is one. */
const STROKE = /^M\d{1,3} \d{1,3}(?:L\d{1,3} \d{1,3})*$/;

/** @param {unknown} strokes @returns {string} one path; empty where there is none, or something else */
export const pathOf = (strokes) => (Array.isArray(strokes) && strokes.length <= MOST_STROKES
  && strokes.every((stroke) => typeof stroke === 'string' && stroke.length <= MOST_LETTERS && STROKE.test(stroke))
  ? strokes.join('') : '');

/** @typedef {[number, number][]} Points of one movement of the finger, in the box */

const within = (/** @type {number} */ value, /** @type {number} */ most) =>
  Math.min(most, Math.max(0, Math.round(value)));

/** @param {Points} points @returns {string} */
const written = (points) => points.map(([x, y], n) =>
  `${n ? 'L' : 'M'}${within(x, BOX.width)} ${within(y, BOX.height)}`).join('');

/** Every second point, and the last. @param {Points} points @returns {Points} */
const thinned = (points) => points.filter((_point, n) => n % 2 === 0 || n === points.length - 1);

/**
 * Strokes as they are kept: what would be too long loses points in between, and strokes after the twelfth are not kept.
 * @param {Points[]} strokes @returns {string[]}
 */
export function signatureOf(strokes) {
  let kept = strokes.filter((points) => points.length).slice(0, MOST_STROKES);
  const isTooLong = (/** @type {string[]} */ texts) => texts.join('').length > MOST_IN_ALL
    || texts.some((text) => text.length > MOST_LETTERS);
  while (isTooLong(kept.map(written))) kept = kept.map(thinned);
  return kept.map(written);
}
