/**
 * Two values that phones wrote without knowing of each other: whose, of what, when, and one tap to keep one of them.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { subjectWords } from './entry-words.js';
import { deviceWord } from './marks.js';
import { labelOf } from './kind-forms.js';
import { dayWords } from '../days.js';
import { writerName } from './removed.js';
import { savedWithUndo } from './undo.js';
import { isOpen } from './open-flags.js';
import { moment, momentOf, msOf, nearDay } from './words.js';

/**
 * @typedef {{whose: string, title: string, kind: string, row: any, field: string,
 *   values: {value: any, said: string, written: string, datum: Record<string, any>}[]}} Difference
 * the value that is used comes first; `written`: by whom and when; `datum`: what a level is said together with
 */

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} field
 * @returns {any} what the catalogue says of a field
 */
const propertyOf = (phone, kind, field) => phone.pack()?.forms?.kinds?.[kind]?.properties?.[field] ?? {};

/**
 * A value as people read it.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} field @param {any} value
 * @param {string} zone @param {{time_known?: boolean|null}} [row] the record, which may know its day alone
 */
export function saidOf(phone, kind, field, value, zone, row = {}) {
  const property = propertyOf(phone, kind, field);
  if (value === null || value === undefined || value === '') return 'nothing';
  if (field === '_deleted') return value ? 'removed' : 'not removed';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (property['x-type'] === 'date') return dayWords(value, { year: true });
  if (property['x-type'] === 'instant') return momentOf(row, value, phone.now(), zone);
  const unit = property['x-unit'];
  return `${labelOf(phone, kind, field, value)}${unit ? `${unit === '\u00b0' ? '' : ' '}${unit}` : ''}`;
}

/**
 * The same of a value that names another record, by what that is called.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {string} field
 * @param {any} value @param {string} zone @returns {Promise<string>}
 */
async function namedValue(phone, kind, row, field, value, zone) {
  const to = propertyOf(phone, kind, field)['x-ref'];
  if (!to || typeof value !== 'string') return saidOf(phone, kind, field, value, zone, row);
  const of = row[to] ?? to;
  const referred = await phone.row(of, value);
  return referred ? subjectWords(phone, of, referred) : `a record that is not on this ${deviceWord()}`;
}

/**
 * On which visit a record was made.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {string} zone
 */
async function visitWords(phone, kind, row, zone) {
  if (kind !== 'visit' && !row.visit_id) return 'no visit';
  const visit = kind === 'visit' ? row : await phone.row('visit', row.visit_id);
  const started = msOf(visit?.started_at);
  if (started === null) return visit ? 'a visit without a start' : `a visit that is not on this ${deviceWord()}`;
  return `visit of ${nearDay(started, phone.now(), zone)}`;
}

/**
 * Of whom or what a record tells, and on which visit.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {string} zone
 */
async function whoseWords(phone, kind, row, zone) {
  const visit = await visitWords(phone, kind, row, zone);
  return kind === 'visit' ? `${visit.slice(0, 1).toUpperCase()}${visit.slice(1)}`
    : `${await subjectWords(phone, kind, row)}, ${visit}`;
}

/**
 * What phones differ about, as this phone has it.
 * @param {import('./router.js').Stage} stage @param {any} flag
 * @returns {Promise<Difference|null>} null where it is settled here, or the record is not here
 */
export async function readDifference({ phone, zone }, flag) {
  const { kind, id } = flag.subject;
  const field = flag.evidence?.field;
  const [row, open, history] = await Promise.all([phone.rowOrRemoved(kind, id), phone.disagreements(kind, id),
    phone.historyOf(kind, id)]);
  const differs = open.find((disagreement) => disagreement.field === field);
  if (!row || !differs) return null;
  const values = await Promise.all([differs.winner, ...differs.others].map(async (value, n) => {
    const entry = history.find((entry) => entry.entryId === differs.ids[n]);
    const datum = propertyOf(phone, kind, field)['x-datum'];
    const who = !entry ? [`by whom and when is not on this ${deviceWord()}`] : [
      // A reader may know no names.
      ...(phone.me.role === 'reader' ? [] : [await writerName(phone, entry.by)]), moment(entry.at_ms, phone.now(),
        zone)];
    return {
      value, said: await namedValue(phone, kind, row, field, value, zone), written: who.join(', '),
      datum: datum ? { [datum]: entry?.fields[datum] ?? row[datum] } : {},
    };
  }));
  return {
    whose: await whoseWords(phone, kind, row, zone), kind, row, field, values,
    title: field === '_deleted' ? 'Removed or not' : propertyOf(phone, kind, field).title ?? 'A value',
  };
}

