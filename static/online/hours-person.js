/** One person's hours, record by record; months are signed for here, and an hour that two awards claim is decided. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { dayWords } from '../days.js';
import { rounded } from '../rounding.js';
import { labelOf } from '../views/kind-forms.js';
import { fault, section } from '../views/marks.js';
import { savedWithUndo } from '../views/undo.js';
import { instant } from '../views/words.js';
import {
  hoursWords, made, monthOf, remarkRows, roleWords, sumWords, unsignedWords, yearChoices,
} from './hours-words.js';
import { refusedBy } from '../views/refused.js';

const FIRST = 60;
/** @type {Record<string, string>} */
const TYPED = { preparation: 'Preparation', mileage: 'Miles driven' };

/**
 * @param {import('../views/router.js').Stage} stage @param {string} personId
 * @returns {Promise<import('../views/router.js').Screen>}
 */
export async function hoursOfPerson(stage, personId) {
  const screen = new HoursOfPerson(stage, personId);
  await screen.refresh();
  return screen;
}

class HoursOfPerson {
  /** @param {import('../views/router.js').Stage} stage @param {string} personId */
  constructor(stage, personId) {
    this.stage = stage;
    this.personId = personId;
    this.back = '#/hours';
    /** @type {number|null} */ this.year = null;
    /** @type {any} */ this.told = null;
    this.problem = '';
    this.most = FIRST;
  }

  title = () => this.told?.name ?? 'Hours';
  where = () => 'At all your sites';

  get path() { return `/api/hours/people/${encodeURIComponent(this.personId)}`; }

  refresh = async () => {
    this.problem = await refusedBy(async () => {
      this.told = await this.stage.phone.api('GET', `${this.path}?year=${this.year ?? 'all'}`);
    });
  };

  /** @param {number|null} year */
  pick = async (year) => {
    this.year = year;
    await this.refresh();
    this.stage.redraw();
  };

  /**
   * What was written here counts once the server has it.
   * @param {import('../views/undo.js').Change} change @param {string} sentence
   */
  async write(change, sentence) {
    const { stage } = this;
    if (stage.isSecondTap()) return;
    const undo = await savedWithUndo(stage, [change]);
    if (!undo) return;
    stage.say(sentence, undo);
    await stage.phone.syncNow();
    await this.refresh();
    stage.redraw();
  }

  /** @param {any} row a month at a site */
  sign = (row) => this.write({ kind: 'hours_signed', recordId: this.stage.phone.newId(row.site_id), siteId: row.site_id,
    fields: { person_id: row.person_id, from_day: row.from_day, to_day: row.to_day, signed_h: row.hours,
      ...(row.miles ? { signed_mi: row.miles } : {}), signed_at: instant(this.stage.phone.now()),
      ...(this.stage.phone.me.person_id ? { signed_by_id: this.stage.phone.me.person_id } : {}) } },
  `Signed for: ${sumWords(row)} of ${monthOf(row.from_day)}.`);

  /** @param {any} line @param {string} awardId @param {string} name */
  decide = (line, awardId, name) => this.write({ kind: 'award_hours', recordId: this.stage.phone.newId(line.site_id),
    siteId: line.site_id, fields: { award_id: awardId, of_kind: line.kind, of_id: line.record_id } },
  `Counted to ${name}.`);

  body = () => html`${this.problem ? fault(this.problem) : nothing}${this.told ? this.all() : nothing}`;

  all() {
    const { told } = this;
    const year = this.year ?? 'all';
    return html`<div class="cols even"><div class="stack">${yearChoices(told.years, this.year, this.pick)}
      ${section('Hours', sumWords(told.total), html`<p class="row">${unsignedWords(told.total)}</p>
        ${told.roles.map((/** @type {any} */ row) => html`<p class="row"><span
          class="said">${roleWords(this.stage, row.role)}</span>${sumWords(row)}</p>`)}
        <p class="row-do">${made(`${this.path}/letter?year=${year}`, 'letter to print', told.name)}</p>`)}
      ${told.uncounted.count ? section('Not counted', told.uncounted.count, remarkRows(told.uncounted.rows)) : nothing}
      ${told.look.count ? section('To look at', told.look.count, remarkRows(told.look.rows)) : nothing}
      ${told.signed_anew.length ? section('Changed since signed', told.signed_anew.length, told.signed_anew.map(
        (/** @type {any} */ row) => html`<p class="row">${row.sentence}</p>`)) : nothing}
      ${told.to_sign.length ? section('Not signed for', told.to_sign.length, told.to_sign.map(
        (/** @type {any} */ row) => html`<div class="row wrap"><span class="said">${monthOf(row.from_day)}<small>${
          row.site}, ${sumWords(row)}</small></span><button type="button" class="pill plain tap"
          aria-label="Sign for ${monthOf(row.from_day)}, ${row.site}" @click=${() => this.sign(row)}>sign
          for it</button></div>`)) : nothing}</div>
      <div class="stack">${this.lines()}</div></div>`;
  }

  lines() {
    const { lines } = this.told;
    return section('Records', lines.length, html`${lines.slice(0, this.most).map((/** @type {any} */ line) =>
      this.line(line))}${lines.length > this.most ? html`<button type="button" class="or" @click=${() => {
      this.most = lines.length; this.stage.redraw(); }}>Show ${lines.length}</button>` : nothing}
      ${lines.length ? nothing : html`<p class="row">No hours are on record.</p>`}`);
  }

  /** @param {any} line */
  line(line) {
    const when = line.in ? `${line.in} to ${line.out}` : [TYPED[line.kind], line.what].filter(Boolean).join(': ');
    const task = line.task ? labelOf(this.stage.phone, 'sign_in', 'task', line.task) : '';
    const small = [when, task, line.site, line.signed ? 'signed for' : 'not signed for',
      line.award_ids.length === 1 ? line.awards[0] : ''].filter(Boolean).join(', ');
    return html`<div class="row wrap"><a class="said" href="#/record/${line.kind}/${line.record_id}">${
      dayWords(line.day, { year: true })}<small>${small}</small></a><span>${line.miles ? `${rounded(line.miles, 1)} mi`
      : hoursWords(line.hours)}</span>${line.award_ids.length > 1 ? html`<p class="small">Two awards claim this, so it
        counts to neither. Count it to:</p><span class="row-do">${line.award_ids.map(
        (/** @type {string} */ awardId, /** @type {number} */ n) => html`<button type="button" class="pill plain tap"
          @click=${() => this.decide(line, awardId, line.awards[n])}>${line.awards[n]}</button>`)}</span>`
        : nothing}</div>`;
  }
}
