/** For leads: who may join and how, the devices that did, and entries that are held. Needs the network. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { lineWords } from '../views/entry-words.js';
import { choices, doubt, fault, mark, pill, section } from '../views/marks.js';
import { named, siteName } from '../views/names.js';
import { counted, moment, spanWords } from '../views/words.js';
import { refusedBy } from '../views/refused.js';

const ROLES = [
  { value: 'crew', label: 'Crew', says: 'checks units, signs people in, notes sightings' },
  { value: 'desk', label: 'Desk', says: 'signs people in and keeps contacts' },
  { value: 'reader', label: 'Reader', says: 'reads what is open, writes nothing' },
  { value: 'lead', label: 'Lead', says: 'everything, set-up and devices too' },
];
const ROLE_WORDS = Object.fromEntries(ROLES.map((role) => [role.value, role.label.toLowerCase()]));

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  if (stage.phone.me.role !== 'lead') return { title: () => 'Access',
    body: () => html`<p>Invitations and devices are a lead's work.</p>` };
  const screen = new Access(stage);
  await screen.open();
  return screen;
}

class Access {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.part = stage.params[0] ?? 'invitations';
    this.back = '#/set-up';
    this.role = stage.params[1] === 'lead' ? 'lead' : 'crew';
    this.uses = this.role === 'lead' ? 1 : 20;
    this.hours = 72;
    this.problem = '';
    /** @type {any} */ this.made = null;
    /** @type {Map<string, string>} names by id */ this.sites = new Map();
    /** @type {any[]} */ this.list = [];
    /** @type {(import('../records/pack.js').HeldLine & {words: string})[]} */ this.held = [];
    /** @type {any[]} */ this.incidents = [];
    this.incidentsInAll = 0;
    /** @type {string|null} */ this.ending = null;
  }

  async open() {
    if (this.part === 'tray') return this.refresh();
    const path = this.part === 'devices' ? '/api/devices' : '/api/invitations';
    const sites = await this.stage.phone.rows('site', {});
    this.sites = new Map(sites.map((site) => [site.record_id, siteName(site)]));
    await this.asking(async () => {
      const answer = await this.stage.phone.api('GET', path);
      this.list = Array.isArray(answer) ? answer : (answer.devices ?? answer.invitations ?? []);
      if (this.part === 'devices') {
        const { incidents, in_all: inAll } = await this.stage.phone.api('GET', '/api/incidents');
        Object.assign(this, { incidents, incidentsInAll: inAll });
      }
    });
  }

  /** @param {() => Promise<void>} work what needs the server */
  async asking(work) {
    this.problem = await refusedBy(work);
    this.stage.redraw();
  }

  title = () => ({ devices: 'Devices', tray: 'Held entries' })[this.part] ?? 'Invitations';
  where = () => 'Set-up';
  body = () => html`${this.problem ? fault(this.problem) : nothing}${this.part === 'devices' ? this.devices()
    : this.part === 'tray' ? this.tray() : this.invitations()}`;

  invitations() {
    return html`<div class="cols even"><div class="stack">${this.made ? this.shown() : this.asked()}</div><div
      class="stack">
      ${section('Open invitations', this.list.length,
        this.list.length ? this.list.map((invitation) => html`<div class="row"><span
          class="said">${ROLES.find(({ value }) => value === invitation.role)?.label ?? invitation.role}, ${
            this.sites.get(invitation.site_id) ?? 'every site'}<small>${
            counted(invitation.uses_left, 'use')} left, until ${moment(invitation.expires_at_ms
              ?? toMs(invitation.expires_at), this.stage.phone.now(), this.stage.zone)}</small></span>
        ${invitation.unconfirmed
          ? tap('confirm after the restore', () => this.confirmInvitation(invitation.invitation_id))
          : nothing}
        <button type="button" class="pill plain tap"
          @click=${() => this.withdraw(invitation.invitation_id)}>withdraw</button></div>`)
          : html`<p class="row">None.</p>`)}</div></div>`;
  }

  asked() {
    const number = (/** @type {'uses'|'hours'} */ name, /** @type {string} */ title, /** @type {string} */ hint) =>
      html`<div class="measure"><label for="f-${name}"><b>${title}</b><small>${hint}</small></label>
      <div class="box"><input id="f-${name}" inputmode="numeric"
        .value=${String(this[name])} @input=${(/** @type {any} */ event) => { this[name] = Number(event.target.value)
          || 0; }}></div></div>`;
    return html`${choices({ name: 'role', legend: 'Who is invited?', value: this.role,
      pick: (value) => { this.role = value; this.stage.redraw(); }, choices: ROLES })}
      <p class="small">${ROLES.find((role) => role.value === this.role)?.says}</p><p>For
        ${this.sites.get(this.stage.phone.me.site_id ?? '')
          ?? 'every site, and every future one'}.</p>
      ${number('uses', 'How many phones', 'each use joins one')}
      ${number('hours', 'For how many hours', '72 is three days')}
      ${this.role === 'lead' ? doubt('A lead sees contacts and medical notes, and can end the access of a '
        + 'device.') : nothing}`;
  }

  shown() {
    const { code, link, qr_svg: qr } = this.made;
    return html`<div class="qr">${qr ? html`<img alt="QR code of the join link" src=${this.qrUrl}>` : nothing}<p
      class="big-code" role="status">${code}</p>
      <p>Scan it, or open the page on the phone that joins, install the app, and type the code in it. Opening
        the page does not use up the code.</p>
      <p class="small">${new URL(link, location.href).href}</p></div>
      <button type="button" class="or" @click=${async () => {
        await navigator.clipboard.writeText(new URL(link, location.href).href);
        this.stage.say('Link copied.');
      }}>Copy the link</button>
      <button type="button" class="or" @click=${() => { this.close(); this.made = null; this.stage.redraw(); }}>Make
        another one</button>`;
  }

  make = () => this.asking(async () => {
    this.made = await this.stage.phone.api('POST', '/api/invitations',
      { role: this.role, site_id: this.stage.phone.me.site_id, uses: this.uses, hours: this.hours });
    this.qrUrl = this.made.qr_svg ? URL.createObjectURL(new Blob([this.made.qr_svg], { type: 'image/svg+xml' })) : null;
    await this.openList();
  });

  async openList() {
    const answer = await this.stage.phone.api('GET', '/api/invitations');
    this.list = Array.isArray(answer) ? answer : (answer.invitations ?? []);
  }

  /** @param {string} id */
  confirmInvitation = (id) => this.asking(async () => {
    await this.stage.phone.api('POST', `/api/invitations/${id}/confirm`);
    await this.openList();
    this.stage.say('Invitation confirmed.');
  });

  /** @param {string} id */
  withdraw = (id) => this.asking(async () => {
    await this.stage.phone.api('DELETE', `/api/invitations/${id}`);
    await this.openList();
    this.stage.say('Invitation withdrawn.');
  });

  unconfirmed() {
    const waiting = this.list.filter((device) => device.state === 'unconfirmed').length;
    if (!waiting) return nothing;
    return doubt('The server was restored from a backup. It does not know whose access a lead ended after that '
      + `backup. Devices that get nothing until you confirm them: ${waiting}. What they write is kept. `
      + 'Confirm the ones you know. End access for the others.');
  }

  devices() {
    const { phone, zone } = this.stage;
    return html`${this.unconfirmed()}${this.incidents.length
      ? section('Used the name of another device',
        this.incidentsInAll > this.incidents.length ? `the newest ${this.incidents.length} of ${this.incidentsInAll}`
        : this.incidents.length, this.incidents.map((incident) => html`<div class="row"><span
          class="said">${doubt(incidentWords(incident, (ms) => moment(ms, phone.now(), zone || 'UTC')))}</span></div>`))
          : nothing}
      ${section('Devices', counted(this.list.length, 'device'),
        this.list.map((device) => html`<div class="row"><span
          class="said">${holderOf(device)}<small>${device.person_id ? `${named(device.name, 'A phone')}, ` : ''}${
            ROLE_WORDS[device.role] ?? device.role}${device.person_id ? '' : ', nobody chosen on it'}${
            othersWords(device)}${seenMs(device)
            ? `, last seen ${moment(seenMs(device) ?? 0, phone.now(), zone || 'UTC')}` : ', never seen'}${
            device.revoked_at
            ? `, access ended ${moment(device.revoked_at, phone.now(), zone || 'UTC')}` : ''}${device.unsent
            ? `, ${device.unsent} unsent` : ''}${Math.abs(device.skew_ms ?? 0) > 120_000
            ? `, its clock is ${spanWords(device.skew_ms)} off` : ''}</small></span>
      ${device.state === 'unconfirmed' ? tap('confirm', () => this.confirm(device.device_id)) : nothing}
      ${device.revoked_at ? pill('plain', 'ended') : device.device_id === phone.me.device_id ? pill('plain', 'this one')
        : html`<button type="button" class="pill plain tap"
        @click=${() => { this.ending = device.device_id; this.stage.redraw(); }}>end access</button>`}</div>
      ${this.ending === device.device_id ? html`<div
        class="tight"><p>It gets nothing more. What it still sends is held back for a lead to read. Its contacts are
        deleted when it next has a network.</p><div class="two"><button type="button" class="or"
        @click=${() => { this.ending = null; this.stage.redraw(); }}>Cancel</button><button type="button"
        class="do stop"
        @click=${() => this.revoke(device.device_id)}>End its access</button></div></div>` : nothing}`))}`;
  }

  /** @param {string} id */
  confirm = (id) => this.asking(async () => {
    await this.stage.phone.api('POST', `/api/devices/${id}/confirm`);
    await this.open();
    this.stage.say('Device confirmed. What it wrote since is sent and stored.');
  });

  /** @param {string} id */
  revoke = (id) => this.asking(async () => {
    await this.stage.phone.api('DELETE', `/api/devices/${id}`);
    this.ending = null;
    await this.open();
    this.stage.say('Access ended.');
  });

  refresh = async () => {
    const { phone, zone } = this.stage;
    if (this.part !== 'tray') return;
    this.held = await Promise.all((phone.pack()?.tray ?? []).map(async (heldLine) =>
      ({ ...heldLine, words: await lineWords(phone, heldLine.line, zone) })));
  };

  tray() {
    const { phone, zone } = this.stage;
    return html`<p>Each held entry shows its reason. The phone that wrote it can fix it under “This phone”. One that
      needs a newer version is stored after the update. Nothing is thrown away.</p>
      ${section('Held entries', this.held.length, this.held.length
        ? this.held.map((heldLine) => html`<details><summary>${mark('held')}<span
          class="said">${heldLine.words}<small>${named(heldLine.sentence, heldLine.why)}${heldLine.received_at
            ? ` Came ${moment(toMs(heldLine.received_at), phone.now(), zone || 'UTC')}.` : ''}</small></span></summary>
          <p class="small">As it was sent:</p><pre class="scroll small" tabindex="0">${heldLine.line}</pre></details>`)
        : html`<p class="row">No entries are held.</p>`)}`;
  }

  foot = () => (this.part === 'invitations' && !this.made
    ? html`<button type="button" class="do" @click=${this.make}>Make the invitation</button>` : nothing);

  close() {
    if (this.qrUrl) URL.revokeObjectURL(this.qrUrl);
    this.qrUrl = null;
  }
}

