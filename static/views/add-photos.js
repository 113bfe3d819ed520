/**
 * Many photos at once, of a camera's card say: each with the visit and the unit that its name or its time proposes,
 * corrected where it is wrong, then added in one go, which can be taken back as one.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { instant } from '../instants.js';
import { ChosenPhotos } from './chosen-photos.js';
import { inParts } from './in-parts.js';
import { labelOf } from './kind-forms.js';
import { joinedUnits } from './line-ends.js';
import { deviceWord, doubt, section, signed } from './marks.js';
import { named, siteName } from './names.js';
import { peopleQuestion } from './photo-box.js';
import { readSpans, readUnitPlaces } from './photo-known.js';
import { MARGIN_MS, matchOf, targetOf } from './photo-match.js';
import { gpsOf, NOT_ADDED, shiftWords, whenOf, whyOf } from './photo-words.js';
import { clock, counted, fullDay, msOf, typedNumber } from './words.js';

/** A clock that is further off was never set: 20 years. */
const MOST_MIN = 10_519_200;
const MINUTE_MS = 60_000;

/**
 * @typedef {import('./chosen-photos.js').Chosen} Chosen
 * @typedef {{photo: Chosen, match: import('./photo-match.js').Match, unitId: string|null,
 *   target: ReturnType<typeof targetOf>, isAdded: boolean}} Proposed
 * @typedef {{kind: string, recordId: string, visitId: string|null}} Added
 */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new AddPhotos(stage, stage.params[0] ?? null);
  await screen.refresh();
  return screen;
}

class AddPhotos {
  /** @param {import('./router.js').Stage} stage @param {string|null} visitId the past visit it is opened from */
  constructor(stage, visitId) {
    this.stage = stage;
    this.back = visitId ? `#/visits/${visitId}` : '#/phone';
    /** The visit that all are of; null: each by its time. */ this.visitId = visitId;
    this.chosen = new ChosenPhotos(stage.phone, stage.redraw);
    /** How far the camera's clock is ahead, as typed. */ this.ahead = '';
    /** @type {import('./photo-match.js').Span[]} */ this.spans = [];
    /** @type {import('./visits.js').Visit[]} */ this.visits = [];
    this.known = /** @type {import('./photo-known.js').Units} */ ({ units: [], distanceTo: () => null });
    /** @type {Map<string, string>} */ this.tags = new Map();
    /** @type {any} */ this.site = null;
    /** What was added last. @type {Added[]} */ this.added = [];
    /** @type {{done: number, of: number}|null} */ this.adding = null;
    this.part = inParts(stage.redraw);
  }

  refresh = async () => {
    const { phone } = this.stage;
    const [{ spans, visits }, known, site] = await Promise.all([readSpans(phone), readUnitPlaces(phone),
      phone.row('site', phone.me.site_id)]);
    if (!spans.some(({ id }) => id === this.visitId)) this.visitId = null;
    Object.assign(this, { spans, visits, known, site, tags: new Map(known.units.map(({ id, tag }) => [id, tag])) });
  };

  close = () => this.chosen.close();
  title = () => 'Add photos';
  where = () => siteName(this.site);

  /** @param {string} unitId */
  tagOf = (unitId) => this.tags.get(unitId) ?? 'a unit that is not here';

  /** What is wrong with the minutes as they are typed; null where they are right. @returns {string|null} */
  get aheadFault() {
    const minutes = this.ahead.trim() ? typedNumber(this.ahead) : 0;
    if (minutes !== null && Number.isInteger(minutes) && Math.abs(minutes) <= MOST_MIN) return null;
    return `\u201c${this.ahead}\u201d is no whole number of minutes up to ${MOST_MIN}. Times are not moved yet.`;
  }

  get aheadMin() { return this.aheadFault || !this.ahead.trim() ? 0 : typedNumber(this.ahead) ?? 0; }

