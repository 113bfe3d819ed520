/** What visits came to: who came and for how long, units checked, water read, sightings, photos, flags raised. */
import { decimalHours, timeOf } from '../records/hours.js';
import { groupsOf } from '../records/joined.js';
import { isRemoved } from '../records/mistaken.js';
import { isOpen, siteFlags } from './open-flags.js';
import { PHOTO_KINDS } from './photo-box.js';
import { wasLookedAt } from './unit-facts.js';
import { endOf, idsOf, partsOf } from './visits.js';
import { clock, counted, length, msOf } from './words.js';

/**
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {import('../records/rows.js').SignIn} SignIn
 * @typedef {import('../records/pack.js').ShownFlag} ShownFlag
 * @typedef {{visits: Visit[], parts: import('../records/rows.js').VisitPart[]}} Known
 * @typedef {{people: number, minutes: number, out: number}} Attended minutes: on the shore, all together, of those
 *   with a time out; out: how many have neither a time out nor a reason for none
 * @typedef {{checked: Set<string>, sightings: number, photos: number, flags: ShownFlag[]}} Work checked: units
 */

/** A flag's moment is that of what was seen; a sheet's times are to the minute. */
const FLAG_SLACK_MS = 60_000;

/**
 * When a visit began: of joined ones the first.
 * @param {Visit} visit @param {Visit[]} visits
 */
export const startOf = (visit, visits) => Math.min(msOf(visit.started_at) ?? 0,
  ...groupsOf(visits).of(visit.record_id).flatMap((each) => msOf(each.started_at) ?? []));

/**
 * Who leads a visit: whom each phone chose at its start, and whom the visit itself names.
 * @param {Visit} visit @param {Known} known
 * @param {Map<string, string>} names of people
 * @returns {string[]} names
 */
export function leadersOf(visit, { visits, parts }, names) {
  const ids = [...partsOf(visit, visits, parts).map((part) => part.leader_id), visit.leader_id,
    ...groupsOf(visits).of(visit.record_id).map((each) => each.leader_id)];
  return [...new Set(ids)].flatMap((leaderId) => names.get(leaderId ?? '') ?? []);
}

/**
 * Who came with the visits of a site, worked out of a visit when it is asked for.
 * @param {Known} known @param {SignIn[]} signIns of the site @returns {(visit: Visit) => Attended}
 */
export function attendance({ visits }, signIns) {
  const groups = groupsOf(visits);
  /** @type {Map<string, Map<string, SignIn[]>>} */ const byVisit = new Map();
  for (const signIn of signIns) {
    const { visit_id: id, person_id: who, in_at: at } = signIn;
    if (!id || !who || !at || isRemoved('sign_in', signIn)) continue;
    const root = groups.rootOf(id);
    const people = byVisit.get(root) ?? byVisit.set(root, new Map()).get(root);
    const own = people?.get(who);
    if (own) own.push(signIn);
    else people?.set(who, [signIn]);
  }
  /** @type {Map<string, Attended>} */ const known = new Map();
  return (visit) => {
    const root = groups.rootOf(visit.record_id);
    const before = known.get(root);
    if (before) return before;
    const people = [...byVisit.get(root)?.values() ?? []];
    const isLeftOpen = (/** @type {SignIn} */ turn) => !turn.out_at && !turn.no_out_reason && turn.time_known !== false;
    const attended = {
      people: people.length, out: people.filter((turns) => turns.some(isLeftOpen)).length,
      minutes: people.reduce((sum, turns) => sum + timeOf(turns).minutes, 0),
    };
    known.set(root, attended);
    return attended;
  };
}

/** @param {number} minutes @returns {string} 15.25 h */
export const hoursWords = (minutes) => `${decimalHours(minutes)} h`;

/**
 * "13 people, 15.25 h", or that nobody was signed in.
 * @param {Attended} attended
 */
export const attendedWords = ({ people, minutes }) => (people
  ? `${counted(people, 'person', 'people')}${minutes ? `, ${hoursWords(minutes)}` : ''}` : 'nobody signed in');

