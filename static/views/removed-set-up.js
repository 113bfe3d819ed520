/** What was removed under Set-up: struck in its list, with who and when, and taken back from there. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { chevron, mark, section } from './marks.js';
import { byName, recordName } from './names.js';
import { takenBack, withRemovals } from './removed.js';
import { savedWithUndo } from './undo.js';

/** @typedef {{kind: string, many: string}} OfKind */

/** @param {import('./router.js').Stage} stage @param {OfKind} of @returns {Promise<any[]>} */
export async function readRemoved(stage, { kind }) {
  const { phone } = stage;
  const rows = await phone.rowsAndRemoved(kind, kind === 'site' ? {} : { siteId: phone.me.site_id });
  const gone = await withRemovals(stage, kind, rows.filter((row) => row._deleted));
  return gone.sort((one, other) => byName(recordName(one), recordName(other)));
}

/** @param {OfKind} of @param {any[]} removed of `readRemoved` */
export const removedRows = ({ kind }, removed) => (removed.length ? section('Removed', removed.length,
  removed.map((row) => html`<a class="row" href="#/set-up/${kind}/${row.record_id}"><span
    class="said"><s>${recordName(row)}</s><small>${row.removed}</small></span>${chevron}</a>`)) : nothing);

/**
 * @param {import('./router.js').Stage} stage @param {OfKind} of @param {string} id @param {string} back
 * @returns {Promise<import('./router.js').Screen|null>} null where it was not removed
 */
export async function removedOne(stage, { kind, many }, id, back) {
  const { phone } = stage;
  const row = await phone.rowOrRemoved(kind, id);
  if (!row?._deleted) return null;
  const [{ removed }] = await withRemovals(stage, kind, [row]);
  const takeBack = async () => {
    if (stage.isSecondTap()) return;
    const undo = await savedWithUndo(stage, [{ kind, recordId: id, fields: takenBack(kind, row, []) }]);
    if (!undo) return;
    stage.say(`${recordName(row)} is back.`, undo);
    stage.go(back);
  };
  return {
    title: () => recordName(row), where: () => many, back, narrow: true,
    body: () => html`<div class="notice look" role="status">${mark('look')}<div class="said">
      <p>${removed}. What used it stays as it was left.</p></div></div>`,
    foot: () => html`<button type="button" class="do" @click=${takeBack}>Restore it</button>`,
  };
}
