/** Set-up, many units at once: a run of slots in a row, or a row copied; all shown before they are saved. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { describe } from '../records/form.js';
import { azimuthOf, clashes, copyOf, lineOf, runOf } from '../records/series.js';
import { check } from '../records/validate.js';
import { deviceWord, doubt, fault, section } from './marks.js';
import { byName, byOrder, named, recordName, rowName } from './names.js';
import { formOf } from './kind-forms.js';
import { RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { counted, length } from './words.js';

const MOST_UNITS = 200;
const PROBLEMS_SHOWN = 3;
/** What of each unit stands beside its tag. */
const COLUMNS = ['Slot', 'East', 'North'];

const whole = (/** @type {string} */ title, /** @type {number} */ least, /** @type {number} */ most, more = {}) =>
  ({ 'x-type': 'whole', title, minimum: least, maximum: most, ...more });
const metres = (/** @type {string} */ title, /** @type {number} */ least, /** @type {number} */ most, more = {}) =>
  ({ 'x-type': 'number', 'x-unit': 'm', title, minimum: least, maximum: most, ...more });
const azimuth = (/** @type {string} */ title) =>
  ({ 'x-type': 'number', 'x-unit': '\u00b0', title, minimum: 0, maximum: 360,
    description: 'Clockwise from the grid\u2019s north: 90 is east' });

/**
 * @param {import('./router.js').Phone} phone
 * @returns {any} what is asked for a run of units, as a kind's form is described
 */
function runForm(phone) {
  const { row_id: row, design_id: design, batch_id: batch } = formOf(phone, 'unit').properties;
  const mark = (/** @type {string} */ title) => ({ ...row, title, 'x-ref': 'control_mark' });
  return { title: 'Series', required: ['row_id', 'first_slot', 'count', 'tags'], properties: {
    row_id: row, first_slot: whole('From slot', 0, 999), count: whole('How many units', 1, MOST_UNITS),
    tags: { 'x-type': 'choice', title: 'Tags', 'x-labels': { made: 'Make them', own: 'On the units already' } },
    before: { 'x-type': 'text', title: 'Before the number', maxLength: 12, description: 'Such as A-; optional' },
    first_number: whole('First number', 0, 99_999), design_id: design, batch_id: batch,
    spacing_m: metres('Apart', 0.01, 1000, { 'x-plausible': [0.2, 50], description: 'From a unit to the next' }),
    from_mark_id: mark('The row begins at'), to_mark_id: mark('and runs toward'),
    start_east_m: metres('First unit, east', -100_000, 100_000),
    start_north_m: metres('First unit, north', -100_000, 100_000), azimuth_deg: azimuth('Direction of the row'),
  }, 'x-rules': [{ rule: 'together', fields: ['start_east_m', 'start_north_m', 'azimuth_deg'] },
    { rule: 'needed-when', field: 'first_number', other: 'tags', is: ['own'] }] };
}

/** @param {import('./router.js').Phone} phone @returns {any} what is asked for a copy of a row */
function copyForm(phone) {
  const { name, order_number: order, bed_level_m: bed, level_datum: datum } = formOf(phone, 'row').properties;
  return { title: 'Copy of a row', required: ['source_id', 'name', 'order_number', 'bed_level_m', 'aside_m',
    'azimuth_deg'], 'x-rules': [], properties: {
    source_id: { ...formOf(phone, 'unit').properties.row_id, title: 'Which row' }, name, order_number: order,
    bed_level_m: bed, level_datum: datum, aside_m: metres('How far away', 0, 1000, { 'x-plausible': [0.2, 100] }),
    azimuth_deg: azimuth('In which direction'),
  } };
}

/** A form of fields that are no record's: what is typed is judged, kept and shown as a record's is. */
class AskedForm extends RecordForm {
  /**
   * @param {import('./router.js').Stage} stage @param {string} kind @param {string} key
   * @param {any} form @param {any} refs
   */
  constructor(stage, kind, key, form, refs) {
    super(stage, kind, key, { refs });
    this.form = form;
    this.inputs = new Map(describe(form).map((input) => [input.name, input]));
    /** @type {(name: string) => void} */ this.changed = () => {};
  }

