/** Hours, for leads: who gave how many, what is not counted and why, awards, and what prints. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, fault, rowLink, section } from '../views/marks.js';
import { counted } from '../views/words.js';
import { hoursCount } from './hours-count.js';
import { hoursOfPerson } from './hours-person.js';
import {
  hoursWords, made, monthOf, remarkRows, roleWords, sumWords, unsignedWords, yearChoices,
} from './hours-words.js';
import { refusedBy } from '../views/refused.js';

/** How many of a list are shown at first. */
const FIRST = 10;

/** @typedef {import('./hours-words.js').Remark} Remark */

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  if (stage.phone.me.role !== 'lead') return { title: () => 'Hours', body: () => html`<p>Hours of everyone are for
    leads. Yours are under This ${deviceWord()}.</p>` };
  const [part] = stage.params;
  if (part === 'count') return hoursCount(stage);
  if (part) return hoursOfPerson(stage, part);
  const screen = new Hours(stage);
  await screen.refresh();
  return screen;
}

class Hours {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.back = '#/set-up';
    /** @type {number|null} */ this.year = null;
    /** @type {any} */ this.told = null;
    this.problem = '';
    /** @type {Set<string>} lists that are open whole */ this.whole = new Set();
  }

  title = () => 'Hours';
  where = () => 'At all your sites';

  refresh = async () => {
    this.problem = await refusedBy(async () => {
      this.told = await this.stage.phone.api('GET', `/api/hours?year=${this.year ?? 'all'}`);
    });
  };

  /** @param {number|null} year */
  pick = async (year) => {
    this.year = year;
    await this.refresh();
    this.stage.redraw();
  };

  body = () => html`${this.problem ? fault(this.problem) : nothing}${this.told ? this.all() : nothing}`;

  all() {
    const { told } = this;
    return html`<div class="cols even"><div class="stack">${yearChoices(told.years, this.year, this.pick)}
      ${section(this.year === null ? 'All hours' : `Hours of ${this.year}`, sumWords(told.total), html`
        <p class="row"><span class="said">Sign-ins with hours<small>of ${counted(told.sign_in_count, 'sign-in')} on
          record, all years</small></span>${told.total.sign_ins}</p>
        <p class="row"><span class="said">Signed for by a lead</span>${hoursWords(Math.max(0,
          told.total.hours - told.total.unsigned_hours))}</p>
        ${told.roles.map((/** @type {any} */ row) => html`<p class="row"><span
          class="said">${roleWords(this.stage, row.role)}</span>${sumWords(row)}</p>`)}
        <p class="small">Students may work for credit and staff are paid: their hours have no value on a funder\u2019s
          sheet.</p>`)}
      ${this.list('uncounted', 'Not counted', told.uncounted)}${this.list('look', 'To look at', told.look)}
      ${told.signed_anew.length ? section('Changed since signed', told.signed_anew.length, told.signed_anew.map(
        (/** @type {any} */ row) => rowLink({ href: `#/hours/${row.person_id}`, said: row.sentence }))) : nothing}
      </div><div class="stack">${this.people()}${this.months()}${this.awards()}</div></div>`;
  }

  /** @param {string} name @param {string} heading @param {{count: number, rows: Remark[]}} listed */
  list(name, heading, { count, rows }) {
    if (!count) return nothing;
    const shown = this.whole.has(name) ? rows : rows.slice(0, FIRST);
    const open = () => { this.whole.add(name); this.stage.redraw(); };
    return section(heading, count, html`${remarkRows(shown)}${shown.length < rows.length ? html`<button type="button"
      class="or" @click=${open}>Show ${rows.length}</button>` : nothing}${rows.length < count
      ? html`<p class="small">The newest ${rows.length} of ${count}.</p>` : nothing}`);
  }

  people() {
    const { people } = this.told;
    const shown = this.whole.has('people') ? people : people.slice(0, FIRST * 3);
    const open = () => { this.whole.add('people'); this.stage.redraw(); };
    return section('People', people.length, html`${shown.map((/** @type {any} */ row) => rowLink({
      href: `#/hours/${row.person_id}`, said: row.name, aside: html`<span>${sumWords(row)}</span>`,
      small: `${row.roles.map((/** @type {string} */ role) => roleWords(this.stage, role)).join(', ')}; ${
        unsignedWords(row)}` }))}
      ${people.length ? nothing : html`<p class="row">No hours are on record.</p>`}
      ${shown.length < people.length ? html`<button type="button" class="or" @click=${open}>Show
        ${people.length}</button>` : nothing}`);
  }

  months() {
    return section('Months', nothing, this.told.months.map((/** @type {any} */ row) => html`<p class="row"><span
      class="said">${monthOf(`${row.month}-01`)}<small>${counted(row.sign_ins, 'sign-in')}</small></span>${
        sumWords(row)}</p>`));
  }

  awards() {
    const year = this.year ?? 'all';
    return section('Awards', nothing, html`${this.told.awards.map((/** @type {any} */ row) => {
      const path = `/api/hours/awards/${row.award_id ?? 'none'}/sheet`;
      const name = row.name ?? 'On no award';
      return html`<div class="row wrap"><p class="said">${name}<small>${sumWords(row)}, ${
        unsignedWords(row)}</small></p></div><p class="row-do">${made(`${path}.html?year=${year}`, 'print', name)}${
        made(`${path}.xlsx?year=${year}`, 'XLSX', name)}${made(`${path}.csv?year=${year}`, 'CSV', name)}</p>`;
    })}
    <p class="small">Each sheet lists the hours for a funder. Whether they count as match is for your grants office to
      judge.</p>
    ${rowLink({ href: '#/hours/count', said: 'Count hours to an award', small: 'by visit, person, task or days' })}
    ${rowLink({ href: '#/set-up/award', said: 'Awards', small: 'names, numbers, days' })}
    ${rowLink({ href: '#/set-up/rate', said: 'Rates for hours', small: 'what an hour is worth, and who says so' })}`);
  }
}
