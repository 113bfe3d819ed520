/** The end of a visit, asked once: what was done, who is still out, and whose phones stay on it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, mark } from './marks.js';
import { personName } from './names.js';
import { wasLookedAt } from './unit-facts.js';
import { endings, idsOf } from './visits.js';
import { counted } from './words.js';

/** @typedef {{checked: number, units: number, sightings: number}} Summary */

/**
 * @param {import('./router.js').Phone} phone @param {any} visit @param {any[]} visits
 * @returns {Promise<Summary>} what was done on a visit, as this phone knows it
 */
export async function summaryOf(phone, visit, visits) {
  const siteId = phone.me.site_id;
  const [units, checks, sightings] = await Promise.all([phone.rows('unit', { siteId }),
    phone.rows('unit_check', { siteId }), phone.rows('sighting', { siteId })]);
  const ids = idsOf(visit, visits);
  const checked = new Set(checks.filter((check) => ids.has(check.visit_id) && wasLookedAt(check))
    .map((check) => check.unit_id));
  const done = units.filter((unit) => checked.has(unit.record_id)).length;
  return { checked: done, units: units.length,
    sightings: sightings.filter((sighting) => ids.has(sighting.visit_id)).length };
}

/**
 * Another phone may have begun the same visit under the same name: a start is taken back as an end of this
 * phone's part.
 * @param {import('./router.js').Stage} stage @param {string} visitId @param {string|undefined} partId
 */
export async function startTakenBack(stage, visitId, partId) {
  const parts = partId ? [{ record_id: partId, visit_id: visitId }] : [];
  const changes = endings(stage.phone, { record_id: visitId }, parts);
  if (await stage.saving(() => stage.phone.writeMany(changes)))
    stage.say(`Undone: the visit ended on this ${deviceWord()}.`);
}

/** @param {Summary} summary @param {number} out @returns {string} 12 of 12 checked, 0 people still out, 3 sightings. */
export const summaryWords = ({ checked, units, sightings }, out) =>
  `${checked} of ${units} checked, ${counted(out, 'person', 'people')} still out, ${counted(sightings, 'sighting')}.`;

/** Whose phones stay on the visit. @param {any[]} others parts @param {Map<string, string>} names */
export function othersWords(others, names) {
  const who = [...new Set(others.map((part) => names.get(part.created_by) ?? 'somebody'))]
    .map((name) => (name === 'somebody' ? 'another phone' : `${name}\u2019s phone`));
  return `Still on this visit: ${who.join(', ')}. Ending it here does not end it there.`;
}

/**
 * @param {{summary: Summary, out: number, still: {signIn: any, person: any}[], others: any[], names: Map<string,
 *   string>, isLead: boolean, reason: string}} of `still`: who must be signed out first, or be given a reason
 * @param {{type: (text: string) => void, cancel: () => void, end: (forAll: boolean) => void}} act
 */
export function endForm({ summary, out, still, others, names, isLead, reason }, act) {
  return html`<section class="stack" id="ending" tabindex="-1" aria-labelledby="ending-title"><div class="bar"><h2
    id="ending-title">End this visit?</h2></div><p>${summaryWords(summary, out)}
    As far as this ${deviceWord()} knows.</p>
    ${others.length ? html`<p>${othersWords(others, names)}</p>` : nothing}
    ${still.length ? html`<div class="notice stop" role="alert">${mark('stop')}<div
      class="said"><p>${counted(still.length, 'person is', 'people are')} still out:
      ${still.map((stay) => personName(stay.person)).join(', ')}. Sign them out first.</p></div></div>
      <div class="field"><label class="label-text" for="why-end">Or give a reason</label><input class="line"
        id="why-end" .value=${reason} @input=${(/** @type {any} */ event) => act.type(event.target.value)}></div>
      <a class="or" href="#/people">Sign out</a>` : nothing}
    <div class="two"><button type="button" class="or" @click=${act.cancel}>Not yet</button><button type="button"
      class="or" @click=${() => act.end(false)}>${still.length ? 'End anyway' : 'End it'}</button></div>
    ${isLead && others.length ? html`<button type="button" class="or"
      @click=${() => act.end(true)}>End it for every phone</button>` : nothing}</section>`;
}