  /** @param {string} name @param {any} value */
  set(name, value) {
    super.set(name, value);
    this.changed(name);
  }
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new Series(stage, stage.params[1] === 'copy');
  await screen.open();
  return screen;
}

class Series {
  /** @param {import('./router.js').Stage} stage @param {boolean} isCopy */
  constructor(stage, isCopy) {
    this.stage = stage;
    this.isCopy = isCopy;
    this.narrow = true;
    this.back = isCopy ? '#/set-up/row' : '#/set-up/unit';
    /** @type {any[]} */ this.rows = [];
    /** @type {any[]} */ this.units = [];
    /** @type {any[]} */ this.marks = [];
    /** @type {{typed: string, units: any[], planned: any[]}|null} */ this.looked = null;
  }

  async open() {
    await this.refresh();
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    const [designs, batches, site] = await Promise.all([phone.rows('unit_design', { siteId }),
      phone.rows('casting_batch', { siteId }), phone.row('site', siteId)]);
    const listed = (/** @type {any[]} */ list, word = recordName) =>
      list.map((row) => ({ value: row.record_id, label: word(row) }));
    const marks = listed(this.marks).sort((one, other) => byName(one.label, other.label));
    const refs = { row_id: listed(this.rows, rowName), source_id: listed(this.rows, rowName),
      design_id: listed(designs), batch_id: listed(batches),
      from_mark_id: marks, to_mark_id: marks };
    this.form = this.isCopy ? new AskedForm(this.stage, 'row', 'row:copy', copyForm(phone), refs)
      : new AskedForm(this.stage, 'unit', 'unit:series', runForm(phone), refs);
    this.form.changed = (name) => this.follow(name);
    const order = Math.max(0, ...this.rows.map((row) => row.order_number ?? 0)) + 1;
    // Where there is one row, it is that row.
    const only = this.rows.length === 1 ? this.rows[0].record_id : undefined;
    await this.form.start(this.isCopy
      ? { order_number: order, level_datum: site?.level_datum, source_id: only, ...this.ofSource(only) }
      : { tags: 'made', design_id: designs.length === 1 ? designs[0].record_id : null, row_id: only,
        ...this.ofRow(only) });
  }

  refresh = async () => {
    const { phone } = this.stage;
    const siteId = phone.me.site_id;
    [this.rows, this.units, this.marks] = await Promise.all([phone.rows('row', { siteId }),
      phone.rows('unit', { siteId }), phone.rows('control_mark', { siteId })]);
    this.rows.sort(byOrder);
  };

  get asked() {
    return /** @type {AskedForm} */ (this.form);
  }

  /** @param {string|undefined} rowId */
  inRow = (rowId) => (rowId ? this.units.filter((unit) => unit.row_id === rowId) : []);

  /** What follows from a row that units are added to. @param {string|undefined} rowId */
  ofRow(rowId) {
    const slots = this.inRow(rowId).map((unit) => unit.slot_number).filter(Number.isInteger);
    const line = lineOf(this.inRow(rowId));
    return { first_slot: slots.length ? Math.max(...slots) + 1 : 1, ...(line ? { spacing_m: line.spacing_m } : {}) };
  }

  /** What follows from a row that is copied: its copy lies to the right of it. @param {string|undefined} rowId */
  ofSource(rowId) {
    const line = lineOf(this.inRow(rowId));
    return line ? { azimuth_deg: (line.azimuth_deg + 90) % 360 } : {};
  }

  /** What follows from what was chosen is filled in, to be seen and changed. @param {string} name */
  follow(name) {
    const { typed } = this.asked;
    if (name === 'row_id') this.asked.fill(this.ofRow(typed.row_id));
    if (name === 'from_mark_id' || name === 'to_mark_id') {
      const [from, to] = [typed.from_mark_id, typed.to_mark_id]
        .map((id) => this.marks.find((mark) => mark.record_id === id));
      if (from) this.asked.fill({ start_east_m: from.east_m, start_north_m: from.north_m });
      if (from && to && from !== to) this.asked.fill({ azimuth_deg: azimuthOf(from, to) });
    }
    if (name === 'source_id') this.asked.fill(this.ofSource(typed.source_id));
  }

