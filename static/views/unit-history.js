/**
 * Everything on record about one unit, over all years: whether it moved, where it was measured, what was read of it,
 * photos, work and flags, checks and positions.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { drawnOnce } from './drawn-once.js';
import { inParts } from './in-parts.js';
import { deviceWord, section } from './marks.js';
import { MeasureCharts } from './measure-charts.js';
import { measuredOf } from './measure-series.js';
import { personName, standsWhere, unitTag } from './names.js';
import { PhotoStrip } from './photo-strip.js';
import { planDrawn, planOf } from './position-plan.js';
import { formOf, labelOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { refusedBy } from './refused.js';
import { hasUse } from './roles.js';
import { recordRow, withRemovals } from './removed.js';
import { withBothSides } from './difference.js';
import { seenHere } from './seen-here.js';
import { isOpen, siteFlags } from './open-flags.js';
import { sinceWords, storyRows } from './unit-story.js';
import { surveyedOf } from './surveyed.js';
import { burialNow, checkWords, movementOf, placeOf } from './unit-facts.js';
import { savedWithUndo } from './undo.js';
import { rounded } from '../rounding.js';
import { onGrid } from '../survey/grid.js';
import { instant, length, momentOf, month, turnMs } from './words.js';

/**
 * @typedef {import('../records/rows.js').UnitCheck} UnitCheck
 * @typedef {import('../records/rows.js').UnitEvent} UnitEvent
 * @typedef {import('../records/rows.js').PositionFix} PositionFix
 */

/**
 * @template {{time_known?: boolean|null}} R
 * @param {R[]} rows @param {(row: R) => string|null|undefined} timeOf @returns {R[]} sorted in place
 */
const newestFirst = (rows, timeOf) =>
  rows.sort((one, other) => turnMs(other, timeOf(other)) - turnMs(one, timeOf(one)));

/** @template {{_deleted?: boolean|null}} R @param {R[]} rows @returns {R[]} */
const standing = (rows) => rows.filter((row) => !row._deleted);

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new UnitHistory(stage, stage.params[0]);
  await screen.refresh();
  return screen;
}

class UnitHistory {
  /** @param {import('./router.js').Stage} stage @param {string} unitId */
  constructor(stage, unitId) {
    this.stage = stage;
    this.unitId = unitId;
    this.back = '#/units';
    this.photos = new PhotoStrip(stage);
    this.charts = new MeasureCharts(stage.redraw);
    /** @type {RecordForm|null} */ this.event = null;
    /**
     * Removed ones too.
     * @type {{checks: UnitCheck[], events: UnitEvent[], fixes: PositionFix[]}|null}
     */
    this.listed = null;
    /** @type {UnitCheck[]} */ this.checks = [];
    /** @type {PositionFix[]} */ this.fixes = [];
    /** @type {UnitEvent[]} */ this.events = [];
    /** @type {import('../records/rows.js').ControlMark[]} */ this.marks = [];
    /** @type {import('../records/rows.js').Visit[]} */ this.visits = [];
    /** @type {import('../records/rows.js').FlagDecision[]} */ this.decisions = [];
    /** Settled too long ago for the pack, once they were asked for. @type {import('../records/pack.js').Flag[]|null} */
    this.older = null;
    this.part = inParts(stage.redraw);
    this.drawn = drawnOnce(stage.redraw);
  }

  /** @returns {Promise<Pick<import('./unit-facts.js').Known, 'unit'|'row'|'design'|'flags'>|null>} */
  async readKnown() {
    const { stage: { phone, zone }, unitId } = this;
    const unit = await phone.row('unit', unitId);
    if (!unit || unit.site_id !== phone.me.site_id) return null;
    const [row, design, here] = await Promise.all([phone.row('row', unit.row_id),
      phone.row('unit_design', unit.design_id), seenHere(phone, this.site, zone)]);
    const own = (/** @type {{unitId: string|null}} */ flag) => flag.unitId === unitId;
    const packed = await withBothSides(this.stage, siteFlags(phone).filter(own));
    return { unit, row: row ?? {}, design: design ?? null, flags: [...here.filter(own), ...packed] };
  }

