/**
 * Why people turn back when they do, and the walks that stand in it. A reason's sentence is made from its word, the
 * time and the site's rules, as on the server (`fieldlog/windows/turning.py`, tests/vectors/windows_cases.json).
 *
 * @typedef {'path'|'work'|'light'|'latest'|'closure'|'high'} BackWord the path floods; the work area floods; last
 *   light; the site's latest time after low; a closure begins; or the high after the low, beyond which all counts as
 *   the next low's
 * @typedef {import('./windows.js').Rules} Rules
 */
import { localDay } from '../days.js';
import { clock, closureOn } from './cautions.js';
import { constantsOf } from './constants.js';

export const MINUTE_MS = 60_000;
const DAY_MS = 24 * 60 * MINUTE_MS;

/** Of reasons that fall on the same second the first is told. @type {BackWord[]} */
export const BACK_WORDS = ['path', 'work', 'light', 'latest', 'closure', 'high'];

/** The whole minute at or after a time. @param {number} ms */
export const up = (ms) => Math.ceil(ms / MINUTE_MS) * MINUTE_MS;

/** The whole minute at or before a time. @param {number} ms */
export const down = (ms) => Math.floor(ms / MINUTE_MS) * MINUTE_MS;

/**
 * Kept free for walking in: the walk as measured, stretched, in whole minutes.
 * @param {{walk_out_min: number, constants?: import('./constants.js').Constants|null}} rules
 */
export const walkMs = (rules) => Math.ceil(constantsOf(rules).walk_out_factor * rules.walk_out_min) * MINUTE_MS;

/** The walk out, as measured, in whole minutes. @param {{walk_out_min: number}} rules */
export const outMs = (rules) => Math.ceil(rules.walk_out_min) * MINUTE_MS;

/**
 * When to leave home so as to stand on the far row as its minutes begin: the walk out then begins on dry ground.
 * @param {number} fromMs
 * @param {{walk_out_min: number, travel_min?: number|null, constants?: import('./constants.js').Constants|null}} rules
 */
export const leavesHomeMs = (fromMs, rules) =>
  down(fromMs - (rules.travel_min ?? constantsOf(rules).travel_min) * MINUTE_MS - outMs(rules));

/**
 * When work on a window's ground ends: a row floods, or is left, before all turn back.
 * @param {import('./windows.js').Window} window
 */
export const workEndsMs = ({ leaveMs, untilMs }) => leaveMs ?? untilMs;

/** To gather everyone, in whole minutes. @param {{muster_min: number}} rules */
export const musterMs = (rules) => Math.ceil(rules.muster_min) * MINUTE_MS;

/**
 * Why people turn back at a time, as words that follow a colon. What has come to pass is told so.
 * @param {BackWord|null} word @param {number|null} backMs @param {Rules} rules
 * @param {number} [nowMs] where a clock runs beside it @returns {string|null}
 */
export function backReason(word, backMs, rules, nowMs = -Infinity) {
  if (word === null || backMs === null) return null;
  const at = (/** @type {number} */ ms) => clock(ms, rules.zone);
  const minutes = (/** @type {number} */ ms) => Math.floor(ms / MINUTE_MS);
  const walkedMs = backMs + walkMs(rules);
  const gatherMin = minutes(walkMs(rules)) + minutes(musterMs(rules));
  const inMin = minutes(walkMs(rules));
  const floodsMs = walkedMs + musterMs(rules);
  const floods = (/** @type {number} */ ms) => `${ms <= nowMs ? 'has been under water since' : 'floods at'} ${at(ms)}`;
  switch (word) {
    case 'path': return `the path ${floods(floodsMs)}, and gathering and walking in take up to `
      + `${gatherMin} min`;
    case 'work': return `the work area ${floods(backMs)}`;
    case 'light':
      return `last light ${walkedMs <= nowMs ? 'was' : 'is'} ${at(walkedMs)}, and the walk in takes up to ${inMin} min`;
    case 'latest': return "the site's latest time after low";
    case 'closure':
      return `${closureOn(rules, walkedMs)?.name ?? 'a closure'} ${walkedMs <= nowMs ? 'began' : 'begins'} at `
        + `${at(walkedMs)}, and the walk in takes up to ${inMin} min`;
    default: return `the next high ${backMs <= nowMs ? 'was' : 'is'} at ${at(backMs)}`;
  }
}

/**
 * When to turn back, why, and how long that is away.
 * @param {import('./windows.js').Window} window shortened already by what was read on the shore @param {number} nowMs
 * @param {Rules} rules
 * @returns {{atMs: number|null, leftMs: number|null, reason: string|null, sentence: string}} null where no time is
 *   known
 */
export function turnBackState(window, nowMs, rules) {
  const atMs = window.backMs;
  if (atMs === null) {
    return { atMs, leftMs: null, reason: null,
      sentence: 'No turn-back time is known. Agree on one with your leader before anyone goes out.' };
  }
  const leftMs = atMs - nowMs;
  const minutes = Math.floor(Math.abs(leftMs) / MINUTE_MS);
  const at = clock(atMs, rules.zone);
  const sentence = leftMs > 0 ? `Turn back by ${at}: ${minutes} min left.`
    : `Turn back now: it was due at ${at}, ${minutes} min ago.`;
  return { atMs, leftMs, reason: backReason(window.backWord, atMs, rules, nowMs), sentence };
}

/**
 * For a row that has light on a low whose work area is open in the dark alone: back before that light ends.
 * @template {{backMs: number|null, backWord: BackWord|null}} Back
 * @param {Back} back @param {{fromMs: number, untilMs: number, light: {endsMs: number}|null}} bounds
 * @param {Rules} rules @returns {Back}
 */
export function inLight(back, { fromMs, untilMs, light }, rules) {
  const litMs = light && untilMs > fromMs ? down(light.endsMs - walkMs(rules)) : Infinity;
  return litMs < (back.backMs ?? Infinity) ? { ...back, backMs: litMs, backWord: 'light' } : back;
}

/**
 * By the midnights that part a low's day from closed ones beside it: when the first can have walked out, and when all
 * walk in; null where there is none, or its own day is closed. The path is closed ground as well.
 * @param {Rules} rules @param {number} lowMs @returns {{reopensMs: number|null, shutsMs: number|null}}
 */
export function closedBeside(rules, lowMs) {
  if (!rules.closures?.length || closureOn(rules, lowMs)?.stops) return { reopensMs: null, shutsMs: null };
  const begins = dayBeginsMs(lowMs, rules.zone);
  const ends = dayBeginsMs(begins + 26 * 60 * MINUTE_MS, rules.zone);
  return { reopensMs: closureOn(rules, begins - 1)?.stops ? begins + outMs(rules) : null,
    shutsMs: closureOn(rules, ends)?.stops ? ends - walkMs(rules) : null };
}

/** When the local day of an instant began. @param {number} ms @param {string} zone */
function dayBeginsMs(ms, zone) {
  const day = localDay(ms, zone);
  let [before, after] = [down(ms - DAY_MS - 2 * 60 * MINUTE_MS), ms];
  while (after - before > MINUTE_MS) {
    const middle = down((before + after) / 2);
    if (localDay(middle, zone) === day) after = middle;
    else before = middle;
  }
  return up(after);
}
