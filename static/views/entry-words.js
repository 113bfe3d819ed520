/** What an entry says, in the words of the shore: "B024, checked 07:58, piece off". Never the names of its fields. */
import { isRemoved } from '../records/mistaken.js';
import { deviceWord } from './marks.js';
import { NO_NAME, named, personName, recordName, speciesName, unitTag } from './names.js';
import { labelOf } from './kind-forms.js';
import { READINGS } from './record-place.js';
import { instant, momentOf } from './words.js';

const DELETED = '_deleted';

/** @typedef {Record<string, any>} Fields */
/** @typedef {(field: string) => string} Labels what a choice of the entry is called */

/** A check's damage, by the fields that tell it. @type {[string, string[]][]} */
const DAMAGE = [
  ['piece off', ['lost_volume_pct', 'chip_depth_mm', 'chip_across_mm']], ['crack', ['crack_width_mm']],
  ['surface worn', ['scaling_depth_mm']], ['scour', ['scour_depth_mm']], ['rocking', ['rocking']],
];

/** @param {string} text */
const lower = (text) => text.slice(0, 1).toLowerCase() + text.slice(1);

/** @param {Fields} fields @param {Labels} label @returns {string[]} what a check found */
function checkDetails(fields, label) {
  const { found_state: foundState, looked_only: looked, exposed_height_mm: height, tilt_deg: tilt } = fields;
  if (foundState && foundState !== 'seen' && foundState !== 'probed') return [lower(label('found_state'))];
  if (looked) return ['looks unchanged'];
  const damage = DAMAGE.filter(([, names]) => names.some((name) => fields[name])).map(([word]) => word);
  if (damage.length) return damage;
  return [typeof height === 'number' ? `${height} mm showing` : '', typeof tilt === 'number' ? `${tilt}\u00b0` : '']
    .filter(Boolean);
}

/** @param {Fields} fields @returns {string} what somebody's sign-in was changed by */
function signInDone(fields) {
  if (isRemoved('sign_in', fields)) return 'removed: signed in by mistake';
  if (fields.in_at) return 'signed in';
  if (fields.out_at) return 'signed out';
  if (fields.out_at === null) return 'back among those out';
  if (fields.no_out_reason) return 'closed without a sign-out time';
  return fields.briefing_heard ? 'briefing heard' : 'sign-in changed';
}

/** @param {Fields} fields @returns {string} */
function visitDone(fields) {
  if (fields.started_at) return 'started';
  if (fields.ended_at) return 'ended';
  if (typeof fields.observed_level_m === 'number') return 'water level read';
  return fields.briefing_done ? 'briefing given' : 'changed';
}

/** @param {Fields} fields @returns {string} */
const readingDone = (fields) => (fields.read_at ? 'read' : 'reading corrected');

/**
 * What was done, where a kind has words of its own.
 * @type {Record<string, (fields: Fields, label: Labels) => string>}
 */
const DONE = {
  unit_check: (fields) => (fields.checked_at ? 'checked' : 'check corrected'),
  position_fix: (fields) => (fields.fixed_at ? 'position measured' : 'position corrected'),
  unit_event: (fields, label) => (fields.event ? lower(label('event')) : 'work corrected'),
  sighting: (fields) => (!fields.seen_at ? 'sighting corrected' : fields.found === 'looked_for_none'
    ? 'looked for, none' : 'seen'),
  sign_in: signInDone,
  visit: visitDone,
  visit_part: (fields) => (fields.from_at ? `this ${deviceWord()} joined it`
    : fields.until_at ? `this ${deviceWord()} left it` : 'changed'),
  photo: (fields) => (fields.taken_at ? 'photo taken' : 'photo changed'),
  people_photo: (fields) => (fields.taken_at ? 'photo of people taken' : fields.consent ? 'all shown agreed'
    : 'photo of people changed'),
  plot_event: (fields, label) => (fields.event ? lower(label('event')) : 'work corrected'),
  ...Object.fromEntries(READINGS.map((kind) => [kind, readingDone])),
  preparation: () => 'preparation hours', mileage: () => 'miles driven', hours_signed: () => 'hours signed for',
  award_hours: () => 'hours counted to an award',
  flag_decision: (fields, label) => (fields.decision ? `decided: ${lower(label('decision'))}` : 'decision changed'),
};

