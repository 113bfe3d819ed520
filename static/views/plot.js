/** One plot: its last value, its readings newest first, photos, what happened to it, and the way to read it. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { inParts } from './in-parts.js';
import { formOf, labelOf } from './kind-forms.js';
import { deviceWord, rowLink, section } from './marks.js';
import { named } from './names.js';
import { keepPhoto, photoButtons, Photos } from './photo-box.js';
import { followed } from './plan.js';
import { isStillRead, kindsOf, lastWords, newestFirst, readingWords, readPlots, setName, setOf,
  typeWords } from './plot-facts.js';
import { OF_PLOTS } from './record-place.js';
import { RecordForm } from './record-form.js';
import { recordRow, withRemovals } from './removed.js';
import { hasUse } from './roles.js';
import { readShore } from './shore.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { counted, instant, momentOf, turnMs } from './words.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new PlotScreen(stage, stage.params[0]);
  await screen.refresh();
  if (screen.known && screen.mayWrite && await stage.phone.draft(screen.eventDraft)) await screen.openEvent();
  return screen;
}

class PlotScreen {
  /** @param {import('./router.js').Stage} stage @param {string} plotId */
  constructor(stage, plotId) {
    this.stage = stage;
    this.plotId = plotId;
    this.back = '#/plots';
    this.photos = new Photos(stage.phone, stage);
    this.part = inParts(stage.redraw);
    /** @type {import('./plot-facts.js').Known|undefined} */ this.known = undefined;
    /** @type {import('./plot-facts.js').Known[]} those that are read with it, itself among them */ this.together = [];
    /** @type {{kind: string, row: any}[]} newest first, removed ones too */ this.readings = [];
    /** @type {any[]} newest first, removed ones too */ this.events = [];
    /** @type {RecordForm|null} */ this.event = null;
    this.eventDraft = `plot_event:${plotId}`;
  }

  refresh = async () => {
    const { stage, plotId } = this;
    const { phone } = stage;
    const of = { kind: 'plot', id: plotId };
    const [all, events, ...lists] = await Promise.all([readPlots(phone), phone.rowsOfAndRemoved('plot_event', of),
      ...OF_PLOTS.map(async (kind) => (await withRemovals(stage, kind, await phone.rowsOfAndRemoved(kind, of)))
        .map((row) => ({ kind, row })))]);
    this.known = all.find(({ plot }) => plot.record_id === plotId);
    this.together = this.known ? setOf(all, this.known.plot).filter(({ lastEvent }) => isStillRead(lastEvent)) : [];
    const turns = new Map(lists.flat().map((reading) => [reading.row, reading]));
    this.readings = newestFirst([...turns.keys()]).flatMap((row) => turns.get(row) ?? []);
    this.events = await withRemovals(stage, 'plot_event', events.sort((one, other) =>
      turnMs(other, other.event_at) - turnMs(one, one.event_at)));
    await this.photos.read([of]);
    this.shore = await readShore(phone);
    this.plan = this.shore.visit ? await followed(stage, this.shore, []) : null;
  };

  get mayWrite() { return hasUse(this.stage.phone.me.role, 'plot-reading'); }
  close = () => this.photos.close();
  title = () => (this.known ? named(this.known.plot.label) : 'No such plot');
  aside = () => this.stage.alarm.pill();
  where = () => (this.known ? `${typeWords(this.stage.phone, this.known.plot)}, ${lastWords(this.known,
    this.stage.phone.now(), this.stage.zone)}` : nothing);

  body = () => {
    if (!this.known) return html`<p>This plot is not on this ${deviceWord()}. It may come with the next sync.</p>`;
    return html`<div class="cols even"><div class="stack">${this.facts(this.known)}${this.waysToRead()}${this.leftOff()}
      ${this.photoPart()}</div><div class="stack">${this.readingList()}${this.eventList()}</div></div>`;
  };

  /** @param {import('./plot-facts.js').Known} known */
  facts({ plot, lastEvent, newest }) {
    const { phone } = this.stage;
    const every = plot.read_every_days;
    const facts = [
      ['Last value', newest ? readingWords(phone, newest.kind, newest.row) : 'never read'],
      ['Days between readings', every ? String(every) : 'not set'],
      ['Reef side or control', plot.treatment ? labelOf(phone, 'plot', 'treatment', plot.treatment) : ''],
      ['Read together with', setName(plot) && `${setName(plot)}, ${counted(this.together.length, 'plot')}`],
      ['What is in the frame', named(plot.in_frame, '')],
      ['Direction', typeof plot.azimuth_deg === 'number' ? `${plot.azimuth_deg}\u00b0` : ''],
      ['Camera above the ground', typeof plot.camera_height_m === 'number' ? `${plot.camera_height_m} m` : ''],
      ['Now', isStillRead(lastEvent) ? '' : labelOf(phone, 'plot_event', 'event', lastEvent)],
    ];
    return html`<dl class="pairs">${facts.filter(([, words]) => words).map(([title, words]) => html`<dt>${title}</dt>
      <dd class="free">${words}</dd>`)}</dl>`;
  }

  /** Where it is read, by the kinds that its type has. @returns {{href: string, words: string}[]} */
  ways() {
    const { known, mayWrite } = this;
    if (!known || !mayWrite || !isStillRead(known.lastEvent)) return [];
    if (known.plot.plot_type === 'stake') return [{ href: `#/plots/${this.plotId}/stakes`,
      words: this.together.length > 1 ? `Read ${setName(known.plot)}, ${counted(this.together.length, 'stake')}`
        : 'Read this stake' }];
    return kindsOf(known.plot).map((kind) => ({ href: `#/plots/${this.plotId}/${kind}`,
      words: `New ${formOf(this.stage.phone, kind).title.toLowerCase()}` }));
  }

  /** Beside the one at the foot. */
  waysToRead() {
    return this.ways().slice(1).map(({ href, words }) => rowLink({ href, said: words }));
  }

  foot = () => {
    const [way] = this.ways();
    return way ? html`<a class="do" href=${way.href}>${way.words}</a>` : nothing;
  };

  /** What cannot be read today would make the crew late for ever. */
  leftOff() {
    const { plan, plotId, stage } = this;
    if (!plan?.has(plotId) || !this.mayWrite) return nothing;
    const isOff = plan.isLeftOff(plotId);
    const turn = () => {
      if (stage.isSecondTap()) return;
      plan.leaveOff(plotId, !isOff);
      stage.redraw();
    };
    return html`<button type="button" class="or" @click=${turn}>${isOff ? 'Back on this visit\u2019s list'
      : 'Skip it on this visit'}</button>`;
  }

  photoPart() {
    const take = (/** @type {File} */ file) => keepPhoto(this.stage, this.photos, file, { of_kind: 'plot',
      of_id: this.plotId, shows: this.title(), visitId: this.shore?.visit?.record_id ?? null });
    const { phone, zone } = this.stage;
    const caption = (/** @type {any} */ photo) => momentOf({}, photo.taken_at, phone.now(), zone);
    return html`${this.mayWrite ? photoButtons(take) : nothing}${this.photos.draw(caption)}`;
  }

  readingList() {
    const { phone, zone } = this.stage;
    const rows = this.part(this.readings).map(({ kind, row }) => recordRow(this.stage, kind, row,
      readingWords(phone, kind, row), `${momentOf(row, row.read_at, phone.now(), zone)}${row.note ? `. ${row.note}`
        : ''}`));
    return section('Readings', this.readings.filter(({ row }) => !row.removed).length,
      rows.length ? rows : html`<p class="row">No reading on record.</p>`);
  }

  eventList() {
    const { phone, zone } = this.stage;
    const rows = this.events.map((event) => recordRow(this.stage, 'plot_event', event,
      labelOf(phone, 'plot_event', 'event', event.event, 'Not noted'),
      `${momentOf(event, event.event_at, phone.now(), zone)}${event.note ? `. ${event.note}` : ''}`));
    return section('What happened', this.events.filter((event) => !event.removed).length,
      html`${rows.length ? rows : html`<p class="row">Nothing on record.</p>`}${this.eventForm()}`);
  }

  async openEvent() {
    this.event = await new RecordForm(this.stage, 'plot_event', this.eventDraft).start({});
    this.stage.redraw();
  }

  eventForm() {
    const { event, stage } = this;
    if (!this.mayWrite) return nothing;
    if (!event) return html`<button type="button" class="or" @click=${() => this.openEvent()}>Record what happened to
      it</button>`;
    const cancel = async () => {
      await event.drop();
      this.event = null;
      stage.redraw();
    };
    return html`<div class="stack">${event.input('event')}${event.input('note')}<div class="two"><button type="button"
      class="or" @click=${cancel}>Cancel</button><button type="button" class="or"
      @click=${() => this.saveEvent()}>Save event</button></div></div>`;
  }

  async saveEvent() {
    const { stage, event } = this;
    if (stage.isSecondTap()) return;
    const fields = event?.ready({ plot_id: this.plotId, event_at: instant(stage.phone.now()) });
    if (!event || !fields) return;
    const visit = this.shore?.visit ?? null;
    const undo = await savedWithUndo(stage, onVisit(stage.phone, visit, [{ kind: 'plot_event',
      recordId: event.recordId, fields, visitId: visit?.record_id ?? null }]));
    if (!undo) return;
    await event.drop();
    this.event = null;
    stage.say(`Event saved on this ${deviceWord()}.`, undo);
  }
}
