/** From records to the survey's numbers: where a fix lies, whether the unit moved, and the five grades. */
import { bodyGrade, coverGrade, placeGrade, stanceGrade, toeGrade } from '../survey/grades.js';
import { compare, zeroFix } from '../survey/movement.js';
import { adjust, TAPE_SIGMA_M } from '../survey/position.js';

/** How well a typed coordinate is known where nobody said: a taped offset in the field. */
const TYPED_SIGMA_M = 0.05;
const SLOTS = [1, 2, 3, 4];
const TITLES = { body: 'Body', place: 'Place', stance: 'Stance', toe: 'Toe', cover: 'Cover' };

/**
 * @typedef {{east_m: number, north_m: number, covariance: import('../survey/position.js').Covariance, method: string,
 *   radius_m: number, warnings: string[]}} Placed radius_m: 95 %
 * @typedef {{marks: any[], fixes: any[], events: any[], planned: {east_m: number, north_m: number}|null, azimuthDeg: number}} Known
 */

/** @param {any} fix @param {any[]} marks @returns {import('../survey/position.js').TapeRange[]} */
function tapesOf(fix, marks) {
  return SLOTS.flatMap((n) => {
    const at = marks.find((one) => one.record_id === fix[`mark_${n}_id`]);
    const range_m = fix[`range_${n}_m`];
    if (!at || typeof range_m !== 'number') return [];
    return { label: at.label, east_m: at.east_m, north_m: at.north_m, range_m, sigma_m: fix.tape_sigma_m ?? TAPE_SIGMA_M };
  });
}

/**
 * @param {any} fix a position_fix, or what is typed of one @param {any[]} marks the site's
 * @param {{east_m: number, north_m: number}|null} planned decides between two places that fit two tapes
 * @returns {Placed|{sentence: string}|null} null where the fix names no place on the site grid
 */
export function placeOf(fix, marks, planned) {
  if (fix.method === 'tapes') {
    const ranges = tapesOf(fix, marks);
    if (ranges.length < 2) return null;
    const found = adjust(ranges, planned);
    if ('sentence' in found) return { sentence: found.sentence };
    return { ...found, method: fix.method, radius_m: found.ellipse.semi_major_m, warnings: found.warnings.map((doubt) => doubt.sentence) };
  }
  if (typeof fix.east_m !== 'number' || typeof fix.north_m !== 'number') return null;
  const sigma_m = fix.sigma_m ?? TYPED_SIGMA_M;
  return { east_m: fix.east_m, north_m: fix.north_m, covariance: [sigma_m ** 2, 0, sigma_m ** 2], method: fix.method, radius_m: sigma_m * Math.sqrt(-2 * Math.log(0.05)), warnings: [] };
}

/**
 * A fix compared with the one that later ones are compared with.
 * @param {any} fix the newest @param {Known} known the fixes before it, marks and events
 * @returns {import('../survey/movement.js').Movement|{sentence: string}|null} null where nothing can be said
 */
export function movementOf(fix, { marks, fixes, events, planned, azimuthDeg }) {
  const inOrder = [...fixes, fix].sort((one, other) => Date.parse(one.fixed_at) - Date.parse(other.fixed_at));
  const zero = zeroFix(inOrder, events);
  if (zero === null) return null;
  if (inOrder[zero] === fix) return { sentence: 'The first position since it was placed: later ones are compared with it.' };
  const [first, second] = [placeOf(inOrder[zero], marks, planned), placeOf(fix, marks, planned)];
  if (!first || !second || !('covariance' in first) || !('covariance' in second)) return null;
  return compare(first, second, azimuthDeg);
}

/**
 * Five grades from what is typed; place is only ever computed.
 * @param {any} fields of a unit check @param {any} design @param {ReturnType<typeof movementOf>} movement
 * @returns {{name: 'body'|'place'|'stance'|'toe'|'cover', title: string, value: number|null, reason: string}[]}
 */
export function gradesOf(fields, design, movement) {
  const moved = movement && 'verdict' in movement ? movement : null;
  const probed = fields.found_state === 'probed' && typeof fields.exposed_height_mm !== 'number';
  return [
    bodyGrade(fields), placeGrade(moved, design?.footprint_mm), stanceGrade(fields.tilt_deg),
    toeGrade(fields.scour_depth_mm, design?.height_mm, fields.rocking), coverGrade(fields.exposed_height_mm, design?.height_mm, probed),
  ].map(({ axis, value, reason }) => {
    const name = /** @type {keyof typeof TITLES} */ (axis);
    return { name, title: TITLES[name], value, reason };
  });
}
