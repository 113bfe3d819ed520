/**
 * What only leads read of people, where it may be shown: on a lead's phone what reached it; on the phone that wrote it
 * until the day's head count closes. Each is opened by a second tap, which is an entry: who looked, at whose, and when.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { isHeadCountOpen, SHOWN_MS } from '../records/heads-out.js';
import { deviceWord, section } from './marks.js';
import { personName } from './names.js';
import { signatureDrawn } from './signature-pad.js';
import { clock, instant, moment, msOf } from './words.js';

/** Field, what it is called here, and whether it is a number to call. @type {[string, string, boolean][]} */
const LINES = [['phone', 'Phone', true], ['email', 'Email', false], ['emergency_name', 'Emergency contact', false],
  ['emergency_phone', 'Their phone', true], ['guardian_name', 'Guardian', false],
  ['guardian_phone', 'Guardian\u2019s phone', true]];

/**
 * Whether this device may show a private row: a lead's what it has, another's what it wrote itself while the head count
 * is open, for a day at most.
 * @param {{role: string}} me @param {any} row @param {boolean} isOpen @param {number} nowMs
 */
export const mayShow = (me, row, isOpen, nowMs) => me.role === 'lead'
  || (me.role === 'desk' && row.entry_state !== undefined && isOpen && nowMs - row.changed_at_ms < SHOWN_MS);

/** Whose phone signed somebody in. @param {any} signIn @param {Map<string, string>} names */
const whosePhone = (signIn, names) => (names.has(signIn.created_by) ? `${names.get(signIn.created_by)}\u2019s phone`
  : 'another phone');

/**
 * Where contacts that are not here may be found, as far as the sign-in says.
 * @param {any} person @param {any} signIn the newest, undefined where there is none @param {Map<string, string>} names
 * @param {string} zone
 */
export function whereElse(person, signIn, names, zone) {
  const name = personName(person);
  if (!signIn) return `No contacts of ${name} are on this ${deviceWord()}.`;
  const at = clock(msOf(signIn.in_at) ?? 0, zone);
  return signIn.entry_state !== undefined
    ? `No contacts of ${name} were written here when they signed in at ${at}, or they are no longer shown.`
    : `No contacts of ${name} are on this ${deviceWord()}. Ask ${whosePhone(signIn, names)}: it signed them in at `
      + `${at}.`;
}

/** One person's contacts, closed until they are asked for twice. */
export class PersonContacts {
  /** @param {import('./router.js').Stage} stage @param {string} personId */
  constructor(stage, personId) {
    this.stage = stage;
    this.personId = personId;
    /** @type {'closed'|'asked'|'open'} */ this.state = 'closed';
    /** @type {any} */ this.person = null;
    /** @type {any} */ this.signIn = undefined;
    /** @type {any[]} */ this.contacts = [];
    /** @type {any[]} */ this.notes = [];
    /** @type {any[]} */ this.signed = [];
    /** @type {Map<string, string>} */ this.names = new Map();
  }

  get mayAsk() { return ['lead', 'desk'].includes(this.stage.phone.me.role); }

  refresh = async () => {
    if (!this.mayAsk) return;
    const { phone } = this.stage;
    const of = { kind: 'person', id: this.personId };
    const [person, people, all, contacts, signed] = await Promise.all([phone.row('person', this.personId),
      phone.rows('person', { siteId: phone.me.site_id }), phone.rows('sign_in', { siteId: phone.me.site_id }),
      phone.rowsOf('person_private', of), phone.rowsOf('waiver_signed', of)]);
    const nowMs = phone.now();
    const isOpen = isHeadCountOpen(all, nowMs);
    const theirs = all.filter((signIn) => signIn.person_id === this.personId)
      .sort((one, other) => (msOf(other.in_at) ?? 0) - (msOf(one.in_at) ?? 0));
    const notes = theirs[0] ? await phone.rowsOf('sign_in_private', { kind: 'sign_in', id: theirs[0].record_id }) : [];
    const shown = (/** @type {any[]} */ rows) => rows.filter((row) => mayShow(phone.me, row, isOpen, nowMs))
      .sort((one, other) => other.changed_at_ms - one.changed_at_ms);
    Object.assign(this, { person, signIn: theirs[0], contacts: shown(contacts), notes: shown(notes),
      signed: shown(signed), names: new Map(people.map((listed) => [listed.record_id, personName(listed)])) });
    if (!this.hasAny) this.state = 'closed';
  };

  get hasAny() { return this.contacts.length + this.notes.length + this.signed.length > 0; }

  draw() {
    if (!this.mayAsk || !this.person) return nothing;
    return section('Contacts', nothing, this.drawn());
  }

  drawn() {
    if (!this.hasAny) return html`<p class="row">${whereElse(this.person, this.signIn, this.names,
      this.stage.zone)}</p>`;
    const name = personName(this.person);
    if (this.state === 'open') return this.values();
    if (this.state === 'closed') return html`<button type="button" class="or" @click=${() => this.ask()}>Contacts of
      ${name}</button>`;
    return html`<p>Your name and the time are noted for the leads.</p><div class="two"><button type="button" class="or"
      @click=${() => this.close()}>Cancel</button><button type="button" class="or" id="show-${this.personId}"
      @click=${() => this.show()}>Show them</button></div>`;
  }

  ask() {
    if (this.stage.isSecondTap()) return;
    this.state = 'asked';
    this.stage.redraw();
    queueMicrotask(() => document.getElementById(`show-${this.personId}`)?.focus());
  }

  close() {
    this.state = 'closed';
    this.stage.redraw();
  }

  /** Nothing is shown that is not noted. */
  async show() {
    const { stage } = this;
    if (stage.isSecondTap()) return;
    const looked = { person_id: this.personId, looked_at: instant(stage.phone.now()) };
    if (!await stage.saving(() => stage.phone.write('contact_look', null, looked,
      { siteId: this.person.site_id ?? stage.phone.me.site_id }))) return;
    this.state = 'open';
    stage.redraw();
  }

  values() {
    const { phone, zone } = this.stage;
    const call = (/** @type {string} */ number) => html`<a href="tel:${number.replace(/[^\d+]/g, '')}">${number}</a>`;
    const lines = this.contacts.flatMap((row) => LINES.filter(([field]) => row[field]).map(([field, title, isNumber]) =>
      html`<dt>${title}</dt><dd>${isNumber ? call(row[field]) : row[field]}</dd>`));
    const notes = this.notes.filter((row) => row.medical_note).map((row) => html`<dt>Health note</dt><dd
      class="lines-of-text">${row.medical_note}</dd>`);
    const [signed] = this.signed;
    return html`<dl class="pairs">${lines}${notes}</dl>${signed ? html`<p>Waiver ${signed.waiver_version
      ?? ''} signed by ${signed.signed_name ?? 'nobody named'}${signed.signed_as === 'guardian' ? ', guardian' : ''},
      ${moment(msOf(signed.signed_at) ?? 0, phone.now(), zone)}${signed.by_name_only ? ', by name alone' : ''}.
      ${signed.photos_allowed === true ? 'Photos may be used.' : signed.photos_allowed === false
        ? 'Photos may not be used.' : ''}</p>${signed.by_name_only ? nothing : signatureDrawn(signed.signature)}`
      : nothing}<button type="button" class="or" @click=${() => this.close()}>Close</button>`;
  }
}
