/** The visits of a site, the newest first: each opens as a page of its own. */
import { isRemoved } from '../records/mistaken.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, rowLink, section } from './marks.js';
import { personName, siteName } from './names.js';
import { readerVisits } from './reader-visits.js';
import { labelOf } from './kind-forms.js';
import { hasUse } from './roles.js';
import { idsOf, leadersOf, readVisits } from './visits.js';
import { counted, fullDay, msOf, turnMs } from './words.js';

/** How many are shown at first. */
const FIRST = 30;

/**
 * How many people came with each visit.
 * @param {any[]} visits @param {any[]} signIns @returns {(visit: any) => number}
 */
function countsOf(visits, signIns) {
  /** @type {Map<string, Set<string>>} */ const people = new Map();
  for (const signIn of signIns) {
    const { visit_id: id, person_id: who } = signIn;
    if (id && !isRemoved('sign_in', signIn)) people.set(id, (people.get(id) ?? new Set()).add(who));
  }
  return (visit) => new Set([...idsOf(visit, visits)].flatMap((id) => [...(people.get(id ?? '') ?? [])])).size;
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  if (!hasUse(phone.me.role, 'past-visit')) return readerVisits(stage);
  const siteId = phone.me.site_id;
  /** @type {any} */ let site;
  /** @type {any[]} */ let visits = [];
  /** @type {Map<string, string[]>} */ let leaders = new Map();
  let peopleOf = countsOf([], []);
  let most = FIRST;
  const refresh = async () => {
    const [record, known, people, signIns] = await Promise.all([
      phone.row('site', siteId), readVisits(phone), phone.rows('person', { siteId }), phone.rows('sign_in', { siteId }),
    ]);
    site = record;
    peopleOf = countsOf(known.visits, signIns);
    const names = new Map(people.map((person) => [person.record_id, personName(person)]));
    leaders = new Map(known.visits.map((visit) => [visit.record_id, leadersOf(visit, known, names)]));
    visits = known.visits.filter((visit) => visit.started_at && !visit.joined_to)
      .sort((one, other) => turnMs(other, other.started_at) - turnMs(one, one.started_at));
  };
  await refresh();
  const row = (/** @type {any} */ visit) => rowLink({
    href: `#/visits/${visit.record_id}`, said: `${fullDay(msOf(visit.started_at) ?? 0, stage.zone)}`,
    small: `${[labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit'),
      leaders.get(visit.record_id)?.join(' and ')].filter(Boolean).join(' with ')},
      ${counted(peopleOf(visit), 'person', 'people')}`,
  });
  return {
    title: () => 'Past visits', where: () => siteName(site), refresh, narrow: true,
    back: hasUse(phone.me.role, 'visit') ? '#/visit' : '#/today',
    body: () => section(`Visits on this ${deviceWord()}`, visits.length, visits.length
      ? html`${visits.slice(0, most).map(row)}${visits.length > most
        ? html`<button type="button" class="or" @click=${() => { most = visits.length; stage.redraw(); }}>All
          ${visits.length}</button>` : nothing}`
      : html`<p class="row">No visit is on this ${deviceWord()}.</p>`),
  };
}
