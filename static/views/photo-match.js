/**
 * Which visit and which unit a photo is of, as far as its file says: a proposal for a person to look at. Numbers and
 * texts in, a proposal out; the file itself is read by chosen-photos.js.
 */
import { localText, msOfLocal } from './local-box.js';

const MINUTE_MS = 60_000;
/** A check further off in time proposes nothing. Our own proposal. */
export const NEAR_MS = 3 * MINUTE_MS;
/** Photos of the walk there and back are of the visit too. Our own proposal. */
export const MARGIN_MS = 30 * MINUTE_MS;
/** By how much clocks are set back in the night of a clock change, in minutes. */
const SET_BACK_MIN = [60, 30];

/**
 * @typedef {{path: string, text: string|null, offset: string|null}} Shot what a file says: its name, with the folders
 *   it lies in; the camera's time as it writes it, 2026:11:14 06:40:12; the zone's offset, -05:00
 * @typedef {{id: string, fromMs: number, untilMs: number, checks: {id: string, unitId: string, ms: number,
 *   isTimed?: boolean}[]}} Span a visit; isTimed: false where its day alone is known
 * @typedef {{zone: string, nowMs: number, aheadMs: number, visits: Span[], visitId: string|null,
 *   units: {id: string, tag: string}[]}} Known aheadMs: by how much the camera's clock is ahead; visitId: the visit
 *   that all are of, null where the time says it
 * @typedef {{check: Span['checks'][number], awayMs: number}} Near awayMs: the photo's time less the check's
 * @typedef {{ms: number|null, fault: 'no-time'|'to-come'|null, isOnSiteClock: boolean, isTwice: boolean,
 *   visitId: string|null, awayMs: number, near: Near|null, tags: string[], by: 'name'|'folder'|'check'|null,
 *   unitId: string|null}} Match ms: the moment, the camera's clock set right; isTwice: the site's clock showed that
 *   time twice; awayMs: before the visit's beginning below zero, after its end above; near: the nearest check of the
 *   visit; tags: those of `by` name or folder, of which several propose nothing
 */

/**
 * The moments that a camera's time may mean: none where it is no time, two in the hour that the site's clock shows
 * twice.
 * @param {Pick<Shot, 'text'|'offset'>} shot @param {string} zone the site's @returns {number[]} milliseconds
 */
export function momentsOf({ text, offset }, zone) {
  const parts = /^(\d{4}):(\d\d):(\d\d) (\d\d:\d\d):(\d\d)/.exec(text ?? '');
  if (!parts) return [];
  const local = `${parts[1]}-${parts[2]}-${parts[3]}T${parts[4]}`;
  const secondsMs = Number(parts[5]) * 1000;
  if (isOffset(offset)) return [Date.parse(`${local}:00${offset}`) + secondsMs].filter(Number.isFinite);
  const first = msOfLocal(local, zone);
  if (first === null) return [];
  const again = SET_BACK_MIN.map((minutes) => first + minutes * MINUTE_MS)
    .filter((ms) => localText(ms, zone) === local);
  return [first, ...again.slice(0, 1)].map((ms) => ms + secondsMs);
}

/** @param {string|null} offset @returns {boolean} whether the camera says its zone */
const isOffset = (offset) => /^([-+]\d\d:\d\d|Z)$/.test(offset ?? '');

/** @param {Span} visit @param {number} ms @returns {number} how far before the visit, below zero, or after it */
const outside = ({ fromMs, untilMs }, ms) => Math.min(ms - fromMs, 0) + Math.max(ms - untilMs, 0);

/** @param {Span['checks']} checks @param {number} ms @returns {Near|null} the check that is nearest in time */
function nearest(checks, ms) {
  const [near] = checks.map((check) => ({ check, awayMs: ms - check.ms }))
    .sort((one, other) => Math.abs(one.awayMs) - Math.abs(other.awayMs));
  return near ?? null;
}

/** Letters and digits in a row, as capitals. @param {string} text */
const pieces = (text) => text.toUpperCase().split(/[^\p{L}\p{N}]+/u).filter(Boolean);

/**
 * The units whose tags stand in a name. Digits alone are no tag there: cameras number their files.
 * @param {string} name @param {Known['units']} units
 */
