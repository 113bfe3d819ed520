/** What is known of the units: their rows, last checks, flags, and the order in which to walk them. */
import { comparedWithZero, saidOr, tapesOf, TYPED_SIGMA_M } from './readings.js';
import { idsOf } from './visits.js';
import { byOrder } from './names.js';
import { clock, msOf, nearDay, turnMs } from './words.js';
import { rounded } from '../rounding.js';
import { burial, isChange, newestBurial } from '../survey/burial.js';
import { bodyGrade, coverGrade, stanceGrade, toeGrade } from '../survey/grades.js';
import { isRepeated, offPlan, STARTS_ANEW } from '../survey/movement.js';
import { adjust } from '../survey/position.js';

/* From records to the survey's numbers: where a fix lies, whether the unit moved, and the five grades. */

const TITLES = { body: 'Body', place: 'Place', stance: 'Stance', toe: 'Toe', cover: 'Cover' };

/**
 * @typedef {import('./readings.js').Fix} Fix
 * @typedef {import('../records/rows.js').ControlMark} ControlMark
 * @typedef {Partial<UnitCheck>} Check one on record, or what is typed of one
 * @typedef {import('../records/pack.js').ShownFlag} ShownFlag
 * @typedef {{east_m: number, north_m: number, covariance: import('../survey/position.js').Covariance, method: string,
 *   radius_m: number, warnings: string[]}} Placed radius_m: 95 %
 */

/**
 * @param {Fix} fix @param {ControlMark[]} marks the site's
 * @param {{east_m: number, north_m: number}|null} planned decides between two places that fit two tapes
 * @returns {Placed|{sentence: string}|null} null where the fix names no place on the site grid
 */
export function placeOf(fix, marks, planned) {
  if (fix.method === 'tapes') {
    const ranges = tapesOf(fix, marks);
    if (ranges.length < 2) return null;
    const place = adjust(ranges, planned);
    if ('sentence' in place) return { sentence: place.sentence };
    return { ...place, method: fix.method, radius_m: place.ellipse.semi_major_m,
      warnings: place.warnings.map((doubt) => doubt.sentence) };
  }
  if (typeof fix.east_m !== 'number' || typeof fix.north_m !== 'number') return null;
  const sigma_m = saidOr(fix.sigma_m, TYPED_SIGMA_M);
  return { east_m: fix.east_m, north_m: fix.north_m, covariance: [sigma_m ** 2, 0, sigma_m ** 2],
    method: fix.method ?? '',
    radius_m: sigma_m * Math.sqrt(-2 * Math.log(0.05)), warnings: [] };
}

/**
 * A reading compared with the zero epoch.
 * @param {Fix} fix the newest @param {import('./readings.js').Surveyed} known the fixes before it, marks and events
 * @returns {{sentence: string, asksSecond: boolean, asksMarks: string, plan: string,
 *   movement: import('../survey/movement.js').Movement|null}|null}
 *   asksMarks: which marks the zero epoch was measured from, where this one is not; plan: how far that lies from the
 *   unit's planned place, '' where none is known; null where nothing can be said
 */
export function movementOf(fix, known) {
  const compared = comparedWithZero(fix, known);
  if (!compared) return null;
  const { isFirst, epoch, zero, movement } = compared;
  const isOnce = !isRepeated(epoch);
  const { planned, azimuthDeg, leastShiftM = 0 } = known;
  const off = planned && [zero.east_m - planned.east_m, zero.north_m - planned.north_m];
  const plan = off ? offPlan(off[0], off[1], azimuthDeg, leastShiftM) : '';
  if (isFirst) return { sentence: firstOf(plan, isOnce), asksSecond: isOnce, asksMarks: '', plan, movement: null };
  const labels = (/** @type {import('../survey/movement.js').Epoch} */ { tapes }) =>
    [...new Set(tapes.map((tape) => tape.label))].sort().join(', ');
  const [first, now] = [labels(zero), labels(epoch)];
  return {
    sentence: movement?.sentence ?? '', asksSecond: isOnce && movement?.verdict === 'again', plan, movement,
    asksMarks: first && now && first !== now
      ? `Its first position was measured from ${first}. Tapes from the same marks compare best.` : '',
  };
}