  title = () => (this.isCopy ? 'Copy a row' : 'A series of units');
  where = () => 'Set-up';

  /** @param {Record<string, any>} fields @returns {string} */
  nameOf = ({ row_id: id, name }) =>
    (this.isCopy ? name ?? '' : named(this.rows.find((row) => row.record_id === id)?.name, ''));

  /** @param {Record<string, any>} fields @returns {any[]} the units that would be saved */
  planned(fields) {
    if (this.isCopy) {
      const source = this.rows.find((row) => row.record_id === fields.source_id);
      const { name, aside_m, azimuth_deg } = fields;
      if (!source || !name || aside_m === undefined || azimuth_deg === undefined) return [];
      return copyOf(this.inRow(source.record_id), { from: named(source.name, ''), to: name, aside_m, azimuth_deg });
    }
    const { first_slot: firstSlot, count = 0, tags, before = '', first_number: from } = fields;
    const isTooMany = !(count >= 0 && count <= MOST_UNITS);
    const isUntold = firstSlot === undefined || (tags === 'own' && from === undefined);
    if (isUntold || isTooMany || !this.nameOf(fields)) return [];
    const list = runOf({ rowName: this.nameOf(fields), firstSlot, count, line: this.lineFor(fields),
      own: tags === 'own' ? { before, from } : null });
    const both = Object.fromEntries(['design_id', 'batch_id'].filter((name) => fields[name])
      .map((name) => [name, fields[name]]));
    return list.map((unit) => ({ ...unit, ...both }));
  }

  /**
   * What stands in the way where no unit would be saved.
   * @param {Record<string, any>} fields @returns {string}
   */
  missing(fields) {
    const { properties, required } = this.asked.form;
    const isOpen = (/** @type {string} */ name) => (fields[name] ?? '') === '';
    const asked = fields.tags === 'own' ? [...required, 'first_number'] : required;
    const open = asked.find(isOpen);
    if (open) return `Fill in \u201c${properties[open].title}\u201d to see the units.`;
    if (this.isCopy) return 'That row has no unit in a slot, so the row alone would be saved.';
    if (!this.nameOf(fields)) return 'This row has no name, and its tags begin with it. Name it under Rows first.';
    return `A series has ${properties.count.minimum} to ${properties.count.maximum}.`;
  }

  /** The row's own line at the spacing that is typed, else a typed one. @param {Record<string, any>} fields */
  lineFor({ row_id: rowId, first_slot: slot, spacing_m, start_east_m: east_m, start_north_m: north_m, azimuth_deg }) {
    if (!spacing_m) return null;
    const line = lineOf(this.inRow(rowId));
    if (line) return { ...line, spacing_m };
    if (east_m === undefined || north_m === undefined || azimuth_deg === undefined) return null;
    return { slot, east_m, north_m, azimuth_deg, spacing_m };
  }

  /** @param {any[]} planned @param {Record<string, any>} fields @returns {string[]} why they cannot be saved */
  problems(planned, fields) {
    const form = formOf(this.stage.phone, 'unit');
    const rowId = this.isCopy ? null : fields.row_id;
    const odd = planned.flatMap(({ tag, ...rest }) => check(form, tag ? { tag, ...rest } : rest))
      .filter((fault) => fault.hard).map((fault) => fault.sentence);
    const twice = this.isCopy && this.rows.some((row) => named(row.name, '') === fields.name)
      ? [`There is a row ${fields.name} already. Give the copy another name.`] : [];
    const half = this.isCopy || !Boolean(fields.spacing_m) === (fields.start_east_m === undefined)
      || lineOf(this.inRow(rowId)) ? [] : [fields.spacing_m
        ? 'Say where the first unit stands and in which direction the row runs, or clear “Apart”.'
        : 'Say how far apart the units stand.'];
    return [...new Set(odd), ...twice, ...half, ...clashes(planned, this.units, rowId, this.nameOf(fields),
      this.isCopy ? this.inRow(fields.source_id) : [])];
  }

