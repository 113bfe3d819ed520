/**
 * Visits and the phones on them: each phone's part is a record of its own, so one team that ends stops no other team's
 * clock.
 *
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {import('../records/rows.js').VisitPart} VisitPart
 */
import { groupsOf } from '../records/joined.js';
import { instant, msOf } from './words.js';

/** A visit nobody ended is taken as over after this long. */
export const VISIT_MS = 16 * 3_600_000;

/** An instant as milliseconds. @param {string|null|undefined} at */
const timeOf = (at) => msOf(at) ?? 0;

/** @param {{started_at?: string|null}} visit @param {number} nowMs */
export const isOfThisTide = (visit, nowMs) => timeOf(visit.started_at) > nowMs - VISIT_MS;

/**
 * The visit that somebody was signed in on, or that it is one with.
 * @param {{visit_id?: string|null}} signIn @param {Visit[]} visits @returns {Visit|undefined}
 */
export const visitOf = (signIn, visits) => groupsOf(visits).shown(signIn.visit_id);

/**
 * A visit's name, and those of the visits that are one with it.
 * @param {{record_id: string}} visit @param {Visit[]} visits @returns {Set<string|null|undefined>}
 */
export function idsOf(visit, visits) {
  const groups = groupsOf(visits);
  return new Set([visit.record_id, groups.rootOf(visit.record_id),
    ...groups.of(visit.record_id).map((each) => each.record_id)]);
}

/**
 * A visit with the water as it was read last on it, or on one that is one with it.
 * @template {Visit|null} V @param {V} visit @param {Visit[]} visits @returns {V}
 */
export function asRead(visit, visits) {
  if (!visit) return visit;
  const read = groupsOf(visits).of(visit.record_id).filter((each) => each.observed_at)
    .sort((one, other) => timeOf(other.observed_at) - timeOf(one.observed_at))[0];
  if (!read || timeOf(read.observed_at) <= timeOf(visit.observed_at)) return visit;
  const { observed_at, observed_level_m, level_datum } = read;
  return { ...visit, observed_at, observed_level_m, level_datum };
}

/**
 * A visit with its low, also where only one that is one with it says which. Where they say several, the earliest near
 * its start: a join must give nobody on the shore a later time to turn back, or none.
 * @template {Visit|null} V @param {V} visit @param {Visit[]} visits @param {{id: string|null, lowMs: number}[]} windows
 * @returns {V}
 */
export function onItsLow(visit, visits, windows) {
  if (!visit) return visit;
  const lowIds = new Set(groupsOf(visits).of(visit.record_id).flatMap((each) => each.window_id ?? []));
  if (!lowIds.size || (lowIds.size === 1 && visit.window_id)) return visit;
  // To name a low takes time, so only those near the start are asked.
  const near = windows.filter(({ lowMs }) => Math.abs(lowMs - timeOf(visit.started_at)) < VISIT_MS);
  const first = near.find(({ id }) => id !== null && lowIds.has(id))?.id;
  return { ...visit, window_id: first ?? visit.window_id ?? [...lowIds][0] };
}

/**
 * @param {Visit} visit @param {Visit[]} visits of the site @param {VisitPart[]} parts
 * @returns {VisitPart[]} the phones' parts, first begun first
 */
export function partsOf(visit, visits, parts) {
  const ids = idsOf(visit, visits);
  return parts.filter((part) => ids.has(part.of_visit_id))
    .sort((one, other) => timeOf(one.from_at) - timeOf(other.from_at));
}

/**
 * Whether every phone has left a visit. Apps up to 0.3.0 write no parts: of theirs the visit's own end counts.
 * @param {Visit} visit @param {Visit[]} visits @param {VisitPart[]} parts
 */
export function isOver(visit, visits, parts) {
  const known = partsOf(visit, visits, parts);
  return known.length ? known.every((part) => part.until_at) : Boolean(visit.ended_at);
}

/** @param {import('./router.js').Phone} phone @returns {Promise<{visits: Visit[], parts: VisitPart[]}>} of its site */
export async function readVisits(phone) {
  const siteId = phone.me.site_id;
  const [visits, parts] = await Promise.all([phone.rows('visit', { siteId }), phone.rows('visit_part', { siteId })]);
  return { visits, parts };
}

