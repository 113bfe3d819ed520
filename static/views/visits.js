/**
 * Visits and the phones on them: each phone's part is a record of its own, so one team that ends stops no other team's
 * clock.
 *
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {import('../records/rows.js').VisitPart} VisitPart
 */
import { instant, msOf } from './words.js';

/** A visit nobody ended is taken as over after this long. */
export const VISIT_MS = 16 * 3_600_000;

/** An instant as milliseconds. @param {string|null|undefined} at */
const timeOf = (at) => msOf(at) ?? 0;

/** @param {{started_at?: string|null}} visit @param {number} nowMs */
export const isOfThisTide = (visit, nowMs) => timeOf(visit.started_at) > nowMs - VISIT_MS;

/**
 * The visit that somebody was signed in on, or that one was joined to.
 * @param {{visit_id?: string|null}} signIn @param {Visit[]} visits @returns {Visit|undefined}
 */
export function visitOf(signIn, visits) {
  const named = visits.find((visit) => visit.record_id === signIn.visit_id);
  return visits.find((visit) => visit.record_id === named?.joined_to) ?? named;
}

/**
 * A visit's name, and those of the visits that were joined to it.
 * @param {Visit} visit @param {Visit[]} visits @returns {Set<string|null|undefined>}
 */
export const idsOf = (visit, visits) => new Set([visit.record_id,
  ...visits.filter((other) => other.joined_to === visit.record_id).map((visit) => visit.record_id)]);

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
 * @returns {Visit[]} those of this tide, the newest first
 */
const recent = (phone, visits) => visits
  .filter((visit) => visit.started_at && !visit.joined_to && isOfThisTide(visit, phone.now()))
  .sort((one, other) => timeOf(other.started_at) - timeOf(one.started_at));

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
    timeOf(visit.ended_at ?? visit.started_at));

/**
 * Who leads a visit: whom each phone chose at its start, and whom the visit itself names.
 * @param {Visit} visit @param {{visits: Visit[], parts: VisitPart[]}} known
 * @param {Map<string, string>} names of people
 * @returns {string[]} names
 */
export function leadersOf(visit, { visits, parts }, names) {
  const ids = [...partsOf(visit, visits, parts).map((part) => part.leader_id), visit.leader_id];
  return [...new Set(ids)].flatMap((leaderId) => names.get(leaderId ?? '') ?? []);
}

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