/** @param {string} plan @param {boolean} isOnce */
function firstOf(plan, isOnce) {
  const first = plan || 'First position since it was placed.';
  return isOnce ? `${first} Take a second set of tapes now: all later positions are compared with this one.` : first;
}

/**
 * Five grades from what is typed; place is only ever computed.
 * @param {Check} fields of a unit check @param {UnitDesign|null|undefined} design
 * @param {ReturnType<typeof movementOf>} place what its position says @param {ShownFlag[]} [flags] of the unit
 * @returns {{name: 'body'|'place'|'stance'|'toe'|'cover', title: string, value: number|null, reason: string}[]}
 */
export function gradesOf(fields, design, place, flags = []) {
  const probed = fields.found_state === 'probed' && typeof fields.exposed_height_mm !== 'number';
  return [
    bodyGrade(fields), placed(place, flags), stanceGrade(fields.tilt_deg),
    toeGrade(fields.scour_depth_mm, design?.height_mm, fields.rocking),
    coverGrade(fields.exposed_height_mm, design?.height_mm, probed),
  ].map(({ axis, value, reason }) => {
    const name = /** @type {keyof typeof TITLES} */ (axis);
    return { name, title: TITLES[name], value, reason };
  });
}

/**
 * Whether it moved is said by a whole survey: until then there is a grade only where nothing was found.
 * @param {ReturnType<typeof movementOf>} place @param {ShownFlag[]} flags
 */
function placed(place, flags) {
  if (place) return { axis: 'place', value: place.movement?.verdict === 'none' ? 0 : null, reason: place.sentence };
  const moved = flags.find((flag) => flag.rule === 'displaced')?.evidence?.displacement_m;
  return { axis: 'place', value: null,
    reason: `Not measured on this check.${isNumber(moved) ? ` The last survey: moved ${rounded(moved, 2)} m.` : ''}` };
}

/**
 * @typedef {import('../records/rows.js').Unit} Unit
 * @typedef {import('../records/rows.js').UnitDesign} UnitDesign
 * @typedef {import('../records/rows.js').UnitCheck} UnitCheck
 * @typedef {import('../records/rows.js').UnitEvent} UnitEvent
 * @typedef {import('../records/rows.js').Row} Row
 * @typedef {{unit: Unit, row: Partial<Row>, design: UnitDesign|null, checks: UnitCheck[], last: UnitCheck|null,
 *   before: UnitCheck|null, checkedNow: boolean,
 *   lookedNow: boolean, flags: ShownFlag[]}} Known
 * checks: newest first; last: the newest; before: the newest one that is not of the running visit; checkedNow: it is
 *   of the running one; lookedNow: on which somebody looked at it
 */

/**
 * Instants have one form, which sorts as moments do: to read the years of them as numbers takes longer than to sort.
 * Noon, which stands for a day alone, sorts with its like as it is.
 * @param {UnitCheck[]} checks @returns {UnitCheck[]} the same list
 */
const newestFirst = (checks) => checks.sort((one, other) => {
  const [at, otherAt] = [one.checked_at ?? '', other.checked_at ?? ''];
  if ((one.time_known === false) !== (other.time_known === false)) return turnMs(other, otherAt) - turnMs(one, at);
  return at < otherAt ? 1 : at > otherAt ? -1 : 0;
});

/**
 * @param {import('./router.js').Phone} phone 
 * @param {import('../records/rows.js').Visit|null} visit the running one @param {ShownFlag[]} flags
 * @returns {Promise<Known[]>} in row order, the row lowest on the shore first while a visit runs since it floods first
 */