  /** What is typed, and the units that it amounts to: made once a change, for the table and for the button. */
  look() {
    const { fields } = this.asked.read();
    const typed = JSON.stringify(fields);
    if (this.looked?.typed !== typed || this.looked.units !== this.units)
      this.looked = { typed, units: this.units, planned: this.planned(fields) };
    return { fields, planned: this.looked.planned };
  }

  body = () => {
    const { fields, planned } = this.look();
    const line = this.isCopy ? null : lineOf(this.inRow(fields.row_id));
    const own = ['before', 'first_number'];
    const typedLine = ['from_mark_id', 'to_mark_id', 'start_east_m', 'start_north_m', 'azimuth_deg'];
    const hidden = this.isCopy ? [] : [...(fields.tags === 'own' ? [] : own), ...(line ? typedLine : []),
      ...(this.marks.length ? [] : typedLine.slice(0, 2))];
    if (!this.rows.length) {
      return html`<p>There is no row yet. Add one first.</p><a class="or" href="#/set-up/row/new">Add a row</a>`;
    }
    return html`${this.asked.all(hidden)}${line ? html`<p class="small">The units go on along the row\u2019s line, ${
      line.azimuth_deg}\u00b0 from the grid\u2019s north.</p>` : nothing}${this.preview(planned, fields)}`;
  };

  /** @param {any[]} planned @param {Record<string, any>} fields */
  preview(planned, fields) {
    if (!planned.length) return section('These would be saved', 'no unit yet', html`<p>${this.missing(fields)}</p>`);
    const { feet } = this.stage.settings;
    const at = (/** @type {number|undefined} */ value) => (value === undefined ? '' : length(value, feet));
    const problems = this.problems(planned, fields);
    return section('These would be saved', counted(planned.length, 'unit'), html`
      ${problems.slice(0, PROBLEMS_SHOWN).map(fault)}${problems.length > PROBLEMS_SHOWN
        ? doubt(`and ${problems.length - PROBLEMS_SHOWN} more of this kind`) : nothing}
      <div class="wide-scroll" tabindex="0" role="region" aria-label="The units"><table
        class="plain stacks"><thead><tr><th>Tag</th>${COLUMNS.map((word) => html`<th
          class="num">${word}</th>`)}</tr></thead>
      <tbody>${planned.map((unit) => html`<tr><td><b>${unit.tag ?? 'none'}</b></td>${[
        unit.slot_number, at(unit.planned_east_m), at(unit.planned_north_m)].map((value, n) => html`<td
          class="num" data-head=${COLUMNS[n]}>${value}</td>`)}</tr>`)}
      </tbody></table></div>${planned.some((unit) => unit.planned_east_m === undefined)
        ? html`<p class="small">Without a planned place a unit can be checked, and its first tapes say where it
          stands.</p>` : nothing}`);
  }

  save = async () => {
    const fields = this.asked.ready();
    if (!fields || this.stage.isSecondTap()) return;
    const planned = this.planned(fields);
    const [problem] = planned.length || this.isCopy ? this.problems(planned, fields) : [this.missing(fields)];
    if (problem) { this.stage.refuse(problem); return; }
    const rowId = this.isCopy ? this.asked.recordId : fields.row_id;
    const { name, order_number, bed_level_m, level_datum } = fields;
    const row = { kind: 'row', recordId: rowId, fields: { name, order_number, bed_level_m, level_datum } };
    const undo = await savedWithUndo(this.stage, [...(this.isCopy ? [row] : []),
      ...planned.map((unit) => ({ kind: 'unit', recordId: null, fields: { ...unit, row_id: rowId } }))]);
    if (!undo) return;
    await this.asked.drop();
    const what = planned.length ? counted(planned.length, 'unit') : 'Row';
    this.stage.say(`${what} saved on this ${deviceWord()}.`, undo);
    this.stage.go(this.back);
  };

  foot = () => {
    if (!this.rows.length) return nothing;
    const count = this.look().planned.length;
    const units = counted(count, 'unit');
    const word = this.isCopy ? `Save the row${count ? ` and ${units}` : ''}` : `Save ${count ? units : 'the units'}`;
    return html`<button type="button" class="do" @click=${this.save}>${word}</button>`;
  };
}