/**
 * The fields that say when something was done, the first one that the entry has: a sheet on paper is typed in later.
 * @type {Record<string, string[]>}
 */
const DONE_AT = {
  unit_check: ['checked_at'], position_fix: ['fixed_at'], unit_event: ['event_at'], sighting: ['seen_at'],
  sign_in: ['in_at', 'out_at'], visit: ['started_at', 'ended_at'], visit_part: ['from_at', 'until_at'],
  photo: ['taken_at'], people_photo: ['taken_at'], plot_event: ['event_at'],
  ...Object.fromEntries(READINGS.map((kind) => [kind, ['read_at']])),
};

/** @param {string} kind @param {Fields} fields @param {number|null} atMs when it was written @returns {number|null} */
function doneMs(kind, fields, atMs) {
  if (atMs === null || DELETED in fields || isRemoved(kind, fields)) return atMs;
  const doneAt = (DONE_AT[kind] ?? []).map((name) => fields[name]).find((at) => typeof at === 'string');
  return doneAt && !Number.isNaN(Date.parse(doneAt)) ? Date.parse(doneAt) : atMs;
}

/**
 * What is named by the unit or species it is about: a removal is of this, not of the unit.
 * @type {Record<string, string>}
 */
const WRITTEN = {
  unit_check: 'check', position_fix: 'position', unit_event: 'work', sighting: 'sighting', photo: 'photo',
  people_photo: 'photo of people', plot_event: 'work', ...Object.fromEntries(READINGS.map((kind) => [kind, 'reading'])),
};

/**
 * @param {string} kind @param {Fields} fields of the entry @param {Labels} label @param {string[]} required fields that
 *   begin a record @returns {string} what was done
 */
export function doneWords(kind, fields, label, required) {
  const what = WRITTEN[kind] ? `${WRITTEN[kind]} ` : '';
  if (fields._deleted === true) return `${what}removed`;
  if (fields._deleted === false) return `${what}restored`;
  const own = DONE[kind];
  if (own) return own(fields, label);
  return required.every((name) => name in fields) ? 'added' : 'changed';
}

/** @param {string} kind @param {Fields} fields @param {Labels} label @returns {string[]} what stands behind the time */
export function detailWords(kind, fields, label) {
  if (kind === 'unit_check') return checkDetails(fields, label);
  if (kind === 'visit') return fields.purpose ? [lower(label('purpose'))] : [];
  if (kind === 'stake_reading' && typeof fields.exposed_mm === 'number') return [`${fields.exposed_mm} mm showing`];
  return kind === 'sighting' && typeof fields.count === 'number' ? [String(fields.count)] : [];
}

/**
 * A held line may name anything.
 * @param {import('./router.js').Phone} phone @param {unknown} kind @param {unknown} id @returns {Promise<any>}
 */
const rowOf = async (phone, kind, id) => (typeof kind === 'string' && typeof id === 'string'
  ? phone.row(kind, id) : undefined);

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row what is known of the record
 * @returns {Promise<string>}
 */
export async function subjectWords(phone, kind, row) {
  const about = row.of_kind && row.of_kind !== 'unit' ? { ...await rowOf(phone, row.of_kind, row.of_id) } : row;
  const unitId = about.unit_id ?? (row.of_kind === 'unit' ? row.of_id : null);
  if (unitId) return unitTag(await rowOf(phone, 'unit', unitId));
  if (row.plot_id) return `Plot ${recordName(await rowOf(phone, 'plot', row.plot_id))}`;
  if (row.person_id) return personName(await rowOf(phone, 'person', row.person_id));
  if (row.species_id) return speciesName(await rowOf(phone, 'species', row.species_id));
  if (kind === 'unit') return unitTag(row);
  if (kind === 'person') return personName(row);
  if (kind === 'visit' || kind === 'visit_part') return 'Visit';
  const title = phone.pack()?.forms?.kinds?.[kind]?.title ?? named(kind.replaceAll('_', ' '), 'Entry');
  const name = named(row.taxon, recordName(about));
  if (name === NO_NAME) return title;
  return kind === 'sighting' ? name : `${title} ${name}`;
}

