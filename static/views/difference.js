/**
 * Two values that phones wrote without knowing of each other: whose, of what, when, and one tap to keep one of them.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { personName, recordName, unitTag } from './names.js';
import { labelOf } from './record-form.js';
import { dayWords } from '../days.js';
import { writerName } from './removed.js';
import { savedWithUndo } from './undo.js';
import { moment, msOf, nearDay } from './words.js';

/**
 * @typedef {{subject: string, visit: string, title: string, kind: string, row: any, field: string,
 *   values: {value: any, said: string, by: string, at: string, datum: Record<string, any>}[]}} Difference
 * the value that is used comes first; `datum`: what a level is said together with
 */

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} field
 * @returns {any} what the catalogue says of a field
 */
const propertyOf = (phone, kind, field) => phone.pack()?.forms?.kinds?.[kind]?.properties?.[field] ?? {};

/**
 * A value as people read it.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {string} field @param {any} value
 * @param {string} zone
 */
export function saidOf(phone, kind, field, value, zone) {
  const property = propertyOf(phone, kind, field);
  if (value === null || value === undefined || value === '') return 'nothing';
  if (field === '_deleted') return value ? 'removed' : 'not removed';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (property['x-type'] === 'date') return dayWords(value, { year: true });
  if (property['x-type'] === 'instant') return moment(msOf(value) ?? 0, phone.now(), zone);
  const unit = property['x-unit'];
  return `${labelOf(phone, kind, field, value)}${unit ? `${unit === '\u00b0' ? '' : ' '}${unit}` : ''}`;
}

/** Who or what a record tells of. @param {import('./router.js').Phone} phone @param {string} kind @param {any} row */
export async function subjectOf(phone, kind, row) {
  if (kind === 'unit') return unitTag(row);
  const unitId = row.unit_id ?? (row.of_kind === 'unit' ? row.of_id : null);
  if (unitId) return unitTag(await phone.row('unit', unitId));
  if (row.person_id) return personName(await phone.row('person', row.person_id));
  const name = recordName(row);
  return kind === 'person' || name !== recordName({}) ? name
    : phone.pack()?.forms?.kinds?.[kind]?.title ?? 'This record';
}

/**
 * What phones differ about, as this phone has it.
 * @param {import('./router.js').Stage} stage @param {any} flag
 * @returns {Promise<Difference|null>} null where it is settled here, or the record is not here
 */
export async function readDifference({ phone, zone }, flag) {
  const { kind, id } = flag.subject;
  const field = flag.evidence?.field;
  const [row, open, history] = await Promise.all([phone.row(kind, id), phone.disagreements(kind, id),
    phone.historyOf(kind, id)]);
  const differs = open.find((one) => one.field === field);
  if (!row || !differs) return null;
  const values = await Promise.all([differs.winner, ...differs.others].map(async (value) => {
    const entry = [...history].reverse().find((one) =>
      JSON.stringify(one.fields[field]) === JSON.stringify(value));
    const datum = propertyOf(phone, kind, field)['x-datum'];
    return {
      value, said: saidOf(phone, kind, field, value, zone),
      by: await writerName(phone, entry?.by ?? null),
      at: entry ? moment(entry.at_ms, phone.now(), zone) : 'a time not on this phone',
      datum: datum ? { [datum]: entry?.fields[datum] ?? row[datum] } : {},
    };
  }));
  const visit = row.visit_id ? await phone.row('visit', row.visit_id) : kind === 'visit' ? row : null;
  const started = msOf(visit?.started_at);
  return {
    subject: await subjectOf(phone, kind, row),
    visit: started ? `visit of ${nearDay(started, phone.now(), zone)}` : 'no visit', kind, row, field, values,
    title: field === '_deleted' ? 'Removed or not' : propertyOf(phone, kind, field).title ?? 'A value',
  };
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
  if (undo) stage.say(`Kept: ${kept.said}. The flag goes once this is sent.`, undo);
}

/** @param {import('./router.js').Stage} stage @param {Difference|null|undefined} difference */
export function differenceRows(stage, difference) {
  if (!difference) return html`<p class="why">Settled on this phone, or not on it. The flag goes once this is
    sent.</p>`;
  const may = mayKeep(stage.phone, difference);
  const [used] = difference.values;
  return html`<p><b>${difference.subject}</b>, ${difference.visit}: ${difference.title}. ${used.said} is used until
    someone decides.</p>
    ${difference.values.map((one) => html`<div class="row wrap"><span
      class="said">${one.said}<small>${one.by}, ${one.at}</small></span>
      ${may ? html`<button type="button" class="pill plain tap" aria-label="Keep this one: ${one.said}"
        @click=${() => keep(stage, difference, one)}>Keep this one</button>` : nothing}</div>`)}`;
}