  /** @returns {Proposed[]} */
  proposed() {
    const known = { zone: this.stage.zone, nowMs: this.stage.phone.now(), aheadMs: this.aheadMin * MINUTE_MS,
      visits: this.spans, visitId: this.visitId, units: this.known.units };
    return this.chosen.list.map((photo) => {
      const match = matchOf(photo.shot, known);
      const unitId = photo.unitId === undefined ? match.unitId : photo.unitId;
      const target = targetOf(match, unitId, this.spans);
      const isOutside = !unitId && Math.abs(match.awayMs) > MARGIN_MS;
      return { photo, match, unitId, target, isAdded: Boolean(target) && !(photo.isLeftOut ?? isOutside) };
    });
  }

  body() {
    const proposed = this.proposed();
    return html`<div class="stack">${this.whatWasAdded()}
      ${this.chosen.list.length || this.chosen.progress ? nothing : html`<p>Each photo is matched to the unit that its
        name says or that was checked at its time. You see that first and correct it. The files stay as they are; what
        is added is smaller and says nothing of the camera or its GPS.</p>`}
      ${this.visitBox()}${this.fileButtons()}${this.reading()}
      ${proposed.length ? html`${this.clockBox(proposed)}${this.peopleOfAll(proposed)}` : nothing}</div>
      ${proposed.length ? section('Photos', `${proposed.filter(({ isAdded }) => isAdded).length} of ${
        proposed.length} to add`, html`<div class="chosen-list">${this.part(proposed).map((of) =>
        this.row(of))}</div>`) : nothing}
      <datalist id="tags">${proposed.length ? this.known.units.map(({ tag }) => html`<option value=${tag}></option>`)
        : nothing}</datalist>${this.notAdded()}`;
  }

  visitBox() {
    const { phone, zone } = this.stage;
    const pick = (/** @type {any} */ event) => { this.visitId = event.target.value || null; this.stage.redraw(); };
    const words = (/** @type {import('./visits.js').Visit} */ { started_at: at, purpose }) => joinedUnits(`${
      fullDay(msOf(at) ?? 0, zone)}, ${clock(msOf(at) ?? 0, zone)}: ${
      labelOf(phone, 'visit', 'purpose', purpose, 'Visit')}`);
    return html`<div class="field"><label class="label-text" for="of-visit">Of which visit?</label><select class="line"
      id="of-visit" @change=${pick}><option value="" .selected=${!this.visitId}>Each photo\u2019s time says it</option>
      ${this.visits.map((visit) => html`<option value=${visit.record_id}
        .selected=${visit.record_id === this.visitId}>${words(visit)}</option>`)}</select></div>`;
  }

  fileButtons() {
    if (this.chosen.progress || this.adding) return nothing;
    const button = (/** @type {string} */ word, /** @type {boolean} */ isFolder) => html`<label
      class="or file">${word}<input type="file" multiple accept=${isFolder ? nothing : 'image/*'}
      ?webkitdirectory=${isFolder} aria-label=${word} @change=${(/** @type {any} */ event) => {
        const files = [...event.target.files];
        event.target.value = '';
        if (files.length) this.read(files);
      }}></label>`;
    return html`<div class="two">${button('Choose photos', false)}${
      'webkitdirectory' in document.createElement('input') ? button('Choose a folder', true) : nothing}</div>`;
  }

  /** @param {File[]} files */
  async read(files) {
    this.added = [];
    this.chosen.others = [];
    await this.stage.saving(() => this.chosen.read(files));
  }

  reading() {
    const { progress } = this.chosen;
    const { adding } = this;
    return html`<p role="status">${progress ? `Reading: ${progress.read} of ${counted(progress.of, 'file')}`
      : adding ? `Adding: ${adding.done} of ${counted(adding.of, 'photo')}` : nothing}</p>`;
  }

