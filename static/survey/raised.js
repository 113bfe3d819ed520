/**
 * What checks raise and settle, measure by measure, as fieldlog/flags/condition.py and standing.py have it: so that a
 * phone says at once of its own checks what the server will say.
 * @typedef {{rule: 'damaged'|'leaning'|'undermined', severity: 'look'|'act', what: string, check: any}} Raised check:
 *   the newest that raised it
 * @typedef {{height_mm?: number|null, lean_look_deg?: number|null}} Limits
 */
import { shortest } from '../rounding.js';
import { bodyGrade, bodyParts, stanceGrade, toeGrade } from './grades.js';

/** Our own proposal where a site sets no limit. */
export const LEAN_LOOK_DEG = 15;
const [BODY_LOOKS, STANCE_LEANS, TOE_LOOKS] = [1, 2, 2];
const BODY = ['lost_volume_pct', 'scaling_depth_mm', 'chip_depth_mm', 'chip_across_mm', 'crack_width_mm'];

/** @param {any} value */
const isKnown = (value) => value !== null && value !== undefined;

/** @param {Record<string, any>} of @param {string[]} names */
const only = (of, names) => Object.fromEntries(names.map((name) => [name, of[name]]));

/**
 * @typedef {Record<string, boolean|null>} Verdicts raises, looked at and does not, says nothing; the own grade speaks
 *   for its axis
 * @param {Verdicts} measured @param {string} name @param {any} own @param {number|null} computed @param {number} looks
 * @returns {Verdicts}
 */
function withOwn(measured, name, own, computed, looks) {
  const verdicts = Object.values(measured);
  /** @type {boolean|null} */ let verdict = null;
  if (isKnown(own) && own >= looks) verdict = computed === null || own > computed ? true : null;
  else if (!verdicts.includes(true) && (isKnown(own) || verdicts.every((each) => each === false))) verdict = false;
  return { ...measured, [name]: verdict };
}

/** @param {any} check */
const damage = (check) => withOwn(
  Object.fromEntries(BODY.map((name) => [name,
    isKnown(check[name]) ? bodyParts(only(check, [name]))[0].value >= BODY_LOOKS : null])),
  'body_grade', check.body_grade, bodyGrade(check).value, BODY_LOOKS,
);

/** @param {any} check @param {Limits} limits */
function lean(check, limits) {
  const leans = isKnown(check.tilt_deg) ? check.tilt_deg >= (limits.lean_look_deg || LEAN_LOOK_DEG) : null;
  const verdicts = withOwn({ tilt_deg: leans }, 'stance_grade', check.stance_grade, stanceGrade(check.tilt_deg).value,
    STANCE_LEANS);
  if (leans === false && verdicts.stance_grade) verdicts.stance_grade = null;
  return verdicts;
}

/** @param {any} check @param {Limits} limits */
function toe(check, limits) {
  const { rocking, scour_depth_mm, toe_grade } = check;
  const { value } = toeGrade(scour_depth_mm, limits.height_mm, null);
  const scours = !isKnown(scour_depth_mm) ? null : value !== null ? value >= TOE_LOOKS : isKnown(toe_grade) ? null
    : true;
  const computed = toeGrade(scour_depth_mm, limits.height_mm, rocking).value;
  return withOwn({ rocking: isKnown(rocking) ? Boolean(rocking) : null, scour_depth_mm: scours }, 'toe_grade',
    toe_grade, computed, TOE_LOOKS);
}

/** @param {string} text */
const asPart = (text) => text.charAt(0).toLowerCase() + text.slice(1).replace(/\.$/, '');

/**
 * @type {{rule: Raised['rule'], whole: string, acts: number, verdicts: (check: any, limits: Limits) => Verdicts, says:
 *   (check: any, names: string[], limits: Limits) => {value: number|null, reason: string}[]}[]}
 */
const AXES = [
  { rule: 'damaged', whole: 'body_grade', acts: 2, verdicts: damage,
    says: (check, names) => bodyParts(only(check, names.filter((name) => name !== 'body_grade')))
      .sort((one, other) => other.value - one.value) },
  { rule: 'leaning', whole: 'stance_grade', acts: 3, verdicts: lean,
    says: (check, names, limits) => (names.includes('tilt_deg') ? [{ value: stanceGrade(check.tilt_deg).value,
      reason: `leaning ${shortest(check.tilt_deg, 1)}\u00b0 (flagged from `
        + `${shortest(limits.lean_look_deg || LEAN_LOOK_DEG, 1)}\u00b0)` }] : []) },
  { rule: 'undermined', whole: 'toe_grade', acts: 3, verdicts: toe,
    says: (check, names, limits) => [
      ...(names.includes('rocking') ? [toeGrade(null, null, true)] : []),
      ...(names.includes('scour_depth_mm') ? [toeGrade(check.scour_depth_mm, limits.height_mm, null)] : [])] },
];
/** @type {Record<string, (grade: number) => string>} */
const BY_EYE = {
  damaged: (grade) => `damage grade ${grade} of 4 by eye`, leaning: (grade) => `leaning, grade ${grade} of 4 by eye`,
  undermined: (grade) => `bed washed out at the toe, grade ${grade} of 4 by eye`,
};

/** Noon stands for a day whose time is not known: the check was so long before or after it at most. */
const HALF_DAY_MS = 12 * 3_600_000;

/** The latest that a check was. @param {any} check */
const latestMs = (check) => Date.parse(check.checked_at) + (check.time_known === false ? HALF_DAY_MS - 1 : 0);

/**
 * Whether a check that stands behind another was certainly later: within one day only where both times are known.
 * @param {any} check @param {any} other
 */
const isAfter = (check, other) => !other || (check.time_known !== false && other.time_known !== false)
  || Date.parse(check.checked_at) - (check.time_known === false ? HALF_DAY_MS : 0) > latestMs(other);

/**
 * @param {any[]} checks of one unit, oldest first, each of one that was found and measured @param {Limits} limits
 * @param {(check: any) => boolean} isTold of the others only what they settled counts
 * @returns {Raised[]} what stands after them
 */
export function raisedBy(checks, limits, isTold) {
  return AXES.flatMap((axis) => {
    /** @type {Map<string, any>} */ const standing = new Map();
    for (const check of checks) {
      const verdicts = axis.verdicts(check, limits);
      for (const [name, raises] of Object.entries(verdicts)) {
        const before = standing.get(name);
        if (raises) standing.set(name, before && latestMs(before) > latestMs(check) ? before : check);
        else if (raises === false) for (const settled of name === axis.whole ? [...standing.keys()]
          : [name]) if (isAfter(check, standing.get(settled))) standing.delete(settled);
      }
    }
    for (const [name, check] of standing) if (!isTold(check)) standing.delete(name);
    if (!standing.size) return [];
    const grades = [];
    const words = [];
    for (const check of checks.filter((check) => [...standing.values()].includes(check))) {
      const names = [...standing.keys()].filter((name) => standing.get(name) === check);
      const verdicts = axis.says(check, names, limits);
      const eye = names.includes(axis.whole) ? [{ value: check[axis.whole],
        reason: BY_EYE[axis.rule](check[axis.whole]) }] : [];
      const all = axis.rule === 'leaning' ? [...verdicts, ...eye] : [...eye, ...verdicts];
      grades.push(...all.map((grade) => grade.value ?? 0));
      words.push(...all.map((grade) => asPart(grade.reason)));
    }
    const newest = checks.filter((check) => [...standing.values()].includes(check)).at(-1);
    return { rule: axis.rule, severity: Math.max(...grades) >= axis.acts ? 'act' : 'look', what: words.join(', '),
      check: newest };
  });
}
