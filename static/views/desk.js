/**
 * The desk of a deployment day: people who are known by two letters and a tap, walk-ups by a form in their own hands,
 * and who does what today.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { hasCurrentWaiver } from '../records/waivers.js';
import { byLetters } from './by-letters.js';
import { adultsIn, readDay } from './desk-day.js';
import { DeskContacts } from './desk-contacts.js';
import { DeskReview } from './desk-review.js';
import { ageWord, countsAsMinor, leaderDoubts } from './head-count.js';
import { inputsOf, labelOf } from './kind-forms.js';
import { choices, deviceWord, doubt, pill, rowLink, section } from './marks.js';
import { named, personName, siteName } from './names.js';
import { searchBox } from './search-box.js';
import { signInOf } from './signing-in.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { LANGUAGES } from './walk-up.js';
import { handOver, newNumber, waitingForms, WALK_UP_MS } from './walk-ups.js';
import { clock, counted, day, msOf } from './words.js';

const SHOWN = 8;

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [of] = stage.params;
  const screen = !of ? new Desk(stage) : of === 'contacts' ? new DeskContacts(stage) : new DeskReview(stage, of);
  await screen.refresh();
  return screen;
}

class Desk {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.back = '#/people';
    this.narrow = true;
    this.letters = '';
    /** @type {string|null} */ this.task = null;
    /** @type {string|null} a minor, whose adult is chosen */ this.minorId = null;
    /** What is about to be handed over. @type {{form: import('./walk-ups.js').KeptWalkUp, number: string}|null} */
    this.handing = null;
    /** @type {import('./walk-ups.js').KeptWalkUp[]} */ this.waiting = [];
    /** @type {Awaited<ReturnType<typeof readDay>>} */ this.day = /** @type {any} */ (null);
  }

  refresh = async () => {
    const [known, waiting] = await Promise.all([readDay(this.stage.phone), waitingForms(this.stage.phone)]);
    Object.assign(this, { day: known, waiting });
  };

  title = () => 'Desk';
  where = () => siteName(this.day.site);

  body = () => html`<div class="stack">${this.handing ? this.handingOver(this.handing) : html`${this.find()}
    ${this.waitingList()}${this.today()}${rowLink({ href: '#/desk/contacts', said: 'Contacts',
      small: 'of who is out: whom to call' })}${this.rosterToPrint()}`}</div>`;

  /** For the day the phones die. */
  rosterToPrint = () => html`<a class="row" target="_blank" href="/api/sites/${
    this.stage.phone.me.site_id}/roster"><span class="said">Roster to print<small>names with boxes, for the day the
    phones die; needs the server</small></span></a>`;

  foot = () => (this.handing ? nothing : html`<button type="button" class="do"
    @click=${() => this.begin({})}>New person: hand over the form</button>`);

  find() {
    const { day: { people }, letters } = this;
    const named = byLetters(people, letters);
    return html`<section>${searchBox({ label: 'Two letters of a name', value: letters,
      hint: 'first name and family name: AR for Ana Ruiz', take: (text) => this.look(text) })}
      ${named.slice(0, SHOWN).map((person) => this.person(person))}
      ${named.length > SHOWN ? html`<p class="small">${named.length - SHOWN} more. Type another letter.</p>` : nothing}
      ${letters.trim() && !named.length ? html`<p class="row">No such name on the roster. A new person fills in the
        form.</p>` : nothing}</section>`;
  }

  /** @param {string} letters */
  look(letters) {
    Object.assign(this, { letters, minorId: null });
    this.stage.redraw();
  }

  /** Two of one name are told apart by role, age and when they were last here. @param {any} person */
  aboutOf(person) {
    const { phone, zone } = this.stage;
    const last = Math.max(...this.day.signIns.filter((signIn) => signIn.person_id === person.record_id)
      .map((signIn) => msOf(signIn.in_at) ?? 0), 0);
    return [labelOf(phone, 'person', 'role', person.role), ageWord(person),
      last ? `last here ${day(last, zone)}` : 'first time here'].filter(Boolean).join(', ');
  }

  /** @param {any} person */
  person(person) {
    const name = personName(person);
    const words = html`<span class="said">${name}<small>${this.aboutOf(person)}</small></span>`;
    const stay = this.day.everyone.find(({ signIn }) => signIn.person_id === person.record_id);
    if (stay) return html`<p class="row">${words}<span class="pill plain">in since
      ${clock(msOf(stay.signIn.in_at) ?? 0, this.stage.zone)}</span></p>`;
    const { inUse } = this.day;
    if (inUse && !hasCurrentWaiver(person, inUse)) return html`<button type="button" class="row wrap"
      @click=${() => this.begin({ person_id: person.record_id, display_name: name,
        ...(typeof person.minor === 'boolean' ? { minor: person.minor } : {}) })}>${words}${
      pill('look', `waiver ${inUse.version} not signed`)}<span class="pill plain">hand over</span></button>`;
    const isAsked = this.minorId === person.record_id;
    const tap = () => (countsAsMinor(person) ? this.askAdult(isAsked ? null : person.record_id) : this.signIn(person));
    return html`<button type="button" class="row wrap" aria-expanded=${countsAsMinor(person)
      ? String(isAsked) : nothing} @click=${tap}>${words}${person.waiver_valid ? nothing : pill('look',
      'no waiver')}<span class="pill plain">sign in</span></button>${isAsked ? this.adults(person) : nothing}`;
  }

  /** @param {string|null} id */
  askAdult(id) {
    if (this.stage.isSecondTap()) return;
    this.minorId = id;
    this.stage.redraw();
  }

  /** @param {any} minor */
  adults(minor) {
    const adults = adultsIn(this.day.out);
    const name = personName(minor);
    if (!adults.length) return doubt(`${name} ${minor.minor ? 'is under 18' : 'was not asked, so counts as under 18'}: `
      + 'an adult must be with them. Nobody of age is signed in yet. Sign the adult in first.');
    return html`<div class="field" role="group" aria-label="Adult with ${name}"><p class="label-text">Which adult is
      with ${name} today?</p><div class="stack">${adults.map(({ person }) => html`<button type="button" class="or"
        @click=${() => this.signIn(minor, { adult_id: person.record_id })}>${
        personName(person)}</button>`)}</div></div>`;
  }

  /** @param {any} person @param {Record<string, any>} [more] */
  async signIn(person, more = {}) {
    const { stage, day: known } = this;
    if (stage.isSecondTap()) return;
    const { phone, zone } = stage;
    const change = signInOf(stage, known, person, { ...more, ...(this.task ? { task: this.task } : {}),
      ...(person.waiver_version ? { waiver_version: person.waiver_version } : {}) });
    const undo = await savedWithUndo(stage, onVisit(phone, known.visit, [change]));
    if (!undo) return;
    Object.assign(this, { letters: '', minorId: null });
    stage.say(`${personName(person)} is in, ${clock(phone.now(), zone)}.`, undo);
    await this.refresh();
    stage.redraw();
    // The next name is typed at once.
    queueMicrotask(() => document.getElementById('search')?.focus());
  }

  /** @param {import('../records/waivers.js').WalkUp} known of somebody known, who signs the waiver in use */
  begin(known) {
    const { phone } = this.stage;
    if (this.stage.isSecondTap()) return;
    const form = { ...known, language: 'en', _id: phone.newId(phone.me.site_id), _begun_ms: phone.now() };
    this.handing = { form, number: newNumber(phone) };
    this.stage.redraw();
    queueMicrotask(() => document.getElementById('handing')?.focus());
  }

  /** @param {NonNullable<Desk['handing']>} handing */
  handingOver({ form, number }) {
    const { inUse, site } = this.day;
    const cautions = Object.values(LANGUAGES).filter(({ caution }) => caution && site?.spanish_form)
      .map(({ name, caution }) => html`<p class="small">${name}: ${caution}.</p>`);
    return html`<section class="stack" id="handing" tabindex="-1" aria-labelledby="handing-title"><div class="bar"><h2
      id="handing-title">Hand over the ${deviceWord()}</h2></div>
      <p>It then shows ${form.display_name ? `the form of ${form.display_name}` : 'an empty form'} and nothing else. To
      come back, hold the button at the bottom for two seconds.</p>
      <p>Who cannot hold a button types this number. Keep it to the desk:</p><p class="big-code">${number}</p>
      ${inUse ? nothing : doubt(`No waiver text is on this ${deviceWord()}. A lead adds it under Set-up, Waiver; until `
        + 'then have one signed on paper.')}${cautions}
      <div class="two"><button type="button" class="or" @click=${() => { this.handing = null;
    this.stage.redraw(); }}>Cancel</button><button type="button" class="do"
        @click=${() => handOver(this.stage, form, number)}>Hand over</button></div></section>`;
  }

  waitingList() {
    if (!this.waiting.length) return nothing;
    return section('Forms to look at', counted(this.waiting.length, 'form'), html`${this.waiting.map((form) => rowLink({
      href: `#/desk/${form._id}`, said: named(form.display_name), small: form.is_done ? 'filled in, not saved yet'
        : 'not finished' }))}<p class="small">A form that nobody saves is deleted
      ${counted(WALK_UP_MS / 3_600_000, 'hour')} after it was begun.</p>`);
  }

  /** Who is in, by role and task, beside what the site asks of leaders. */
  today() {
    const { phone } = this.stage;
    const { out, site } = this.day;
    const role = (/** @type {any} */ stay) => stay.signIn.sign_in_role ?? stay.person.role;
    const tasks = inputsOf(phone, 'sign_in').get('task')?.choices ?? [];
    const minors = out.filter(({ person }) => countsAsMinor(person)).length;
    return section('Roles and tasks today', counted(out.length, 'person in', 'people in'), html`<dl class="pairs">${
      this.counts(out, role, inputsOf(phone, 'sign_in').get('sign_in_role')?.choices ?? [], 'no role')}<dt>Minors</dt>
      <dd>${minors}</dd></dl>${leaderDoubts(out, site)}<dl class="pairs">${
      this.counts(out, ({ signIn }) => signIn.task, tasks, 'no task yet')}</dl>
      ${choices({ name: 'task', legend: 'Task of whoever is signed in next', value: this.task,
        pick: (value) => { this.task = value; this.stage.redraw(); },
        choices: [{ value: null, label: 'None yet' }, ...tasks] })}
      ${out.map((stay) => this.roleAndTask(stay, role(stay), tasks))}`);
  }

  /**
   * @param {import('./heads.js').Out[]} out @param {(stay: import('./heads.js').Out) => any} of
   * @param {{value: any, label: string}[]} list @param {string} none
   */
  counts(out, of, list, none) {
    const seen = [...list, { value: undefined, label: none }].map(({ value, label }) => ({ label,
      count: out.filter((stay) => (of(stay) ?? undefined) === value).length }));
    return seen.filter(({ count }) => count).map(({ label, count }) => html`<dt>${label}</dt><dd>${count}</dd>`);
  }

  /** @param {import('./heads.js').Out} stay @param {string} role @param {{value: any, label: string}[]} tasks */
  roleAndTask({ signIn, person }, role, tasks) {
    const name = personName(person);
    const roles = inputsOf(this.stage.phone, 'sign_in').get('sign_in_role')?.choices ?? [];
    /** @param {string} field @param {string} label @param {any} value @param {{value: any, label: string}[]} list */
    const select = (field, label, value, list) => html`<select class="line" aria-label="${label} of ${name}"
      @change=${(/** @type {any} */ event) => this.change(signIn, name, { [field]: event.target.value || null })}>
      <option value="" .selected=${!value}>No ${label.toLowerCase()}</option>${list.map((choice) => html`<option
      value=${choice.value} .selected=${choice.value === value}>${choice.label}</option>`)}</select>`;
    return html`<div class="row wrap"><span class="said">${name}<small>${ageWord(person)}</small></span><div
      class="two">${select('sign_in_role', 'Role', role, roles)}${select('task', 'Task', signIn.task,
        tasks)}</div></div>`;
  }

  /** @param {any} signIn @param {string} name @param {Record<string, any>} fields */
  async change(signIn, name, fields) {
    const undo = await savedWithUndo(this.stage, [{ kind: 'sign_in', recordId: signIn.record_id, fields,
      visitId: signIn.visit_id }]);
    if (undo) this.stage.say(`${name}: changed.`, undo);
  }
}
