/** One reading of a plot, by the form of its kind: everything that the kind holds, the last values beside the boxes. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { refsOf } from './form-refs.js';
import { formOf } from './kind-forms.js';
import { deviceWord } from './marks.js';
import { named } from './names.js';
import { kindsOf, newestFirst, readAt } from './plot-facts.js';
import { followed } from './plan.js';
import { RecordForm } from './record-form.js';
import { readShore } from './shore.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { instant, msOf, nearDay } from './words.js';

/** The screen knows these by itself. */
const GIVEN = ['plot_id', 'read_at', 'time_known'];

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new PlotReading(stage, stage.params[0], stage.params[1]);
  await screen.open();
  return screen;
}

class PlotReading {
  /** @param {import('./router.js').Stage} stage @param {string} plotId @param {string} kind of the reading */
  constructor(stage, plotId, kind) {
    this.stage = stage;
    this.plotId = plotId;
    this.kind = kind;
    this.narrow = true;
    this.back = `#/plots/${plotId}`;
    /** @type {import('./plot-facts.js').Plot|undefined} */ this.plot = undefined;
    /** @type {RecordForm|null} */ this.form = null;
    /** @type {import('./plot-facts.js').Reading|null} */ this.last = null;
    this.hidden = GIVEN;
  }

  async open() {
    const { stage, plotId, kind } = this;
    const { phone } = stage;
    await this.refresh();
    if (!this.plot || !kindsOf(this.plot).includes(kind)) return;
    const [refs, ownFields, readings] = await Promise.all([refsOf(phone, kind),
      phone.rows('own_field', { siteId: phone.me.site_id }), phone.rowsOf(kind, { kind: 'plot', id: plotId })]);
    this.last = newestFirst(readings)[0] ?? null;
    const asked = ownFields.filter((field) => field.reading_kind === kind && !field.retired)
      .map((field) => field.record_id);
    const own = 'own_values.own_field_id';
    refs[own] = (refs[own] ?? []).filter(({ value }) => asked.includes(value));
    const { properties } = formOf(phone, kind);
    this.hidden = [...GIVEN, ...(asked.length ? [] : ['own_values']),
      ...Object.keys(properties).filter((name) => properties[name]['x-crew'])];
    this.form = await new RecordForm(stage, kind, `${kind}:${plotId}`, { last: this.last, refs })
      .start(await this.begins());
  }

  /** What the plot itself says of its readings. @returns {Promise<Record<string, unknown>>} */
  async begins() {
    const { phone } = this.stage;
    if (this.kind !== 'level_run') return {};
    const mark = await phone.row('control_mark', this.plot?.mark_id ?? '');
    return mark ? { start_mark_id: mark.record_id, start_level_m: mark.level_m, level_datum: mark.level_datum } : {};
  }

  refresh = async () => {
    this.plot = await this.stage.phone.row('plot', this.plotId);
    this.shore = await readShore(this.stage.phone);
    const plan = this.shore.visit ? await followed(this.stage, this.shore, []) : null;
    this.isOnPlan = plan?.has(this.plotId) ?? false;
  };

  title = () => (this.plot ? named(this.plot.label) : 'No such plot');
  aside = () => this.stage.alarm.pill();
  where = () => {
    if (!this.form) return nothing;
    const { phone, zone } = this.stage;
    const last = this.last ? `last ${nearDay(msOf(readAt(this.last)) ?? 0, phone.now(), zone)}` : 'the first one';
    return `${formOf(phone, this.kind).title}, ${last}${this.form.fromDraft ? '. A form you left open.' : ''}`;
  };

  body = () => {
    if (!this.plot) return html`<p>This plot is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    return this.form ? this.form.all(this.hidden) : html`<p>A plot of this type is not read this way.</p>`;
  };

  foot = () => (this.form ? html`<button type="button" class="do" @click=${() => this.save()}>Save the reading</button>`
    : nothing);

  async save() {
    const { stage, kind, plotId, form } = this;
    if (!form || stage.isSecondTap()) return;
    const fields = form.ready({ plot_id: plotId, read_at: instant(stage.phone.now()) });
    if (!fields) return;
    const visit = this.shore?.visit ?? null;
    const undo = await savedWithUndo(stage, onVisit(stage.phone, visit, [{ kind, recordId: form.recordId, fields,
      visitId: visit?.record_id ?? null }]));
    if (!undo) return;
    await form.drop();
    stage.say(`Reading of ${this.title()} saved on this ${deviceWord()}.`, undo);
    stage.go(this.isOnPlan ? '#/units' : `#/plots/${plotId}`);
  }
}