/**
 * What was done on some visits, read by their names: a site has thousands of checks.
 * @param {import('./router.js').Phone} phone @param {Visit[]} wanted @param {Known} known
 * @returns {Promise<Map<string, Work>>} by the visit's name
 */
export async function workOn(phone, wanted, known) {
  const { visits } = known;
  const idsBy = new Map(wanted.map((visit) => [visit.record_id, idsOf(visit, visits)]));
  const of = [...new Set([...idsBy.values()].flatMap((ids) => [...ids]))]
    .flatMap((id) => (id ? [{ kind: 'visit', id }] : []));
  const [checks, sightings, fixes, ...photos] = await Promise.all([phone.rowsOf('unit_check', of),
    phone.rowsOf('sighting', of), phone.rowsOf('position_fix', of),
    ...PHOTO_KINDS.map((kind) => phone.rowsOf(/** @type {'photo'} */ (kind), of))]);
  const groups = groupsOf(visits);
  const byVisit = (/** @type {any[]} */ rows) => {
    /** @type {Map<string, any[]>} */ const lists = new Map();
    for (const row of rows) {
      const root = groups.rootOf(row.visit_id ?? (row.of_kind === 'visit' ? row.of_id : null));
      const list = lists.get(root);
      if (list) list.push(row);
      else lists.set(root, [row]);
    }
    return lists;
  };
  const [checksOf, sightingsOf, fixesOf, photosOf] = [checks, sightings, fixes, photos.flat()].map(byVisit);
  const flags = siteFlags(phone);
  return new Map(wanted.map((visit) => {
    const root = groups.rootOf(visit.record_id);
    const rows = { checks: checksOf.get(root) ?? [], fixes: fixesOf.get(root) ?? [] };
    return [visit.record_id, {
      checked: new Set(rows.checks.filter(wasLookedAt).map((check) => check.unit_id)),
      sightings: sightingsOf.get(root)?.length ?? 0, photos: new Set(photosOf.get(root)?.map((row) => row.sha256)).size,
      flags: flagsOf(visit, known, rows, flags),
    }];
  }));
}

/**
 * The flags that a visit raised, of those that a phone has: open ones and those settled lately. A flag's moment is that
 * of what raised it.
 * @param {Visit} visit @param {Known} known @param {{checks: any[], fixes: any[]}} rows @param {ShownFlag[]} flags
 */
function flagsOf(visit, { visits, parts }, { checks, fixes }, flags) {
  const units = new Set([...checks.map((check) => check.unit_id),
    ...fixes.flatMap((fix) => (fix.of_kind === 'unit' ? fix.of_id : []))]);
  const records = new Set([...checks, ...fixes].map((row) => row.record_id));
  const times = [...checks.map((check) => msOf(check.checked_at)), ...fixes.map((fix) => msOf(fix.fixed_at))]
    .flatMap((ms) => ms ?? []);
  const from = Math.min(startOf(visit, visits), ...times) - FLAG_SLACK_MS;
  const until = Math.max(endOf(visit, visits, parts), ...times) + FLAG_SLACK_MS;
  return flags.filter(({ subject, raised_at: at, rule }) => rule !== 'overdue' && (records.has(subject.id)
    || (units.has(subject.id) && (msOf(at) ?? 0) >= from && (msOf(at) ?? 0) <= until)));
}

/** Those that nobody has settled. @param {ShownFlag[]} flags */
export const openOf = (flags) => flags.filter(isOpen);

/**
 * The water as it was read on a visit: "water 0.22 m at 11:20".
 * @param {Visit} visit as `asRead` gives it @param {{zone: string, settings: {feet: boolean}}} stage
 */
export const readWords = ({ observed_at: at, observed_level_m: level, time_known: known }, { zone, settings }) => (
  typeof level !== 'number' ? 'water not read' : `water ${length(level, settings.feet)}${
    at && known !== false ? ` at ${clock(msOf(at) ?? 0, zone)}` : ''}`);
