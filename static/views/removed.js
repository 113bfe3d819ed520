/**
 * What somebody removed: a removal is an entry like any other, so it is shown struck, with who and when, and can be
 * taken back.
 */
import { isRemoved, MISTAKEN } from '../records/mistaken.js';
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { chevron, deviceWord, entryMark, rowLink } from './marks.js';
import { personName } from './names.js';
import { moment } from './words.js';

/**
 * What removes a record. Whose sign-in is removed was never out: a time out would count as hours.
 * @param {string} kind @param {Record<string, any>} row
 */
export const removal = (kind, row) =>
  (kind === 'sign_in' ? { ...MISTAKEN, ...(row.out_at ? { out_at: null } : {}) } : { _deleted: true });

/**
 * What takes a removal back.
 * @param {string} kind @param {Record<string, any>} row @param {{fields: Record<string, any>}[]} history oldest first
 */
export function takenBack(kind, row, history) {
  const fields = row._deleted ? { _deleted: false } : {};
  if (kind !== 'sign_in' || row.no_out_reason !== MISTAKEN.no_out_reason) return fields;
  const outAt = history.findLast((entry) => entry.fields.out_at)?.fields.out_at;
  const isCleared = history.some((entry) => isRemoved(kind, entry.fields) && entry.fields.out_at === null);
  return { ...fields, no_out_reason: null, ...(isCleared && outAt ? { out_at: outAt } : {}) };
}

/**
 * @param {import('./router.js').Phone} phone @param {string|null} id of a person, null where nobody was chosen
 * @returns {Promise<string>}
 */
export async function writerName(phone, id) {
  if (!id) return 'a phone with nobody chosen';
  const person = await phone.row('person', id);
  return person ? personName(person) : `somebody not on this ${deviceWord()}`;
}

/**
 * Rows with who removed them and when, where somebody did: `removed`, in words.
 * @template {import('../records/rows.js').Recorded} R
 * @param {import('./router.js').Stage} stage @param {string} kind @param {R[]} rows
 * @returns {Promise<(R & {removed?: string})[]>}
 */
export const withRemovals = ({ phone, zone }, kind, rows) => Promise.all(rows.map(async (row) => {
  if (!isRemoved(kind, row)) return row;
  const entry = (await phone.historyOf(kind, row.record_id))
    .findLast((entry) => isRemoved(kind, entry.fields));
  const when = entry ? `, ${moment(entry.at_ms, phone.now(), zone)}` : '';
  const by = phone.me?.role === 'reader' ? '' : ` by ${await writerName(phone, entry?.by ?? row.changed_by)}`;
  return { ...row, removed: `Removed${by}${when}` };
}));

/**
 * A record in a list: it leads to the record itself, and is struck where it was removed.
 * @param {import('./router.js').Stage} stage @param {string} kind @param {any} row of `withRemovals`
 * @param {unknown} words @param {unknown} small
 */
export const recordRow = (stage, kind, row, words, small) => {
  const saved = stage.justSaved(row.record_id);
  return rowLink({ href: `#/record/${kind}/${row.record_id}`, said: row.removed ? html`<s>${words}</s>` : words,
    small: row.removed ? html`${small}<br>${row.removed}` : small,
    aside: html`${entryMark(row.entry_state)}${chevron}`,
    saved: saved && { ...saved, isRemoved: Boolean(row.removed) } });
};
