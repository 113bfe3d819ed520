/**
 * A visit in order of time: each thing that was written on it at the moment it tells of, what was corrected struck with
 * who corrected it. Of whom or what only the day is known stands under its day, before what has a time.
 */
import { dayWords } from '../days.js';
import { isRemoved } from '../records/mistaken.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { saidOf as valueWords } from './difference.js';
import { formOf, inputsOf, labelOf } from './kind-forms.js';
import { deviceWord, pill, rowLink, section } from './marks.js';
import { named } from './names.js';
import { AT } from './past-visit-read.js';
import { writerName, withRemovals } from './removed.js';
import { saidOf } from './written-on.js';
import { clock, counted, instant, length, localDay, moment, msOf } from './words.js';

/**
 * @typedef {import('./past-visit-read.js').Past} Past
 * @typedef {{kind: string, row: any, atMs: number, field: string, words: unknown, small?: unknown, isDayOnly: boolean,
 *   flags?: import('../records/pack.js').ShownFlag[]}} Entry field: the moment of the record that it tells of
 * @typedef {{field: string, words: unknown}} Correction of a field, in words
 */

/** What is written this long after a visit was added later. */
const LATER_MS = 24 * 3_600_000;
/** Kinds that written-on.js has words of. */
const SAID_OF = ['unit_check', 'sighting', 'unit_event'];
/** Fields that are no news to whoever reads a visit: how it stands in the log, not what was seen. */
const NOT_SAID = new Set(['window_id', 'briefing_done', 'briefing_heard', 'level_datum', 'looked_only', 'time_known']);

/** @param {import('./router.js').Stage} stage @param {Past} past @returns {Promise<Entry[]>} in order of time */
export async function readEntries(stage, past) {
  const { phone } = stage;
  const { names, written, work } = past;
  const byId = new Map((await Promise.all(['unit', 'person', 'species'].map((kind) =>
    phone.rows(kind, { siteId: phone.me.site_id })))).flat().map((row) => [row.record_id, row]));
  const lists = await Promise.all(Object.keys(AT).map(async (kind) => {
    const rows = await withRemovals(stage, kind, written[kind].filter((row) => row[AT[kind]]));
    return rows.flatMap((row) => (kind === 'sign_in' ? turnOf(row, names) : ofRecord(phone, kind, row, byId, names)));
  }));
  const entries = [...past.group.flatMap((visit) => ofVisit(stage, visit, past)), ...ofParts(past), ...lists.flat()];
  for (const entry of entries) {
    if (entry.kind !== 'unit_check') continue;
    entry.flags = work.flags.filter(({ subject, raised_at: at }) => subject.id === entry.row.record_id
      || (subject.id === entry.row.unit_id && Math.abs((msOf(at) ?? 0) - entry.atMs) < 60_000));
  }
  const placeOf = (/** @type {Entry} */ { atMs, isDayOnly }) =>
    `${localDay(atMs, stage.zone)} ${isDayOnly ? 0 : 1} ${instant(atMs)}`;
  const placed = entries.map((entry) => ({ entry, place: placeOf(entry) }));
  return placed.sort((one, other) => (one.place < other.place ? -1 : 1)).map(({ entry }) => entry);
}

/** @param {any} row @param {string} kind @param {string} field @param {unknown} words @param {unknown} [small] */
const entryOf = (row, kind, field, words, small = nothing) => ({ row, kind, field, words, small,
  atMs: msOf(row[field]) ?? 0, isDayOnly: row.time_known === false });

/** @param {any} row a sign-in @param {Map<string, string>} names @returns {Entry[]} */
function turnOf(row, names) {
  const name = names.get(row.person_id) ?? `A person not on this ${deviceWord()}`;
  if (row.removed) return [entryOf(row, 'sign_in', 'in_at', `${name} signed in`)];
  if (row.time_known === false) return [entryOf(row, 'sign_in', 'in_at', `${name} was there`, 'times not known')];
  const reason = !row.out_at && row.no_out_reason ? `no sign-out time: ${row.no_out_reason}` : nothing;
  return [entryOf(row, 'sign_in', 'in_at', `${name} in`, row.out_at || row.no_out_reason ? reason
    : 'no sign-out time'), ...(row.out_at ? [entryOf(row, 'sign_in', 'out_at', `${name} out`)] : [])];
}

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {Map<string, any>} byId
 * @param {Map<string, string>} names @returns {Entry[]}
 */
