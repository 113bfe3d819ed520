/** Unit tags: row letter, slot in two digits, Damm's check digit. The same as fieldlog/records/tags.py. */

const QUASIGROUP = [
  '0317598642', '7092154863', '4206871359', '1750983426', '6123045978',
  '3674209581', '5869720134', '8945362017', '9438617205', '2581436790',
];
const MOST_SLOT = 999;

/** @param {string} digits @returns {string} Damm's check digit: "572" gives "4" */
export function checkDigit(digits) {
  let interim = 0;
  for (const digit of digits) interim = Number(QUASIGROUP[interim][Number(digit)]);
  return String(interim);
}

/** @param {string} letter @param {string} slotDigits */
function withCheck(letter, slotDigits) {
  const place = (letter.charCodeAt(0) - 64) % 10;
  return `${letter}${slotDigits}${checkDigit(`${place}${slotDigits}`)}`;
}

/** The letter of a row, by which its tags begin. @param {string} rowName "D", "Row D" @returns {string|null} */
export const rowLetter = (rowName) => /^(?:.* )?([A-Za-z])$/.exec(rowName.trim())?.[1].toUpperCase() ?? null;

/**
 * The tag of a slot in a row.
 * @param {string} rowName a single letter, or words that end in one: "D", "Row D" @param {number} slot 0 to 999
 * @returns {string|null} null where the row's name ends in no single letter or the slot is out of range
 */
export function tagFor(rowName, slot) {
  const letter = rowLetter(rowName);
  if (!letter || !Number.isInteger(slot) || slot < 0 || slot > MOST_SLOT) return null;
  return withCheck(letter, String(slot).padStart(2, '0'));
}

/** @param {string} text @returns {string|null} why the tag cannot be right; null where it can */
export function checkTag(text) {
  const parts = /^([A-Z])([0-9]{2,3})([0-9])$/.exec(text);
  if (parts === null) {
    return `Tag ${text} is not a row letter, two or three digits and a check digit, as in ${withCheck('D', '03')}.`;
  }
  const wanted = withCheck(parts[1], parts[2]);
  if (wanted === text) return null;
  return `Tag ${text} does not fit its check digit: ${parts[1]}${parts[2]} would end in ${wanted.slice(-1)}. Read `
    + 'the tag again.';
}

/**
 * Whether a tag is one of ours, with a check digit: what its record says of it; where that says nothing, as records of
 * apps up to 0.3.0 do, whether the digit is right. Only tags that are said to be ours can be wrong.
 * @param {string|null|undefined} tag @param {boolean|number|null|undefined} madeHere
 */
export const tagMadeHere = (tag, madeHere) =>
  (madeHere === null || madeHere === undefined ? typeof tag === 'string' && checkTag(tag) === null : Boolean(madeHere));

/** A letter and three or four digits, whichever: what a tag of ours looks like. */
const SHAPE = /^[A-Z][0-9]{3,4}$/i;

/**
 * Whether a tag as it is typed is taken for one of ours: its digit is right, or it looks like ours and most tags here
 * that do are, so that its digit was misread. Of tags that stand on the concrete one in ten fits by chance.
 * @param {string} tag @param {{tag?: string|null, tag_made_here?: boolean|null}[]} units that are here
 */
export function isTakenForOurs(tag, units) {
  if (checkTag(tag) === null) return true;
  if (!SHAPE.test(tag)) return false;
  const alike = units.filter((unit) => SHAPE.test(unit.tag ?? ''));
  return alike.filter((unit) => tagMadeHere(unit.tag, unit.tag_made_here)).length * 2 > alike.length;
}
