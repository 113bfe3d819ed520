/** What a flag rests on, in words: fields by the names and units of their forms, all else by the words here. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { saidOf } from './difference.js';
import { moment } from './words.js';
import { rounded, shortest } from '../rounding.js';

/** The kinds whose fields a flag of a unit names. */
const KINDS = ['unit_check', 'position_fix', 'unit_design', 'site'];

/** What is no field of a record: its words, and the unit of its number. @type {Record<string, [string, string]>} */
const WORDS = {
  grade: ['Grade', ' of 4'], computed_grade: ['Grade from measurements', ' of 4'],
  place_grade: ['Grade of its place', ' of 4'],
  body_by_eye: ['Body, by eye', ' of 4'], body_as_measured: ['Body, as measured', ' of 4'],
  stance_by_eye: ['Stance, by eye', ' of 4'], stance_as_measured: ['Stance, as measured', ' of 4'],
  toe_by_eye: ['Toe, by eye', ' of 4'], toe_as_measured: ['Toe, as measured', ' of 4'],
  photos: ['Photos', ''], limit_deg: ['Flagged from', '\u00b0'],
  displacement_m: ['Off its first position', ' m'], bearing_deg: ['Direction, from true north', '\u00b0'],
  shows_m: ['Smallest movement that would show', ' m'],
  p: ['Chance of this where nothing moves', ''], t2: ['Test value T\u00b2', ''], zero_at: ['First position on', ''],
  measured: ['Units measured on this visit', ''], doubts: ['In doubt', ''], errors: ['Errors', ''],
  tape_factor: ['Tapes here differ', ' times as much as stated'], tapes: ['Tapes of this site looked at', ''],
  searches: ['Dry searches', ''], searches_needed: ['Searches that make it missing', ''], days: ['Days since', ''],
  ahead_min: ['Ahead by', ' min'], parent_kind: ['Kind of record', ''],
  fault: ['Kind of fault', ''], rule: ['Rule', ''],
};
/** Said otherwise, or of no use to people. */
const LEFT_OUT = /(^|_)(id|ids)$|^(field|what)$/;
/** Shown as the field of another name. @type {Record<string, string>} */
const AS = { zero_method: 'method' };
/** What a test of numbers came to: it stands under Details. */
const STATISTICS = ['p', 't2', 'tape_factor', 'tapes'];
/** A smaller chance is told as under this one: no measurement is that sure. */
const LEAST_CHANCE = 0.001;
const INSTANT = /^\d{4}-\d\d-\d\dT/;
const TITLES = { zero_method: 'First position by' };

/** A name of a newer server, as words. @param {string} name */
export const plain = (name) =>
  name.replace(/_(mm|cm|m|deg|pct|min|h)$/, (_, unit) => `, ${unit === 'pct' ? '%' : unit}`).replaceAll('_', ' ');

/**
 * The kind whose field a name is.
 * @param {any} kinds the forms @param {string} subject @param {string} name @returns {string|undefined}
 */
const kindOf = (kinds, subject, name) => [subject, ...KINDS].find((kind) => kinds[kind]?.properties?.[name]);

/** @param {any} value @param {string} unit @param {import('./router.js').Stage} stage @returns {string} */
function valueWords(value, unit, stage) {
  if (value === null || value === undefined) return 'not known';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'number') return `${shortest(value, 3)}${unit}`;
  if (typeof value === 'string' && INSTANT.test(value)) return moment(Date.parse(value), stage.phone.now(), stage.zone);
  if (Array.isArray(value)) return value.map((item) => valueWords(item, unit, stage)).join(', ');
  if (typeof value !== 'object') return String(value);
  return Object.entries(value).map(([name, part]) => `${plain(name)} ${valueWords(part, '', stage)}`).join('; ');
}

/**
 * One line of the evidence.
 * @param {import('../records/pack.js').Flag} flag @param {string} name @param {any} value
 * @param {import('./router.js').Stage} stage
 * @returns {[string, string]}
 */
function line(flag, name, value, stage) {
  const { phone, zone } = stage;
  const { kinds = {} } = phone.pack()?.forms ?? {};
  const field = name === 'values' ? flag.evidence?.field : AS[name] ?? name;
  const kind = kindOf(kinds, flag.subject.kind, field);
  if (kind && !WORDS[name]) {
    const title = TITLES[/** @type {keyof typeof TITLES} */ (name)] ?? kinds[kind].properties[field].title;
    // Tables keep yes and no as 1 and 0.
    const isYesNo = kinds[kind].properties[field]['x-type'] === 'yesno';
    const number = (/** @type {any} */ item) => (typeof item !== 'number' ? item
      : isYesNo ? item !== 0 : Number(rounded(item, 3)));
    return [title, [value].flat().map((item) => saidOf(phone, kind, field, number(item), zone)).join(', ')];
  }
  const [words, unit] = WORDS[name] ?? [plain(name), ''];
  if (name === 'p' && value < LEAST_CHANCE) return [words, `under ${LEAST_CHANCE}`];
  if (name === 'parent_kind') return [words, kinds[value]?.title ?? plain(String(value))];
  return [words, name === 'rule' ? plain(String(value)) : valueWords(value, unit, stage)];
}

/**
 * @param {import('../records/pack.js').Flag} flag @param {import('./router.js').Stage} stage
 * @param {(name: string) => boolean} isWanted
 * @returns {[string, string][]}
 */
export const evidenceLines = (flag, stage, isWanted = () => true) => Object.entries(flag.evidence ?? {})
  .filter(([name]) => !LEFT_OUT.test(name) && isWanted(name)).map(([name, value]) => line(flag, name, value, stage));

/** @param {import('../records/pack.js').Flag} flag @param {import('./router.js').Stage} stage */
export function evidenceRows(flag, stage) {
  const raised = flag.raised_at ? moment(Date.parse(flag.raised_at), stage.phone.now(), stage.zone) : 'today';
  const rows = (/** @type {[string, string][]} */ lines) =>
    lines.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`);
  const statistics = evidenceLines(flag, stage, (name) => STATISTICS.includes(name));
  return html`<dl class="pairs">
    ${rows(evidenceLines(flag, stage, (name) => !STATISTICS.includes(name)))}
    <dt>Raised</dt><dd>${raised}</dd></dl>
    ${statistics.length ? html`<details><summary>Details</summary><dl
      class="pairs">${rows(statistics)}</dl></details>` : nothing}`;
}
