/**
 * How long a sign-in is, and how one person's hours sum: as the server has it (fieldlog/hours/length.py,
 * tests/vectors/hours_cases.json). A time counts by the minute that its clock shows; seconds are dropped.
 */
import { localDay } from '../days.js';
import { rounded } from '../rounding.js';
import { MISTAKEN } from './mistaken.js';

/** @typedef {Partial<import('./rows.js').SignIn>} SignIn */
/** Minutes since 1970 UTC. @typedef {{signInId: string, fromMin: number, untilMin: number}} Turn */

const MINUTE_MS = 60_000;
/** No day is longer, whatever the clocks do. */
const LONGEST_DAY_MIN = 27 * 60;

/** @param {string} instant @returns {number} */
const minuteOf = (instant) => Math.floor(Date.parse(instant) / MINUTE_MS);

/** @param {SignIn} signIn @returns {Turn|string} or the word for why it has no length */
export function turnOf(signIn) {
  const { in_at: inAt, out_at: outAt, no_out_reason: reason } = signIn;
  if (reason === MISTAKEN.no_out_reason) return 'removed';
  if (signIn.time_known === false) return 'day-alone';
  if (!inAt || !outAt) return inAt && reason ? 'no-out' : 'open';
  if (Date.parse(outAt) < Date.parse(inAt)) return 'out-first';
  return { signInId: signIn.record_id ?? '', fromMin: minuteOf(inAt), untilMin: minuteOf(outAt) };
}

/**
 * One person's turns, no minute in two of them: of those that overlap the one that began first keeps the minutes.
 * @param {Turn[]} turns @returns {Turn[]} what is left of each, in the order of their beginnings
 */
export function countedOnce(turns) {
  let reached = -Infinity;
  return [...turns].sort((one, other) => one.fromMin - other.fromMin || (one.signInId < other.signInId ? -1 : 1))
    .map((turn) => {
      const fromMin = Math.max(turn.fromMin, Math.min(reached, turn.untilMin));
      reached = Math.max(reached, turn.untilMin);
      return { ...turn, fromMin };
    });
}

/**
 * Minutes by the days of a place's clock: a turn over midnight is parted there.
 * @param {Turn} turn @param {string} zone @returns {{day: string, minutes: number}[]}
 */
export function byDay({ fromMin, untilMin }, zone) {
  const parts = [];
  for (let at = fromMin; at < untilMin;) {
    const day = localDay(at * MINUTE_MS, zone);
    const end = endOf(day, at, Math.min(untilMin, at + LONGEST_DAY_MIN), zone);
    parts.push({ day, minutes: end - at });
    at = end;
  }
  return parts;
}

/**
 * The first minute that is no more of a day.
 * @param {string} day @param {number} at @param {number} last @param {string} zone
 */
function endOf(day, at, last, zone) {
  const isOf = (/** @type {number} */ minute) => localDay(minute * MINUTE_MS, zone) === day;
  if (isOf(last - 1)) return last;
  let [within, beyond] = [at, last - 1];
  while (beyond - within > 1) {
    const middle = Math.floor((within + beyond) / 2);
    if (isOf(middle)) within = middle;
    else beyond = middle;
  }
  return beyond;
}

/**
 * One person's time on the shore, no minute twice; a sign-in without a length counts as one and adds no time.
 * @param {SignIn[]} signIns @returns {{minutes: number, count: number}}
 */
export function timeOf(signIns) {
  const turns = signIns.map(turnOf).filter((turn) => typeof turn !== 'string');
  const minutes = countedOnce(turns).reduce((sum, { fromMin, untilMin }) => sum + untilMin - fromMin, 0);
  return { minutes, count: signIns.length };
}

/** @param {number} minutes @returns {string} 3.75 */
export const decimalHours = (minutes) => rounded(minutes / 60, 2);

/** Hours as they were typed, in whole minutes. @param {number} hours @returns {number} */
export const minutesOfHours = (hours) => Math.floor(hours * 60 + 0.5);