function ofRecord(phone, kind, row, byId, names) {
  const by = names.get(row.created_by) ?? nothing;
  if (kind === 'position_fix') return [entryOf(row, kind, AT[kind],
    `${names.get(row.of_id) ?? labelOf(phone, kind, 'of_kind', row.of_kind, 'Position')}, position measured`, by)];
  if (kind === 'photo' || kind === 'people_photo') return [entryOf(row, kind, AT[kind],
    `${kind === 'photo' ? 'Photo' : 'Photo of people'}${row.shows ? `: ${row.shows}` : ''}`, by)];
  if (!SAID_OF.includes(kind)) return [entryOf(row, kind, AT[kind], [names.get(row.plot_id), formOf(phone, kind)?.title]
    .filter(Boolean).join(', '), row.note ? html`${by}<br>${row.note}` : by)];
  return [entryOf(row, kind, AT[kind], saidOf(phone, kind, row, byId), row.note ? html`${by}<br>${row.note}` : by)];
}

/**
 * Its beginning, its water and its end.
 * @param {import('./router.js').Stage} stage @param {any} visit @param {Past} past @returns {Entry[]}
 */
function ofVisit({ phone, settings }, visit, { names, group }) {
  const purpose = labelOf(phone, 'visit', 'purpose', visit.purpose, 'visit').toLowerCase();
  const which = group.length > 1 ? ` (${purpose})` : '';
  return [entryOf(visit, 'visit', 'started_at', `Visit started${which}`, names.get(visit.created_by) ?? nothing),
    ...(typeof visit.observed_level_m === 'number' && visit.observed_at ? [{ ...entryOf(visit, 'visit', 'observed_at',
      `Water read ${length(visit.observed_level_m, settings.feet)}`,
      named(visit.level_datum, '') ? `above ${visit.level_datum}` : nothing) }] : []),
    ...(visit.ended_at ? [entryOf(visit, 'visit', 'ended_at', `Visit ended${which}`)] : [])]
    .filter(({ atMs }) => atMs);
}

/** Each phone's part, where there was more than one. @param {Past} past @returns {Entry[]} */
function ofParts({ parts, names }) {
  if (parts.length < 2) return [];
  return parts.flatMap((part) => {
    const whose = names.has(part.created_by ?? '') ? `${names.get(part.created_by ?? '')}\u2019s phone`
      : 'Another phone';
    return [...(part.from_at ? [entryOf(part, 'visit_part', 'from_at', `${whose} joined the visit`)] : []),
      ...(part.until_at ? [entryOf(part, 'visit_part', 'until_at', `${whose} left the visit`)] : [])];
  });
}

/**
 * What was corrected, by the record and the moment's field: read after the rest, of records with more than one entry.
 * @param {import('./router.js').Stage} stage @param {Past} past @param {Entry[]} entries
 * @returns {Promise<Map<any, Correction[]>>} by the entry's row
 */
export async function readCorrections(stage, past, entries) {
  const rows = new Map(entries.filter(({ row }) => !(row.created_at_ms >= row.changed_at_ms))
    .map(({ kind, row }) => [row, kind]));
  const read = await Promise.all([...rows].map(async ([row, kind]) => {
    const history = await stage.phone.historyOf(kind, row.record_id);
    return /** @type {[any, Correction[]]} */ ([row, await corrected(stage, kind, row, history, past)]);
  }));
  return new Map(read.filter(([, list]) => list.length));
}

/**
 * A value that took the place of another one; and a record that was moved from visit to visit, or a visit joined.
 * @param {import('./router.js').Stage} stage @param {string} kind @param {any} row @param {any[]} history
 * @param {Past} past @returns {Promise<Correction[]>}
 */
