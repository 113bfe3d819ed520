/** Who was on the shore, as the sheet has it: a name, in and out. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { section } from './marks.js';
import { byName, personName } from './names.js';
import { has, searchBox } from './search-box.js';
import { sheetTime, timeBox } from './sheet-time.js';
import { turnOf } from './shore.js';
import { savedWithUndo } from './undo.js';
import { clock, counted, fullDay, localDay, msOf } from './words.js';

export class SheetPeople {
  /** @param {import('./router.js').Stage} stage @param {string} visitId */
  constructor(stage, visitId) {
    this.stage = stage;
    this.visitId = visitId;
    this.narrow = true;
    this.back = `#/sheet/${visitId}`;
    /** @type {any} */ this.visit = null;
    /** @type {any[]} */ this.people = [];
    /** @type {any[]} of the whole site */ this.signIns = [];
    this.searched = '';
    /** The times as they are typed; the next person often has the same. */
    this.typed = { inTime: '', outTime: '' };
  }

  open = () => this.refresh();

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [visit, people, signIns] = await Promise.all([phone.row('visit', this.visitId),
      phone.rows('person', { siteId }), phone.rows('sign_in', { siteId })]);
    people.sort((one, other) => byName(personName(one), personName(other)));
    Object.assign(this, { visit, people, signIns });
  };

  title = () => 'People on the sheet';
  where = () => (this.visit ? fullDay(msOf(this.visit.started_at) ?? 0, this.stage.zone) : nothing);

  body() {
    if (!this.visit) return html`<p>This visit is not on this device.</p>`;
    const { zone } = this.stage;
    const here = this.signIns.filter((signIn) => signIn.visit_id === this.visitId && signIn.in_at);
    const nameOf = (/** @type {string} */ id) => personName(
      this.people.find((person) => person.record_id === id) ?? null);
    const offered = this.people.filter((person) => !here.some((signIn) => signIn.person_id === person.record_id)
      && has([personName(person)], this.searched));
    return html`<div class="stack">
      ${timeBox({ name: 'in_at', title: 'In', value: this.typed.inTime, take: (inTime) => this.set({ inTime }) })}
      ${timeBox({ name: 'out_at', title: 'Out', value: this.typed.outTime, take: (outTime) => this.set({ outTime }) })}
      </div>${section('On this visit', counted(here.length, 'sign-in'), here.map((signIn) => html`<a class="row"
        href="#/record/sign_in/${signIn.record_id}"><span class="said">${nameOf(signIn.person_id)}<small>${
  clock(msOf(signIn.in_at) ?? 0, zone)}${signIn.out_at ? ` to ${clock(msOf(signIn.out_at) ?? 0, zone)}`
    : ', no sign-out time'}</small></span></a>`))}
      ${section('Tap who has these times', counted(offered.length, 'name'), html`
      ${searchBox({ label: 'Find a name', value: this.searched,
    take: (text) => { this.searched = text; this.stage.redraw(); } })}
      ${offered.map((person) => html`<button type="button" class="row" @click=${() => this.save(person)}><span
        class="said">${personName(person)}</span><span class="pill plain">save</span></button>`)}
      ${offered.length ? nothing : html`<p class="row">No such name. Add the person under People first.</p>`}`)}`;
  }

  /** @param {Partial<typeof this.typed>} changed */
  set(changed) {
    Object.assign(this.typed, changed);
    this.stage.redraw();
  }

  /** @param {any} person */
  async save(person) {
    const { stage, visitId } = this;
    if (stage.isSecondTap()) return;
    const { phone, zone } = stage;
    const { inTime, outTime } = this.typed;
    const startedMs = msOf(this.visit.started_at) ?? 0;
    const [inAt, outAt] = [sheetTime(inTime, startedMs, stage), sheetTime(outTime, startedMs, stage)];
    if (!inAt || !outAt) return;
    if (outAt < inAt) {
      stage.say(`Out at ${outTime} is before in at ${inTime}. Look at the sheet again.`);
      return;
    }
    const inMs = msOf(inAt) ?? 0;
    const turn = turnOf(zone, inMs, this.signIns, person.record_id);
    const recordId = phone.signInId(phone.me.site_id, localDay(inMs, zone), person.record_id, turn);
    const fields = { person_id: person.record_id, in_at: inAt, out_at: outAt,
      ...(person.role ? { sign_in_role: person.role } : {}) };
    const undo = await savedWithUndo(stage, [{ kind: 'sign_in', recordId, fields, visitId }]);
    if (!undo) return;
    stage.say(`${personName(person)} saved, ${clock(inMs, zone)} to ${clock(msOf(outAt) ?? 0, zone)}.`, undo);
    await this.refresh();
    stage.redraw();
  }
}