/** A longer value is not said a second time; so many letters of it are said, and so many values. */
const [LETTERS_TWICE, LETTERS_TOLD, VALUES_TOLD] = [40, 200, 6];

/**
 * All that is known of it in a sentence, as the server says it to whoever may read all of a site
 * (flags/differences.py).
 * @param {Difference} difference
 */
export function differenceWords({ whose, title, values }) {
  const cut = (/** @type {string} */ text) => (text.length > LETTERS_TOLD ? `${text.slice(0, LETTERS_TOLD)}\u2026`
    : text);
  const both = [...values.slice(0, VALUES_TOLD).map(({ said: text, written }) => `${cut(text)} (${written})`),
    ...(values.length > VALUES_TOLD ? ['others'] : [])];
  const [{ said: used }] = values;
  return `${whose}: ${both.length === 2 ? 'two phones' : 'phones'} wrote ${both.slice(0, -1).join(', ')} `
    + `and ${both[both.length - 1]} for ${title}. ${used.length > LETTERS_TWICE ? 'The first' : used} is used until `
    + 'someone decides.';
}

/**
 * What this phone's own rows say of the open flags about two values.
 * @param {import('./router.js').Stage} stage @param {any[]} flags
 * @returns {Promise<Map<string, Difference|null>>} by the flag's id; null where it is settled here or not here
 */
export async function differencesOf(stage, flags) {
  const doubts = flags.filter((flag) => flag.rule === 'disagreement' && isOpen(flag));
  return new Map(await Promise.all(doubts.map(async (flag) =>
    /** @type {[string, Difference|null]} */ ([flag.flag_id, await readDifference(stage, flag)]))));
}

/**
 * The sentence of a flag, that of people's and visits' records with whose it is.
 * @param {import('./router.js').Stage} stage @param {any} flag @returns {Promise<string>}
 */
async function sentenceOf({ phone, zone }, flag) {
  const { kind, id } = flag.subject;
  const form = phone.pack()?.forms?.kinds?.[kind];
  const before = `${form?.title}: `;
  if (!form || form['x-privacy'] === 'open' || !flag.sentence.startsWith(before)) return flag.sentence;
  const row = await phone.rowOrRemoved(kind, id);
  return row ? `${await whoseWords(phone, kind, row, zone)}: ${flag.sentence.slice(before.length)}` : flag.sentence;
}

/**
 * Flags as this phone says them: of two values with whose they are, on which visit, who wrote each and when.
 * @param {import('./router.js').Stage} stage @param {any[]} flags
 * @param {Map<string, Difference|null>} [differences] where they were read already @returns {Promise<any[]>}
 */
export async function withBothSides(stage, flags, differences) {
  const known = differences ?? await differencesOf(stage, flags);
  return Promise.all(flags.map(async (flag) => {
    const difference = known.get(flag.flag_id);
    return { ...flag, sentence: difference ? differenceWords(difference) : await sentenceOf(stage, flag) };
  }));
}

/** Whether this phone may settle it. @param {import('./router.js').Phone} phone @param {Difference} difference */
function mayKeep(phone, { kind, field }) {
  const { role } = phone.me;
  if (role === 'lead') return true;
  return (phone.pack()?.forms?.kinds?.[kind]?.['x-writers'] ?? []).includes(role) && field !== '_deleted'
    && !propertyOf(phone, kind, field)['x-crew'];
}

/**
 * @param {import('./router.js').Stage} stage @param {Difference} difference @param {Difference['values'][number]} kept
 */
async function keep(stage, { kind, row, field }, kept) {
  if (stage.isSecondTap()) return;
  const fields = { [field]: kept.value, ...(kept.value === null ? {} : kept.datum) };
  const undo = await savedWithUndo(stage,
    [{ kind, recordId: row.record_id, fields, visitId: row.visit_id ?? null, siteId: row.site_id ?? null }]);
  if (undo) stage.say(`Kept: ${kept.said}. The flag closes once this is sent.`, undo);
}

/** @param {import('./router.js').Stage} stage @param {Difference|null|undefined} difference */
export function differenceRows(stage, difference) {
  if (!difference) return html`<p class="why">Already settled on this ${deviceWord()}, or not on it. Once a choice
    is sent, the flag closes.</p>`;
  const may = mayKeep(stage.phone, difference);
  return html`${difference.values.map((version) => html`<div class="row wrap"><span
      class="said">${version.said}<small>${version.written}</small></span>
      ${may ? html`<button type="button" class="pill plain tap" aria-label="Keep this one: ${version.said}"
        @click=${() => keep(stage, difference, version)}>Keep this one</button>` : nothing}</div>`)}`;
}
