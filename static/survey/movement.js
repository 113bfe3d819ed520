/**
 * What two epochs of a unit say while still at it, as fieldlog/survey/verdict.py has it. Whether it moved is said with
 * its whole survey, by the server: here one asks for a second set, or says what this pair would have shown.
 * @typedef {import('./position.js').TapeRange & {mark_id: string, mark_sigma_m: number}} MarkTape
 * @typedef {{method: string, east_m: number, north_m: number, tapes: MarkTape[], sigma_m: number, doubts:
 *   import('./position.js').Doubt[]}} Epoch
 * sigma_m: of an axis of a typed place; 0 with tapes
 * @typedef {{factor: number, dof: number|null, tapes?: number}} TapeScale how many times the stated sigma the site's
 *   own
 * tapes show, and by how many degrees of freedom; null where the stated one is taken as known
 * @typedef {{verdict: 'none'|'small'|'again', displacement_m: number, bearing_deg: number, p: number, t2: number,
 *   shows_m: number, misfit: number, sentence: string}} Movement small: it moved, by less than matters; bearing from
 *   true
 * north; misfit: the worst residual over its own sigma
 */
import { rounded } from '../rounding.js';

const ASK_P = 0.05;
const ASK_MISFIT = 1.96;
const SHOWN_SIGMAS = 3.9298;
const SURE_SIGMAS = 1.645;
/** @type {TapeScale} */
export const STATED = { factor: 1, dof: null };
const LEAST_REDUNDANCY = 1e-9;
export const STARTS_ANEW = ['placed', 'reset', 'righted', 'replaced'];
const COMPASS = ['north', 'north-east', 'east', 'south-east', 'south', 'south-west', 'west', 'north-west'];

/** @typedef {[number, number]} Pair */

/**
 * How each tape moves the place (G), and the directions from mark to unit (A).
 * @param {Epoch} epoch @returns {{directions: Pair[], gains: Pair[]}}
 */
function linear({ tapes, east_m, north_m }) {
  const directions = tapes.map((tape) => {
    const [east, north] = [east_m - tape.east_m, north_m - tape.north_m];
    const length = Math.max(Math.hypot(east, north), 1e-9);
    return /** @type {Pair} */ ([east / length, north / length]);
  });
  let [ee, en, nn] = [0, 0, 0];
  directions.forEach(([e, n], i) => {
    const weight = 1 / tapes[i].sigma_m ** 2;
    ee += weight * e * e;
    en += weight * e * n;
    nn += weight * n * n;
  });
  const determinant = ee * nn - en * en;
  const gains = directions.map(([e, n], i) => {
    const weight = 1 / tapes[i].sigma_m ** 2 / determinant;
    return /** @type {Pair} */ ([weight * (nn * e - en * n), weight * (ee * n - en * e)]);
  });
  return { directions, gains };
}

/**
 * The covariance of the shift: both epochs' tapes or typed sigmas, and of the marks what does not cancel.
 * @param {Epoch} zero @param {Epoch} now @param {number} factor of the tapes' sigma
 * @returns {[number, number, number]} east-east, east-north, north-north in m²
 */
function covariance(zero, now, factor) {
  let [ee, en, nn] = [zero.sigma_m ** 2 + now.sigma_m ** 2, 0, zero.sigma_m ** 2 + now.sigma_m ** 2];
  /** @type {Map<string, {sigma_m: number, effect: number[]}>} */ const marks = new Map();
  for (const [epoch, sign] of /** @type {[Epoch, number][]} */ ([[zero, -1], [now, 1]])) {
    const { directions, gains } = linear(epoch);
    epoch.tapes.forEach((tape, i) => {
      const [[gE, gN], [e, n], variance] = [gains[i], directions[i], (factor * tape.sigma_m) ** 2];
      ee += gE * gE * variance;
      en += gE * gN * variance;
      nn += gN * gN * variance;
      const mark = marks.get(tape.mark_id) ?? { sigma_m: tape.mark_sigma_m, effect: [0, 0, 0, 0] };
      [gE * e, gE * n, gN * e, gN * n].forEach((part, k) => { mark.effect[k] += sign * part; });
      marks.set(tape.mark_id, mark);
    });
  }
  for (const { sigma_m, effect: [a, b, c, d] } of marks.values()) {
    ee += sigma_m ** 2 * (a * a + b * b);
    en += sigma_m ** 2 * (a * c + b * d);
    nn += sigma_m ** 2 * (c * c + d * d);
  }
  return [ee, en, nn];
}

/**
 * @param {Epoch} epoch @param {number} [factor] of the tapes' sigma
 * @returns {number} the worst residual over its own sigma, marks included; 0 where no tape checks another
 */
export function misfitOf(epoch, factor = 1) {
  const { tapes } = epoch;
  if (tapes.length < 3) return 0;
  const { directions, gains } = linear(epoch);
  return Math.max(...tapes.map((tape, i) => {
    const rest = tapes.map((_, k) => (i === k ? 1
      : 0) - (directions[i][0] * gains[k][0] + directions[i][1] * gains[k][1]));
    if (rest[i] <= LEAST_REDUNDANCY) return 0;
    /** @type {Map<string, {sigma_m: number, effect: number[]}>} */ const marks = new Map();
    rest.forEach((part, k) => {
      const mark = marks.get(tapes[k].mark_id) ?? { sigma_m: tapes[k].mark_sigma_m, effect: [0, 0] };
      mark.effect = mark.effect.map((sum, axis) => sum + part * directions[k][axis]);
      marks.set(tapes[k].mark_id, mark);
    });
    const byMarks = [...marks.values()].reduce((sum, { sigma_m, effect }) =>
      sum + sigma_m ** 2 * (effect[0] ** 2 + effect[1] ** 2), 0);
    const residual = tape.range_m - Math.hypot(epoch.east_m - tape.east_m, epoch.north_m - tape.north_m);
    return Math.abs(residual) / Math.sqrt((factor * tape.sigma_m) ** 2 * rest[i] + byMarks);
  }));
}

