/** A place as people write it: degrees, degrees and minutes, or degrees, minutes and seconds. */
import { rounded } from '../rounding.js';

/** Signs of degrees, minutes and seconds, and what else stands between the numbers of a pasted place. */
const SPOKEN = new RegExp('\\b(?:geo|latitude|longitude|lat|lon|lng|long|deg|degrees|min|sec)\\b'
  + '|[\u00b0\u00ba\'"\u2032\u2033\u2018\u2019\u201c\u201d;:=()]', 'gi');
const SIXTIETHS = [1, 60, 3600];

/**
 * A value out of its degrees, minutes and seconds.
 * @param {number[]} parts degrees with their sign, then minutes, then seconds @param {boolean} isNegative
 * @returns {number|null} null where a part cannot be one
 */
function degreesOf(parts, isNegative) {
  const [degrees, ...rest] = parts;
  if (rest.some((part) => part >= 60) || (rest.length && !Number.isInteger(degrees))) return null;
  if (rest.length > 1 && !Number.isInteger(rest[0])) return null;
  const value = parts.reduce((sum, part, n) => sum + Math.abs(part) / SIXTIETHS[n], 0);
  return Number(rounded(isNegative ? -value : value, 6));
}

/**
 * The numbers of a text, each with its sign: a comma is a decimal sign, unless the numbers then do not pair.
 * @param {string} text @returns {string[]|null} null where they pair in neither way
 */
function numbersOf(text) {
  const readings = [/[-+]?\d+(?:[.,]\d+)?/g, /[-+]?\d+(?:\.\d+)?/g];
  return readings.map((reading) => text.match(reading) ?? []).find((list) => [2, 4, 6].includes(list.length)) ?? null;
}

/**
 * Latitude and longitude out of what was typed or pasted: "44.63, -124.04", "44\u00b0 37.8' N 124\u00b0 2.4' W",
 * "N44 37 48, W124 2 24". Latitude comes first, unless letters say otherwise.
 * @param {string} text @returns {{lat_deg: number, lon_deg: number}|null} null where it is no place
 */
export function placeOf(text) {
  const tidy = text.trim().replace(/[\u2212\u2013]/g, '-').replace(SPOKEN, ' ');
  const letters = (tidy.match(/[A-Za-z]+/g) ?? []).map((letter) => letter.toUpperCase());
  const numbers = numbersOf(tidy);
  if (!numbers || /[^\s\dA-Za-z.,+-]/.test(tidy)) return null;
  if (letters.length && !/^(?:[NS][EW]|[EW][NS])$/.test(letters.join(' ').replace(' ', ''))) return null;
  const half = numbers.length / 2;
  const values = [numbers.slice(0, half), numbers.slice(half)].map((list, n) => {
    const isSigned = list.some((number, place) => /^[-+]/.test(number) && (place > 0 || letters.length > 0));
    const isNegative = letters.length ? 'SW'.includes(letters[n]) : list[0].startsWith('-');
    return isSigned ? null : degreesOf(list.map((number) => Number(number.replace(',', '.'))), isNegative);
  });
  const [lat_deg, lon_deg] = 'EW'.includes(letters[0] ?? 'N') ? values.reverse() : values;
  if (lat_deg === null || lon_deg === null || Math.abs(lat_deg) > 90 || Math.abs(lon_deg) > 180) return null;
  return { lat_deg, lon_deg };
}
