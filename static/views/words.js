/** Times, levels and lengths as people read them. Times are always in the site's zone. */
import { dayWords, localDay, monthWords } from '../days.js';
import { instant } from '../instants.js';
import { counted, rounded } from '../rounding.js';

const MINUTE = 60_000;
/** Longer ago than this, a day is told with its year. */
const HALF_YEAR_MS = 183 * 86_400_000;
const FEET_IN_A_METRE = 1 / 0.3048;

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/**
 * @param {string} zone IANA zone
 * @param {string} name which format
 * @param {Intl.DateTimeFormatOptions} options
 */
function format(zone, name, options) {
  const key = `${zone} ${name}`;
  let made = formats.get(key);
  if (!made) {
    made = new Intl.DateTimeFormat('en-GB', { timeZone: zone, ...options });
    formats.set(key, made);
  }
  return made;
}

/**
 * A time zone that this phone can tell times in.
 * @param {unknown} zone @returns {string|null} null where it does not know it
 */
export function knownZone(zone) {
  if (typeof zone !== 'string' || !zone) return null;
  try {
    format(zone, 'clock', CLOCK);
    return zone;
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}

/** @type {Intl.DateTimeFormatOptions} */
const CLOCK = { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' };

/** @param {number} ms @param {string} zone @returns {string} 07:26 */
export const clock = (ms, zone) =>
  format(zone, 'clock', CLOCK).format(ms);

/** @param {number} ms @param {string} zone @returns {string} Wed, Nov 25 */
export const day = (ms, zone) => dayWords(localDay(ms, zone), { weekday: true });

/** @param {number} ms @param {string} zone @returns {string} Nov 25, 2026 */
export const fullDay = (ms, zone) => dayWords(localDay(ms, zone), { year: true });

/** @param {number} ms @param {string} zone @returns {string} November 2026 */
export const month = (ms, zone) => monthWords(localDay(ms, zone));

export { counted, instant, localDay };

/**
 * A day as short as it stays clear: with its year where it lies half a year off.
 * @param {number} ms @param {number} nowMs @param {string} zone
 */
export const nearDay = (ms, nowMs, zone) => (Math.abs(ms - nowMs) > HALF_YEAR_MS ? fullDay : day)(ms, zone);

/**
 * The moment as short as it stays clear: only the time for today.
 * @param {number} ms @param {number} nowMs @param {string} zone
 */
export const moment = (ms, nowMs, zone) =>
  localDay(ms, zone) === localDay(nowMs, zone) ? clock(ms, zone) : `${nearDay(ms, nowMs, zone)}, ${clock(ms, zone)}`;

/** @param {string|null|undefined} text @returns {number|null} */
export const msOf = (text) => (text ? Date.parse(text) : null);

/**
 * The moment that a record says, its day alone where its time is not known.
 * @param {{time_known?: boolean|null}} row @param {string|null|undefined} instant @param {number} nowMs
 * @param {string} zone @returns {string}
 */
export const momentOf = (row, instant, nowMs, zone) =>
  (row.time_known === false ? fullDay(msOf(instant) ?? 0, zone) : moment(msOf(instant) ?? 0, nowMs, zone));

/**
 * The time of day that a record says; its day may stand beside it.
 * @param {{time_known?: boolean|null}} row @param {number} ms @param {string} zone @returns {string}
 */
export const clockOf = (row, ms, zone) => (row.time_known === false ? TIME_NOT_KNOWN : clock(ms, zone));
const TIME_NOT_KNOWN = 'time not known';

/**
 * Where a record stands among others: noon stands for a day alone, which says nothing of the order within it. It goes
 * before all that have a time on that day.
 * @param {{time_known?: boolean|null, [field: string]: any}} row @param {string|null|undefined} instant
 * @returns {number} milliseconds
 */
export const turnMs = (row, instant) => (msOf(instant) ?? 0) - (row.time_known === false ? HALF_DAY_MS : 0);
const HALF_DAY_MS = 12 * 3_600_000;

/** @param {number} ms @returns {{days: number, hours: number, minutes: number}} whole minutes, rounded down */
export function spanParts(ms) {
  const minutes = Math.floor(Math.abs(ms) / MINUTE);
  return { days: Math.floor(minutes / 1440), hours: Math.floor(minutes / 60) % 24, minutes: minutes % 60 };
}

/** @param {number} ms @returns {string} 1 h 42 min */
export function spanWords(ms) {
  const { days, hours, minutes } = spanParts(ms);
  if (days) return hours ? `${days} d ${hours} h` : `${days} d`;
  if (hours) return minutes ? `${hours} h ${minutes} min` : `${hours} h`;
  return `${minutes} min`;
}

/** @param {number|null|undefined} value_m @param {boolean} feet @returns {string} 0.18 m, or in feet */
export function length(value_m, feet) {
  if (value_m === null || value_m === undefined) return 'not known';
  const shown = feet ? value_m * FEET_IN_A_METRE : value_m;
  return `${rounded(shown, feet ? 1 : 2).replace('-', '\u2212')} ${feet ? 'ft' : 'm'}`;
}

/**
 * A number for an input box that speaks feet while the record keeps metres.
 * @param {number} value_m @param {boolean} feet
 */
export const inBox = (value_m, feet) =>
  String(feet ? Number(rounded(value_m * FEET_IN_A_METRE, 2)) : value_m);

/** @param {number} shown @param {boolean} feet @returns {number} metres, to the millimetre */
export const fromBox = (shown, feet) => (feet ? Number(rounded(shown / FEET_IN_A_METRE, 3)) : shown);

/** @param {number} bytes */
export const size = (bytes) =>
  bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : bytes < 1e9 ? `${Math.round(bytes / 1e6)} MB`
    : `${rounded(bytes / 1e9, 1)} GB`;

/**
 * Read a number as fingers in wet gloves type it: a comma is a decimal point.
 * @param {string} text @returns {number|null} null when it is no number
 */
export function typedNumber(text) {
  const tidy = text.trim().replace(',', '.').replace('\u2212', '-');
  return /^[-+]?(\d+\.?\d*|\.\d+)$/.test(tidy) ? Number(tidy) : null;
}

const SIGN = /^\s*[-+\u2212]\s*/;

/** @param {string} text as typed @returns {boolean} whether it begins with a minus */
export const isMinus = (text) => /^\s*[-\u2212]/.test(text);

/** @param {string} text as typed @returns {boolean} whether the digits are still to come */
export const isSignOnly = (text) => text !== '' && text.replace(SIGN, '') === '';

/** @param {string} text as typed @returns {string} with the other sign; a plus is not written */
export const withSignTurned = (text) => (isMinus(text) ? '' : '-') + text.replace(SIGN, '');