async function corrected(stage, kind, row, history, { names }) {
  const { phone, zone } = stage;
  const inputs = inputsOf(phone, kind);
  /** @type {Record<string, any>} */ const before = {};
  /** @type {Correction[]} */ const corrections = [];
  const wordsOf = (/** @type {string} */ field, /** @type {any} */ value) => (inputs.get(field)?.control === 'ref'
    ? names.get(value) ?? 'another record' : valueWords(phone, kind, field, value, zone));
  for (const { fields, by, at_ms: atMs } of history) {
    const who = `${await writerName(phone, by)}, ${moment(atMs, phone.now(), zone)}`;
    for (const [field, value] of Object.entries(fields)) {
      const old = before[field] ?? null;
      before[field] = value;
      if (isRemoved(kind, { [field]: value }) || NOT_SAID.has(field) || field === '_deleted') continue;
      if (field === 'in_visit' || field === 'joined_to') {
        const what = field === 'in_visit' ? value ? 'Moved to this visit' : 'Moved back to this visit'
          : value ? 'Joined with another visit' : 'Join taken back';
        if (value || old) corrections.push({ field, words: html`${what} by ${who}` });
      } else if (old !== null && old !== value) {
        const title = inputs.get(field)?.title ?? 'Changed';
        corrections.push({ field, words: html`${title}: <s>${wordsOf(field, old)}</s> ${wordsOf(field, value)},
          corrected by ${who}` });
      }
    }
  }
  return corrections;
}

/**
 * Corrections beside the moment that they are of; all others beside the record's first.
 * @param {Entry} entry @param {Correction[]} [list]
 */
const besideIt = ({ kind, field }, list = []) => list.filter((correction) => (correction.field === field
  || (isFirst(kind, field) && !MOMENTS.has(correction.field))
  || (field === 'observed_at' && correction.field === 'observed_level_m')));

const MOMENTS = new Set(['out_at', 'ended_at', 'observed_at', 'observed_level_m', 'until_at']);

/** @param {string} kind @param {string} field */
const isFirst = (kind, field) => !MOMENTS.has(field) || !['sign_in', 'visit', 'visit_part'].includes(kind);

/**
 * @param {import('./router.js').Stage} stage @param {Past} past @param {Entry[]} shown those to be drawn now
 * @param {number} count of all @param {Map<any, Correction[]>} corrections
 */
export function entriesDrawn(stage, past, shown, count, corrections) {
  const { zone } = stage;
  const visitDay = localDay(past.startedMs, zone);
  const row = (/** @type {Entry} */ entry) => {
    const { kind, row: record, atMs, words, small, isDayOnly, flags } = entry;
    const day = localDay(atMs, zone);
    const when = isDayOnly ? dayWords(day) : `${day === visitDay ? '' : `${dayWords(day)}, `}${clock(atMs, zone)}`;
    const later = addedWords(stage, past, entry);
    const lines = besideIt(entry, corrections.get(record));
    return rowLink({ href: `#/record/${kind}/${record.record_id}`, tag: when,
      said: record.removed ? html`<s>${words}</s>` : words,
      small: html`${small}${isDayOnly ? html`<br>time not known` : nothing}${record.removed
        ? html`<br>${record.removed}` : nothing}${later ? html`<br>${later}` : nothing}${lines.map(({ words: line }) =>
        html`<br>${line}`)}`,
      pill: flags?.length ? pill('look', counted(flags.length, 'flag')) : nothing });
  };
  return section('In order of time', count, count ? shown.map(row)
    : html`<p class="row">Nothing is noted of this visit.</p>`);
}

/**
 * Who added something days later.
 * @param {import('./router.js').Stage} stage @param {Past} past @param {Entry} entry
 */
function addedWords({ phone, zone }, { endedMs, startedMs, names }, { row, kind, field }) {
  const atMs = row.created_at_ms;
  if (!atMs || kind === 'visit' || MOMENTS.has(field) || atMs < (endedMs ?? startedMs) + LATER_MS) return '';
  const who = names.get(row.created_by);
  return `Added ${moment(atMs, phone.now(), zone)}${who ? ` by ${who}` : ''}`;
}
