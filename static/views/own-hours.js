/** Your hours: one's own sign-ins, preparation hours and miles, as far as they are on this phone. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { dayWords, monthWords } from '../days.js';
import { byDay, countedOnce, decimalHours, minutesOfHours, turnOf } from '../records/hours.js';
import { recordsOf } from '../records/same-person.js';
import { rounded } from '../rounding.js';
import { deviceWord, entryMark, rowLink, section } from './marks.js';
import { personName } from './names.js';
import { RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { clock, counted, fullDay, knownZone, localDay, msOf } from './words.js';

const FIRST = 30;
/** Why a sign-in adds no time, as its owner reads it. @type {Record<string, string>} */
const WHY_NOT = { open: 'no sign-out time', 'no-out': 'no sign-out time', 'day-alone': 'only the day is known',
  'out-first': 'out before in' };

/**
 * @typedef {import('../records/rows.js').SignIn} SignIn
 * @typedef {import('../records/rows.js').Preparation} Preparation
 * @typedef {import('../records/rows.js').Mileage} Mileage
 * One record as it is listed. @typedef {{kind: 'sign_in'|'preparation'|'mileage', id: string, day: string,
 *   said: string, amount: string, state: any}} Listed
 */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new OwnHours(stage);
  await screen.refresh();
  return screen;
}