  refresh = async () => {
    const { stage: { phone }, unitId } = this;
    const unit = { kind: 'unit', id: unitId };
    const lists = Promise.all([
      phone.rowsOfAndRemoved('unit_check', unit), phone.rowsOfAndRemoved('position_fix', unit),
      phone.rowsOfAndRemoved('unit_event', unit), phone.rows('control_mark', { siteId: phone.me.site_id }),
      phone.rows('person', { siteId: phone.me.site_id }), phone.rows('visit', { siteId: phone.me.site_id }),
      phone.rows('flag_decision', { siteId: phone.me.site_id }),
    ]);
    this.site = await phone.row('site', phone.me.site_id);
    this.known = await this.readKnown();
    const [checks, fixes, events, marks, people, visits, decisions] = await lists;
    if (!this.known) return;
    const { site } = this;
    this.listed = {
      checks: await withRemovals(this.stage, 'unit_check', newestFirst(checks, (check) => check.checked_at)),
      events: await withRemovals(this.stage, 'unit_event', newestFirst(events, (event) => event.event_at)),
      fixes: await withRemovals(this.stage, 'position_fix',
        newestFirst(fixes.map((fix) => onGrid(fix, site)), (fix) => fix.fixed_at)),
    };
    this.checks = standing(this.listed.checks);
    this.fixes = standing(this.listed.fixes);
    this.events = standing(this.listed.events);
    Object.assign(this, { marks, visits, decisions });
    this.people = new Map(people.map((person) => [person.record_id, personName(person)]));
    this.measured = measuredOf({ checks: this.checks, events: this.events, design: this.known.design, site },
      this.fieldWords, phone.now());
    this.plan = planOf(this.surveyed(this.fixes));
    this.photos.readLater([unit, ...this.checks.map((check) => ({ kind: 'unit_check', id: check.record_id })),
      ...this.fixes.map((fix) => ({ kind: 'position_fix', id: fix.record_id }))]);
  };

  /** What a field of a check is called, where it is a number with a unit. @param {string} name */
  fieldWords = (name) => {
    const field = formOf(this.stage.phone, 'unit_check').properties?.[name];
    return field?.['x-unit'] ? { title: field.title, unit: field['x-unit'] } : null;
  };

  /** @param {PositionFix[]} fixes */
  surveyed(fixes) {
    const { stage, known, site, marks, visits, events } = this;
    return surveyedOf(stage, { unit: known?.unit, design: known?.design, site, marks, visits, fixes, events });
  }

  title = () => (this.known ? unitTag(this.known.unit) : 'No such unit');
  aside = () => this.stage.alarm.pill();
  where = () => (this.known ? standsWhere(this.known) : nothing);
  close = () => this.photos.close();