/** @param {Epoch} epoch @returns {boolean} whether a mark was read from twice; a typed place is as good as it says */
export const isRepeated = ({ tapes }) => !tapes.length
  || tapes.length > new Set(tapes.map((tape) => tape.mark_id)).size;

/**
 * @param {Epoch} zero @param {Epoch} now @param {number} gridAzimuthDeg where the grid's north points
 * @param {{scale?: TapeScale|null, leastShiftM?: number}} [site] what its tapes show, and the least shift that matters
 * @returns {Movement}
 */
export function compare(zero, now, gridAzimuthDeg, { scale = null, leastShiftM = 0 } = {}) {
  const { factor, dof } = scale ?? STATED;
  const [east, north] = [now.east_m - zero.east_m, now.north_m - zero.north_m];
  const [ee, en, nn] = covariance(zero, now, factor);
  const t2 = (nn * east ** 2 - 2 * en * east * north + ee * north ** 2) / (ee * nn - en * en);
  const p = dof === null ? Math.exp(-t2 / 2) : (1 + t2 / dof) ** (-dof / 2);
  const shift = Math.hypot(east, north);
  const movement = {
    displacement_m: shift, bearing_deg: ((Math.atan2(east, north) * 180) / Math.PI + gridAzimuthDeg + 360) % 360, p, t2,
    shows_m: SHOWN_SIGMAS * Math.sqrt((ee + nn) / 2 + Math.hypot((ee - nn) / 2, en)), misfit: misfitOf(now, factor),
  };
  const isSure = p >= ASK_P && movement.misfit <= ASK_MISFIT && !now.doubts.length;
  if (isSure) return { ...movement, verdict: 'none', sentence: quiet(movement.shows_m) };
  const isWell = isRepeated(now) && movement.misfit <= ASK_MISFIT && ![...zero.doubts, ...now.doubts].length;
  const isSmall = isWell && shift + (SURE_SIGMAS * movement.shows_m) / SHOWN_SIGMAS < leastShiftM;
  if (isSmall) return { ...movement, verdict: 'small', sentence: nearFirst(east, north, gridAzimuthDeg, leastShiftM) };
  return { ...movement, verdict: 'again', sentence: asking(now, movement) };
}

/**
 * A second set confirms a shift, and it is too small to matter: whether it moved is still said by its whole survey.
 * @param {number} east_m @param {number} north_m @param {number} azimuthDeg @param {number} leastShiftM
 * @returns {string}
 */
export const nearFirst = (east_m, north_m, azimuthDeg, leastShiftM) =>
  `Found ${off(east_m, north_m, azimuthDeg)} its first position${less(leastShiftM)}.`;

/**
 * How far the first position since a unit was placed lies from the planned one, as fieldlog/survey/remarks.py has it.
 * @param {number} east_m @param {number} north_m @param {number} azimuthDeg @param {number} leastShiftM
 * @returns {string}
 */
export function offPlan(east_m, north_m, azimuthDeg, leastShiftM) {
  const matters = Math.hypot(east_m, north_m) >= leastShiftM;
  return `First position ${off(east_m, north_m, azimuthDeg)} its planned place${matters ? '' : less(leastShiftM)}.`;
}

/** @param {number} east_m @param {number} north_m @param {number} azimuthDeg @returns {string} 0.08 m north-east of */
function off(east_m, north_m, azimuthDeg) {
  const shift = rounded(Math.hypot(east_m, north_m), 2);
  if (Number(shift) === 0) return `${shift} m from`;
  return `${shift} m ${compassWord(((Math.atan2(east_m, north_m) * 180) / Math.PI + azimuthDeg + 360) % 360)} of`;
}

/** @param {number} leastShiftM */
const less = (leastShiftM) => `, less than matters here (${rounded(leastShiftM, 2)} m)`;

/** @param {number} shows_m */
const quiet = (shows_m) =>
  `No movement found. These two measurements cannot show less than ${rounded(shows_m, 2)} m.`;

/**
 * @param {Epoch} now @param {{p: number, displacement_m: number, bearing_deg: number}} found
 * @returns {string} what to do before leaving the unit
 */
function asking(now, { p, displacement_m, bearing_deg }) {
  if (now.doubts.length) return `Measure again. ${now.doubts[0].sentence}`;
  const off = `${rounded(displacement_m, 2)} m ${compassWord(bearing_deg)} of its first position`;
  if (isRepeated(now)) return p < ASK_P
    ? `Found ${off}. The next sync says whether it moved, once the whole survey is compared.`
    : 'These tapes do not agree well. Read them again.';
  return p < ASK_P ? `Found ${off}. Take a second set of tapes now; it joins the first.`
    : 'These tapes do not agree well. Take a second set now; it joins the first.';
}

/** @param {number} bearing_deg @returns {string} the nearest of eight directions */
export const compassWord = (bearing_deg) => COMPASS[Math.floor(bearing_deg / 45 + 0.5) % 8];

/**
 * @param {{event_at?: string|null, event?: string|null}[]} events
 * @returns {string} when the newest of them started an epoch; empty where none did
 */
export function startedAt(events) {
  const times = events.filter((event) => STARTS_ANEW.includes(event.event ?? '')).map((event) => event.event_at ?? '');
  return times.sort().pop() ?? '';
}
