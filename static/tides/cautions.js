/** The sentences of a window's cautions, made from a word and the window's numbers; the server's are the same. */
import { dayWords, localDay } from '../days.js';
import { rounded } from '../rounding.js';

const USUAL =
  'Predicted from the tide alone: wind, waves, air pressure and rain move the water. ' +
  'Trust what you see; local rules and authorities come first.';

/** @type {Record<string, string>} */
const FIXED = {
  predicted: USUAL,
  estimated: 'Estimated: this station publishes only highs and lows. The curve between them comes from another '
    + 'station.',
  'same-window': 'This low and a deeper one share one long dry time. See the deeper low.',
  dark: 'Dark from start to end: no daylight while the water is low enough.',
  'polar-night': 'Polar night: the Sun stays more than 6 degrees below the horizon all day.',
  'stays-below': 'The water stays below the work level through a high next to this low. The minutes end at that '
    + 'high.',
  'route-stays-dry': 'The path is not predicted to flood within a day after this low, so it sets no turn-back time.',
};

/**
 * @typedef {{name: string, from_day: string, to_day: string, every_year: boolean, stops: boolean}} Closure days of the
 *   site's clock, both included
 */

/** @param {Closure} one @param {string} day */
function holds({ from_day: first, to_day: last, every_year: everyYear }, day) {
  if (!everyYear) return first <= day && day <= last;
  const [from, to, at] = [first, last, day].map((date) => date.slice(5));
  return from <= to ? from <= at && at <= to : at >= from || at <= to;
}

/**
 * The closure that holds on the site's day of an instant: one that stops before one that asks for care.
 * @param {import('./windows.js').Rules} rules @param {number} ms @returns {Closure|null}
 */
export function closureOn({ zone, closures = [] }, ms) {
  if (!closures.length) return null;
  const day = localDay(ms, zone);
  const holding = closures.filter((closure) => holds(closure, day));
  return holding.find((closure) => closure.stops) ?? holding[0] ?? null;
}

/** @param {import('./windows.js').Window} window @param {import('./windows.js').Rules} rules */
function closureWords(window, rules) {
  const closure = closureOn(rules, window.lowMs);
  const year = !closure?.every_year;
  return closure ? `${closure.name}, ${dayWords(closure.from_day, { year })} to ${dayWords(closure.to_day, { year })}`
    : 'a closure';
}

/** @type {Record<string, (window: import('./windows.js').Window, rules: import('./windows.js').Rules) => string>} */
const MADE = {
  // A pack of an older server does not say how much.
  incomplete: (window, rules) =>
    `This station's prediction leaves out small parts of the tide, ${rules.left_out_m
      ? `${metres(rules.left_out_m)} together` : 'of unknown size'}: the water may be ${
      rules.left_out_m ? 'that much ' : ''}higher or lower.`,
  closed: (window, rules) => `Closed: ${closureWords(window, rules)}. Follow the permit and the local authority.`,
  care: (window, rules) => `Go with care: ${closureWords(window, rules)}.`,
  'above-work': (window, rules) =>
    `The low stays above the work level: ${sum(window, rules)}, work level `
      + `${metres(window.bedLevelM ?? rules.work_level_m)}.`,
  'route-wet': (window, rules) =>
    `The path stays under water: ${sum(window, rules)}, lowest point of the path ${metres(rules.route_low_level_m)}.`,
  'turn-back-first': (window, { zone }) =>
    `The turn-back time ${clock(window.backMs, zone)} comes before the work area opens at `
      + `${clock(window.opensMs, zone)}.`,
  'route-late': (window, { zone }) =>
    `The path is dry only from ${clock(window.driesMs, zone)}: the minutes start after that walk.`,
  short: (window, rules) =>
    `Too short: ${window.usableMin} min usable; this site asks for ${Math.ceil(rules.least_usable_min)} min.`,
  partly: (window, { zone }) =>
    `Daylight shortens it: usable from ${clock(window.fromMs, zone)} to ${clock(window.untilMs, zone)}, with both `
      + 'walks in daylight.',
  'water-higher': (window, { zone }) =>
    `The water is higher than predicted: turn back by ${clock(window.backMs, zone)}.`,
};

/**
 * The sentence of a caution's word; the pack carries words only.
 * @param {string} word @param {import('./windows.js').Window} window
 * @param {import('./windows.js').Rules} rules with its allowance
 */
export const cautionSentence = (word, window, rules) => FIXED[word] ?? MADE[word](window, rules);

/** @param {import('./windows.js').Window} window @param {import('./windows.js').Rules} rules */
const sum = (window, rules) => `${metres(window.lowM)} predicted plus ${metres(rules.allowance_m ?? 0)} allowance`;

/** @param {number} m */
const metres = (m) => `${rounded(m, 2)} m`;

/** @type {Map<string, Intl.DateTimeFormat>} */
const clocks = new Map();

/** An instant on the site's clock. @param {number|null} ms @param {string} zone */
export function clock(ms, zone) {
  if (ms === null) return 'an unknown time';
  let format = clocks.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat('en-GB', { timeZone: zone, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' });
    clocks.set(zone, format);
  }
  return format.format(ms);
}
