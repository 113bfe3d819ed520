/** What was written on a visit, newest first: each leads to its record, where it is corrected and removed. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { rowLink, section } from './marks.js';
import { named, personName, speciesName, unitTag } from './names.js';
import { labelOf } from './kind-forms.js';
import { recordRow, withRemovals } from './removed.js';
import { checkWords } from './unit-facts.js';
import { idsOf } from './visits.js';
import { clockOf, msOf, turnMs } from './words.js';

/** @typedef {{kind: string, row: any, atMs: number, turn: number, said: string}} Written */

/** The moment that a record of each kind tells of. @type {Record<string, string>} */
const AT = { unit_check: 'checked_at', sighting: 'seen_at', sign_in: 'in_at', unit_event: 'event_at' };
const SHOWN = 8;

/**
 * @param {import('./router.js').Stage} stage @param {any} visit @param {any[]} visits of the site
 * @returns {Promise<Written[]>} removed ones too
 */
export async function readWrittenOn(stage, visit, visits) {
  const { phone } = stage;
  const siteId = phone.me.site_id;
  const ids = idsOf(visit, visits);
  const [units, people, species, ...lists] = await Promise.all([
    phone.rows('unit', { siteId }), phone.rows('person', { siteId }), phone.rows('species', { siteId }),
    phone.rowsAndRemoved('unit_check', { siteId }), phone.rowsAndRemoved('sighting', { siteId }),
    phone.rowsAndRemoved('sign_in', { siteId }), phone.rowsAndRemoved('unit_event', { siteId }),
  ]);
  const byId = new Map([...units, ...people, ...species].map((row) => [row.record_id, row]));
  const written = await Promise.all(Object.keys(AT).map(async (kind, n) => {
    /** @type {import('../records/rows.js').RowOf<string>[]} */
    const its = lists[n].filter((row) => ids.has(row.visit_id));
    const rows = await withRemovals(stage, kind, its);
    return rows.map((row) => ({ kind, row, atMs: msOf(row[AT[kind]]) ?? 0, turn: turnMs(row, row[AT[kind]]),
      said: saidOf(phone, kind, row, byId) }));
  }));
  return written.flat().sort((one, other) => other.turn - one.turn);
}

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row @param {Map<string, any>} byId
 * @returns {string}
 */
export function saidOf(phone, kind, row, byId) {
  const tag = unitTag(byId.get(row.unit_id));
  if (kind === 'sign_in') return `${personName(byId.get(row.person_id))} signed in`;
  if (kind === 'unit_event') {
    return `${tag}, ${labelOf(phone, kind, 'event', row.event, 'work not named').toLowerCase()}`;
  }
  if (kind === 'sighting') {
    const what = byId.has(row.species_id) ? speciesName(byId.get(row.species_id)) : named(row.taxon, 'not named');
    if (row.found === 'looked_for_none') return `${what}, looked for, none`;
    return `${what}, ${row.count ? `${row.count} seen` : 'seen'}`;
  }
  const stateWord = (/** @type {any} */ check) =>
    labelOf(phone, kind, 'found_state', check.found_state, 'looked at').toLowerCase();
  return `${tag}, ${checkWords(row, null, stateWord)}`;
}

/** @param {import('./router.js').Stage} stage @param {any} visit @param {Written[]} written */
export function writtenOn(stage, visit, written) {
  const drawn = written.map(({ kind, row, atMs, said: words }) =>
    recordRow(stage, kind, row, words, clockOf(row, atMs, stage.zone)));
  const count = written.filter(({ row }) => !row.removed).length;
  const removed = written.length - count;
  const rest = drawn.slice(SHOWN);
  return html`${section('Written on this visit', removed ? `${count}, ${removed} removed` : count,
    drawn.length ? drawn.slice(0, SHOWN) : html`<p class="row">Nothing yet.</p>`)}
    ${rest.length ? html`<details><summary>${rest.length} more</summary><div>${rest}</div></details>` : nothing}
    ${rowLink({ href: `#/record/visit/${visit.record_id}`, said: 'Correct the visit itself',
      small: 'purpose, start, leader, level' })}`;
}
