/** Set-up, people of several sites: who is added here with one tap, and what one person did at all of them. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { decimalHours, timeOf } from '../records/hours.js';
import { isRemoved } from '../records/mistaken.js';
import { notAt, recordsOf } from '../records/same-person.js';
import { deviceWord, section } from './marks.js';
import { byName, personName, siteName } from './names.js';
import { savedWithUndo } from './undo.js';
import { clock, counted, fullDay, knownZone, msOf, turnMs } from './words.js';

const SHOWN = 20;
/** What a person brings along; a waiver is a site's own. */
const BROUGHT = ['display_name', 'role', 'minor'];

/**
 * @param {import('./router.js').Phone} phone
 * @returns {Promise<{people: any[], sites: Map<string, any>}>} of every site of this phone
 */
async function everywhere(phone) {
  const [people, sites] = await Promise.all([phone.rows('person', {}), phone.rows('site', {})]);
  return { people, sites: new Map(sites.map((site) => [site.record_id, site])) };
}

/** @param {{minutes: number}} time @returns {string} 26.50 h */
const hoursOf = ({ minutes }) => `${decimalHours(minutes)} h`;

/**
 * People of the lead's other sites who are not on this one's roster.
 * @param {import('./router.js').Stage} stage @param {(id: string) => Promise<void>} added told of who was added
 */
export function peopleElsewhere(stage, added) {
  const { phone } = stage;
  /** @type {any[]} */ let list = [];
  /** @type {Map<string, any>} */ let sites = new Map();
  const refresh = async () => {
    const all = await everywhere(phone);
    sites = all.sites;
    list = notAt(all.people, phone.me.site_id ?? '')
      .sort((one, other) => byName(personName(one), personName(other)));
  };
  const add = async (/** @type {any} */ person) => {
    if (stage.isSecondTap()) return;
    const brought = BROUGHT.filter((name) => person[name] !== null && person[name] !== undefined)
      .map((name) => [name, person[name]]);
    const recordId = phone.idForForm('person', null);
    const undo = await savedWithUndo(stage, [{ kind: 'person', recordId, siteId: phone.me.site_id,
      fields: { ...Object.fromEntries(brought), same_as: person.record_id } }]);
    if (!undo) return;
    stage.say(`${personName(person)} is on the roster here.`, undo);
    await added(recordId);
  };
  const draw = () => (list.length ? section('At your other sites', counted(list.length, 'person', 'people'), list.map(
    (person) => html`<button type="button" class="row" @click=${() => add(person)}><span
      class="said">${personName(person)}<small>${siteName(sites.get(person.site_id))}</small></span><span
      class="pill plain">add here</span></button>`)) : nothing);
  return { refresh, draw };
}

/**
 * Where and how long a person was on the shore, at all sites together, as far as this phone has it.
 * @param {import('./router.js').Stage} stage @param {string} id
 */
export function onTheShore(stage, id) {
  const { phone } = stage;
  /** @type {{site: any, signIns: any[]}[]} */ let parts = [];
  const refresh = async () => {
    const { people, sites } = await everywhere(phone);
    const records = recordsOf(people, id);
    const ofSite = records.filter((record) => record.site_id).map(async (person) => ({
      site: sites.get(person.site_id), signIns: await phone.rowsOf('sign_in', { kind: 'person', id: person.record_id }),
    }));
    parts = (await Promise.all([...ofSite, ...ofAllSites(records.find((record) => !record.site_id), sites)]))
      .map(({ site, signIns }) => ({ site,
        signIns: signIns.filter((signIn) => !isRemoved('sign_in', signIn)) }))
      .filter(({ signIns }) => signIns.length);
  };
  /** Somebody of the whole programme signs in at any site. @param {any} person @param {Map<string, any>} sites */
  const ofAllSites = (person, sites) => (person ? [...sites].map(async ([siteId, site]) => ({
    site, signIns: (await phone.rows('sign_in', { siteId })).filter((signIn) =>
      signIn.person_id === person.record_id),
  })) : []);
  const draw = () => {
    const seen = parts.flatMap(({ site, signIns }) => signIns.map((signIn) => ({ signIn, site })))
      .sort((one, other) => turnMs(other.signIn, other.signIn.in_at) - turnMs(one.signIn, one.signIn.in_at));
    if (!seen.length) return nothing;
    const all = timeOf(seen.map(({ signIn }) => signIn));
    const bySite = parts.length < 2 ? nothing : parts.map(({ site, signIns }) => html`<p class="row"><span
      class="said">${siteName(site)}</span>${hoursOf(timeOf(signIns))}, ${counted(signIns.length, 'time')}</p>`);
    return section('On the shore', `${hoursOf(all)}, ${counted(all.count, 'time')}`, html`${bySite}
      ${seen.slice(0, SHOWN).map((signIn) => signedIn(signIn))}<p class="small">${seen.length > SHOWN
        ? `The newest ${SHOWN} of ${seen.length}. ` : ''}As far as they are on this ${deviceWord()}.</p>`);
  };
  /** @param {{signIn: any, site: any}} one */
  const signedIn = ({ signIn, site }) => {
    const zone = knownZone(site?.zone) ?? stage.zone;
    const [from, until] = [msOf(signIn.in_at) ?? 0, msOf(signIn.out_at)];
    return html`<p class="row"><span class="said">${fullDay(from, zone)}<small>${siteName(site)}</small></span>${
      signIn.time_known === false ? 'times not known'
        : `${clock(from, zone)}${until === null ? ', not signed out' : ` to ${clock(until, zone)}`}`}</p>`;
  };
  return { refresh, draw };
}
