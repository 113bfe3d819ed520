/** A form that came back: what it says but for what only leads read, what the desk is still asked, and the one save. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { lackingOf } from '../records/waivers.js';
import { adultsIn, readDay } from './desk-day.js';
import { ageWord } from './head-count.js';
import { inputsOf, labelOf } from './kind-forms.js';
import { choices, deviceWord, doubt } from './marks.js';
import { named, personName } from './names.js';
import { isSameName } from './search-box.js';
import { signInOf } from './signing-in.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { LANGUAGES } from './walk-up.js';
import { dropForm, handOver, keepForm, newNumber, waitingForm } from './walk-ups.js';
import { clock, instant, msOf } from './words.js';

const CONTACTS = ['phone', 'emergency_name', 'emergency_phone', 'guardian_name', 'guardian_phone'];
/** Another person of the same name. */
const NEW = 'new';

/** @param {string|undefined} text */
const textOf = (text) => text?.trim() || null;

export class DeskReview {
  /** @param {import('./router.js').Stage} stage @param {string} id */
  constructor(stage, id) {
    this.stage = stage;
    this.id = id;
    this.back = '#/desk';
    this.narrow = true;
    /** @type {import('./walk-ups.js').KeptWalkUp|undefined} */ this.form = undefined;
    /** @type {Awaited<ReturnType<typeof readDay>>} */ this.day = /** @type {any} */ (null);
    /** @type {string|null} who it is of those of this name, or NEW */ this.who = null;
    /** @type {string|null} */ this.adultId = null;
    /** @type {string} */ this.role = 'volunteer';
    /** @type {string|null} */ this.task = null;
    this.number = newNumber(stage.phone);
    this.isSaved = false;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const [form, known] = await Promise.all([waitingForm(phone, this.id), readDay(phone)]);
    Object.assign(this, { form, day: known });
  };

  title = () => (this.form ? named(this.form.display_name) : 'No such form');
  where = () => (this.form?.is_done ? 'Filled in, not saved yet' : this.form ? 'Not finished' : nothing);

  /** Those on the roster who are called the same. */
  get namesakes() {
    const { form, day } = this;
    return !form || form.person_id ? []
      : day.people.filter((person) => isSameName(personName(person), form.display_name ?? ''));
  }

  /** Whose record is written: somebody known, or nobody yet. */
  get known() {
    const id = this.form?.person_id ?? (this.who === NEW ? null : this.who);
    return this.day.people.find((person) => person.record_id === id) ?? null;
  }

  /** Whoever the form or the record calls a minor is one. */
  get isMinor() { return this.form?.minor === true || this.known?.minor === true; }

  /** @returns {string|null} what keeps it from being saved, in a sentence */
  get lack() {
    const form = /** @type {import('./walk-ups.js').KeptWalkUp} */ (this.form);
    const name = named(form.display_name);
    const [first] = lackingOf({ ...form, minor: form.minor === undefined ? undefined : this.isMinor },
      Boolean(this.day.inUse));
    const { inUse } = this.day;
    if (!first && inUse && form.waiver_version !== inUse.version) return `${name} signed version `
      + `${form.waiver_version ?? 'of before'} of the waiver; version ${inUse.version} is in use. Hand the form back.`;
    if (first) return `${/** @type {any} */ (LANGUAGES.en.words)[first.key]} Hand the form back to ${name}.`;
    if (this.namesakes.length && !this.who) return `Say first whether ${name} is on the roster already.`;
    const isIn = this.known && this.day.everyone.find(({ signIn }) => signIn.person_id === this.known?.record_id);
    if (isIn) return `${name} is in already, since ${clock(msOf(isIn.signIn.in_at) ?? 0, this.stage.zone)}. Choose `
      + 'another person of this name, or delete this form.';
    if (!this.isMinor) return null;
    if (!adultsIn(this.day.out).length) return `${name} is under 18, and nobody of age is signed in yet. Sign the `
      + 'adult in first; this form waits.';
    return this.adultId ? null : `${name} is under 18: choose the adult who is with them today.`;
  }

  body() {
    const { form } = this;
    if (!form) return html`<p>${this.isSaved ? 'Saved.' : `This form is not on this ${deviceWord()}: it was saved, `
      + 'deleted, or is older than 24 hours.'}</p>`;
    const given = (/** @type {string[]} */ fields) => (fields.some((field) =>
      textOf(/** @type {any} */ (form)[field])) ? 'given' : 'not given');
    return html`<div class="stack"><dl class="pairs"><dt>Under 18</dt><dd>${form.minor === undefined ? 'not answered'
      : this.isMinor ? 'yes' : 'no'}</dd><dt>Phone</dt><dd>${given(['phone'])}</dd><dt>Emergency contact</dt><dd>${
      given(['emergency_name', 'emergency_phone'])}</dd>${this.isMinor ? html`<dt>Guardian</dt><dd>${
      given(['guardian_name', 'guardian_phone'])}</dd>` : nothing}<dt>Health note</dt><dd>${
      given(['medical_note'])}</dd><dt>Waiver</dt><dd>${this.waiverWords()}</dd><dt>Photos</dt><dd>${
      form.photos_allowed === true ? 'may be used' : form.photos_allowed === false ? 'may not be used'
        : 'not answered'}</dd></dl>${this.whoPart()}${this.isMinor ? this.adultPart() : nothing}
      ${choices({ name: 'role', legend: 'Role today', value: this.role, pick: (value) => this.set({ role: value }),
        choices: inputsOf(this.stage.phone, 'sign_in').get('sign_in_role')?.choices ?? [] })}
      ${choices({ name: 'task', legend: 'Task', value: this.task, pick: (value) => this.set({ task: value }),
        choices: inputsOf(this.stage.phone, 'sign_in').get('task')?.choices ?? [] })}
      <p class="small">Phones, health note and signature go to the leads. Of this form the crew sees the name, the role
      and whether they are a minor.</p>
      ${this.lack ? doubt(this.lack) : nothing}
      <div class="two"><button type="button" class="or" @click=${() => this.handAgain()}>Hand over again</button><button
        type="button" class="or" @click=${() => this.drop()}>Delete this form</button></div>
      <p class="small">If you hand it over again, the number to come back is ${this.number}.</p></div>`;
  }