  body = () => {
    if (!this.known) return html`<p>This unit is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    return html`<div class="cols even"><div class="stack">${this.movement()}${this.burial()}${this.drawings()}
      ${this.photos.draw()}</div>
      <div class="stack">${this.story()}${this.checkList()}${this.fixList()}</div></div>`;
  };

  /** The open flag about its place, which says at the top whether it moved. */
  placeFlag() {
    const open = (this.known?.flags ?? []).filter((flag) => isOpen(flag));
    const flagOf = (/** @type {string} */ rule) => open.find((flag) => flag.rule === rule);
    return flagOf('displaced') ?? flagOf('measure_again') ?? null;
  }

  /** What its survey said, where that stands in a flag or as a remark; else what its two positions show. */
  movement() {
    const { fixes, stage } = this;
    const flag = this.placeFlag();
    const [newest, ...before] = fixes.filter((fix) => fix.method !== 'phone_gnss' && fix.fixed_at);
    const place = newest ? movementOf(newest, this.surveyed(before)) : null;
    const plan = place?.plan ? html`<small>${place.plan}</small>` : nothing;
    if (flag) return html`<div class="said-back"><b>${flag.sentence}</b>${plan}</div>`;
    const { remarks } = stage.phone.pack()?.sites?.[stage.phone.me.site_id ?? ''] ?? {};
    const remark = newest?.entry_state === 'phone' ? null : remarks?.[this.unitId];
    const { movement } = place ?? {};
    const off = movement && `Measured ${rounded(movement.displacement_m, 2)} m from its first position. `
      + 'Whether it moved comes with the sync, for the whole survey.';
    const sentence = remark ?? (movement?.verdict === 'again' ? off : movement?.sentence) ?? 'Too early to say whether '
      + 'it moved.';
    return html`<div class="said-back"><b>${sentence}</b>
      <small>${remark ? 'By its last survey.' : movement ? 'Newest position against the first since it was placed.'
        : 'That needs two positions by tape or typed coordinates.'}</small>${plan}</div>`;
  }

  /** Where it was measured, and what was read of it: drawn once, as long as neither changes. */
  drawings() {
    const { plan, measured, charts, stage: { zone, settings } } = this;
    const rule = this.placeFlag()?.rule;
    const verdict = rule === 'displaced' ? 'moved' : rule ? 'again' : null;
    return this.drawn([plan, measured, verdict, settings.feet, charts.turn], () => html`${plan
      ? section('Where it is', 'to scale', planDrawn(plan, { zone, feet: settings.feet, verdict }))
      : nothing}${measured?.series.length ? section('Measured',
        `${month(measured.fromMs, zone)} to ${month(measured.toMs, zone)}`, charts.draw(measured, zone)) : nothing}`);
  }

  /** What its newest heights say, where something changed. */
  burial() {
    const changed = burialNow(this.checks, this.events, this.site);
    return changed ? html`<div class="said-back"><b>${changed.what}</b><small>${changed.means}</small></div>` : nothing;
  }

  /** Who wrote it, '' where that is not told. @param {import('../records/rows.js').Recorded} record */
  who = (record) => (this.stage.phone.me.role === 'reader' ? '' : this.people?.get(record.created_by ?? '') ?? '');

  checkList() {
    const { phone, zone } = this.stage;
    const words = (/** @type {UnitCheck} */ check) => labelOf(phone, 'unit_check', 'found_state', check.found_state,
      'Looked at');
    const rows = this.part(this.listed?.checks ?? []).map((check) => {
      const small = `${momentOf(check, check.checked_at, phone.now(), zone)}${this.who(check)
        ? `, by ${this.who(check)}` : ''}${check.note ? `. ${check.note}` : ''}`;
      return recordRow(this.stage, 'unit_check', check, checkWords(check, this.known?.design, words), small);
    });
    return section('Checks', this.checks.length, rows.length ? rows : html`<p class="row">Never checked.</p>`);
  }

  /** Flags that were settled too long ago to be on the phone. */
  async askOlder() {
    const { stage, unitId } = this;
    const refusal = await refusedBy(async () => {
      ({ flags: this.older } = await stage.phone.api('GET',
        `/api/pack/sites/${stage.phone.me.site_id}/units/${unitId}/flags`));
    });
    if (refusal) stage.refuse(refusal);
    stage.redraw();
  }

  /** Those of the pack, and earlier ones that were asked for. */
  flags() {
    const flags = this.known?.flags ?? [];
    const ids = flags.map(({ flag_id: id }) => id);
    return [...flags, ...(this.older ?? []).filter(({ flag_id: id }) => !ids.includes(id))
      .map((flag) => ({ ...flag, unitId: this.unitId }))];
  }

  olderPart() {
    if (this.older) return html`<p class="small">These are all flags on record. Of each kind of flag the newest is
      kept.</p>`;
    return html`<button type="button" class="or" @click=${() => this.askOlder()}>Get flags settled over 30 days
      ago</button>`;
  }

  /** Work on it and its flags, in one order of time. */
  story() {
    const story = { events: this.listed?.events ?? [], flags: this.flags(), decisions: this.decisions,
      observations: [...this.checks, ...this.fixes], onBoard: this.placeFlag()?.flag_id ?? null,
      nameOf: this.who };
    return section('What happened', sinceWords(story, this.stage.zone),
      html`${storyRows(this.stage, story)}${this.olderPart()}${this.eventForm()}`);
  }

  eventForm() {
    const { stage } = this;
    if (!hasUse(stage.phone.me.role, 'unit-check')) return nothing;
    const open = async () => {
      this.event = await new RecordForm(stage, 'unit_event', `unit_event:${this.unitId}`).start({});
      stage.redraw();
    };
    if (!this.event) return html`<button type="button" class="or"
      @click=${open}>Record work on this unit</button>`;
    return html`<div class="stack">${this.event.input('event')}${this.event.input('note')}<div class="two">
      <button type="button" class="or" @click=${async () => {
        await this.event?.drop();
        this.event = null;
        stage.redraw();
      }}>Cancel</button>
      <button type="button" class="do" @click=${() => this.saveEvent()}>Save event</button></div></div>`;
  }

  async saveEvent() {
    const { stage, event } = this;
    const fields = event?.ready({ unit_id: this.unitId, event_at: instant(stage.phone.now()) });
    if (!event || !fields) return;
    const undo = await savedWithUndo(stage, [{ kind: 'unit_event', recordId: event.recordId, fields }]);
    if (!undo) return;
    await event.drop();
    this.event = null;
    stage.say(`Event saved on this ${deviceWord()}.`, undo);
  }

  fixList() {
    const { phone, settings, zone } = this.stage;
    const rows = (this.listed?.fixes ?? []).map((fix) => {
      const place = placeOf(fix, this.marks, null);
      const where = place && 'covariance' in place
        ? `. ${length(place.east_m, settings.feet)} east, ${length(place.north_m, settings.feet)} north`
        : fix.accuracy_m ? `, within ${fix.accuracy_m} m` : '';
      const how = labelOf(phone, 'position_fix', 'method', fix.method, 'Method not noted');
      return recordRow(this.stage, 'position_fix', fix, how,
        `${momentOf(fix, fix.fixed_at, phone.now(), zone)}${where}`);
    });
    return section('Positions', this.fixes.length,
      rows.length ? rows : html`<p class="row">No position on record.</p>`);
  }

  foot = () => (this.known && hasUse(this.stage.phone.me.role, 'unit-check')
    ? html`<a class="do" href="#/units/${this.unitId}/check">Check ${this.title()}</a>` : nothing);
}
