/** The units of a sheet in the paper's order, and the form of one: its time, then every field of a check. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices } from './marks.js';
import { standsWhere, unitTag } from './names.js';
import { planFor, stopsOf } from './plan.js';
import { RecordForm } from './record-form.js';
import { readShore } from './shore.js';
import { sheetTime, timeBox } from './sheet-time.js';
import { contradictions, Sure } from './sure.js';
import { MEASURED, readUnits, wasFound } from './unit-facts.js';
import { savedWithUndo } from './undo.js';
import { fullDay, msOf } from './words.js';

/** What the sheet says by where something is written. */
const NOT_TYPED = ['unit_id', 'checked_at', 'time_known', 'looked_only', 'in_visit'];

/**
 * @param {import('./router.js').Phone} phone @param {import('./shore.js').Shore} shore @param {any} visit
 * @returns {Promise<{units: any[], isPlanned: boolean}>} each unit with where it stands
 */
export async function unitsInOrder(phone, shore, visit) {
  const [known, plans] = await Promise.all([readUnits(phone, null, []),
    phone.rows('visit_plan', { siteId: phone.me.site_id })]);
  const facts = new Map(known.map((unitFacts) => [unitFacts.unit.record_id, unitFacts]));
  const lowMs = shore.windows.find(({ id }) => id !== null && id === visit.window_id)?.lowMs
    ?? msOf(plans.find((plan) => plan.window_id && plan.window_id === visit.window_id)?.low_at)
    ?? ((msOf(visit.started_at) ?? 0) + (msOf(visit.ended_at) ?? msOf(visit.started_at) ?? 0)) / 2;
  const plan = planFor(plans, lowMs);
  const planned = (plan ? stopsOf(plan) : []).flatMap(({ stopId }) => facts.get(stopId) ?? []);
  const rest = known.filter((unitFacts) => !planned.includes(unitFacts));
  return { isPlanned: planned.length > 0, units: [...planned, ...rest].map(({ unit, row }) =>
    ({ ...unit, standsWhere: standsWhere({ unit, row }) })) };
}

/**
 * @param {import('./router.js').Phone} phone @param {string} visitId
 * @returns {Promise<Map<string, any>>} the checks of a visit, by unit
 */
export async function checksTyped(phone, visitId) {
  const checks = await phone.rows('unit_check', { siteId: phone.me.site_id });
  return new Map(checks.filter((check) => check.visit_id === visitId).map((check) => [check.unit_id ?? '', check]));
}

/** One unit's boxes. */
export class SheetUnit {
  /** @param {import('./router.js').Stage} stage @param {string} visitId @param {string} unitId */
  constructor(stage, visitId, unitId) {
    this.stage = stage;
    this.visitId = visitId;
    this.unitId = unitId;
    this.narrow = true;
    this.back = `#/sheet/${visitId}`;
    /** @type {any} */ this.visit = null;
    /** @type {any[]} */ this.units = [];
    /** @type {Map<string, any>} */ this.checks = new Map();
    this.shore = /** @type {import('./shore.js').Shore} */ (/** @type {unknown} */ (null));
    this.form = /** @type {RecordForm} */ (/** @type {unknown} */ (null));
    this.sure = /** @type {Sure} */ (/** @type {unknown} */ (null));
    /** @type {any} */ this.design = null;
    /** The time as it is typed. */ this.time = '';
  }

  async open() {
    await this.refresh();
    this.form = await new RecordForm(this.stage, 'unit_check', `sheet:${this.visitId}:${this.unitId}`).start({});
    this.sure = new Sure(this.stage, this.form);
    const unit = this.unit;
    this.design = unit?.design_id ? await this.stage.phone.row('unit_design', unit.design_id) : null;
  }

  refresh = async () => {
    const { phone } = this.stage;
    this.visit = await phone.row('visit', this.visitId);
    if (!this.visit) return;
    this.shore = await readShore(phone, this.visit);
    const [{ units }, checks] = await Promise.all([unitsInOrder(phone, this.shore, this.visit),
      checksTyped(phone, this.visitId)]);
    Object.assign(this, { units, checks });
  };

  get unit() { return this.units.find((unit) => unit.record_id === this.unitId) ?? null; }

  /** The next one of the sheet that has no check. */
  get next() {
    const after = this.units.slice(this.units.findIndex((unit) => unit.record_id === this.unitId) + 1);
    return after.find((unit) => !this.checks.has(unit.record_id)) ?? null;
  }

  title = () => (this.unit ? unitTag(this.unit) : 'No such unit');
  where = () => (this.visit && this.unit
    ? `${this.unit.standsWhere}, ${fullDay(msOf(this.visit.started_at) ?? 0, this.stage.zone)}` : nothing);

  body() {
    if (!this.visit || !this.unit) return html`<p>This unit or its visit is not on this device.</p>`;
    return html`<div class="stack">${timeBox({ name: 'checked_at', title: 'Time on the sheet', value: this.time,
      take: (text) => { this.time = text; this.stage.redraw(); } })}${[...this.form.inputs.keys()]
      .filter((name) => !NOT_TYPED.includes(name)).map((name) => this.input(name))}</div>`;
  }

  /** Of a grade the sheet has its number ringed. @param {string} name */
  input(name) {
    const { form } = this;
    const input = form.inputs.get(name);
    if (!input?.whole || !input.choices.length) return form.input(name);
    return html`${choices({ name, legend: input.title, shape: 'grades', value: form.typed[name],
      pick: (value) => form.set(name, value), choices: input.choices.map((choice) =>
        ({ value: choice.value, label: choice.value, words: `${input.title} ${choice.value}: ${choice.label}` })) })}
      ${form.asked.get(name) ?? nothing}`;
  }

  foot = () => {
    if (!this.unit) return nothing;
    const words = this.next ? `Save, go to ${unitTag(this.next)}` : 'Save, back to the sheet';
    const skip = this.next
      ? html`<a class="or" href="#/sheet/${this.visitId}/${this.next.record_id}">Skip</a>` : nothing;
    return html`<div class="two">${skip}<button type="button" class="do" @click=${() =>
      this.save()}>${words}</button></div>`;
  };

  async save() {
    const { stage, form, unitId, visitId } = this;
    if (stage.isSecondTap()) return;
    const at = sheetTime(this.time, msOf(this.visit.started_at) ?? 0, stage);
    if (!at) return;
    const fields = form.ready({ unit_id: unitId, checked_at: at });
    if (!fields) return;
    if (!wasFound(fields)) for (const name of MEASURED) delete fields[name];
    const list = contradictions(fields, this.design, this.shore.site?.reading_repeat_mm);
    if (!this.sure.isSure(list, () => this.save())) return;
    const undo = await savedWithUndo(stage, [{ kind: 'unit_check', recordId: form.recordId, fields, visitId }]);
    if (!undo) return;
    const { next } = this;
    stage.say(`${unitTag(this.unit)} saved.`, undo);
    await form.drop();
    stage.go(next ? `#/sheet/${visitId}/${next.record_id}` : `#/sheet/${visitId}`);
  }
}