  waiverWords() {
    const { form, day: { inUse } } = this;
    if (!inUse) return `no text on this ${deviceWord()}: have one signed on paper`;
    if (!form?.signature?.length && !form?.by_name_only) return `version ${inUse.version}, not signed`;
    return `version ${inUse.version}, signed${this.isMinor ? ' by the guardian' : ''}${form.by_name_only
      ? ' by name alone' : ''}`;
  }

  whoPart() {
    if (!this.namesakes.length) return nothing;
    const list = this.namesakes.map((person) => ({ value: person.record_id, label: [
      `${personName(person)} on the roster`, labelOf(this.stage.phone, 'person', 'role', person.role), ageWord(person)]
      .filter(Boolean).join(', ') }));
    return choices({ name: 'who', legend: 'Somebody of this name is on the roster. Who is this?', shape: 'lines',
      value: this.who, pick: (value) => this.set({ who: value }),
      choices: [...list, { value: NEW, label: 'Another person of the same name' }] });
  }

  adultPart() {
    const list = adultsIn(this.day.out).map(({ person }) => ({ value: person.record_id, label: personName(person) }));
    return list.length ? choices({ name: 'adult', legend: 'Which adult is with them today?', shape: 'lines',
      value: this.adultId, pick: (value) => this.set({ adultId: value }), choices: list }) : nothing;
  }

  /** @param {Partial<DeskReview>} changed */
  set(changed) {
    Object.assign(this, changed);
    this.stage.redraw();
  }

  foot = () => (this.form ? html`<button type="button" class="do" @click=${() => this.save()}>Save and sign in</button>`
    : nothing);

  /** Everything of one person, all or none. */
  changes() {
    const form = /** @type {import('./walk-ups.js').KeptWalkUp} */ (this.form);
    const { day, known, stage } = this;
    const { inUse } = day;
    const personId = known?.record_id ?? form._id;
    const signed = inUse ? { waiver_valid: true, waiver_version: inUse.version } : {};
    const person = { ...(known ? {} : { display_name: textOf(form.display_name), role: this.role }), ...signed,
      // What makes somebody a minor counts; that nobody is one is said once only.
      ...(!known || (form.minor && known.minor !== true) || typeof known.minor !== 'boolean' ? { minor: form.minor }
        : {}) };
    const contact = Object.fromEntries(CONTACTS.flatMap((field) => {
      const value = textOf(/** @type {any} */ (form)[field]);
      return value ? [[field, value]] : [];
    }));
    const signIn = signInOf(stage, day, { record_id: personId, role: this.role }, {
      ...(inUse ? { waiver_version: inUse.version } : {}), ...(this.task ? { task: this.task } : {}),
      ...(this.isMinor ? { adult_id: this.adultId } : {}) });
    return [
      ...(Object.keys(person).length ? [{ kind: 'person', recordId: personId, fields: person }] : []),
      ...(Object.keys(contact).length ? [{ kind: 'person_private', recordId: null,
        fields: { person_id: personId, ...contact } }] : []),
      ...this.signedWaiver(personId), signIn,
      ...(textOf(form.medical_note) ? [{ kind: 'sign_in_private', recordId: null, visitId: signIn.visitId,
        fields: { sign_in_id: signIn.recordId, medical_note: textOf(form.medical_note) } }] : []),
    ];
  }

  /** @param {string} personId */
  signedWaiver(personId) {
    const form = /** @type {import('./walk-ups.js').KeptWalkUp} */ (this.form);
    const { inUse } = this.day;
    if (!inUse || !form.waiver_id) return [];
    return [{ kind: 'waiver_signed', recordId: null, fields: { person_id: personId, waiver_id: form.waiver_id,
      waiver_version: form.waiver_version, signed_as: this.isMinor ? 'guardian' : 'self',
      signed_name: textOf(form.signed_name),
      ...(form.by_name_only ? { by_name_only: true } : { signature: form.signature }),
      signed_at: instant(this.stage.phone.now()),
      ...(typeof form.photos_allowed === 'boolean' ? { photos_allowed: form.photos_allowed } : {}) } }];
  }

  async save() {
    const { stage, form } = this;
    if (!form || stage.isSecondTap()) return;
    const { lack } = this;
    if (lack) { stage.refuse(lack); return; }
    const undo = await savedWithUndo(stage, onVisit(stage.phone, this.day.visit, this.changes()));
    if (!undo) return;
    this.isSaved = true;
    await dropForm(stage.phone, form._id);
    stage.say(`${named(form.display_name)} is in, ${clock(stage.phone.now(), stage.zone)}.`, undo);
    stage.go('#/desk');
  }

  async handAgain() {
    const form = /** @type {import('./walk-ups.js').KeptWalkUp} */ (this.form);
    delete form.is_done;
    keepForm(this.stage.phone, form);
    await handOver(this.stage, form, this.number);
  }

  async drop() {
    if (this.stage.isSecondTap()) return;
    await dropForm(this.stage.phone, this.id);
    this.stage.say('The form is deleted. Nothing of it was saved.');
    this.stage.go('#/desk');
  }
}

