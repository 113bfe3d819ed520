/** Who leaves at the end of a season: the access of their devices ends, their name stays or becomes initials. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { labelOf } from '../views/kind-forms.js';
import { choices, doubt, fault, pill, section } from '../views/marks.js';
import { byName, named, personName } from '../views/names.js';
import { has, searchBox } from '../views/search-box.js';
import { savedWithUndo } from '../views/undo.js';
import { counted, fullDay, localDay, moment, msOf } from '../views/words.js';
import { refusedBy } from '../views/refused.js';

/** @typedef {import('../records/rows.js').Person} Person */

const NAMES = [{ value: 'kept', label: 'Keep the name' }, { value: 'initials', label: 'Show initials' }];
/** From so many people on they are searched. */
const SEARCHED_FROM = 12;

/**
 * A name as its initials, three at most, as fieldlog/purging/initials.py has them.
 * @param {string} name @returns {string} R. O.
 */
export function initialsOf(name) {
  const words = name.normalize('NFC').replaceAll('-', ' ').split(/\s+/);
  const told = words.flatMap((word) => word.match(/\p{L}/u) ?? []).map((letter) => `${letter.toUpperCase()}.`);
  return [...told.slice(0, 2), ...told.slice(2).slice(-1)].join(' ') || 'N. N.';
}

export class Leavers {
  back = '#/closing';
  narrow = true;

  /**
   * @param {import('../views/router.js').Stage} stage @param {{season_year: number}} closing
   * @param {(fields: Record<string, any>, sentence: string) => Promise<boolean>} write writes the closing
   */
  constructor(stage, closing, write) {
    this.stage = stage;
    this.closing = closing;
    this.write = write;
    this.problem = '';
    this.searched = '';
    this.name = 'kept';
    /** @type {string|null} who is asked about */ this.asked = null;
    /** @type {Person[]} */ this.people = [];
    /** @type {any[]} */ this.devices = [];
  }

  async opened() {
    await this.refresh();
    await this.readDevices();
    return this;
  }

  refresh = async () => {
    const { phone } = this.stage;
    const isOfAll = phone.pack()?.me?.sites === null;
    const rows = await phone.rows('person', { siteId: phone.me.site_id });
    // Who belongs to the whole program leaves by the word of a lead of all of it.
    this.people = rows.filter((person) => isOfAll || person.site_id);
    this.people.sort((one, other) => byName(personName(one), personName(other)));
  };

  async readDevices() {
    this.problem = await refusedBy(async () => {
      const answer = await this.stage.phone.api('GET', '/api/devices');
      this.devices = Array.isArray(answer) ? answer : answer.devices ?? [];
    });
  }

  /** What still has access, this device aside. @param {Person} person */
  devicesOf(person) {
    return this.devices.filter((device) => device.person_id === person.record_id && !device.revoked_at
      && device.state !== 'left' && device.device_id !== this.stage.phone.me.device_id);
  }

  title = () => 'Who leaves';
  where = () => `Season ${this.closing.season_year}`;

  body = () => {
    const here = this.people.filter((person) => !person.left_on);
    const left = this.people.filter((person) => person.left_on);
    const shown = here.filter((person) => has([personName(person)], this.searched));
    return html`${this.problem ? fault(this.problem) : nothing}
      ${section('On the roster', counted(here.length, 'person', 'people'), html`${here.length < SEARCHED_FROM ? nothing
        : searchBox({ label: 'Find by name', value: this.searched,
          take: (text) => { this.searched = text; this.stage.redraw(); } })}
        ${shown.map((person) => html`${this.row(person)}${this.asked === person.record_id ? this.asking(person)
          : nothing}`)}${shown.length ? nothing : html`<p class="row">Nobody.</p>`}`)}
      ${left.length ? section('Left', counted(left.length, 'person', 'people'), left.map((person) => html`<div
        class="row"><span class="said">${personName(person)}<small>${fullDay(msOf(person.left_on) ?? 0, 'UTC')}
          </small></span><button type="button" class="pill plain tap" aria-label="${personName(person)} is back"
          @click=${() => this.comeBack(person)}>is back</button></div>`)) : nothing}`;
  };

