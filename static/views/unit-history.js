/** Everything on record about one unit: checks over time, movement, flags with evidence, events, fixes, photos. */
import { html, nothing, svg } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inParts } from './in-parts.js';
import { deviceWord, isWide, section } from './marks.js';
import { personName, standsWhere, unitTag } from './names.js';
import { Photos } from './photo-box.js';
import { labelOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { hasUse } from './roles.js';
import { recordRow, withRemovals } from './removed.js';
import { withBothSides } from './difference.js';
import { evidenceRows } from './evidence.js';
import { seenHere } from './seen-here.js';
import { isOpen, siteFlags } from './open-flags.js';
import { surveyedOf } from './surveyed.js';
import { burialNow, checkWords, movementOf, placeOf, readUnits, tellsMeasures } from './unit-facts.js';
import { savedWithUndo } from './undo.js';
import { rounded } from '../rounding.js';
import { onGrid } from '../survey/grid.js';
import { fullDay, instant, length, momentOf, msOf } from './words.js';

/**
 * @typedef {import('../records/rows.js').UnitCheck} UnitCheck
 * @typedef {import('../records/rows.js').UnitEvent} UnitEvent
 * @typedef {import('../records/rows.js').PositionFix} PositionFix
 */

/** @param {UnitCheck} check @returns {check is UnitCheck & {exposed_height_mm: number}} */
const isRead = (check) => tellsMeasures(check) && typeof check.exposed_height_mm === 'number';

/**
 * Heights showing over time, as a line of dots.
 * @param {UnitCheck[]} checks newest first
 * @param {import('../records/rows.js').UnitDesign|null|undefined} design @param {string} zone
 */
function heights(checks, design, zone) {
  const points = checks.filter(isRead).reverse();
  if (points.length < 2) return nothing;
  const [from, to] = [msOf(points[0].checked_at) ?? 0, msOf(points[points.length - 1].checked_at) ?? 1];
  const width = isWide() ? 510 : 358;
  const top = design?.height_mm ?? Math.max(1, ...points.map((check) => check.exposed_height_mm));
  const x = (/** @type {UnitCheck} */ check) =>
    10 + (((msOf(check.checked_at) ?? 0) - from) / Math.max(1, to - from)) * (width - 20);
  const y = (/** @type {{exposed_height_mm: number}} */ check) => 24 + (1 - check.exposed_height_mm / top) * 90;
  const line = points.map((check, n) => `${n ? 'L' : 'M'}${x(check).toFixed(1)} ${y(check).toFixed(1)}`).join('');
  const [first, last] = [points[0], points[points.length - 1]].map((check) => check.exposed_height_mm);
  const label = `Height showing, ${first} mm on ${fullDay(from, zone)}, ${last} mm on ${fullDay(to, zone)}`;
  return html`<svg class="draw" viewBox="0 0 ${width} 144" role="img" aria-label=${label}>
    <line class="axis" x1="0" x2=${width} y1="24" y2="24"/><text x="2" y="16">whole height ${top} mm</text>
    <line class="axis" x1="0" x2=${width} y1="114" y2="114"/><path class="water" d=${line}/>
    ${points.map((check) => svg`<circle class="dot" cx=${x(check).toFixed(1)} cy=${y(check).toFixed(1)} r="5"/>`)}
    <text x="2" y="136">${fullDay(from, zone)}</text><text class="e" x=${width - 2}
      y="136">${fullDay(to, zone)}</text></svg>`;
}

/**
 * @template R
 * @param {R[]} rows @param {(row: R) => string|null|undefined} timeOf @returns {R[]} sorted in place
 */
const newestFirst = (rows, timeOf) =>
  rows.sort((one, other) => (msOf(timeOf(other)) ?? 0) - (msOf(timeOf(one)) ?? 0));

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
    this.photos = new Photos(stage.phone, stage);
    /** @type {RecordForm|null} */ this.event = null;
    /**
     * Removed ones too.
     * @type {{checks: UnitCheck[], events: UnitEvent[], fixes: PositionFix[]}|null}
     */
    this.listed = null;
    /** @type {UnitCheck[]} */ this.checks = [];
    this.part = inParts(stage.redraw);
  }

  refresh = async () => {
    const { stage: { phone }, unitId } = this;
    const here = await seenHere(phone, await phone.row('site', phone.me.site_id), this.stage.zone);
    const flags = await withBothSides(this.stage, siteFlags(phone).filter((flag) => flag.unitId === unitId));
    const [known] = (await readUnits(phone, null, [...here, ...flags])).filter(({ unit }) => unit.record_id === unitId);
    this.known = known ?? null;
    if (!known) return;
    const unit = { kind: 'unit', id: unitId };
    const [checks, fixes, events, marks, people, visits, site] = await Promise.all([
      phone.rowsOfAndRemoved('unit_check', unit), phone.rowsOfAndRemoved('position_fix', unit),
      phone.rowsOfAndRemoved('unit_event', unit), phone.rows('control_mark', { siteId: phone.me.site_id }),
      phone.rows('person', { siteId: phone.me.site_id }), phone.rows('visit', { siteId: phone.me.site_id }),
      phone.row('site', phone.me.site_id),
    ]);
    this.site = site;
    this.listed = {
      checks: await withRemovals(this.stage, 'unit_check', newestFirst(checks, (check) => check.checked_at)),
      events: await withRemovals(this.stage, 'unit_event', newestFirst(events, (event) => event.event_at)),
      fixes: await withRemovals(this.stage, 'position_fix',
        newestFirst(fixes.map((fix) => onGrid(fix, site)), (fix) => fix.fixed_at)),
    };
    this.checks = standing(this.listed.checks);
    this.fixes = standing(this.listed.fixes);
    this.events = standing(this.listed.events);
    this.marks = marks;
    this.visits = visits;
    this.people = new Map(people.map((person) => [person.record_id, personName(person)]));
    await this.photos.read([{ kind: 'unit', id: unitId },
      ...this.checks.slice(0, 12).map((check) => ({ kind: 'unit_check', id: check.record_id }))]);
  };

  title = () => (this.known ? unitTag(this.known.unit) : 'No such unit');
  aside = () => this.stage.alarm.pill();
  where = () => (this.known ? standsWhere(this.known) : nothing);
  close = () => this.photos.close();

  body = () => {
    if (!this.known) return html`<p>This unit is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    return html`<div class="cols even"><div class="stack">${this.movement()}
      ${this.burial()}${heights(this.checks, this.known.design,
        this.stage.zone)}${this.flagged()}${this.photos.draw((photo) => photo.shows || '')}</div>
      <div class="stack">${this.checkList()}${this.eventList()}${this.fixList()}</div></div>`;
  };

  /** What its survey said, where that stands in a flag or as a remark; else what its two positions show. */
  movement() {
    const { fixes = [], events = [], marks = [], visits = [], known, site, stage } = this;
    const open = (known?.flags ?? []).filter((flag) => isOpen(flag));
    const flagOf = (/** @type {string} */ rule) => open.find((flag) => flag.rule === rule);
    const flag = flagOf('displaced') ?? flagOf('measure_again');
    const [newest, ...before] = fixes.filter((fix) => fix.method !== 'phone_gnss' && fix.fixed_at);
    const rows = { unit: known?.unit, design: known?.design, site, marks, visits, fixes: before, events };
    const place = newest ? movementOf(newest, surveyedOf(stage, rows)) : null;
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

  /** What its newest heights say, where something changed. */
  burial() {
    const changed = burialNow(this.checks ?? [], this.events ?? [], this.site);
    return changed ? html`<div class="said-back"><b>${changed.what}</b><small>${changed.means}</small></div>` : nothing;
  }

  flagged() {
    const flags = this.known?.flags ?? [];
    if (!flags.length) return nothing;
    const reason = (/** @type {{settled_reason?: string|null}} */ flag) =>
      html`<small>Settled. ${flag.settled_reason ?? ''}</small>`;
    return section('Flags', flags.length, flags.map((flag) => html`<details>
      <summary>${flag.sentence}${isOpen(flag) ? nothing
        : reason(flag)}</summary>${evidenceRows(flag, this.stage)}</details>`));
  }

  /** @param {import('../records/rows.js').Recorded} record */
  who = (record) => this.people?.get(record.created_by ?? '') ?? '';

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

  eventList() {
    const { phone, zone } = this.stage;
    const rows = (this.listed?.events ?? []).map((event) => {
      const what = labelOf(phone, 'unit_event', 'event', event.event, 'Work not named');
      const when = momentOf(event, event.event_at, phone.now(), zone);
      return recordRow(this.stage, 'unit_event', event, what, `${when}${event.note ? `. ${event.note}` : ''}`);
    });
    return section('Events', this.events?.length ?? 0, html`${rows}${this.eventForm()}`);
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
      const place = placeOf(fix, this.marks ?? [], null);
      const where = place && 'covariance' in place
        ? `. ${length(place.east_m, settings.feet)} east, ${length(place.north_m, settings.feet)} north`
        : fix.accuracy_m ? `, within ${fix.accuracy_m} m` : '';
      const how = labelOf(phone, 'position_fix', 'method', fix.method, 'Method not noted');
      return recordRow(this.stage, 'position_fix', fix, how,
        `${momentOf(fix, fix.fixed_at, phone.now(), zone)}${where}`);
    });
    return section('Positions', this.fixes?.length ?? 0,
      rows.length ? rows : html`<p class="row">No position on record.</p>`);
  }

  foot = () => (this.known && hasUse(this.stage.phone.me.role, 'unit-check')
    ? html`<a class="do" href="#/units/${this.unitId}/check">Check ${this.title()}</a>` : nothing);
}