/**
 * @param {import('./router.js').Phone} phone
 * @param {{kind: string, recordId: string|null, fields: Fields, at_ms: number|null}} entry
 * @param {string} zone @returns {Promise<string>} "B024, checked 07:58, piece off"
 */
export async function entryWords(phone, { kind, recordId, fields, at_ms: atMs }, zone) {
  const form = phone.pack()?.forms?.kinds?.[kind];
  const row = (recordId && await phone.rowOrRemoved(kind, recordId)) || {};
  const subject = await subjectWords(phone, kind, { ...row, ...fields });
  const label = (/** @type {string} */ field) => (form?.properties?.[field] ? labelOf(phone, kind, field, fields[field])
    : String(fields[field] ?? ''));
  const done = doneWords(kind, fields, label, form?.required ?? []);
  const doneAtMs = doneMs(kind, fields, atMs);
  /** @type {{time_known?: boolean|null}} */ const record = doneAtMs === atMs ? {} : { ...row, ...fields };
  const when = doneAtMs ? ` ${momentOf(record, instant(doneAtMs), phone.now(), zone || 'UTC')}` : '';
  return [subject, `${done}${when}`, ...detailWords(kind, fields, label)].join(', ');
}

/** What a form is for, by what its draft is kept under. @type {Record<string, string>} */
const FORMS = { unit_check: 'check', position_fix: 'position', unit_event: 'work', sighting: 'sighting',
  flag_decision: 'decision on a flag', level_word: 'lower water', fix: 'held entry', visit: 'visit',
  walk_up: 'form of a walk-up', stakes: 'stakes', plot_event: 'work',
  ...Object.fromEntries(READINGS.map((kind) => [kind, 'reading'])) };

/**
 * @param {import('./router.js').Phone} phone @param {{key: string, values?: Fields}} draft a form that was left open
 * @returns {Promise<string>} "B024, check", or what it is for alone where it is about no record that is known here
 */
export async function formWords(phone, { key, values = {} }) {
  const [kind, id, of] = key.split(':');
  const isCorrection = kind === 'correct';
  const [about, aboutId] = isCorrection ? [id, of] : kind === 'unit_check' || kind === 'unit_event' ? ['unit', id]
    : kind === 'stakes' || kind === 'plot_event' || READINGS.includes(kind) ? ['plot', id] : [kind, id];
  const fix = kind === 'position_fix' ? { of_kind: 'unit', of_id: id } : null;
  const row = fix ?? await phone.rowOrRemoved(about, aboutId)
    ?? (kind === 'sighting' || kind === 'person' ? values : null);
  const title = phone.pack()?.forms?.kinds?.[about]?.title ?? named(about.replaceAll('_', ' '), 'Form');
  const what = isCorrection ? `correction of a ${title.toLowerCase()}` : FORMS[kind] ?? title.toLowerCase();
  const subject = row ? await subjectWords(phone, about, row) : '';
  return subject && subject !== title ? `${subject}, ${what}` : `${what.slice(0, 1).toUpperCase()}${what.slice(1)}`;
}

/** @param {string} line as a phone sent it, or as garbage came @returns {any} null where it is no JSON */
function read(line) {
  try {
    return JSON.parse(line);
  } catch (error) {
    if (error instanceof SyntaxError) return null;
    throw error;
  }
}

/**
 * @param {import('./router.js').Phone} phone @param {string} line as a phone sent it @param {string} zone
 * @returns {Promise<string>} in words, or that it cannot be read
 */
export async function lineWords(phone, line, zone) {
  const { t: kind, r: recordId, f: fields } = read(line) ?? {};
  if (typeof kind !== 'string') return 'An entry that cannot be read here';
  return entryWords(phone, { kind, recordId: typeof recordId === 'string' ? recordId : null,
    fields: Object(fields) === fields ? fields : {}, at_ms: null }, zone);
}