/**
 * @param {import('./router.js').Phone} phone @param {Visit[]} visits of the site
 * @returns {Visit[]} those of this tide, the newest first. To whatever a visit was joined, the one of it that is of
 *   this tide stands here: a crew on the shore keeps its clock
 */
function recent(phone, visits) {
  const groups = groupsOf(visits);
  const isNow = (/** @type {Visit} */ visit) => Boolean(visit.started_at) && isOfThisTide(visit, phone.now());
  return groups.all.flatMap((shown) => (isNow(shown) ? shown : groups.of(shown.record_id).find(isNow) ?? []))
    .sort((one, other) => timeOf(other.started_at) - timeOf(one.started_at));
}

/**
 * @param {import('./router.js').Phone} phone @param {{visits: Visit[], parts: VisitPart[]}} known
 * @returns {Visit|null} the visit that runs now, the newest where two run
 */
export const runningOf = (phone, { visits, parts }) => recent(phone, visits)
  .find((visit) => !isOver(visit, visits, parts))
  ?? null;

/**
 * @param {import('./router.js').Phone} phone @param {{visits: Visit[], parts: VisitPart[]}} known
 * @returns {Visit[]} visits that ended, and may be gone on with
 */
export const endedOf = (phone, { visits, parts }) => recent(phone, visits)
  .filter((visit) => isOver(visit, visits, parts));

/**
 * When the last phone left a visit, in milliseconds.
 * @param {Visit} visit @param {Visit[]} visits @param {VisitPart[]} parts
 */
export const endOf = (visit, visits, parts) =>
  Math.max(...partsOf(visit, visits, parts).map((part) => timeOf(part.until_at)),
    ...[visit, ...groupsOf(visits).of(visit.record_id)].map((each) => timeOf(each.ended_at ?? each.started_at)));

/**
 * @param {import('./router.js').Phone} phone @param {string} visitId @param {VisitPart[]} parts
 * @returns {VisitPart|undefined} this phone's part of a visit
 */
export const ownPart = (phone, visitId, parts) =>
  parts.find((part) => part.of_visit_id === visitId && part.device === phone.me.device_id);

/**
 * What a phone writes when it goes on a visit, or goes on with one; nothing where its part runs already.
 * @param {import('./router.js').Phone} phone @param {string} visitId @param {VisitPart[]} parts
 * @param {string|null} [leaderId]
 */
export function partBegins(phone, visitId, parts, leaderId = null) {
  const own = ownPart(phone, visitId, parts);
  if (own && !own.until_at) return [];
  const fields = own ? { until_at: null }
    : { of_visit_id: visitId, device: phone.me.device_id, from_at: instant(phone.now()),
      ...(leaderId ? { leader_id: leaderId } : {}) };
  return [{ kind: 'visit_part', recordId: own?.record_id ?? null, fields, visitId }];
}

/**
 * Changes that a phone makes on a visit, with its part where it has none yet: whoever writes on a visit is on it.
 * @param {import('./router.js').Phone} phone @param {Visit|null} visit @param {any[]} changes
 */
export async function onVisit(phone, visit, changes) {
  if (!visit || phone.me.role === 'desk') return changes;
  const { parts } = await readVisits(phone);
  return ownPart(phone, visit.record_id, parts) ? changes : [...changes, ...partBegins(phone, visit.record_id, parts)];
}

/**
 * How the end of a visit is written: of these parts, and of the visit, which ends when the last phone leaves.
 * @param {import('./router.js').Phone} phone @param {{record_id: string}} visit
 * @param {{record_id: string, visit_id: string|null}[]} ending parts
 */
export function endings(phone, visit, ending) {
  const at = instant(phone.now());
  return [
    ...ending.map((part) => ({ kind: 'visit_part', recordId: part.record_id, fields: { until_at: at },
      visitId: part.visit_id })),
    { kind: 'visit', recordId: visit.record_id, fields: { ended_at: at }, visitId: visit.record_id },
  ];
}
