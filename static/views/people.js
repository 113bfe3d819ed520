/** People: who is out, signing in with one tap, signing out one or all, the briefing, minors for each leader. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { entryMark, mark, pill, rowLink, savedHere, section } from './marks.js';
import { hasCome, partedOut, peopleOut } from './heads.js';
import { agesOf, leftBoard } from './left-out.js';
import { localText, msOfLocal } from './local-box.js';
import { byName, personName } from './names.js';
import { labelOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { hasUse } from './roles.js';
import { has, searchBox } from './search-box.js';
import { signInOf } from './signing-in.js';
import { EveryoneOut, readToday, todayList } from './signed-in-today.js';
import { ageWord, headCount, personLink } from './head-count.js';
import { headDoubts, minorsAlone, twiceIn } from './head-doubts.js';
import { savedWithUndo } from './undo.js';
import { onVisit, partsOf, readVisits, runningOf } from './visits.js';
import { clock, counted, instant, moment, msOf } from './words.js';

/** @param {{person: any}[]} these */
const whoOf = (these) => (these.length === 1 ? personName(these[0].person) : counted(these.length, 'person', 'people'));

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new People(stage);
  await screen.refresh();
  return screen;
}

class People {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.searched = '';
    this.showsCard = false;
    /** @type {any} a person being added */ this.adding = null;
    /** @type {string|null} a sign-in that gets a reason instead of a time */ this.reasonFor = null;
    this.reason = '';
    /** @type {any} the visit that runs */ this.visit = null;
    /** Whether anybody was signed in on it. */ this.isBegun = true;
    /** @type {import('./heads.js').Out[]} of the visit that runs; where none does, whoever is out */ this.out = [];
    /** @type {import('./heads.js').Out[]} out on another visit that runs */ this.elsewhere = [];
    /** @type {import('./heads.js').Out[]} who was forgotten on an earlier visit */ this.left = [];
    /** @type {string|null} a sign-in of those that gets a time */ this.timeFor = null;
    this.time = '';
    this.ages = '';
    /** Removed ones too: the next one of that day gets another name. @type {any[]} */ this.signIns = [];
    /** @type {any[]} the day's, newest first, removed ones too */ this.today = [];
    /** @type {Map<string, string>} */ this.names = new Map();
    this.everyoneOut = new EveryoneOut(stage, (these) => { this.signOutNow(these); });
    /** @type {any[]} on the roster and not out */ this.roster = [];
    /** @type {any} */ this.site = null;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [visits, everyone, roster, signIns, checks, site] = await Promise.all([
      readVisits(phone), peopleOut(phone), phone.rows('person', { siteId }),
      phone.rowsAndRemoved('sign_in', { siteId }), phone.rows('unit_check', { siteId }), phone.row('site', siteId),
    ]);
    const visit = runningOf(phone, visits);
    const { party, elsewhere, left, out: all } = partedOut(visit, visits, everyone, phone.now());
    const out = visit ? party : all;
    const names = new Map(roster.map((person) => [person.record_id, personName(person)]));
    const parts = visit ? partsOf(visit, visits.visits, visits.parts) : [];
    this.ages = agesOf(phone, parts, [...signIns, ...checks, ...visits.visits], names, this.stage.zone);
    this.today = await readToday(this.stage, signIns);
    this.isBegun = !visit || hasCome(visit, visits.visits, signIns);
    Object.assign(this, { visit, out, elsewhere, left, signIns, site, names });
    const outIds = new Set(all.map((stay) => stay.signIn.person_id));
    this.roster = roster.filter((person) => !outIds.has(person.record_id))
      .sort((one, other) => byName(personName(one), personName(other)));
  };

  title = () => 'People';
  where = () => (this.visit
    ? `${labelOf(this.stage.phone, 'visit', 'purpose', this.visit.purpose, 'Visit')}, since `
      + `${clock(msOf(this.visit.started_at) ?? 0, this.stage.zone)}` : 'No visit is open');

  get mayWrite() {
    return this.stage.phone.me.role !== 'reader';
  }

  body = () => html`<div class="cols even"><div
    class="stack">${this.left.map((stay) => this.leftOne(stay))}${headCount(this, this.stage)}${this.doubts()}${
      this.showsCard ? this.card() : nothing}${this.outList()}</div>
    <div class="stack">${this.mayWrite ? html`${this.adding ? this.addForm() : this.rosterList()}${todayList(this.stage,
      this.today, this.names)}` : nothing}</div></div>`;

  /** What may be wrong with the count, and the ways to count aloud and to the desk. */
  doubts() {
    const { out, names } = this;
    const { role } = this.stage.phone.me;
    const ways = html`${rowLink({ href: '#/count-heads', said: 'Count heads aloud' })}${hasUse(role, 'desk')
      ? rowLink({ href: '#/desk', said: 'Desk', small: 'two letters and a tap, walk-ups, tasks, contacts' })
      : nothing}`;
    return html`${headDoubts([...minorsAlone(out, names), ...twiceIn(out, this.today, names, this.stage.zone)])}${
      this.mayWrite ? ways : nothing}`;
  }

  /**
   * Someone of an earlier tide: a time or a reason, and nothing else, takes them off this screen.
   * @param {import('./heads.js').Out} stay
   */
  leftOne(stay) {
    const { signIn, person } = stay;
    const { phone, zone } = this.stage;
    const name = personName(person);
    const open = (/** @type {'timeFor'|'reasonFor'} */ which) => () => {
      Object.assign(this, { timeFor: null, reasonFor: null, time: '', reason: '', [which]: signIn.record_id });
      this.stage.redraw();
    };
    return html`${leftBoard(stay, this.left, phone.now(), zone)}${this.mayWrite
      ? html`<div class="tight"><div class="two"><button type="button" class="or"
      @click=${open('timeFor')}>Sign ${name} out with a time</button><button type="button" class="or"
      @click=${open('reasonFor')}>No time known</button></div>
      ${this.timeFor === signIn.record_id ? html`<form class="field"
        @submit=${(/** @type {Event} */ event) => { event.preventDefault(); this.signOutAt(stay); }}><label
        class="label-text" for="left-at">When did ${name} leave the shore?</label>
        <input class="line" id="left-at" type="datetime-local"
          min=${localText(msOf(signIn.in_at) ?? 0, zone)} max=${localText(phone.now(),
            zone)} .value=${this.time} @input=${(/** @type {any} */ event) => {
              this.time = event.target.value;
            }}><button class="or">Save this time</button></form>` : nothing}
      ${this.reasonFor === signIn.record_id ? this.reasonForm(stay) : nothing}</div>` : nothing}`;
  }

  /** @param {import('./heads.js').Out} one */
  async signOutAt({ signIn, person }) {
    const { phone, zone } = this.stage;
    const outMs = msOfLocal(this.time, zone);
    const inMs = msOf(signIn.in_at) ?? 0;
    // The box knows minutes: whoever came and left within one left when they came.
    const ms = outMs !== null && outMs < inMs && outMs >= Math.floor(inMs / 60_000) * 60_000 ? inMs : outMs;
    if (ms === null) {
      this.stage.refuse('Choose the day and the time first, or take \u201cNo time known\u201d.');
      return;
    }
    if (ms < inMs || ms > phone.now()) {
      this.stage.refuse(`${moment(ms, phone.now(), zone)} is ${ms < inMs ? `before ${personName(person)} came in, `
        + `${moment(inMs, phone.now(), zone)}` : 'still to come'}. Choose a time in between.`);
      return;
    }
    const change = { kind: 'sign_in', recordId: signIn.record_id, fields: { out_at: instant(ms) } };
    const undo = await savedWithUndo(this.stage, [{ ...change, visitId: signIn.visit_id }]);
    if (!undo) return;
    Object.assign(this, { timeFor: null, time: '' });
    this.stage.say(`${personName(person)} signed out, ${moment(ms, phone.now(), zone)}.`, undo);
  }

  /** @param {import('./heads.js').Out} stay */
  reasonForm(stay) {
    return html`<form class="field" @submit=${(/** @type {Event} */ event) => {
      event.preventDefault();
      this.leaveOpen(stay);
    }}><label class="label-text" for="reason">Why no sign-out time?</label>
        <input class="line" id="reason" .value=${this.reason} @input=${(/** @type {any} */ event) => {
          this.reason = event.target.value;
        }}><button class="or">Close with this reason</button></form>`;
  }

  card() {
    return html`<div class="said-back"><b>Safety card</b><p
      class="lines-of-text">${this.site?.emergency_card
        ?? 'The site has no emergency card yet. A lead writes it under Set-up.'}</p></div>`;
  }

  outList() {
    if (!this.out.length && !this.left.length && !this.elsewhere.length) return html`<p>${this.isBegun
      ? 'Nobody is out.' : 'Nobody is signed in yet.'}</p>`;
    if (!this.out.length) return this.elsewhereList();
    const unbriefed = this.out.filter((stay) => !stay.signIn.briefing_heard);
    const all = html`<button type="button" class="or" @click=${() => this.heard(unbriefed, true)}>All heard the
      briefing</button>`;
    return html`${section('Out now', html`${unbriefed.length ? `${unbriefed.length} not briefed` : 'all briefed'}`,
      this.out.map((stay) => this.outRow(stay)))}${this.mayWrite && unbriefed.length ? all : nothing}
      ${this.elsewhereList()}${this.mayWrite ? this.everyoneOut.draw(this.out) : nothing}`;
  }

  elsewhereList() {
    if (!this.elsewhere.length) return nothing;
    return section('Out on another visit', counted(this.elsewhere.length, 'person', 'people'),
      this.elsewhere.map((stay) => this.outRow(stay)));
  }

  /** @param {import('./heads.js').Out} stay */
  outRow(stay) {
    const { signIn, person } = stay;
    const { phone, zone } = this.stage;
    const since = `in since ${clock(msOf(signIn.in_at) ?? 0, zone)}`;
    const about = [labelOf(phone, 'person', 'role', person.role), ageWord(person), since].filter(Boolean).join(', ');
    const asks = this.reasonFor === signIn.record_id;
    const saved = this.stage.justSaved(signIn.record_id);
    return html`<div class="row wrap">${personLink(this.stage, person, about)}${
      saved ? savedHere(saved, personName(person)) : entryMark(signIn.entry_state ?? 'taken')}
      <span class="row-do">${signIn.briefing_heard || !this.mayWrite ? nothing
        : html`<button type="button" class="pill stop tap"
        @click=${() => this.heard([stay])} aria-label="${personName(person)} heard the briefing">${mark('stop')}not
        briefed</button>`}
      ${this.mayWrite ? html`<button type="button" class="pill plain tap" aria-label="Sign out ${personName(person)}"
        @click=${() => this.signOut([stay])}>sign out</button>
        <button type="button" class="pill plain tap"
          aria-expanded=${String(asks)} aria-label="${personName(person)}: no time known, give a reason"
          @click=${() => { this.reasonFor = asks ? null : signIn.record_id; this.stage.redraw(); }}>no time</button>`
          : nothing}</span></div>
      ${asks ? this.reasonForm(stay) : nothing}`;
  }

  /** Who stands beside the list while nobody is chosen. */
  first = () => (this.out[0]?.person ?? this.roster[0])?.record_id ?? null;

  rosterList() {
    const named = (this.roster ?? []).filter((person) => has([personName(person)], this.searched));
    return html`${section('Sign in', counted(named.length, 'name'), html`
      ${searchBox({ label: 'Find a name', value: this.searched,
        take: (text) => { this.searched = text; this.stage.redraw(); } })}
      ${named.map((person) => this.rosterRow(person))}
      ${named.length ? nothing : html`<p class="row">No such name on the roster.</p>`}`)}
      <button type="button" class="or" @click=${() => this.add()}>Add a person</button>`;
  }

  /** @param {any} person */
  rosterRow(person) {
    const about = [labelOf(this.stage.phone, 'person', 'role', person.role), ageWord(person)].filter(Boolean)
      .join(', ');
    const waiver = person.waiver_valid ? nothing : pill('look', 'no waiver');
    const signIn = () => this.signIn(person);
    const words = html`${personLink(this.stage, person, about)}${waiver}`;
    return this.stage.chosen ? html`<div class="row wrap">${words}<button type="button"
        class="pill plain tap" aria-label="Sign in ${personName(person)}" @click=${signIn}>sign in</button></div>`
      : html`<button type="button" class="row wrap" @click=${signIn}>${words}<span
        class="pill plain">sign in</span></button>`;
  }

  /** @param {any} person */
  async signIn(person) {
    if (!this.stage.isSecondTap()) await this.signInNow(person);
  }

  /** @param {any} person @param {import('./undo.js').Change[]} [before] what is saved with it */
  async signInNow(person, before = []) {
    const { phone, zone } = this.stage;
    const signIn = signInOf(this.stage, this, person);
    const undo = await savedWithUndo(this.stage, onVisit(phone, this.visit, [...before, signIn]));
    if (undo) this.stage.say(`${personName(person)} is in, ${clock(phone.now(), zone)}.`, undo);
    return Boolean(undo);
  }

  /** @param {import('./heads.js').Out[]} these */
  async signOut(these) {
    if (!this.stage.isSecondTap()) await this.signOutNow(these);
  }

  /** @param {import('./heads.js').Out[]} these */
  async signOutNow(these) {
    const { phone, zone } = this.stage;
    const out_at = instant(phone.now());
    const changes = these.map(({ signIn }) =>
      ({ kind: 'sign_in', recordId: signIn.record_id, fields: { out_at }, visitId: signIn.visit_id }));
    const undo = await savedWithUndo(this.stage, changes);
    if (undo) this.stage.say(`${whoOf(these)} signed out, ${clock(phone.now(), zone)}.`, undo);
  }

  /**
   * @param {import('./heads.js').Out[]} these
   * @param {boolean} [isAll] everyone of the visit who is out: it has its briefing then
   */
  async heard(these, isAll = false) {
    const { phone } = this.stage;
    const changes = these.map(({ signIn }) =>
      ({ kind: 'sign_in', recordId: signIn.record_id, fields: { briefing_heard: true }, visitId: signIn.visit_id }));
    const given = isAll && this.visit && !this.visit.briefing_done && phone.me.role !== 'desk'
      ? [{ kind: 'visit', recordId: this.visit.record_id, fields: { briefing_done: true },
        visitId: this.visit.record_id }] : [];
    const undo = await savedWithUndo(this.stage, [...changes, ...given]);
    if (undo) this.stage.say(`Briefing heard: ${whoOf(these)}.`, undo);
  }

  /** @param {import('./heads.js').Out} one */
  async leaveOpen({ signIn, person }) {
    if (!this.reason.trim()) {
      this.stage.refuse('Write why there is no sign-out time, such as \u201cstays for the night watch\u201d.');
      return;
    }
    const change = { kind: 'sign_in', recordId: signIn.record_id, fields: { no_out_reason: this.reason.trim() } };
    const undo = await savedWithUndo(this.stage, [{ ...change, visitId: signIn.visit_id }]);
    if (!undo) return;
    this.stage.say(`${personName(person)} closed with a reason.`, undo);
    Object.assign(this, { reasonFor: null, reason: '' });
  }

  async add() {
    this.adding = await new RecordForm(this.stage, 'person',
      'person:new').start({ display_name: this.searched.trim() || null, role: 'volunteer', minor: false });
    this.stage.redraw();
  }

  addForm() {
    const form = /** @type {RecordForm} */ (this.adding);
    return html`<section class="stack"><div class="bar"><h2>Add a person</h2>
      </div>${form.input('display_name', { hint: 'How others know this person. No phone numbers here.' })}${form.input(
        'role')}${form.input('minor')}${form.input('waiver_valid')}
      <div class="two"><button type="button" class="or"
        @click=${async () => { await form.drop(); this.adding = null; this.stage.redraw(); }}>Cancel</button><button
        type="button" class="do" @click=${() => this.saveNew(form)}>Add and sign in</button></div></section>`;
  }

  /** @param {RecordForm} form */
  async saveNew(form) {
    const fields = form.ready();
    if (!fields) return;
    const { recordId } = form;
    if (!(await this.signInNow({ record_id: recordId, ...fields }, [{ kind: 'person', recordId, fields }]))) return;
    await form.drop();
    Object.assign(this, { adding: null, searched: '' });
    this.stage.redraw();
  }

  foot = () => {
    const card = html`<button type="button" class="or"
      aria-pressed=${String(this.showsCard)} @click=${() => {
        this.showsCard = !this.showsCard;
        this.stage.redraw();
      }}>Safety card</button>`;
    if (!this.mayWrite) return card;
    return html`<div class="lead"><button type="button" class="do"
      @click=${() => { document.getElementById('search')
        ?.scrollIntoView({ block: 'center' }); document.getElementById('search')?.focus(); }}>Sign someone
        in</button>${card}</div>`;
  };
}
