/** Heads: who has no time out, and who of those came with a visit. */
import { isOut } from '../records/heads-out.js';
import { isRemoved } from '../records/mistaken.js';
import { isLeft, leftFrom } from './left-out.js';
import { deviceWord } from './marks.js';
import { idsOf, isOfThisTide, isOver, VISIT_MS, visitOf } from './visits.js';
import { msOf } from './words.js';

/**
 * @typedef {import('../records/rows.js').SignIn} SignIn
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {{signIn: SignIn, person: Partial<import('../records/rows.js').Person>, leftMs: number}} Out
 * leftMs: from when on they are of an earlier tide
 */

/** Who came longer before a visit than from low to high is not of its low. */
const HALF_TIDE_MS = 6 * 3_600_000;
/** An instant as milliseconds. @param {string|null|undefined} instant */
const timeOf = (instant) => msOf(instant) ?? 0;

/**
 * @param {import('./router.js').Phone} phone
 * @returns {Promise<Out[]>} who has no time out, whatever the day, first in first
 */
export async function peopleOut(phone) {
  const [signIns, people, visits] = await Promise.all([
    phone.rows('sign_in', { siteId: phone.me.site_id }),
    phone.rows('person', { siteId: phone.me.site_id }),
    phone.rows('visit', { siteId: phone.me.site_id }),
  ]);
  const byId = new Map(people.map((person) => [person.record_id, person]));
  return signIns
    .filter(isOut)
    .sort((one, other) => timeOf(one.in_at) - timeOf(other.in_at))
    .map((signIn) => ({ signIn, leftMs: leftFrom(signIn, visits),
      person: byId.get(signIn.person_id ?? '') ?? { display_name: `A person not on this ${deviceWord()} yet` } }));
}

/**
 * Who of those out came with a visit: signed in on it or on one that was joined to it, or on none and on its tide.
 * Who was forgotten on an earlier day is of that day's visit, and neither rings nor takes time to gather.
 * @param {Visit|null} visit @param {Visit[]} visits of the site @param {Out[]} out @returns {Out[]}
 */
export function partyOf(visit, visits, out) {
  if (!visit) return [];
  const ids = idsOf(visit, visits);
  const earliest = timeOf(visit.started_at) - HALF_TIDE_MS;
  // Who came with one that was joined from another day is not on this tide.
  const isOfIt = (/** @type {SignIn} */ signIn) => signIn.visit_id === visit.record_id || (ids.has(signIn.visit_id)
    && timeOf(signIn.in_at) > timeOf(visit.started_at) - VISIT_MS);
  return out.filter(({ signIn }) => (signIn.visit_id ? isOfIt(signIn) : timeOf(signIn.in_at) > earliest));
}

/**
 * Who has no time out, told apart. While a visit runs, its heads are its own: nobody who was forgotten on an earlier
 * one counts with them.
 * @param {Visit|null} visit @param {{visits: Visit[], parts: import('../records/rows.js').VisitPart[]}} known
 * @param {Out[]} everyone @param {number} nowMs
 * @returns {{party: Out[], elsewhere: Out[], left: Out[], out: Out[]}} party: came with the visit; elsewhere: out on
 *   another visit that runs; left: left open, by an earlier tide or a visit that is over; out: all but those
 */
export function partedOut(visit, { visits, parts }, everyone, nowMs) {
  const party = partyOf(visit, visits, everyone);
  const isElsewhere = (/** @type {Out} */ { signIn }) => {
    const its = visitOf(signIn, visits);
    if (its) return !isOver(its, visits, parts) && isOfThisTide(its, nowMs);
    return !visit || timeOf(signIn.in_at) > timeOf(visit.started_at) - HALF_TIDE_MS;
  };
  const left = everyone.filter((stay) => !party.includes(stay)
    && (isLeft(stay, nowMs) || (visit && !isElsewhere(stay))));
  const out = everyone.filter((stay) => !left.includes(stay));
  return { party, elsewhere: out.filter((stay) => visit && !party.includes(stay)), left, out };
}

/**
 * Whether anybody was signed in on a visit: before that nobody is back from it either.
 * @param {Visit|null} visit @param {Visit[]} visits of the site @param {SignIn[]} signIns removed ones do not count
 */
export const hasCome = (visit, visits, signIns) => partyOf(visit, visits, signIns
  .filter((signIn) => !isRemoved('sign_in', signIn))
  .map((signIn) => ({ signIn, person: {}, leftMs: Infinity }))).length > 0;
