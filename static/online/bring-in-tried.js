/** What a try of a file said: how many rows are good, and row by row what needs fixing. Nothing is stored yet. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { section } from '../views/marks.js';
import { counted } from '../views/words.js';

/** @typedef {{row: number, column?: string, text?: string, sentence: string}} Remark */

/** @param {import('./bring-in.js').Up} upload @param {import('./bring-in-columns.js').Looked|null} looked */
export function triedOf({ upload_id: id, result }, looked) {
  /** @type {Record<string, string>} */ const titles =
    Object.fromEntries((looked?.kinds ?? []).map(({ name, title }) => [name, title]));
  const made = Object.entries(result.made).map(([kind, count]) => `${count} ${titles[kind] ?? kind}`);
  return html`${section('Tried, nothing stored', nothing, html`<ul class="rows">
      <li class="row"><span class="said">${counted(result.good, 'row')} can be imported${made.length
        ? html`<small>New beside them: ${made.join(', ')}</small>` : nothing}</span></li>
      <li class="row"><span class="said">${counted(result.to_mend, 'row')} to fix</span></li>
      <li class="row"><span class="said">${counted(result.already_here, 'row')} already here, skipped</span></li>
      ${result.left_out ? html`<li class="row"><span class="said">${counted(result.left_out, 'row')} left
        out</span></li>` : nothing}</ul>`)}
    ${result.to_mend ? section('To fix', counted(result.to_mend, 'row'), html`<a class="or" download
      href="/api/imports/${id}/to-fix.csv">Download these rows with the reasons</a>
      <p class="small">Fix them there, then choose that file: the same choices fit it. Download it before you import,
        since nothing of the file is kept after that.</p>${table('Rows to fix', result.remarks)}`) : nothing}
    ${result.doubtful ? section('Worth a look', counted(result.doubtful, 'row'), table('Unlikely values',
      result.doubts)) : nothing}
    ${result.already_here ? section('Already here', counted(result.already_here, 'row'), table('Rows that are here',
      result.doubles)) : nothing}`;
}

/** @param {string} caption @param {Remark[]} remarks */
const table = (caption, remarks) => html`<div class="scroll" tabindex="0" role="region" aria-label=${caption}><table
  class="plain"><thead><tr><th scope="col">Row</th><th scope="col">Column</th><th scope="col">Says</th><th
  scope="col">Why</th></tr></thead><tbody>${remarks.map(({ row, column, text, sentence }) => html`<tr><th
    scope="row">${row}</th><td>${column ?? ''}</td><td>${text ?? ''}</td><td>${sentence}</td></tr>`)}</tbody></table>
  </div>`;
