/** What is known of the units: their rows, last checks, flags, and the order in which to walk them. */
import { clock, day, msOf } from './words.js';

/**
 * @typedef {{unit: any, row: any, design: any, last: any|null, before: any|null, checkedNow: boolean, flags: any[]}} Known
 * last: the newest check; before: the newest one that is not of the running visit
 */

/** @param {any} one @param {any} other */
const newestFirst = (one, other) => (msOf(other.checked_at) ?? 0) - (msOf(one.checked_at) ?? 0);

/**
 * @param {any} phone @param {any} visit the running one or null @param {any[]} flags
 * @returns {Promise<Known[]>} in row order, the row lowest on the shore first while a visit runs since it floods first
 */
export async function readUnits(phone, visit, flags) {
  const siteId = phone.me.site_id;
  const [units, rows, designs, checks] = await Promise.all([
    phone.rows('unit', { siteId }), phone.rows('row', { siteId }), phone.rows('unit_design', {}), phone.rows('unit_check', { siteId }),
  ]);
  const rowOf = new Map(rows.map((/** @type {any} */ row) => [row.record_id, row]));
  const designOf = new Map(designs.map((/** @type {any} */ design) => [design.record_id, design]));
  /** @type {Map<string, any[]>} */ const checksOf = new Map();
  for (const check of checks) checksOf.set(check.unit_id, [...(checksOf.get(check.unit_id) ?? []), check]);
  return units
    .map((/** @type {any} */ unit) => {
      const own = (checksOf.get(unit.record_id) ?? []).sort(newestFirst);
      return {
        unit, row: rowOf.get(unit.row_id) ?? { name: '?', order_number: 99 }, design: designOf.get(unit.design_id) ?? null,
        last: own[0] ?? null,
        before: own.find((check) => !visit || check.visit_id !== visit.record_id) ?? null,
        checkedNow: Boolean(visit) && own[0]?.visit_id === visit.record_id,
        flags: flags.filter((flag) => flag.unitId === unit.record_id),
      };
    })
    .sort(walkOrder(Boolean(visit)));
}

/** @param {boolean} isRunning */
const walkOrder = (isRunning) => (/** @type {Known} */ one, /** @type {Known} */ other) =>
  (isRunning ? (one.row.bed_level_m ?? 0) - (other.row.bed_level_m ?? 0) : 0) ||
  one.row.order_number - other.row.order_number ||
  one.unit.slot_number - other.unit.slot_number;

/** @param {Known[]} known @param {string|null} [afterId] @returns {Known|null} the next one nobody checked on this visit */
export function nextUnit(known, afterId = null) {
  const start = afterId ? known.findIndex((one) => one.unit.record_id === afterId) + 1 : 0;
  const round = [...known.slice(start), ...known.slice(0, start)];
  return round.find((one) => !one.checkedNow && one.unit.record_id !== afterId) ?? null;
}

/** @param {any} check @param {any} design @param {(check: any) => string} foundWords @returns {string} a check in few words */
export function checkWords(check, design, foundWords) {
  const seen = check.found_state === 'seen' || check.found_state === 'probed';
  if (!seen) return foundWords(check);
  const parts = [];
  if (check.found_state === 'probed') parts.push('felt with the probe');
  if (isNumber(check.exposed_height_mm)) parts.push(design ? `${check.exposed_height_mm} of ${design.height_mm} mm showing` : `${check.exposed_height_mm} mm showing`);
  if (isNumber(check.tilt_deg)) parts.push(`${check.tilt_deg}\u00b0`);
  if (check.lost_volume_pct) parts.push(`${check.lost_volume_pct} % broken off`);
  else if (check.chip_depth_mm) parts.push(`chip ${check.chip_depth_mm} mm`);
  if (check.crack_width_mm) parts.push(`crack ${check.crack_width_mm} mm`);
  if (check.rocking) parts.push('rocking');
  return parts.length ? parts.join(', ') : foundWords(check);
}
const isNumber = (/** @type {any} */ value) => typeof value === 'number';

/** @param {any} check @param {number} nowMs @param {string} zone @returns {string} when it was, as short as clear */
export const checkedWhen = (check, nowMs, zone) => {
  const ms = msOf(check.checked_at) ?? 0;
  return nowMs - ms < 16 * 3_600_000 ? clock(ms, zone) : day(ms, zone);
};

/**
 * Said back at once: what the measures mean, compared with last time. Burial is good news, never an alarm.
 * @param {any} now the fields typed @param {any} last @param {any} design @param {string} since such as "11 Nov"
 * @returns {{what: string, means: string}|null}
 */
export function saidBack(now, last, design, since) {
  if (now.found_state === 'not_found_dry') return { what: 'Searched dry, not found.', means: 'One search says little. A second one on another visit decides; probe at its place then.' };
  if (now.found_state === 'not_found_under_water') return { what: 'Its place was under water.', means: 'This is no sign of loss. Look again at a lower low.' };
  if (now.found_state === 'not_visited') return { what: 'Not visited.', means: 'It counts as not looked at, not as missing.' };
  if (!isNumber(now.exposed_height_mm) || !design) {
    return now.found_state === 'probed' ? { what: 'Felt with the probe: it is there, under sediment.', means: 'Sediment is building here. Nothing to mend.' } : null;
  }
  const buried = Math.round(100 * (1 - now.exposed_height_mm / design.height_mm));
  const shown = `${Math.max(0, buried)} % buried`;
  if (!isNumber(last?.exposed_height_mm)) return { what: `${shown}.`, means: 'The first height on record for this unit.' };
  const gained = last.exposed_height_mm - now.exposed_height_mm;
  if (gained === 0) return { what: `${shown}, as on ${since}.`, means: 'No sediment gained or lost here.' };
  if (gained > 0) return { what: `${shown}, ${gained} mm more than on ${since}.`, means: 'Sediment is building here. Nothing to mend.' };
  return { what: `${shown}, ${-gained} mm less than on ${since}.`, means: 'Sediment went from here. Measure the hollow at the toe.' };
}
