/**
 * All photos of a unit in order of time, the oldest first, and two of them beside each other. They are read after the
 * rest of the screen is drawn; what is not on this phone says so, and comes where there is a network.
 */
import { whenIdle } from '../idle.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { joinedUnits } from './line-ends.js';
import { deviceWord, section } from './marks.js';
import { Photos } from './photo-box.js';
import { placeOfRecord } from './record-place.js';
import { fullDay, msOf } from './words.js';

/** So many are shown at first, and with each tap so many earlier ones. */
const PART = 12;

/** @typedef {import('./photo-box.js').Shown} Shown */

/** @param {Shown} shown @returns {string} */
const idOf = ({ photo, asked }) => asked?.recordId ?? photo.record_id;

export class PhotoStrip {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.photos = new Photos(stage.phone, stage);
    this.isRead = false;
    this.most = PART;
    /** Which did not come, by their files. @type {Set<string>} */ this.absent = new Set();
    this.tries = 0;
    /** Which two stand beside each other, by their records; none chosen: the oldest and the newest. */
    this.left = '';
    this.right = '';
    /** @type {{kind: string, id: string}[]} */ this.of = [];
  }

  /**
   * Read them when nothing else is to be done.
   * @param {{kind: string, id: string}[]} of the unit, its checks and its positions
   */
  async readLater(of) {
    this.of = of;
    await whenIdle();
    if (this.of !== of) return;
    await this.photos.read(of, this.most);
    this.isRead = true;
    this.stage.redraw();
  }

  async earlier() {
    this.most += PART;
    await this.photos.read(this.of, this.most);
    this.stage.redraw();
  }

  getAbsent() {
    if (navigator.onLine === false) {
      this.stage.refuse('No network. Try again where there is one.');
      return;
    }
    this.absent.clear();
    this.tries += 1;
    this.stage.redraw();
  }

  draw() {
    const { list, total } = this.photos;
    if (!this.isRead) return section('Photos', nothing, html`<p class="row">Reading the photos\u2026</p>`);
    if (!list.length) return section('Photos', 0, html`<p class="row">No photo of this unit yet.</p>`);
    const inOrder = [...list].reverse();
    const asking = list.filter((shown) => this.photos.isAsked(shown));
    return section('Photos', total, html`
      ${asking.length ? html`<div class="photos">${asking.map((shown) => this.photos.figure(shown, ''))}</div>`
        : nothing}
      ${total > list.length ? html`<button type="button" class="or" @click=${() => this.earlier()}>Show
        earlier photos</button>` : nothing}
      <div class="strip" role="list" aria-label="Photos, oldest first">${inOrder.map((shown) =>
        this.inStrip(shown))}</div>
      ${this.absent.size ? html`<button type="button" class="or" @click=${() => this.getAbsent()}>Get the photos that
        are not here</button>${this.tries ? html`<p class="small">Those that still do not come may not have reached the
        server, or the network is too weak.</p>` : nothing}` : nothing}
      ${inOrder.length > 1 ? this.beside(inOrder) : nothing}`);
  }

  /** @param {Shown} shown */
  dayOf({ photo }) {
    const ms = msOf(photo.taken_at);
    return ms === null ? 'Day not noted' : fullDay(ms, this.stage.zone);
  }

  /** @param {Shown} shown @returns {string} */
  caption({ photo, kind }) {
    return `${kind === 'people_photo' ? 'People: ' : ''}${photo.shows || 'Photo without a caption'}`;
  }

  /** @param {Shown} shown */
  picture(shown) {
    const { url, photo: { sha256 } } = shown;
    const gone = !url || this.absent.has(sha256 ?? '');
    if (gone) return html`<span class="none small">${url?.startsWith('blob:') ? 'kept, but this browser cannot show it'
      : `not on this ${deviceWord()}`}</span>`;
    // Another address is another try; what stands on the phone has but one.
    const src = this.tries && !url.startsWith('blob:') ? `${url}?try=${this.tries}` : url;
    return html`<img src=${src} alt="${this.caption(shown)}, ${this.dayOf(shown)}" loading="lazy" @error=${() => {
      this.absent.add(sha256 ?? '');
      this.stage.redraw();
    }}>`;
  }

  /** @param {Shown} shown */
  inStrip(shown) {
    const place = shown.kind ? placeOfRecord(this.stage.phone, shown.kind, idOf(shown)) : null;
    const inside = html`${this.picture(shown)}<span class="small">${this.dayOf(shown)}</span>`;
    return html`<div role="listitem">${place ? html`<a href=${place} aria-label="${this.caption(shown)},
      ${this.dayOf(shown)}">${inside}</a>` : inside}</div>`;
  }

  /** @param {Shown[]} inOrder oldest first */
  beside(inOrder) {
    const find = (/** @type {string} */ id, /** @type {Shown} */ usual) =>
      inOrder.find((shown) => idOf(shown) === id) ?? usual;
    const side = (/** @type {'left'|'right'} */ name, /** @type {Shown} */ shown, /** @type {string} */ title) => html`
      <figure><label class="field"><span class="label-text">${title}</span><select class="line" @change=${
        (/** @type {any} */ { target }) => { this[name] = target.value; this.stage.redraw(); }}>
        ${inOrder.map((each) => html`<option value=${idOf(each)} ?selected=${each === shown}>${joinedUnits(
          this.dayOf(each))}</option>`)}</select></label>${this.picture(shown)}
        <figcaption class="small">${this.caption(shown)}</figcaption></figure>`;
    return html`<div class="beside-photos">${side('left', find(this.left, inOrder[0]), 'Then')}${side('right',
      find(this.right, inOrder[inOrder.length - 1]), 'Later')}</div>`;
  }

  close() { this.photos.close(); }
}
