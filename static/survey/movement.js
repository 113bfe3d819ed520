/**
 * Did it really move? Two positions compared with their uncertainty, at 95 %, as fieldlog/survey/movement.py has it.
 * @typedef {{east_m: number, north_m: number, covariance: import('./position.js').Covariance, method: string}} Place
 * @typedef {{verdict: 'moved'|'not_moved'|'cannot_tell', displacement_m: number, bearing_deg: number, t2: number, limit: number,
 *   detectable_m: number, sentence: string}} Movement bearing from true north
 */
import { rounded } from '../rounding.js';

export const CHI2_2_95 = -2 * Math.log(0.05);
const PHONE = 'phone_gnss';
export const STARTS_ANEW = ['placed', 'reset', 'righted', 'replaced'];
const COMPASS = ['north', 'north-east', 'east', 'south-east', 'south', 'south-west', 'west', 'north-west'];

/** @param {Place} first @param {Place} second @param {number} gridAzimuthDeg where the grid's north points @returns {Movement} */
export function compare(first, second, gridAzimuthDeg) {
  const [east, north] = [second.east_m - first.east_m, second.north_m - first.north_m];
  const [ee, en, nn] = first.covariance.map((value, n) => value + second.covariance[n]);
  const determinant = ee * nn - en * en;
  const t2 = determinant > 0 ? (nn * east ** 2 - 2 * en * east * north + ee * north ** 2) / determinant : Infinity;
  const largest = (ee + nn) / 2 + Math.hypot((ee - nn) / 2, en);
  const shift = Math.hypot(east, north);
  const bearing = ((Math.atan2(east, north) * 180) / Math.PI + gridAzimuthDeg + 360) % 360;
  const isTold = first.method !== PHONE && second.method !== PHONE && determinant > 0;
  const verdict = !isTold ? 'cannot_tell' : t2 > CHI2_2_95 ? 'moved' : 'not_moved';
  const detectable = Math.sqrt(CHI2_2_95 * largest);
  return {
    verdict, displacement_m: shift, bearing_deg: bearing, t2, limit: CHI2_2_95, detectable_m: detectable,
    sentence: sentence(verdict, shift, bearing, t2, detectable),
  };
}

/** @param {string} verdict @param {number} shift @param {number} bearing @param {number} t2 @param {number} detectable */
function sentence(verdict, shift, bearing, t2, detectable) {
  if (verdict === 'moved')
    return `Moved ${rounded(shift, 2)} m towards the ${compassWord(bearing)}: T² is ${rounded(t2, 1)}, and over ${rounded(CHI2_2_95, 2)} is significant at 95 %.`;
  if (verdict === 'not_moved')
    return `No movement that can be told: ${rounded(shift, 2)} m, and a shift under ${rounded(detectable, 2)} m lies within the uncertainty of the two measurements.`;
  return "A phone's own position cannot tell whether it moved. Measure with tapes from two marks or more.";
}

/** @param {number} bearing_deg @returns {string} the nearest of eight directions */
export const compassWord = (bearing_deg) => COMPASS[Math.floor(bearing_deg / 45 + 0.5) % 8];

/** Instants as they sort: without its Z, the text with milliseconds comes after the one without. @param {string} at */
const sortable = (at) => at.replace('Z', '');

/**
 * Which fix every later one is compared with: the first not by phone at or after the newest epoch-starting event.
 * @param {{fixed_at: string, method: string}[]} fixes in order of time
 * @param {{event_at: string, event: string}[]} events in any order
 * @returns {number|null} its place in `fixes`
 */
export function zeroFix(fixes, events) {
  const start = events.filter((one) => STARTS_ANEW.includes(one.event)).map((one) => sortable(one.event_at)).sort().pop() ?? '';
  const found = fixes.findIndex((fix) => fix.method !== PHONE && sortable(fix.fixed_at) >= start);
  return found < 0 ? null : found;
}
