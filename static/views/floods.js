/** When ground floods on the low of the running visit, and since when it has. */
import { down } from '../tides/turning.js';
import { allowanceOf } from '../tides/windows.js';
import { plannedWindow } from './shore.js';
import { clock } from './words.js';

/** Longer than from high to high. */
const FLOODS_MS = 13 * 3_600_000;

/**
 * When ground floods, sooner where the water was read higher; of ground that has flooded on this low, since when it is
 * under water.
 * @param {import('./router.js').Phone} phone @param {import('./shore.js').Shore} shore
 * @param {string[]} ids of rows and units
 * @param {number} nowMs
 * @returns {Map<string, number|null>} a time that lies behind now is since when
 */
export function floodsAt(phone, shore, ids, nowMs) {
  const { site, tide, shiftM } = shore;
  const { beds, windows } = phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  // Outside every window it is told by the water alone: what has risen over the ground within a tide, it has flooded.
  const lowMs = plannedWindow(shore)?.lowMs ?? nowMs - FLOODS_MS;
  const flood = (/** @type {string} */ id) => {
    const bedM = beds?.[id] ?? windows?.levels?.[id]?.bed_level_m ?? null;
    if (!tide || bedM === null) return null;
    const waterM = bedM - allowanceOf(site) - Math.max(0, shiftM);
    const rises = (/** @type {number} */ fromMs, /** @type {number} */ toMs) =>
      tide.crossings(waterM, fromMs, toMs).filter((/** @type {import('../tides/predict.js').Crossing} */ { rising }) =>
        rising);
    // Ground that stayed under water all through this low has no time: the next one that it floods at is another
    // tide's.
    if (tide.levelAt(nowMs) > waterM && nowMs > lowMs) return rises(lowMs, nowMs).at(-1)?.ms ?? null;
    return rises(nowMs, nowMs + FLOODS_MS)[0]?.ms ?? null;
  };
  return new Map([...new Set(ids)].map((id) => [id, flood(id)]));
}

/**
 * Of ground: "floods 17:07", or "under water since 16:37".
 * @param {number} ms as `floodsAt` has it @param {number} nowMs @param {string} zone
 */
export const floodWords = (ms, nowMs, zone) => (ms <= nowMs ? `under water since ${clock(down(ms), zone)}`
  : `floods ${clock(down(ms), zone)}`);
