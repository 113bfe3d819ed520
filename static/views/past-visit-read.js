/** All that is known of one visit, joined ones as one, read from the phone by the names of its visits. */
import { groupsOf } from '../records/joined.js';
import { isRemoved } from '../records/mistaken.js';
import { knows, openTide } from '../tides/predict.js';
import { allowanceOf } from '../tides/windows.js';
import { personName, recordName, speciesName, unitTag } from './names.js';
import { planFor, stopsOf } from './plan.js';
import { plannedWindow, readShore, rowLevels, seenOf, shiftOf } from './shore.js';
import { attendance, leadersOf, startOf, workOn } from './visit-sums.js';
import { asRead, endOf, idsOf, isOver, readVisits } from './visits.js';
import { msOf } from './words.js';

const HOUR_MS = 3_600_000;
/** A drawing reads the tide so far to both sides of its low. */
export const REACH_MS = 14 * HOUR_MS;
/** The first days of the first year that a pack has numbers of lack the tide before them. */
const AFTER_FIRST_MS = 4 * 24 * HOUR_MS;

/** The kinds of records that are written on a visit, and the field that says when. @type {Record<string, string>} */
export const AT = { unit_check: 'checked_at', sighting: 'seen_at', sign_in: 'in_at', unit_event: 'event_at',
  position_fix: 'fixed_at', photo: 'taken_at', people_photo: 'taken_at', plot_event: 'event_at',
  ...Object.fromEntries(['stake_reading', 'table_reading', 'horizon_reading', 'level_run', 'rod_profile',
    'cover_reading', 'edge_reading', 'settlement_count', 'water_reading'].map((kind) => [kind, 'read_at'])) };

/**
 * @typedef {import('../records/rows.js').Visit} Visit
 * @typedef {{tag: string, id: string}} Stop
 * @typedef {{visit: Visit, group: Visit[], parts: import('../records/rows.js').VisitPart[], known:
 *   import('./visit-sums.js').Known, shore: import('./shore.js').Shore, rows: {name: string, bedM: number}[],
 *   stays: (import('./ebb.js').Stay & {isTimed: boolean})[], attended: import('./visit-sums.js').Attended,
 *   work: import('./visit-sums.js').Work,
 *   leaders: string[], startedMs: number, endedMs: number|null, written: Record<string, any[]>, names: Map<string,
 *   string>, planned: Stop[]|null, missed: Stop[], briefed: number}} Past
 * group: the visits that are one, the first begun first; written: rows by kind, removed ones too; names: what records
 * are called, by id; planned: the units of the plan for its low, null without one; missed: those of them that nobody
 * checked
 */

/** @type {WeakMap<object, any>} */
const opened = new WeakMap();

/**
 * The tide at a time that lies behind: the pack's numbers are of whole years, and hold from the first one's beginning.
 * @param {import('./router.js').Phone} phone @param {number} ms
 * @returns {import('./shore.js').Tide|null} null where it has none of that time
 */
function tideThen(phone, ms) {
  const given = phone.tides(phone.me.site_id);
  if (!given?.numbers?.length) return null;
  if (!opened.has(given)) opened.set(given,
    openTide({ ...given, from_ms: given.numbers[0].start_ms + AFTER_FIRST_MS }));
  const tide = opened.get(given);
  return knows(tide, ms - 2 * REACH_MS, ms + 2 * REACH_MS) ? tide : null;
}

/**
 * @param {import('./router.js').Phone} phone @param {string} visitId
 * @returns {Promise<Past|null>} null where it is not here
 */
export async function readPast(phone, visitId) {
  const siteId = phone.me.site_id;
  const known = await readVisits(phone);
  const shown = groupsOf(known.visits).shown(visitId);
  if (!shown?.started_at || shown.site_id !== siteId) return null;
  const visit = asRead(shown, known.visits);
  const ids = idsOf(visit, known.visits);
  const of = [...ids].flatMap((id) => (id ? [{ kind: 'visit', id }] : []));
  const [now, rows, signIns, people, units, species, plots, plans, work, ...lists] = await Promise.all([
    readShore(phone, visit), rowLevels(phone), phone.rows('sign_in', { siteId }), phone.rows('person', { siteId }),
    phone.rows('unit', { siteId }), phone.rows('species', { siteId }), phone.rows('plot', { siteId }),
    phone.rows('visit_plan', { siteId }),
    workOn(phone, [visit], known), ...Object.keys(AT).map((kind) => phone.rowsOfAndRemoved(kind, of)),
  ]);
  const startedMs = startOf(visit, known.visits);
  // A day alone says nothing of the tide.
  const tide = visit.time_known === false ? null : tideThen(phone, startedMs);
  const seenM = seenOf(visit, tide);
  const shore = { ...now, tide, seenM, shiftM: shiftOf(seenM, now.allowsM, allowanceOf(now.site ?? {})) };
  const nameOf = (/** @type {(row: any) => string} */ naming) => (/** @type {{record_id: string}} */ row) =>
    /** @type {[string, string]} */ ([row.record_id, naming(row)]);
  const names = new Map([...people.map(nameOf(personName)), ...units.map(nameOf(unitTag)),
    ...species.map(nameOf(speciesName)), ...plots.map(nameOf(recordName))]);
  const written = Object.fromEntries(Object.keys(AT).map((kind, n) => [kind, lists[n]]));
  const came = written.sign_in.filter((signIn) => signIn.in_at && !isRemoved('sign_in', signIn));
  const isEnded = isOver(visit, known.visits, known.parts);
  return {
    visit, group: groupsOf(known.visits).of(visit.record_id), known, shore, rows, names, written, startedMs,
    parts: known.parts.filter((part) => ids.has(part.of_visit_id)),
    endedMs: isEnded ? endOf(visit, known.visits, known.parts) : null,
    leaders: leadersOf(visit, known, names), attended: attendance(known, signIns)(visit),
    work: /** @type {any} */ (work.get(visit.record_id)), ...planOf(shore, plans, written.unit_check, names),
    briefed: new Set(came.filter((signIn) => signIn.briefing_heard).map((signIn) => signIn.person_id)).size,
    stays: came.map((signIn) =>
      ({ name: names.get(signIn.person_id ?? '') ?? personName(null), inMs: msOf(signIn.in_at) ?? 0,
        outMs: msOf(signIn.out_at), isTimed: signIn.time_known !== false })),
  };
}

/**
 * What the newest plan of the visit's low had, and what of it nobody checked.
 * @param {import('./shore.js').Shore} shore @param {any[]} plans @param {any[]} checks
 * @param {Map<string, string>} names
 */
function planOf(shore, plans, checks, names) {
  const { visit } = shore;
  const plan = plans.filter(({ window_id: id }) => id && id === visit?.window_id)
    .sort((one, other) => (msOf(other.made_at) ?? 0) - (msOf(one.made_at) ?? 0))[0]
    ?? planFor(plans, plannedWindow(shore)?.lowMs ?? null);
  if (!plan) return { planned: null, missed: [] };
  const ids = [...new Set(stopsOf(plan).map(({ stopId }) => stopId))].filter((id) => names.has(id));
  const reached = new Set(checks.filter((check) => !check._deleted && check.found_state !== 'not_visited')
    .map((check) => check.unit_id));
  const planned = ids.map((id) => ({ id, tag: names.get(id) ?? '' }));
  return { planned, missed: planned.filter(({ id }) => !reached.has(id)) };
}
