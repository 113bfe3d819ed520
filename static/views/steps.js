/** What a site needs before a crew can go out, step by step: what each is for, and what is missing. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, pill, rowLink } from './marks.js';
import { named } from './names.js';
import { counted } from './words.js';

/** What the first step fills in of a site; the rest of what a site requires is its tide. */
const PLACE = ['name', 'lat_deg', 'lon_deg', 'zone'];
/** Two tapes from two marks give a place. */
const LEAST_MARKS = 2;
/** Nobody goes out alone. */
const LEAST_PEOPLE = 2;

/**
 * said: its name; why: what it is for; missing: what is not there yet, null where nothing is;
 * needed: whether a crew cannot do its work without it; count: how many there are, where that says something
 * @typedef {{name: string, said: string, why: string, missing: string|null, needed: boolean, href: string,
 *   count: number|null}} Step
 */

/**
 * @param {import('./router.js').Phone} phone @param {string} kind @param {any} row
 * @returns {{field: string, title: string}[]}
 */
function gaps(phone, kind, row) {
  const form = phone.pack()?.forms?.kinds?.[kind];
  if (!form) return [];
  const isOpen = (/** @type {string} */ field) =>
    (typeof row[field] === 'string' ? !named(row[field], '') : row[field] === null || row[field] === undefined);
  return (form.required ?? []).filter(isOpen)
    .map((/** @type {string} */ field) => ({ field, title: form.properties[field].title }));
}

/** @param {{title: string}[]} list @returns {string|null} */
const still = (list) =>
  (list.length ? `Still missing: ${list.map(({ title }) => title.toLowerCase()).join(', ')}.` : null);

/** @param {any[]} list @param {number} least @param {string} singular @param {string} many @returns {string|null} */
function tooFew(list, least, singular, many) {
  if (list.length >= least) return null;
  return list.length ? `${counted(list.length, singular, many)} so far; ${least} or more are needed.`
    : `No ${singular} yet.`;
}

/** @param {import('./router.js').Phone} phone @param {any} site @returns {Step[]} */
function siteSteps(phone, site) {
  const open = site ? gaps(phone, 'site', site) : [];
  const place = open.filter(({ field }) => PLACE.includes(field));
  const tide = open.filter(({ field }) => !PLACE.includes(field));
  const form = site ? `#/set-up/site/${site.record_id}` : '#/set-up/site/new';
  // Beside a tide the sentence says that no low can be used, which is no gap in the set-up.
  const part = site ? phone.pack()?.sites?.[site.record_id] : null;
  const unknown = part && !phone.tides(site.record_id) ? part.sentence ?? null : null;
  return [
    { name: 'site', said: 'Site', why: 'Where it is: tide, daylight and clock follow from the place.',
      missing: site ? still(place) : 'No site yet.', needed: true, count: null,
      href: site && !place.length ? '#/set-up/site' : form },
    { name: 'tide', said: 'Tide', why: 'A tide station, the levels of the work area and the path, and the walk: '
      + 'they give the low tides and the time to turn back.',
    missing: site ? still(tide) ?? unknown : 'Comes with the site.', needed: true, count: null,
    href: site && !tide.length && !unknown ? '#/site-tide' : form },
  ];
}

/**
 * The steps of the site that this phone shows, but for the invitations, of which only the server knows.
 * @param {import('./router.js').Phone} phone @returns {Promise<Step[]>}
 */
export async function readSteps(phone) {
  const siteId = phone.me.site_id;
  const site = siteId ? await phone.row('site', siteId) : undefined;
  const [rows, marks, designs, units, people] = await Promise.all([
    phone.rows('row', { siteId }), phone.rows('control_mark', { siteId }), phone.rows('unit_design', { siteId }),
    phone.rows('unit', { siteId }), phone.rows('person', { siteId }),
  ]);
  const undesigned = units.filter((unit) => !unit.design_id).length;
  const unlevelled = rows.filter((row) => gaps(phone, 'row', row).length).length;
  return [
    ...siteSteps(phone, site),
    { name: 'rows', said: 'Rows', why: 'Each row has a bed level, so it gets its own hours out of the water.',
      missing: tooFew(rows, 1, 'row', 'rows') ?? (unlevelled ? `${counted(unlevelled, 'row')} not filled in.` : null),
      needed: true, href: '#/set-up/row', count: rows.length },
    { name: 'marks', said: 'Control marks', why: 'Fixed points that tapes are read from; two tapes place a unit.',
      missing: tooFew(marks, LEAST_MARKS, 'mark', 'marks'), needed: false, href: '#/set-up/control_mark',
      count: marks.length },
    { name: 'design', said: 'Unit designs', why: 'Height and footprint: how much of a unit can show.',
      missing: tooFew(designs, 1, 'design', 'designs'), needed: true, href: '#/set-up/unit_design',
      count: designs.length },
    { name: 'units', said: 'Units', why: 'What the crew checks: a tag, a row and a slot each.',
      missing: tooFew(units, 1, 'unit', 'units')
        ?? (undesigned ? `${counted(undesigned, 'unit')} without a design.` : null),
      needed: true, href: '#/set-up/unit', count: units.length },
    { name: 'people', said: 'People', why: 'Who signs in and out: the count of people out on the shore.',
      missing: tooFew(people, LEAST_PEOPLE, 'person', 'people'), needed: true, href: '#/set-up/person',
      count: people.length },
  ];
}

/** Whether a crew can do its work. @param {Step[]} steps */
export const isSetUp = (steps) => steps.length > 0 && steps.every((step) => !step.needed || step.missing === null);

/** The steps in their order; the first that is open is the next. @param {Step[]} steps */
export function stepList(steps) {
  const next = steps.find((step) => step.missing !== null);
  return html`<ol class="numbered">${steps.map((step, n) => html`<li>${rowLink({
    href: step.href, tag: String(n + 1), said: step.said, next: step === next,
    small: step.missing === null ? step.why : html`<b>${step.missing}</b> ${step.why}`,
    pill: step.missing === null ? html`${step.count ? html`<span>${step.count}</span>` : nothing}${
      pill('plain', 'done')}` : null,
  })}</li>`)}</ol>`;
}

/**
 * A programme that one person alone can open to others ends with that person's phone. Said until a second has joined.
 * @param {import('./router.js').Phone} phone
 */
export const oneLead = (phone) => (phone.pack()?.programme?.leads !== 1 ? nothing
  : rowLink({ href: '#/access/invitations/lead', said: 'Only one lead has joined',
    small: `Invite a second. Without you and this ${deviceWord()}, nobody can invite people or end access.` }));

/**
 * What Today says of a programme that is not set up yet: to a lead what comes next, to others what they will not find.
 * @param {Step[]} steps @param {string} role
 */
export function halfSetUp(steps, role) {
  const open = steps.filter((step) => step.needed && step.missing !== null);
  if (role === 'lead' && open.length) {
    return rowLink({ href: '#/set-up', said: 'Set-up is not finished',
      small: html`Next: <b>${open[0].said.toLowerCase()}</b>. ${open[0].missing} ${open[0].why}` });
  }
  // Who may not see the roster finds it empty.
  const unseen = open.filter((step) => step.name !== 'people').map((step) => step.said.toLowerCase());
  return unseen.length
    ? html`<p class="row">This site is not all set up yet: ${unseen.join(', ')}. A lead finishes it.</p>` : nothing;
}