function unitsIn(name, units) {
  const words = ` ${pieces(name).join(' ')} `;
  return units.filter(({ tag }) => /\p{L}/u.test(tag) && words.includes(` ${pieces(tag).join(' ')} `));
}

/**
 * What a file is named for: its own name before its folders, the nearest folder first.
 * @param {string} path @param {Known['units']} units
 * @returns {{by: 'name'|'folder', units: Known['units']}|null}
 */
function namedFor(path, units) {
  const [file, ...folders] = path.split('/').reverse();
  for (const [n, name] of [file.replace(/\.[^.]*$/, ''), ...folders].entries()) {
    const named = unitsIn(name, units);
    if (named.length) return { by: n ? 'folder' : 'name', units: named };
  }
  return null;
}

/**
 * The visit and the moment that fit each other: within the visit before near it, then the nearest check, then the
 * earlier moment, then the visit that began last.
 * @param {number[]} moments @param {Known} known
 */
function visitAt(moments, { visits, visitId }) {
  const fits = moments.flatMap((ms) => visits.map((visit) => ({
    ms, visit, awayMs: outside(visit, ms),
    near: nearest(visit.checks.filter(({ isTimed }) => isTimed !== false), ms) })))
    .filter(({ visit, awayMs }) => (visitId ? visit.id === visitId : Math.abs(awayMs) <= MARGIN_MS));
  const far = (/** @type {Near|null} */ near) => (near ? Math.abs(near.awayMs) : Number.MAX_VALUE);
  return fits.sort((one, other) => Math.abs(one.awayMs) - Math.abs(other.awayMs) || far(one.near) - far(other.near)
    || one.ms - other.ms || other.visit.fromMs - one.visit.fromMs)[0] ?? null;
}

/**
 * What a photo is proposed to be of.
 * @param {Shot} shot @param {Known} known @returns {Match}
 */
export function matchOf(shot, known) {
  const moments = momentsOf(shot, known.zone).map((ms) => ms - known.aheadMs);
  const past = moments.filter((ms) => ms <= known.nowMs);
  const fault = !moments.length ? 'no-time' : past.length ? null : 'to-come';
  const fit = visitAt(past, known);
  const named = namedFor(shot.path, known.units);
  const near = fit && Math.abs(fit.awayMs) <= MARGIN_MS ? fit.near : null;
  const isNear = near !== null && Math.abs(near.awayMs) <= NEAR_MS;
  return {
    ms: fit?.ms ?? past[0] ?? moments[0] ?? null, fault, isOnSiteClock: moments.length > 0 && !isOffset(shot.offset),
    isTwice: moments.length > 1, visitId: fit?.visit.id ?? known.visitId, awayMs: fit?.awayMs ?? 0, near,
    tags: (named?.units ?? []).map(({ tag }) => tag), by: named?.by ?? (isNear ? 'check' : null),
    unitId: named ? (named.units.length === 1 ? named.units[0].id : null) : isNear ? near.check.unitId : null,
  };
}

/**
 * What the photo's record names: the unit's check on the visit, else the unit, else the visit. Of a photo whose file
 * says no time that lies behind, the check's or the visit's beginning is the time.
 * @param {Match} match @param {string|null} unitId as a person left or corrected it @param {Span[]} visits
 * @returns {{of_kind: 'unit_check'|'unit'|'visit', of_id: string, visitId: string|null, ms: number, dated:
 *   'camera'|'check'|'visit'}|null} null where it names nothing, or has no time
 */
export function targetOf({ ms, fault, visitId }, unitId, visits) {
  const visit = visits.find(({ id }) => id === visitId) ?? null;
  const own = (visit?.checks ?? []).filter((check) => check.unitId === unitId);
  const check = (fault || ms === null ? own[0] : nearest(own, ms)?.check) ?? null;
  const saidMs = fault ? null : ms;
  const at = saidMs ?? check?.ms ?? visit?.fromMs ?? null;
  if (at === null || (!unitId && !visit)) return null;
  const dated = saidMs !== null ? 'camera' : check ? 'check' : 'visit';
  if (check) return { of_kind: 'unit_check', of_id: check.id, visitId, ms: at, dated };
  return unitId ? { of_kind: 'unit', of_id: unitId, visitId, ms: at, dated }
    : { of_kind: 'visit', of_id: /** @type {Span} */ (visit).id, visitId, ms: at, dated };
}
