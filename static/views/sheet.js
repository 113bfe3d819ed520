/**
 * Typing in a sheet that was written on paper: its visit, who was there, then its units in the sheet's order, each
 * dated as the paper says. The server prints it (fieldlog/plan/sheet.py); its order is the plan's, else row by row.
 */
import { groupsOf } from '../records/joined.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { checksTyped, SheetUnit, unitsInOrder } from './sheet-units.js';
import { SheetPeople } from './sheet-people.js';
import { rowLink, section } from './marks.js';
import { byName, personName, siteName } from './names.js';
import { planFor } from './plan.js';
import { labelOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { readShore } from './shore.js';
import { savedWithUndo } from './undo.js';
import { readVisits } from './visits.js';
import { clock, clockOf, counted, fullDay, msOf, turnMs } from './words.js';

/** How far back a visit may lie whose sheet is typed in. Our own proposal. */
const BACK_MS = 60 * 86_400_000;
/** What is typed of a visit; how it went on is the rest of the sheet's. */
const OF_A_VISIT = ['purpose', 'started_at', 'ended_at', 'leader_id', 'briefing_done', 'observed_level_m',
  'observed_at', 'conditions'];

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [visitId, what] = stage.params;
  const screen = !visitId ? new Sheets(stage) : visitId === 'visit' ? new SheetVisit(stage)
    : what === 'people' ? new SheetPeople(stage, visitId) : what ? new SheetUnit(stage, visitId, what)
      : new Sheet(stage, visitId);
  await screen.open();
  return screen;
}

/** Which visit the sheet is of. */
class Sheets {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.narrow = true;
    this.back = '#/plan';
    /** @type {any[]} */ this.visits = [];
    /** @type {any} */ this.site = null;
  }

  open = () => this.refresh();

  refresh = async () => {
    const { phone } = this.stage;
    const [site, { visits }] = await Promise.all([phone.row('site', phone.me.site_id), readVisits(phone)]);
    this.site = site;
    this.visits = groupsOf(visits).all.filter((visit) => (msOf(visit.started_at) ?? 0) > phone.now() - BACK_MS)
      .sort((one, other) => turnMs(other, other.started_at) - turnMs(one, one.started_at));
  };

  title = () => 'Type in a sheet';
  where = () => siteName(this.site);

  body() {
    const { phone, zone } = this.stage;
    return html`<p>What was written on paper goes in with the times on the sheet. First: which visit is it of?</p>
      ${rowLink({ href: '#/sheet/visit', said: 'A visit that is not in the app yet' })}
      ${section('Visits of the last 60 days', this.visits.length, this.visits.length ? this.visits.map((visit) =>
        rowLink({ href: `#/sheet/${visit.record_id}`, said: fullDay(msOf(visit.started_at) ?? 0, zone),
          small: `${labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit')}, ${
            began(visit, zone)}` })) : html`<p class="row">None is on this device.</p>`)}`;
  }
}

/** @param {any} visit @param {string} zone */
const began = (visit, zone) => (visit.time_known === false ? clockOf(visit, 0, zone)
  : `began ${clock(msOf(visit.started_at) ?? 0, zone)}`);

/** The visit itself, where no phone began it. */
class SheetVisit {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.narrow = true;
    this.back = '#/sheet';
    this.form = /** @type {RecordForm} */ (/** @type {unknown} */ (null));
    /** @type {any} */ this.site = null;
    /** @type {any[]} */ this.plans = [];
  }

  async open() {
    await this.refresh();
    const { phone } = this.stage;
    const people = await phone.rows('person', { siteId: phone.me.site_id });
    const leaders = people.filter(({ role }) => role === 'leader' || role === 'staff')
      .map((person) => ({ value: person.record_id, label: personName(person) }))
      .sort((one, other) => byName(one.label, other.label));
    this.form = await new RecordForm(this.stage, 'visit', 'sheet:visit', { refs: { leader_id: leaders } }).start({});
  }

  refresh = async () => {
    const { phone } = this.stage;
    [this.site, this.plans] = await Promise.all([phone.row('site', phone.me.site_id),
      phone.rows('visit_plan', { siteId: phone.me.site_id })]);
  };

  title = () => 'The sheet\u2019s visit';
  where = () => siteName(this.site);

  body() {
    return html`<div class="stack">${OF_A_VISIT.map((name) => this.form.input(name))}</div>`;
  }

  foot = () => html`<button type="button" class="do" @click=${() => this.save()}>Save, go to the sheet</button>`;

  async save() {
    const { stage, form } = this;
    if (stage.isSecondTap()) return;
    const { phone } = stage;
    const fields = form.ready();
    if (!fields) return;
    if (!fields.ended_at) { stage.say('Say when the visit ended: the sheet is typed in after it.'); return; }
    if ((msOf(fields.ended_at) ?? 0) > phone.now()) {
      stage.say(`The end, ${clock(msOf(fields.ended_at) ?? 0, stage.zone)} on ${
        fullDay(msOf(fields.ended_at) ?? 0, stage.zone)}, is still to come. Correct it, then save again.`);
      return;
    }
    const plan = planFor(this.plans, ((msOf(fields.started_at) ?? 0) + (msOf(fields.ended_at) ?? 0)) / 2);
    const recordId = plan?.window_id ? await phone.visitId(phone.me.site_id, plan.window_id) : form.recordId;
    if (await phone.row('visit', recordId)) {
      stage.say('A visit of this low is in the app already. It is open now; correct its times there.');
    } else {
      const undo = await savedWithUndo(stage, [{ kind: 'visit', recordId, visitId: recordId,
        fields: { ...fields, ...(plan?.window_id ? { window_id: plan.window_id } : {}) } }]);
      if (!undo) return;
      stage.say('Visit saved.', undo);
    }
    await form.drop();
    stage.go(`#/sheet/${recordId}`);
  }
}

