/** How many are out, minors and leaders among them; and a name in a list, which opens the person beside it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { leftOpenWords } from './left-out.js';
import { doubt } from './marks.js';
import { personName } from './names.js';
import { isChosen, placeOf } from './pairs.js';
import { counted } from './words.js';

/**
 * One leader for six people and never fewer than two: our own proposal for tidal flats, where the site says no number
 * of its own.
 */
const PEOPLE_A_LEADER = 6;
const LEADERS = 2;

/** Who was not asked counts as a minor. @param {any} person */
export const countsAsMinor = (person) => person.minor !== false;

/** @param {any} person */
export const ageWord = (person) => (person.minor ? 'minor' : countsAsMinor(person) ? 'age not asked' : '');

/** @param {import('./router.js').Stage} stage @param {any} person @param {string} about */
export function personLink(stage, person, about) {
  const words = html`${personName(person)}<small>${about}</small>`;
  return stage.chosen && person.record_id ? html`<a class="said" href=${placeOf('people', person.record_id)}
    aria-current=${isChosen(stage, person.record_id) ? 'true' : nothing}>${words}</a>`
    : html`<span class="said">${words}</span>`;
}

/** @param {import('./heads.js').Out} stay */
const isLeader = ({ signIn, person }) => (signIn.sign_in_role ?? person.role) === 'leader';

/**
 * What is lacking of leaders, by the site's own numbers where it has some.
 * @param {import('./heads.js').Out[]} out @param {any} site
 */
export function leaderDoubts(out, site) {
  const leaders = out.filter(isLeader).length;
  const perLeader = site?.people_per_leader ?? PEOPLE_A_LEADER;
  const least = site?.least_leaders ?? LEADERS;
  const wanted = Math.max(least, Math.ceil((out.length - leaders) / perLeader));
  const isOwn = typeof site?.people_per_leader === 'number' || typeof site?.least_leaders === 'number';
  const minors = out.filter((stay) => countsAsMinor(stay.person)).length;
  const whose = isOwn ? 'This site\u2019s rule.' : 'Our suggestion; your own rules come first.';
  return html`${out.length && leaders < wanted ? doubt(`${counted(wanted - leaders, 'more leader', 'more leaders')} `
      + `needed: at least ${least === LEADERS ? 'two' : least}, and one for every ${perLeader} people. ${whose}`)
    : nothing}
    ${minors && leaders < LEADERS ? doubt('Minors are out: never leave one adult alone with them.') : nothing}`;
}

/**
 * @param {{out: import('./heads.js').Out[], left: import('./heads.js').Out[], visit: any, ages: string, site: any}} of
 *   left: who was forgotten on an earlier visit; ages: how old what this phone knows is, in words
 * @param {import('./router.js').Stage} stage
 */
export function headCount({ out, left, visit, ages, site }, { phone, zone }) {
  const leaders = out.filter(isLeader).length;
  const minors = out.filter((stay) => countsAsMinor(stay.person)).length;
  const unsaid = out.filter((stay) => countsAsMinor(stay.person) && !stay.person.minor).length;
  const leftWords = leftOpenWords(left, phone.now(), zone);
  return html`<div class="board count"><div><div class="figure">${out.length}</div>
      <div class="label">out on ${visit ? 'this visit' : 'the shore'}</div></div>
    <div class="note">${leftWords ? `Not counted: ${leftWords}. ` : ''}${counted(minors, 'minor')}${unsaid
      ? ` (${unsaid} of them not asked, so counted as minors)`
      : ''}, ${counted(leaders, 'leader')}.${visit?.briefing_done ? ' Briefing given.' : ''} ${ages}</div></div>
    ${leaderDoubts(out, site)}`;
}
