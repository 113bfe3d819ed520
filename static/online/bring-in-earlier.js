/** Imports so far: each goes, and comes again, as a whole; what somebody corrected since stays, and is listed. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { section } from '../views/marks.js';
import { savedWithUndo } from '../views/undo.js';
import { counted, fullDay, msOf } from '../views/words.js';

/** @param {import('./bring-in.js').BringIn} screen */
export const earlierOf = (screen) => (screen.imports.length ? section('Imports so far',
  String(screen.imports.length), screen.imports.map((imported, n) => earlier(screen, imported, n))) : nothing);

/** @param {import('./bring-in.js').BringIn} screen @param {any} imported @param {number} n */
function earlier(screen, imported, n) {
  const forms = screen.stage.phone.pack()?.forms?.kinds ?? {};
  const kind = screen.kindTitle(imported.of_kind);
  const at = fullDay(msOf(imported.imported_at) ?? 0, screen.site?.zone);
  return html`<div class="stack"><div class="row"><span class="said">${imported.file_name}${
    imported.removed ? ' (removed)' : ''}
    <small>${kind}, ${counted(imported.records_made, 'record')}, ${at}</small>${imported.changed
    ? html`<details><summary>${counted(imported.changed, 'record')} corrected since, which stay</summary><ul>${
      imported.changed_first.map((/** @type {any} */ { kind: of, record_id: id }) => html`<li>${forms[of]?.title
        ?? of} ${id.slice(0, 8)}</li>`)}</ul></details>` : nothing}</span></div>
    <button type="button" class="or" id="import-${n}" @click=${() => turn(screen, imported)}>${imported.removed
    ? 'Restore' : 'Remove'}<span class="unseen"> ${imported.file_name}</span></button></div>`;
}

/** @param {import('./bring-in.js').BringIn} screen @param {any} imported */
async function turn(screen, imported) {
  const { stage } = screen;
  const isGone = Boolean(imported.removed);
  await stage.phone.syncNow();
  const undo = await savedWithUndo(stage, [{ kind: 'import', recordId: imported.import_id,
    fields: { _deleted: !isGone }, siteId: imported.site_id }]);
  if (!undo) return;
  imported.removed = Number(!isGone);
  stage.say(isGone ? 'Restored, with all that it made.'
    : `Removed, with ${counted(imported.unchanged, 'record')} that nobody corrected since.`, async () => {
    if (await undo()) imported.removed = Number(isGone);
    stage.redraw();
  });
  stage.redraw();
}
