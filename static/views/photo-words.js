/** What is said of a photo beside what it is proposed to be of: why, when, and where its GPS puts it. */
import { NEAR_MS, MARGIN_MS } from './photo-match.js';
import { deviceWord } from './marks.js';
import { rounded } from '../rounding.js';
import { counted, fullDay, clock, spanWords } from './words.js';

const MINUTE_MS = 60_000;
const FOOT_M = 0.3048;
/** GPS that is further off is of another place. */
const FAR_M = 1000;

/** @param {number} ms @returns {string} 3 min after, 3 min before, within a minute of */
const beside = (ms) => (Math.abs(ms) < MINUTE_MS ? 'within a minute of'
  : `${spanWords(ms)} ${ms < 0 ? 'before' : 'after'}`);

/**
 * Why a photo is proposed to be of a unit, or of none.
 * @param {import('./photo-match.js').Match} match @param {(unitId: string) => string} tagOf @param {string} zone
 * @returns {string}
 */
export function whyOf(match, tagOf, zone) {
  const { by, tags, near } = match;
  const named = by === 'folder' ? 'Its folder says' : 'Its name says';
  if (tags.length > 1) return `${named} ${tags.join(' and ')}: choose one.`;
  if (tags.length) return `${named} ${tags[0]}.`;
  if (match.fault === 'no-time') return 'Its file says no time.';
  if (match.fault === 'to-come') {
    return `The camera says ${fullDay(match.ms ?? 0, zone)}, ${clock(match.ms ?? 0, zone)}, which is still to come.`;
  }
  if (!match.visitId) return `No visit on this ${deviceWord()} has that time.`;
  if (Math.abs(match.awayMs) > MARGIN_MS) {
    const side = match.awayMs < 0 ? 'before that visit began' : 'after that visit ended';
    return `Taken ${spanWords(match.awayMs)} ${side}.`;
  }
  if (!near) return 'No unit was checked on that visit.';
  const off = `${beside(near.awayMs)} the check of ${tagOf(near.check.unitId)}`;
  if (by === 'check') return `Taken ${off}.`;
  return `No check within ${spanWords(NEAR_MS)} of it; the nearest: ${off}.`;
}

/**
 * When a photo was taken, as it will be kept.
 * @param {import('./photo-match.js').Match} match
 * @param {ReturnType<typeof import('./photo-match.js').targetOf>} target @param {string} zone
 */
export function whenOf(match, target, zone) {
  const ms = target?.ms ?? (match.fault ? null : match.ms);
  if (ms === null) return 'No time';
  const at = `${fullDay(ms, zone)}, ${clock(ms, zone)}`;
  if (target?.dated === 'check') return `${at}, the time of the check`;
  if (target?.dated === 'visit') return `${at}, the time the visit began`;
  return match.isTwice ? `${at}, an hour the clock showed twice that night` : at;
}

/** @param {number|null} distance_m between a photo and its unit @param {string} tag @param {boolean} feet */
export function gpsOf(distance_m, tag, feet) {
  if (distance_m === null) return '';
  if (distance_m > FAR_M) return `Its GPS is more than ${rounded(feet ? FAR_M / FOOT_M : FAR_M, 0)} ${
    feet ? 'ft' : 'm'} from ${tag}.`;
  return `Its GPS is ${rounded(feet ? distance_m / FOOT_M : distance_m, 0)} ${feet ? 'ft' : 'm'} from ${tag}.`;
}

/** @type {Record<import('./chosen-photos.js').Why, string>} */
export const NOT_ADDED = {
  here: 'already in the app', twice: 'chosen twice', 'no-picture': 'not a picture',
  'not-opened': 'no picture that can be opened',
  'too-large': 'larger than 8 MB, and this browser cannot make it smaller: save it as a JPEG first',
  'too-many': 'more than fit at once: choose it with the next ones',
};

/**
 * What a clock that was wrong changes.
 * @param {number} aheadMin @param {{inVisit: number, nearCheck: number, of: number}} count
 */
export function shiftWords(aheadMin, { inVisit, nearCheck, of }) {
  const moved = aheadMin === 0 ? 'Times are as the camera wrote them.'
    : `Times are moved ${counted(Math.abs(aheadMin), 'minute')} ${aheadMin > 0 ? 'back' : 'on'}.`;
  return `${moved} Of ${counted(of, 'photo')}, ${inVisit} lie within a visit and ${nearCheck} near a check.`;
}
