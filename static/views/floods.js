/** When ground is dry around a low, when it floods on the running visit's, and since when it has. */
import { down, musterMs, walkMs } from '../tides/turning.js';
import { allowanceOf, groundOf, isComplete, wholeSecond } from '../tides/windows.js';
import { plannedWindow, visitWindow } from './shore.js';
import { clock } from './words.js';

/** Longer than from high to high, of a tide that comes once a day from its low to the high. */
const FLOODS_MS = 13 * 3_600_000;

/**
 * @typedef {{name: string, fromMs: number|null, untilMs: number|null, isDry: boolean}} Bar null: dry since before, or
 *   until after, what is looked at
 */

/**
 * The predicted level at which ground floods. What was read on a visit counts here as the turn-back clock counts it
 * (`shiftOf`), or a row would flood at one time in a list and at another in a drawing: higher water at once, lower
 * water on a lead's word alone, as far as that goes and no further than the allowance.
 * @param {{site: import('./shore.js').Shore['site'], shiftM: number}} shore @param {number} bedM metres above chart
 *   datum
 */
const floodLevelM = ({ site, shiftM }, bedM) => bedM - allowanceOf(site ?? {}) - shiftM;

/**
 * When ground is dry around a low, in the windows' own minutes.
 * @param {import('./shore-known.js').Tidal} shore @param {{name: string, bedM: number}} ground @param {number} lowMs
 * @returns {Bar}
 */
export function barOf(shore, { name, bedM }, lowMs) {
  const { tide, site } = shore;
  const waterM = floodLevelM(shore, bedM);
  const passed = tide.crossings(waterM, Math.max(tide.fromMs, lowMs - FLOODS_MS),
    Math.min(tide.toMs, lowMs + FLOODS_MS));
  const low = { atMs: wholeSecond(lowMs), levelM: tide.levelAt(lowMs) };
  const { isBelow, opensMs, closesMs } = groundOf(low, waterM, passed, site);
  return { name, fromMs: opensMs, untilMs: closesMs, isDry: isBelow };
}

/**
 * When the path is dry around a low: as its window says, so that a drawing and the words beside it never differ by the
 * minute that the server's numbers and the phone's may; what that does not say the phone reads itself.
 * @param {import('./shore-known.js').Tidal} shore @param {import('./shore.js').Window|null} window of the low
 * @param {number} lowMs @returns {Bar}
 */
export function pathBar(shore, window, lowMs) {
  const { site } = shore;
  const own = barOf(shore, { name: 'Path', bedM: site.route_low_level_m }, lowMs);
  if (!own.isDry || !window) return own;
  const floodsMs = window.backWord === 'path' && window.backMs !== null
    ? window.backMs + walkMs(site) + musterMs(site) : null;
  return { ...own, fromMs: own.fromMs === null ? null : window.driesMs ?? own.fromMs,
    untilMs: own.untilMs === null ? null : floodsMs ?? own.untilMs };
}

/** @param {Bar} bar @param {number|null} nowMs @returns {boolean} whether the ground has flooded by now */
export const hasFlooded = ({ untilMs }, nowMs) => nowMs !== null && untilMs !== null && untilMs <= nowMs;

/**
 * When ground floods, sooner where the water was read higher; of ground that has flooded on this low, since when it is
 * under water. Whole minutes, turned inward.
 * @param {import('./router.js').Phone} phone @param {import('./shore.js').Shore} shore
 * @param {string[]} ids of rows and units
 * @param {number} nowMs
 * @returns {Map<string, number|null>} a time that lies behind now is since when
 */
export function floodsAt(phone, shore, ids, nowMs) {
  const { tide } = shore;
  const { beds, windows } = phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  // Outside every window it is told by the water alone: what has risen over the ground within a tide, it has flooded.
  const lowMs = plannedWindow(shore)?.lowMs ?? nowMs - FLOODS_MS;
  const flood = (/** @type {string} */ id) => {
    const bedM = beds?.[id] ?? windows?.levels?.[id]?.bed_level_m ?? null;
    if (!tide || bedM === null) return null;
    const waterM = floodLevelM(shore, bedM);
    const rises = (/** @type {number} */ fromMs, /** @type {number} */ toMs) =>
      tide.crossings(waterM, fromMs, toMs).filter(({ rising }) => rising).map(({ ms }) => down(wholeSecond(ms)));
    // Ground that stayed under water all through this low has no time: the next one that it floods at is another
    // tide's.
    if (tide.levelAt(nowMs) > waterM && nowMs > lowMs) return rises(lowMs, nowMs).at(-1) ?? null;
    return rises(nowMs, nowMs + FLOODS_MS)[0] ?? null;
  };
  return new Map([...new Set(ids)].map((id) => [id, flood(id)]));
}

/**
 * Of ground: "floods 17:07", or "under water since 16:37".
 * @param {number} ms as `floodsAt` has it @param {number} nowMs @param {string} zone
 */
export const floodWords = (ms, nowMs, zone) => (ms <= nowMs ? `under water since ${clock(ms, zone)}`
  : `floods ${clock(ms, zone)}`);

/**
 * The bars whose ground has flooded by now, in the order in which it did: "Row D since 16:37, Path since 17:01".
 * @param {Bar[]} bars @param {number|null} nowMs @param {string} zone @returns {string} empty where none has
 */
export const floodedOf = (bars, nowMs, zone) => bars.filter((bar) => hasFlooded(bar, nowMs))
  .sort((one, other) => (one.untilMs ?? 0) - (other.untilMs ?? 0))
  .map(({ name, untilMs }) => `${name} since ${clock(untilMs ?? 0, zone)}`).join(', ');

/**
 * The ground that has flooded on the low of the running visit, in the order in which it did: "Row D since 16:37, the
 * path since 17:01".
 * @param {import('./shore.js').Shore} shore @param {{name: string, bedM: number}[]} rows @param {number} nowMs
 * @param {string} zone @returns {string} empty where none has
 */
export function floodedWords(shore, rows, nowMs, zone) {
  const { tide, site } = shore;
  const window = visitWindow(shore);
  if (!tide || !isComplete(site) || !window || nowMs < window.lowMs) return '';
  const known = { ...shore, tide, site };
  const path = { ...pathBar(known, window, window.lowMs), name: 'the path' };
  return floodedOf([...rows.map((row) => barOf(known, row, window.lowMs)), path], nowMs, zone);
}
