/** Whom to call for everyone who is out: what this device may show, and whose it lacks. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { PersonContacts, whereElse } from './contacts.js';
import { peopleOut } from './heads.js';
import { deviceWord, section } from './marks.js';
import { byName, personName } from './names.js';
import { counted, moment } from './words.js';

export class DeskContacts {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.back = '#/desk';
    this.narrow = true;
    /** @type {Map<string, PersonContacts>} */ this.parts = new Map();
  }

  refresh = async () => {
    const out = await peopleOut(this.stage.phone);
    const ids = [...new Set(out.flatMap(({ person }) => person.record_id ?? []))];
    this.parts = new Map(ids.map((id) => [id, this.parts.get(id) ?? new PersonContacts(this.stage, id)]));
    await Promise.all([...this.parts.values()].map((part) => part.refresh()));
  };

  title = () => 'Contacts';
  where = () => 'Of who is out';

  get sorted() {
    return [...this.parts.values()].filter(({ person }) => person)
      .sort((one, other) => byName(personName(one.person), personName(other.person)));
  }

  body() {
    const { phone, zone } = this.stage;
    const here = this.sorted.filter((part) => part.hasAny);
    const lacking = this.sorted.filter((part) => !part.hasAny);
    const synced = phone.syncState.last_ok_ms;
    return html`<div class="stack"><p>${phone.me.role === 'lead' ? `What reached this ${deviceWord()}.`
      : `What was written on this ${deviceWord()}, until everyone is signed out, 24 hours at most.`}
      ${synced ? `Last sync ${moment(synced, phone.now(), zone)}.` : 'Not synced yet.'} Whoever signed in elsewhere
      since then is not in this list.</p>
      ${here.length ? section(`On this ${deviceWord()}`, counted(here.length, 'person', 'people'),
        here.map((part) => html`<div class="item"><b>${personName(part.person)}</b>${part.drawn()}</div>`)) : nothing}
      ${lacking.length ? section('Not here', counted(lacking.length, 'person', 'people'), lacking.map((part) => html`<p
        class="row">${whereElse(part.person, part.signIn, part.names, zone)}</p>`)) : nothing}
      ${this.parts.size ? nothing : html`<p>Nobody is out.</p>`}</div>`;
  }
}