  /** @param {Proposed[]} proposed */
  clockBox(proposed) {
    const { zone } = this.stage;
    const title = 'The camera\u2019s clock is ahead by';
    const take = (/** @type {string} */ text) => { this.ahead = text; this.stage.redraw(); };
    const fault = this.aheadFault;
    const onSite = proposed.filter(({ match }) => match.isOnSiteClock).length;
    const inVisit = proposed.filter(({ match }) => match.visitId && !match.fault
      && Math.abs(match.awayMs) <= MARGIN_MS).length;
    return html`<div class="field ${fault ? 'wrong' : ''}"><label class="label-text" for="f-ahead">${title}<small>minus
      where it is behind</small></label>${signed({ title, value: this.ahead, take, box: html`<span class="box"><input
      id="f-ahead" inputmode="numeric" autocomplete="off" aria-invalid=${fault ? 'true' : nothing}
      aria-describedby="shifted" .value=${this.ahead}
      @input=${(/** @type {any} */ event) => take(event.target.value)}><i>min</i></span>` })}<div id="shifted">${fault
        ? doubt(fault) : html`<p class="small">${shiftWords(this.aheadMin, { inVisit, of: proposed.length,
          nearCheck: proposed.filter(({ match }) => match.by === 'check').length })}</p>`}${onSite
        ? html`<p class="small">${counted(onSite, 'photo says', 'photos say')} no time zone: read on the site\u2019s
          clock, ${zone}.</p>` : nothing}</div></div>`;
  }

  /** @param {Proposed[]} proposed */
  peopleOfAll(proposed) {
    const open = proposed.flatMap(({ photo, isAdded }) => (isAdded && photo.people === null ? [photo] : []));
    if (!open.length) return nothing;
    return html`<div class="said-back"><b>People recognizable?</b><small>${counted(open.length, 'photo has',
      'photos have')} no answer. Without one, a photo counts as of people: readers do not get it.</small><button
      type="button" class="or" @click=${() => {
        for (const photo of open) photo.people = false;
        this.stage.redraw();
      }}>No people in these ${open.length}</button></div>`;
  }

  /** @param {Proposed} of */
  row({ photo, match, unitId, target, isAdded }) {
    const { zone, settings, redraw } = this.stage;
    const distance = unitId && photo.shot.place ? this.known.distanceTo(unitId, photo.shot.place) : null;
    const tag = unitId ? this.tagOf(unitId) : '';
    const lines = [whyOf(match, this.tagOf, zone), gpsOf(distance, tag, settings.feet), photo.made.width === null
      ? 'This browser cannot show it. It is added as it is.' : ''].filter(Boolean);
    const missing = unitId ? 'It is not added: nothing says when it was taken. Choose its visit above.'
      : 'It is not added: type its unit, or choose a visit above.';
    return html`<div class="chosen ${isAdded ? '' : 'out'}" role="group" aria-label=${photo.name}>${photo.thumbUrl
      ? html`<img src=${photo.thumbUrl} alt=${named(photo.name)}>`
      : html`<span class="none small">${photo.name}</span>`}
      <span class="said">${named(photo.name)}<small>${whenOf(match, target, zone)}</small>${lines.map((line) =>
        html`<small>${line}</small>`)}${target ? nothing : doubt(missing)}</span>
      <div class="two">${this.unitBox(photo, tag)}<button type="button" class="or" aria-pressed=${String(!isAdded)}
        aria-label="Leave out ${photo.name}" ?disabled=${!target} @click=${() => {
          photo.isLeftOut = isAdded;
          redraw();
        }}>${isAdded ? 'Leave out' : 'Left out'}</button></div>${photo.typed ? html`<div id="unit-${photo.n}-said">${
        doubt(`No unit here has the tag ${photo.typed}. Choose one of the list, or leave the box empty.`)}</div>`
        : nothing}
      ${isAdded ? peopleQuestion(`${photo.n}`, photo.people ?? undefined, (people) => {
        photo.people = people;
        redraw();
      }) : nothing}</div>`;
  }

