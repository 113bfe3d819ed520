/** How many are out, minors and leaders among them; and a name in a list, which opens the person beside it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { leftOpenWords } from './left-out.js';
import { doubt } from './marks.js';
import { personName } from './names.js';
import { isChosen, placeOf } from './pairs.js';
import { counted } from './words.js';

/**
 * One leader for six people and never fewer than two: our own proposal for tidal flats; the site's own rule goes first.
 */
const PEOPLE_A_LEADER = 6;
const LEADERS = 2;

/** Who was not asked counts as a minor. @param {any} person */
const countsAsMinor = (person) => person.minor !== false;

/** @param {any} person */
export const ageWord = (person) => (person.minor ? 'minor' : countsAsMinor(person) ? 'age not asked' : '');

/** @param {import('./router.js').Stage} stage @param {any} person @param {string} about */
export function personLink(stage, person, about) {
  const words = html`${personName(person)}<small>${about}</small>`;
  return stage.chosen && person.record_id ? html`<a class="said" href=${placeOf('people', person.record_id)}
    aria-current=${isChosen(stage, person.record_id) ? 'true' : nothing}>${words}</a>`
    : html`<span class="said">${words}</span>`;
}

/**
 * @param {{out: import('./heads.js').Out[], left: import('./heads.js').Out[], visit: any, ages: string}} of left: who
 *   was forgotten on an earlier visit; ages: how old what this phone knows is, in words
 * @param {import('./router.js').Stage} stage
 */
export function headCount({ out, left, visit, ages }, { phone, zone }) {
  const leaders = out.filter((stay) => (stay.signIn.sign_in_role ?? stay.person.role) === 'leader').length;
  const minors = out.filter((stay) => countsAsMinor(stay.person)).length;
  const unsaid = out.filter((stay) => countsAsMinor(stay.person) && !stay.person.minor).length;
  const wanted = Math.max(LEADERS, Math.ceil((out.length - leaders) / PEOPLE_A_LEADER));
  const leftWords = leftOpenWords(left, phone.now(), zone);
  return html`<div class="board count"><div><div class="figure">${out.length}</div>
      <div class="label">out on ${visit ? 'this visit' : 'the shore'}</div></div>
    <div class="note">${leftWords ? `Not counted: ${leftWords}. ` : ''}${counted(minors, 'minor')}${unsaid
      ? ` (${unsaid} of them not asked, so counted as minors)`
      : ''}, ${counted(leaders, 'leader')}.${visit?.briefing_done ? ' Briefing given.' : ''} ${ages}</div></div>
    ${out.length && leaders < wanted ? doubt(`${counted(wanted - leaders, 'more leader', 'more leaders')} needed: at `
      + `least two, and one for every ${PEOPLE_A_LEADER} people. Our suggestion; your own rules come first.`) : nothing}
    ${minors && leaders < LEADERS ? doubt('Minors are out: never leave one adult alone with them.') : nothing}`;
}