  /** @param {Person} person */
  row(person) {
    const { phone } = this.stage;
    const devices = this.devicesOf(person);
    const role = person.role ? `${labelOf(phone, 'person', 'role', person.role)}, ` : '';
    return html`<div class="row"><span class="said">${personName(person)}<small>${role}${this.problem
      ? 'devices not known' : devices.length ? `${counted(devices.length, 'device')} with access`
      : 'no device with access'}</small></span>${person.record_id === phone.me.person_id ? pill('plain', 'you')
      : html`<button type="button" class="pill plain tap" ?disabled=${Boolean(this.problem)}
        aria-label="${personName(person)} leaves" aria-expanded=${String(this.asked === person.record_id)}
        @click=${() => this.ask(person)}>leaves</button>`}</div>`;
  }

  /** @param {Person} person */
  ask(person) {
    this.asked = this.asked === person.record_id ? null : person.record_id;
    this.name = 'kept';
    this.stage.redraw();
  }

  /** @param {Person} person */
  asking(person) {
    const { phone, zone } = this.stage;
    const devices = this.devicesOf(person);
    const short = initialsOf(personName(person));
    const isTaken = this.people.some((other) => other !== person && personName(other) === short);
    return html`<div class="tight">${devices.map((device) => html`<p>Ends the access of ${named(device.name,
        'a phone')}.
        ${device.unsent ? doubt(`It had ${counted(device.unsent, 'entry', 'entries')} unsent on ${moment(device.seen_at,
          phone.now(), zone)}. Ask for a sync first: what comes later is held back for a lead.`) : nothing}</p>`)}
      ${choices({ name: 'name', legend: 'Their name on what they wrote', value: this.name, choices: NAMES,
        pick: (value) => { this.name = value; this.stage.redraw(); } })}
      ${this.name === 'initials' ? html`<p class="small">Screens and new exports show ${short}. Earlier entries,
        backups and files that were exported keep the name.</p>${isTaken
        ? doubt(`Somebody else is called ${short} too.`) : nothing}` : nothing}
      <div class="two"><button type="button" class="or" @click=${() => this.ask(person)}>Cancel</button><button
        type="button" class="do stop" @click=${() => this.leave(person)}>Leaves the program</button></div></div>`;
  }

  /**
   * Access first: "left" said of somebody whose phone still gets everything would be untrue.
   * @param {Person} person
   */
  async leave(person) {
    const { stage } = this;
    const { phone } = stage;
    const devices = this.devicesOf(person);
    this.problem = await refusedBy(async () => {
      for (const { device_id: id } of devices) await phone.api('DELETE', `/api/devices/${id}`);
    });
    if (!this.problem) {
      const name = personName(person);
      const fields = { left_on: localDay(phone.now(), stage.zone),
        ...(this.name === 'initials' ? { display_name: initialsOf(name) } : {}) };
      const undo = await savedWithUndo(stage, [{ kind: 'person', recordId: person.record_id, fields }]);
      this.asked = null;
      if (undo) {
        stage.say(`${name} has left.${devices.length ? ` Access ended: ${counted(devices.length, 'device')}.` : ''}`,
          undo);
      }
    }
    await this.readDevices();
    stage.redraw();
  }

  /** @param {Person} person */
  async comeBack(person) {
    const undo = await savedWithUndo(this.stage, [{ kind: 'person', recordId: person.record_id,
      fields: { left_on: null } }]);
    if (undo) this.stage.say(`${personName(person)} is back. Invite their phone again.`, undo);
  }

  foot = () => html`<button type="button" class="do" @click=${async () => {
    if (await this.write({ people_done: true }, 'Everyone who leaves is named.')) this.stage.go('#/closing');
  }}>Everyone who leaves is named</button>`;
}