  /** @param {Chosen} photo @param {string} tag of its unit, '' where it is of none */
  unitBox(photo, tag) {
    const id = `unit-${photo.n}`;
    const take = (/** @type {any} */ event) => {
      const text = event.target.value.trim();
      const unit = this.known.units.find((each) => each.tag.toUpperCase() === text.toUpperCase());
      photo.unitId = text && !unit ? photo.unitId : unit?.id ?? null;
      photo.typed = text && !unit ? text : null;
      this.stage.redraw();
    };
    return html`<div class="field ${photo.typed ? 'wrong' : ''}"><label class="label-text" for=${id}>Unit<small>empty:
      of the visit</small></label><input class="line" id=${id} list="tags" autocomplete="off"
      autocapitalize="characters"
      aria-invalid=${photo.typed ? 'true' : nothing} aria-describedby=${photo.typed ? `${id}-said` : nothing}
      .value=${photo.typed ?? tag} @change=${take}></div>`;
  }

  notAdded() {
    const { others } = this.chosen;
    if (!others.length || this.chosen.progress) return nothing;
    return section('Not taken in', others.length, others.map(({ name, why }) => html`<div class="row"><span
      class="said">${named(name)}<small>${NOT_ADDED[why]}</small></span></div>`));
  }

  whatWasAdded() {
    const { added } = this;
    if (!added.length || this.adding) return nothing;
    return html`<div class="said-back"><b>${counted(added.length, 'photo')} kept on this ${deviceWord()}.</b><button
      type="button" class="or" @click=${() => this.takeBack()}>Take ${added.length === 1 ? 'it' : `all ${
        added.length}`} back</button></div>`;
  }

  foot = () => {
    const count = this.proposed().filter(({ isAdded }) => isAdded).length;
    if (!count || this.chosen.progress || this.adding) return nothing;
    return html`<button type="button" class="do" @click=${() => this.add()}>Add ${counted(count, 'photo')}</button>`;
  };

  /** One after the other: what was kept before there was no space left stays, and is said. */
  async add() {
    const { stage, chosen } = this;
    if (stage.isSecondTap()) return;
    const wrong = chosen.list.find(({ typed }) => typed);
    if (wrong || this.aheadFault) {
      stage.say(this.aheadFault ?? `${wrong?.name}: no unit here has the tag ${wrong?.typed}.`);
      return;
    }
    const list = this.proposed().filter(({ isAdded }) => isAdded);
    this.adding = { done: 0, of: list.length };
    this.added = [];
    stage.redraw();
    await stage.saving(async () => { for (const of of list) await this.addOne(of); });
    this.adding = null;
    const left = list.length - this.added.length;
    stage.say(left ? `${this.added.length} of ${counted(list.length, 'photo')} kept on this ${
      deviceWord()}; ${left} not.` : `${counted(list.length, 'photo')} kept on this ${deviceWord()}.`,
    this.added.length ? () => this.takeBack() : undefined);
    stage.redraw();
  }

  /** @param {Proposed} of */
  async addOne({ photo, target }) {
    if (!target) return;
    const { of_kind, of_id, visitId, ms } = target;
    const { recordId } = await this.stage.phone.addPhoto(photo.made, { of_kind, of_id, visitId, taken_at: instant(ms),
      people: photo.people });
    this.added.push({ kind: photo.people === false ? 'photo' : 'people_photo', recordId, visitId });
    this.chosen.drop(photo);
    if (this.adding) this.adding.done += 1;
    this.stage.redraw();
  }

  async takeBack() {
    const { stage, added } = this;
    if (stage.isSecondTap() || !added.length) return;
    const isBack = await stage.saving(() => stage.phone.writeMany(added.map(({ kind, recordId, visitId }) =>
      ({ kind, recordId, fields: { _deleted: true }, visitId }))));
    if (!isBack) return;
    this.added = [];
    stage.say('Undone.');
    stage.redraw();
  }
}