export async function readUnits(phone, visit, flags) {
  const siteId = phone.me.site_id;
  const [units, rows, designs, checks, visits] = await Promise.all([
    phone.rows('unit', { siteId }), phone.rows('row', { siteId }), phone.rows('unit_design', { siteId }),
    phone.rows('unit_check', { siteId }), visit ? phone.rows('visit', { siteId }) : [],
  ]);
  const ids = visit ? idsOf(visit, visits) : new Set();
  const rowOf = new Map(rows.map((row) => [row.record_id, row]));
  const designOf = new Map(designs.map((design) => [design.record_id, design]));
  /** @type {Map<string, UnitCheck[]>} */ const checksOf = new Map();
  for (const check of checks) {
    const own = checksOf.get(check.unit_id ?? '');
    if (own) own.push(check);
    else checksOf.set(check.unit_id ?? '', [check]);
  }
  return units
    .map((unit) => {
      const own = newestFirst(checksOf.get(unit.record_id) ?? []);
      return {
        unit, row: rowOf.get(unit.row_id ?? '') ?? {},
        design: designOf.get(unit.design_id ?? '') ?? null,
        checks: own, last: own[0] ?? null,
        before: own.find((check) => !ids.has(check.visit_id)) ?? null,
        checkedNow: ids.has(own[0]?.visit_id),
        lookedNow: own.some((check) => ids.has(check.visit_id) && wasLookedAt(check)),
        flags: flags.filter((flag) => flag.unitId === unit.record_id),
      };
    })
    .sort(walkOrder(Boolean(visit)));
}

/** Units without a slot come last. */
const NO_SLOT = 1000;

/** @param {boolean} isRunning */
const walkOrder = (isRunning) => (/** @type {Known} */ one, /** @type {Known} */ other) =>
  (isRunning ? (one.row.bed_level_m ?? 0) - (other.row.bed_level_m ?? 0) : 0) ||
  byOrder(one.row, other.row) || (one.unit.slot_number ?? NO_SLOT) - (other.unit.slot_number ?? NO_SLOT);

/**
 * @param {Known[]} known @param {string|null} [afterId] @returns {Known|null} the next one nobody checked on this visit
 */
export function nextUnit(known, afterId = null) {
  const start = afterId ? known.findIndex((facts) => facts.unit.record_id === afterId) + 1 : 0;
  const round = [...known.slice(start), ...known.slice(0, start)];
  return round.find((facts) => !facts.checkedNow && facts.unit.record_id !== afterId) ?? null;
}

/**
 * @param {UnitCheck} check @param {UnitDesign|null|undefined} design
 * @param {(check: UnitCheck) => string} foundWords
 * @returns {string} a check in few words
 */
export function checkWords(check, design, foundWords) {
  if (!wasFound(check)) return foundWords(check);
  if (check.looked_only) return 'looked unchanged, not measured';
  const parts = [];
  if (check.found_state === 'probed') parts.push('felt with the probe');
  if (isNumber(check.exposed_height_mm)) parts.push(hasHeight(design)
    ? `${check.exposed_height_mm} of ${design.height_mm} mm showing` : `${check.exposed_height_mm} mm showing`);
  if (isNumber(check.tilt_deg)) parts.push(`${check.tilt_deg}\u00b0`);
  if (check.lost_volume_pct) parts.push(`${check.lost_volume_pct} % broken off`);
  else if (check.chip_depth_mm) parts.push(`chip ${check.chip_depth_mm} mm`);
  if (check.crack_width_mm) parts.push(`crack ${check.crack_width_mm} mm`);
  if (check.rocking) parts.push('rocking');
  return parts.length ? parts.join(', ') : foundWords(check);
}
/** @param {unknown} value @returns {value is number} */
const isNumber = (value) => typeof value === 'number';

/** What a check measures and grades. */
export const MEASURED = [
  'exposed_height_mm', 'tilt_deg', 'crack_width_mm', 'chip_depth_mm', 'chip_across_mm', 'lost_volume_pct',
  'scaling_depth_mm', 'scour_depth_mm', 'rocking', 'probe_depth_mm', 'water_depth_m', 'crest_level_mm',
  'crest_datum', 'body_grade', 'stance_grade', 'toe_grade', 'cover_grade',
];

