/**
 * From position records to the survey's numbers, as fieldlog/flags/readings.py has it: which readings are one epoch (a
 * unit, a visit or local day, a method), and which epoch is the zero of which.
 */
import { groupsOf as visitGroupsOf } from '../records/joined.js';
import { named } from './names.js';
import { localDay, msOf } from './words.js';
import { compare, startedAt } from '../survey/movement.js';
import { adjust, ellipse95, TAPE_SIGMA_M } from '../survey/position.js';

/**
 * @typedef {import('../survey/movement.js').Epoch} Epoch
 * @typedef {import('../records/rows.js').ControlMark} ControlMark
 * @typedef {import('../records/rows.js').UnitEvent} UnitEvent
 * @typedef {Partial<import('../records/rows.js').PositionFix>} Fix one on record, or what is typed of one
 * @typedef {Fix & {fixed_at: string}} Timed
 */

/** How well a typed coordinate is known where nobody said: a taped offset in the field. */
export const TYPED_SIGMA_M = 0.05;
const MARK_SIGMA_M = 0.05;
const LEAST_SIGMA_M = 1e-6;
/** The least shift that matters, our proposals: where nothing says it, and as a part of a footprint's width. */
const LEAST_SHIFT_M = 0.1;
const FOOTPRINT_PART = 0.25;
const SLOTS = [1, 2, 3, 4];
const PHONE = 'phone_gnss';
/** Doubts about a place with which it never says that a unit moved. */
const BLOCKING = ['side', 'side-unknown', 'weak'];

/**
 * @typedef {{marks: ControlMark[], fixes: Fix[], events: UnitEvent[],
 *   planned: {east_m: number, north_m: number}|null, azimuthDeg: number, surveyOf: (fix: Fix) => string,
 *   scale?: import('../survey/movement.js').TapeScale|null, leastShiftM?: number}} Surveyed
 * surveyOf: the visit or local day of a fix, as one key; scale: what the site's own tapes show, null where the stated
 * sigma stands
 * @typedef {{survey: string, at: string, fixes: Timed[], epoch: Epoch}} Measured at: of its first reading
 */

/** @param {unknown} value @returns {value is number} */
const isNumber = (value) => typeof value === 'number';

/**
 * A sigma as somebody wrote it, or the usual one: nothing measured is as sure as 0.
 * @param {number|null|undefined} sigma_m @param {number} usual_m
 */
export const saidOr = (sigma_m, usual_m) => (isNumber(sigma_m) && Number(sigma_m) >= LEAST_SIGMA_M ? sigma_m : usual_m);

/**
 * @param {import('../records/rows.js').Site|null|undefined} site
 * @param {import('../records/rows.js').UnitDesign|null|undefined} design of the unit
 * @returns {number} the least shift that matters, metres
 */
export function leastShift(site, design) {
  if (isNumber(site?.least_shift_m)) return site.least_shift_m;
  return isNumber(design?.footprint_mm) ? (FOOTPRINT_PART * design.footprint_mm) / 1000 : LEAST_SHIFT_M;
}

/**
 * @param {Fix} fix @param {ControlMark[]} marks
 * @returns {import('../survey/movement.js').MarkTape[]} the tapes read from marks on record
 */
export function tapesOf(fix, marks) {
  return SLOTS.flatMap((n) => {
    const mark = marks.find((mark) => mark.record_id === fix[/** @type {'mark_1_id'} */ (`mark_${n}_id`)]);
    const range_m = fix[/** @type {'range_1_m'} */ (`range_${n}_m`)];
    if (!isNumber(mark?.east_m) || !isNumber(mark?.north_m) || !isNumber(range_m)) return [];
    return {
      mark_id: mark.record_id, mark_sigma_m: saidOr(mark.sigma_m, MARK_SIGMA_M), label: named(mark.label, 'a mark'),
      east_m: mark.east_m, north_m: mark.north_m, range_m, sigma_m: saidOr(fix.tape_sigma_m, TAPE_SIGMA_M),
    };
  });
}

/**
 * @param {Fix[]} fixes of one unit, visit and method @param {ControlMark[]} marks the site's
 * @param {{east_m: number, north_m: number}|null} planned decides between two places that fit two tapes
 * @returns {Epoch|null} null where they give no place on the site grid
 */
export function epochOf(fixes, marks, planned) {
  const { method } = fixes[0];
  if (method === 'tapes') {
    const tapes = fixes.flatMap((fix) => tapesOf(fix, marks));
    const place = adjust(tapes, planned);
    if ('sentence' in place) return null;
    return { method, east_m: place.east_m, north_m: place.north_m, tapes, sigma_m: 0,
      doubts: place.warnings.filter((warning) => BLOCKING.includes(warning.word)) };
  }
  const places = fixes.flatMap(({ east_m, north_m, sigma_m }) => (isNumber(east_m) && isNumber(north_m)
    ? { east_m, north_m, sigma_m: saidOr(sigma_m, TYPED_SIGMA_M) } : []));
  if (!places.length || method === PHONE) return null;
  const weights = places.map((place) => 1 / place.sigma_m ** 2);
  const whole = weights.reduce((sum, weight) => sum + weight, 0);
  const [east_m, north_m] = /** @type {('east_m'|'north_m')[]} */ (['east_m', 'north_m'])
    .map((axis) => places.reduce((sum, place, n) => sum + weights[n] * place[axis], 0) / whole);
  return { method: method ?? '', east_m, north_m, tapes: [],
    sigma_m: Math.min(...places.map((place) => place.sigma_m)), doubts: [] };
}

