/**
 * Axes, each graded 0 to 4 from measurements, each with its reason, as fieldlog/survey/grades.py has it: that has place
 * too, which a phone never grades by itself. Cover asks for no work: burial by new sediment is what the work is for.
 * @typedef {{axis: string, value: number|null, reason: string}} Grade
 * @typedef {number|null|undefined} Measured
 * @typedef {{crack_width_mm?: Measured, chip_depth_mm?: Measured, chip_across_mm?: Measured, scaling_depth_mm?:
 *   Measured, lost_volume_pct?: Measured}} Damage
 */
import { shortest } from '../rounding.js';

const CRACK_MM = [0.3, 1.3];
const CHIP_DEPTH_MM = 25;
const CHIP_ACROSS_MM = 150;
const SCALING_MM = [5, 10];
const LOST_PCT = 25;
const STANCE_DEG = [5, 15, 30, 60];
const TOE_PCT = [10, 25];
const COVER_PCT = [10, 25, 50, 90];

/** @param {Measured} value @returns {value is number} */
const isKnown = (value) => value !== null && value !== undefined;

/** @param {string} axis @param {number|null} value @param {string} reason @returns {Grade} */
const grade = (axis, value, reason) => ({ axis, value, reason });

/** @param {number[]} limits @param {(limit: number) => boolean} isPassed */
const passed = (limits, isPassed) => limits.filter(isPassed).length;

/**
 * @param {Damage} damage
 * @returns {{value: number, reason: string}[]} what was measured, each with its own grade, the loss of a piece first
 */
export function bodyParts(damage) {
  return [lost(damage.lost_volume_pct), scaling(damage.scaling_depth_mm),
    chip(damage.chip_depth_mm, damage.chip_across_mm), crack(damage.crack_width_mm)].filter((part) => part !== null);
}

/** @param {Damage} damage @returns {Grade} the worst of crack, chip, scaling and lost volume */
export function bodyGrade(damage) {
  const parts = bodyParts(damage);
  if (!parts.length) return grade('body', null, 'No damage was measured.');
  const worst = parts.reduce((most, part) => (part.value > most.value ? part : most));
  return grade('body', worst.value, worst.value ? worst.reason : 'As cast.');
}

const UNDER_ONE = 'under 1';

/**
 * A measure above nought in whole units; what would round to none of it is never told as 0.
 * @param {number} value
 */
function whole(value) {
  const text = shortest(value, 0);
  return text === '0' ? UNDER_ONE : text;
}

/** @param {Measured} width_mm */
function crack(width_mm) {
  if (!isKnown(width_mm)) return null;
  return { value: width_mm < CRACK_MM[0] ? 0 : width_mm <= CRACK_MM[1] ? 1 : 2,
    reason: `A crack of ${shortest(width_mm, 2)} mm.` };
}

/** @param {Measured} depth_mm @param {Measured} across_mm */
function chip(depth_mm, across_mm) {
  if (!isKnown(depth_mm) && !isKnown(across_mm)) return null;
  const [depth, across] = [depth_mm ?? 0, across_mm ?? 0];
  if (depth === 0 && across === 0) return { value: 0, reason: '' };
  const sizes = [depth > 0 ? `${whole(depth)} mm deep` : '', across > 0 ? `${whole(across)} mm across` : '']
    .filter(Boolean);
  return { value: depth > CHIP_DEPTH_MM || across > CHIP_ACROSS_MM ? 2 : 1, reason: `A chip ${sizes.join(' and ')}.` };
}

/** @param {Measured} depth_mm */
function scaling(depth_mm) {
  if (!isKnown(depth_mm)) return null;
  const value = depth_mm === 0 ? 0 : depth_mm < SCALING_MM[0] ? 1 : depth_mm <= SCALING_MM[1] ? 2 : 3;
  return { value,
    reason: `The surface is worn ${whole(depth_mm)} mm `
      + `deep${value === 3 ? ', so that stones come loose' : ''}.` };
}

/** @param {Measured} volume_pct */
function lost(volume_pct) {
  if (!isKnown(volume_pct)) return null;
  const part = whole(volume_pct);
  return { value: volume_pct === 0 ? 0 : volume_pct <= LOST_PCT ? 3 : 4,
    reason: `A piece broken off, ${part === UNDER_ONE ? '' : 'about '}${part} % of the unit.` };
}

/** @param {Measured} tilt_deg @returns {Grade} how far a unit leans from upright */
export function stanceGrade(tilt_deg) {
  if (!isKnown(tilt_deg)) return grade('stance', null, 'No tilt was measured.');
  const value = passed(STANCE_DEG.slice(0, 3), (limit) => tilt_deg >= limit) + (tilt_deg > STANCE_DEG[3] ? 1 : 0);
  return grade('stance', value, `Leaning ${shortest(tilt_deg, 1)}°.`);
}

/**
 * @param {Measured} scour_depth_mm @param {Measured} height_mm @param {boolean|null|undefined} rocking @returns {Grade}
 */
export function toeGrade(scour_depth_mm, height_mm, rocking) {
  if (rocking) return grade('toe', 4, 'It rocks when pushed.');
  if (!isKnown(scour_depth_mm)) return rocking === false ? grade('toe', 0, 'It does not rock.')
    : grade('toe', null, 'No scour was measured.');
  if (scour_depth_mm === 0) return grade('toe', 0, 'No scour.');
  const hollow = `Scour ${whole(scour_depth_mm)} mm deep`;
  if (!isKnown(height_mm)) return grade('toe', null, `${hollow}; the unit's height is not known.`);
  const part_pct = (100 * scour_depth_mm) / height_mm;
  return grade('toe', part_pct < TOE_PCT[0] ? 1 : part_pct <= TOE_PCT[1] ? 2 : 3,
    `${hollow}, ${whole(part_pct)} % of the height.`);
}

/**
 * Good news or none, never an alarm.
 * @param {Measured} exposed_height_mm @param {Measured} height_mm @param {boolean} probed @returns {Grade}
 */
export function coverGrade(exposed_height_mm, height_mm, probed) {
  if (probed) return grade('cover', 4, 'Felt with the probe only: covered.');
  if (!isKnown(exposed_height_mm) || !isKnown(height_mm)) return grade('cover', null,
    'No exposed height was measured.');
  const buried = burialPct(height_mm, exposed_height_mm);
  return grade('cover', passed(COVER_PCT, (limit) => buried > limit), `${shortest(buried, 1)} % buried.`);
}

/**
 * @param {number} height_mm @param {number} exposed_height_mm @returns {number} 0 to 100 % of the height under sediment
 */
export const burialPct = (height_mm, exposed_height_mm) => Math.min(100,
  Math.max(0, 100 * (1 - exposed_height_mm / height_mm)));

/**
 * The tilt of a flat rim of which two points differ in height: by geometry, its sine is that difference over their
 * straight distance. The highest and the lowest point give the whole tilt, any other two less of it.
 * @param {number} rise_mm @param {number} chord_mm
 * @returns {number|null} degrees from upright, null where that cannot be
 */
export const tiltFromRimDeg = (rise_mm, chord_mm) =>
  (rise_mm >= 0 && rise_mm <= chord_mm && chord_mm > 0 ? (Math.asin(rise_mm / chord_mm) * 180) / Math.PI : null);