/** @param {Check} check */
export const wasFound = (check) => check.found_state === 'seen' || check.found_state === 'probed';

const UNSEEN = ['not_found_under_water', 'not_visited'];
/** Whether somebody could look at a unit's place, found or not. @param {Check} check */
export const wasLookedAt = (check) => !UNSEEN.includes(check.found_state ?? '');

/**
 * Whether a check's measures and grades say anything: the unit was found, and more was done than to look at it.
 * @param {Check} check
 */
export const tellsMeasures = (check) => wasFound(check) && !check.looked_only;

/**
 * Whether a design says how high its units are.
 * @param {UnitDesign|null|undefined} design @returns {design is UnitDesign & {height_mm: number}}
 */
export const hasHeight = (design) => isNumber(design?.height_mm) && design.height_mm > 0;

/**
 * @param {UnitCheck} check @param {number} nowMs @param {string} zone
 * @returns {string} when it was, as short as clear
 */
export const checkedWhen = (check, nowMs, zone) => {
  const ms = msOf(check.checked_at) ?? 0;
  return check.time_known !== false && nowMs - ms < 16 * 3_600_000 ? clock(ms, zone) : nearDay(ms, nowMs, zone);
};

/**
 * What changed between the newest two checks that read the unit's height or its crest.
 * @param {UnitCheck[]} checks newest first
 * @param {UnitEvent[]} events of the unit: heights of before it was placed say nothing of now
 * @param {import('../records/rows.js').Site|null|undefined} site
 * @returns {import('../survey/burial.js').Burial|null} null where nothing did
 */
export function burialNow(checks, events, site) {
  const since = placedMs(events);
  const told = checks.filter((check) => tellsMeasures(check) && (msOf(check.checked_at) ?? -1) >= since);
  const changed = newestBurial(told, site?.reading_repeat_mm ?? undefined);
  return changed && isChange(changed) ? changed : null;
}

/**
 * The newest check since a unit was placed that read its height, else the newest that measured anything.
 * @param {UnitCheck[]} checks that tell measures, newest first @param {number} sinceMs @returns {UnitCheck|null}
 */
export function lastRead(checks, sinceMs) {
  const told = checks.filter((check) => (msOf(check.checked_at) ?? 0) >= sinceMs);
  return told.find((check) => isNumber(check.exposed_height_mm)) ?? told[0] ?? null;
}

/** When a unit was last placed, set or righted, ms. @param {UnitEvent[]} events of it */
export const placedMs = (events) =>
  Math.max(0, ...events.filter((event) => STARTS_ANEW.includes(event.event ?? ''))
    .map((event) => msOf(event.event_at) ?? 0));

/**
 * Said back at once: what was found, and what the measures say beside last time's.
 * @param {Check} now the fields typed
 * @param {Check|null} last the newest check with measures since the unit was placed or reset
 * @param {UnitDesign|null|undefined} design
 * @param {number|null|undefined} repeat_mm the site's own repeatability of a reading
 * @returns {{what: string, means: string}|null}
 */
export function saidBack(now, last, design, repeat_mm) {
  if (now.found_state === 'not_found_dry') return { what: 'Searched dry, not found.',
    means: 'One search proves little. Next visit, probe where it should be.' };
  if (now.found_state === 'not_found_under_water') return { what: 'Its place was under water.',
    means: 'This does not mean it is lost. Look again at a lower low.' };
  if (now.found_state === 'not_visited') return { what: 'Not visited.',
    means: 'It counts as not looked at, not as missing.' };
  const changed = burial(last ?? {}, now, repeat_mm ?? undefined);
  if (changed) return changed;
  if (now.found_state === 'probed') return { what: 'Felt with the probe: it is there, under sediment.',
    means: 'Height alone cannot show whether it is buried or sank.' };
  if (!isNumber(now.exposed_height_mm)) return null;
  return { what: hasHeight(design) ? `${now.exposed_height_mm} of ${design.height_mm} mm showing.`
    : `${now.exposed_height_mm} mm showing.`, means: 'The first height on record since it was placed.' };
}