/** Who holds a device, by name; a device on which nobody is chosen by its own. @param {any} device @returns {string} */
const holderOf = (device) => (device.person_id ? named(device.person_name, 'Somebody not on your roster')
  : named(device.name, 'A phone'));

/**
 * Who wrote on a device beside the person chosen on it, with how many entries each: a phone may pass from hand to hand,
 * or be misused.
 * @param {any} device @returns {string}
 */
function othersWords({ authors = [], person_id: chosen }) {
  if (!authors.some((/** @type {any} */ author) => author.person_id !== chosen)) return '';
  return `, entries by ${authors.map((/** @type {any} */ author) => `${named(author.person_name)} (${author.entries})`)
    .join(', ')}`;
}

/**
 * What is known of one incident, and no more; the server's doctor says the same.
 * @param {any} incident @param {(ms: number) => string} when @returns {string}
 */
function incidentWords(incident, when) {
  const whose = incident.whose === 'own' ? 'one of its own lanes' : incident.whose === 'unknown' ? 'an unknown device'
    : incident.holder_name ? `the device ${named(incident.holder_name)}` : 'another device';
  const held = incident.person_id ? `, held by ${named(incident.person_name)}` : '';
  return `${named(incident.device_name, 'A phone')} (${ROLE_WORDS[incident.role] ?? incident.role}${held}) used `
    + `the name of ${whose} without the right key, ${incident.times === 1 ? 'once'
      : counted(incident.times, 'time')}, last on `
    + `${when(incident.last_at)}. Nothing was sent or stored. Ask who has it.`;
}

/** A small button in a row. @param {string} word @param {() => void} act */
const tap = (word, act) => html`<button type="button" class="pill plain tap" @click=${act}>${word}</button>`;

/** @param {number|string} value @returns {number} */
const toMs = (value) => (typeof value === 'number' ? value : Date.parse(value));

/** @param {any} device @returns {number|null} */
const seenMs = (device) => (device.seen_at ? toMs(device.seen_at) : null);