/** One sheet: its people, then its units in the order of the paper. */
class Sheet {
  /** @param {import('./router.js').Stage} stage @param {string} visitId */
  constructor(stage, visitId) {
    this.stage = stage;
    this.visitId = visitId;
    this.narrow = true;
    this.back = '#/sheet';
    /** @type {any} */ this.visit = null;
    /** @type {{units: any[], isPlanned: boolean}} */ this.order = { units: [], isPlanned: false };
    /** @type {Map<string, any>} */ this.checks = new Map();
    this.people = 0;
  }

  open = () => this.refresh();

  refresh = async () => {
    const { phone } = this.stage;
    const { visitId } = this;
    this.visit = await phone.row('visit', visitId);
    if (!this.visit) return;
    const shore = await readShore(phone, this.visit);
    const [order, checks, signIns] = await Promise.all([unitsInOrder(phone, shore, this.visit),
      checksTyped(phone, visitId), phone.rows('sign_in', { siteId: phone.me.site_id })]);
    const here = signIns.filter((signIn) => signIn.visit_id === visitId && signIn.in_at);
    Object.assign(this, { order, checks, people: new Set(here.map((signIn) => signIn.person_id)).size });
  };

  title = () => 'Sheet';
  where = () => (this.visit ? `${fullDay(msOf(this.visit.started_at) ?? 0, this.stage.zone)}, ${
    began(this.visit, this.stage.zone)}` : nothing);

  body() {
    if (!this.visit) return html`<p>This visit is not on this device.</p>`;
    const { zone } = this.stage;
    const { units, isPlanned } = this.order;
    return html`${rowLink({ href: `#/sheet/${this.visitId}/people`, said: 'People',
      small: this.people ? `${counted(this.people, 'person', 'people')} on this visit` : 'nobody on this visit yet' })}
      ${section('Units', `${this.checks.size} of ${units.length} checked`, units.map((unit) => {
        const check = this.checks.get(unit.record_id);
        return check
          ? rowLink({ href: `#/record/unit_check/${check.record_id}`, tag: unit.tag ?? '?',
            said: `checked, ${clockOf(check, msOf(check.checked_at) ?? 0, zone)}`, small: 'opens to be corrected' })
          : rowLink({ href: `#/sheet/${this.visitId}/${unit.record_id}`, tag: unit.tag ?? '?',
            said: 'to type in', small: unit.standsWhere });
      }))}<p class="small">${isPlanned ? 'In the order of this low\u2019s plan, as on the sheet.'
        : 'Row by row from the sea, as on a sheet without a plan.'} Skip what the sheet left empty.</p>`;
  }

  foot = () => {
    const next = this.order.units.find((unit) => !this.checks.has(unit.record_id));
    return next ? html`<a class="do" href="#/sheet/${this.visitId}/${next.record_id}">Type in ${next.tag ?? '?'}</a>`
      : nothing;
  };
}