class OwnHours {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.back = '#/phone';
    this.narrow = true;
    this.most = FIRST;
    this.name = '';
    /** @type {RecordForm|null} */ this.form = null;
    /** @type {Listed[]} the newest first */ this.list = [];
    /** @type {Map<string, number>} minutes by month */ this.months = new Map();
    this.miles = 0;
    this.uncounted = 0;
  }

  title = () => 'Your hours';
  where = () => this.name;

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [people, sites] = await Promise.all([phone.rows('person', { siteId }), phone.rows('site', { siteId })]);
    const mine = new Set(recordsOf(people, phone.me.person_id ?? '').map((person) => person.record_id));
    this.name = personName(people.find((person) => person.record_id === phone.me.person_id));
    const zone = knownZone(sites[0]?.zone) ?? this.stage.zone;
    const [signIns, preparations, mileages] = await Promise.all([
      phone.rows('sign_in', { siteId }), phone.rows('preparation', { siteId }), phone.rows('mileage', { siteId })]);
    const own = (/** @type {any[]} */ rows) => rows.filter((row) => mine.has(row.person_id ?? ''));
    this.sum(own(signIns), own(preparations), own(mileages), zone);
  };

  /**
   * @param {SignIn[]} signIns @param {Preparation[]} preparations @param {Mileage[]} mileages @param {string} zone
   */
  sum(signIns, preparations, mileages, zone) {
    /** @type {Map<string, number>} */ const months = new Map();
    const add = (/** @type {string} */ day, /** @type {number} */ minutes) => {
      const month = day.slice(0, 7);
      months.set(month, (months.get(month) ?? 0) + minutes);
    };
    const known = signIns.map((signIn) => ({ signIn, turn: turnOf(signIn) }))
      .filter(({ signIn, turn }) => turn !== 'removed' && signIn.in_at);
    const left = countedOnce(known.flatMap(({ turn }) => (typeof turn === 'string' ? [] : [turn])));
    const minutesOf = new Map(left.map((turn) => [turn.signInId, turn.untilMin - turn.fromMin]));
    for (const turn of left) for (const { day, minutes } of byDay(turn, zone)) add(day, minutes);
    for (const { worked_on: day, spent_h: hours } of preparations) if (day && hours) add(day, minutesOfHours(hours));
    this.months = new Map([...months].sort(([one], [other]) => (one < other ? 1 : -1)));
    this.miles = mileages.reduce((sum, { driven_mi: miles }) => sum + (miles ?? 0), 0);
    this.uncounted = known.filter(({ turn }) => typeof turn === 'string').length;
    this.list = [...known.map(({ signIn, turn }) => signedIn(signIn, turn, minutesOf, zone)),
      ...preparations.map(prepared), ...mileages.map(driven)].sort((one, other) => (one.day < other.day ? 1 : -1));
  }

  /** @param {'preparation'|'mileage'} kind */
  open = async (kind) => {
    const { phone, zone } = this.stage;
    const day = localDay(phone.now(), zone);
    this.form = await new RecordForm(this.stage, kind, `${kind}:new`).start(
      kind === 'preparation' ? { worked_on: day } : { driven_on: day });
    this.stage.redraw();
  };

  save = async () => {
    const { phone } = this.stage;
    const form = /** @type {RecordForm} */ (this.form);
    const fields = form.ready({ person_id: phone.me.person_id });
    if (!fields) return;
    const undo = await savedWithUndo(this.stage, [{ kind: form.kind, recordId: form.recordId, fields }]);
    if (!undo) return;
    await form.drop();
    this.form = null;
    this.stage.say(`Saved on this ${deviceWord()}.`, undo);
  };

  cancel = async () => {
    await this.form?.drop();
    this.form = null;
    this.stage.redraw();
  };

  body = () => html`<div class="stack">${this.form ? this.filling(this.form) : nothing}${this.sums()}${this.records()}
    </div>`;

  /** @param {RecordForm} form */
  filling = (form) => html`<section class="stack"><div class="bar"><h2>${form.kind === 'preparation'
    ? 'Add preparation hours' : 'Add miles'}</h2></div>${form.all(['person_id'])}</section>`;

  sums() {
    const total = [...this.months.values()].reduce((sum, minutes) => sum + minutes, 0);
    return html`${section('Hours', `${decimalHours(total)} h`, html`${[...this.months].map(([month, minutes]) =>
      html`<p class="row"><span class="said">${monthWords(`${month}-01`).replace(' ', '\u00a0')}</span>${
        decimalHours(minutes)} h</p>`)}
      ${this.miles ? html`<p class="row"><span class="said">Miles driven</span>${rounded(this.miles, 1)} mi</p>`
        : nothing}
      <p class="small">Of what is on this ${deviceWord()} for this site. Older sign-ins, and other sites, are on the
        server; a lead can print all of it.</p>
      ${this.uncounted ? html`<p class="small">${counted(this.uncounted, 'sign-in')} without a length ${
        this.uncounted === 1 ? 'is' : 'are'} not counted. A lead can correct ${this.uncounted === 1 ? 'it'
        : 'them'}.</p>` : nothing}`)}`;
  }

  records() {
    if (!this.list.length) return html`<p>No hours of yours are on this ${deviceWord()}.</p>`;
    const shown = this.list.slice(0, this.most);
    return section('Records', String(this.list.length), html`${shown.map((listed) => rowLink({
      href: `#/record/${listed.kind}/${listed.id}`, said: dayWords(listed.day, { year: true }), small: listed.said,
      aside: html`<span>${listed.amount}</span>${entryMark(listed.state)}` }))}${this.list.length > this.most
      ? html`<button type="button" class="or" @click=${() => { this.most = this.list.length; this.stage.redraw(); }}>All
        ${this.list.length}</button>` : nothing}`);
  }

  foot = () => (this.form ? html`<div class="two"><button type="button" class="or"
      @click=${this.cancel}>Cancel</button><button type="button" class="do" @click=${this.save}>Save</button></div>`
    : html`<div class="two"><button type="button" class="or" @click=${() => this.open('preparation')}>Add preparation
      hours</button><button type="button" class="or" @click=${() => this.open('mileage')}>Add miles</button></div>`);
}

/**
 * @param {SignIn} signIn @param {import('../records/hours.js').Turn|string} turn @param {Map<string, number>} minutesOf
 * @param {string} zone @returns {Listed}
 */
function signedIn(signIn, turn, minutesOf, zone) {
  const [inMs, outMs] = [msOf(signIn.in_at) ?? 0, msOf(signIn.out_at)];
  const id = signIn.record_id;
  const until = outMs === null ? '' : ` to ${localDay(outMs, zone) === localDay(inMs, zone) ? ''
    : `${fullDay(outMs, zone)}, `}${clock(outMs, zone)}`;
  const minutes = minutesOf.get(id) ?? 0;
  const isShort = typeof turn !== 'string' && minutes < turn.untilMin - turn.fromMin;
  return { kind: 'sign_in', id, day: localDay(inMs, zone), state: signIn.entry_state,
    said: typeof turn === 'string' ? `${WHY_NOT[turn] ?? turn}: not counted`
      : `${clock(inMs, zone)}${until}${isShort ? ', part of it in another sign-in: counted once' : ''}`,
    amount: typeof turn === 'string' ? '' : `${decimalHours(minutes)} h` };
}

/** @param {Preparation} row @returns {Listed} */
const prepared = (row) => ({ kind: 'preparation', id: row.record_id, day: row.worked_on ?? '1970-01-01',
  said: row.what ? `Preparation: ${row.what}` : 'Preparation', amount: `${rounded(row.spent_h ?? 0, 2)} h`,
  state: row.entry_state });

/** @param {Mileage} row @returns {Listed} */
const driven = (row) => ({ kind: 'mileage', id: row.record_id, day: row.driven_on ?? '1970-01-01',
  said: row.trip ? `Miles: ${row.trip}` : 'Miles', amount: `${rounded(row.driven_mi ?? 0, 1)} mi`,
  state: row.entry_state });