/**
 * @param {import('../records/rows.js').Visit[]} visits the site's @param {string} zone
 * @returns {(fix: Fix) => string} the survey of a fix: its visit, joined ones as one, or its local day
 */
export function surveys(visits, zone) {
  const { rootOf } = visitGroupsOf(visits);
  return ({ visit_id: id, fixed_at }) => (id ? `visit ${rootOf(id)}` : `day ${localDay(msOf(fixed_at) ?? 0, zone)}`);
}

/**
 * @param {Fix[]} fixes @param {Surveyed} known
 * @returns {Timed[][]} the readings of each epoch, in time order; what has no time says nothing about order and is left
 *   out
 */
function groupsOf(fixes, { surveyOf }) {
  /** @type {Map<string, Timed[]>} */ const groups = new Map();
  const key = (/** @type {Fix} */ fix) => `${fix.fixed_at} ${fix.record_id ?? ''}`;
  const isTimed = (/** @type {Fix} */ fix) => Boolean(fix.fixed_at) && fix.method !== PHONE;
  for (const fix of /** @type {Timed[]} */ (fixes.filter(isTimed))
    .sort((one, other) => (key(one) < key(other) ? -1 : 1))) {
    const of = `${surveyOf(fix)} ${fix.method}`;
    groups.set(of, [...(groups.get(of) ?? []), fix]);
  }
  return [...groups.values()];
}

/** @param {Timed[]} own @param {Surveyed} known @returns {Measured|null} */
function measured(own, { marks, planned, surveyOf }) {
  const epoch = epochOf(own, marks, planned);
  return epoch && { survey: surveyOf(own[0]), at: own[0].fixed_at, fixes: own, epoch };
}

/**
 * The epoch that a reading of `until` is compared with: the first one with a place since the unit was last placed.
 * @param {Fix[]} fixes @param {Surveyed} known @param {string} until @returns {Measured|null}
 */
export function zeroOf(fixes, known, until) {
  const start = startedAt(known.events.filter((event) => event.event_at && event.event_at <= until));
  for (const own of groupsOf(fixes, known)) {
    const reading = own[0].fixed_at >= start ? measured(own, known) : null;
    if (reading) return reading;
  }
  return null;
}

/**
 * Every reading with a place since the unit was last placed, oldest first; the first is what the others are compared
 * with.
 * @param {Surveyed} known @returns {Measured[]}
 */
export function epochsNow(known) {
  const start = startedAt(known.events);
  return groupsOf(known.fixes, known).flatMap((own) =>
    (own[0].fixed_at >= start ? measured(own, known) ?? [] : []));
}

/**
 * Where a measured place can be, 95 of 100 times: by its tapes alone, as the site's own tapes differ, or as typed.
 * @param {Epoch} epoch @param {Surveyed} known @returns {import('../survey/position.js').Ellipse|null}
 */
export function ellipseOf({ tapes, sigma_m }, { planned, scale }) {
  if (!tapes.length) return ellipse95([sigma_m ** 2, 0, sigma_m ** 2]);
  const place = adjust(tapes, planned);
  if ('sentence' in place) return null;
  const factor = scale?.factor ?? 1;
  const { semi_major_m, semi_minor_m, azimuth_deg } = place.ellipse;
  return { azimuth_deg, semi_major_m: factor * semi_major_m, semi_minor_m: factor * semi_minor_m };
}

/**
 * A reading, with what was read before it on the same visit by the same method, compared with the zero epoch.
 * @param {Fix} fix the newest, or what is typed of one @param {Surveyed} known the fixes before it, marks and events
 * @returns {{isFirst: boolean, epoch: Epoch, zero: Epoch, movement:
 *   import('../survey/movement.js').Movement|null}|null} null where nothing can be said
 */
export function comparedWithZero(fix, known) {
  if (!fix.fixed_at || fix.method === PHONE) return null;
  const fixes = [...known.fixes, fix];
  const own = groupsOf(fixes, known).find((group) => group.some((other) => other === fix));
  const now = own ? measured(own, known) : null;
  const zero = now ? zeroOf(fixes, known, fix.fixed_at) : null;
  if (!now || !zero) return null;
  const isFirst = zero.survey === now.survey;
  const movement = isFirst ? null : compare(zero.epoch, now.epoch, known.azimuthDeg, known);
  return { isFirst, epoch: now.epoch, zero: zero.epoch, movement };
}
