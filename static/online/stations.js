/** Where a site is, first of all on the form that sets it up: its place, then its time zone and its tide station. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { placeOf } from '../records/place.js';
import { rounded, shortest } from '../rounding.js';
import { deviceWord, doubt, fault } from '../views/marks.js';
import { refusedBy } from '../views/refused.js';
import { stationChart } from './station-chart.js';

const GNSS_WAIT_MS = 30_000;
const EXAMPLE = '44.63, \u2212124.04';
const NO_PLACE = `This is not a place. Write latitude, then longitude, such as ${EXAMPLE} or `
  + '44\u00b0 37.8\u2032 N 124\u00b0 2.4\u2032 W.';

/** @param {number} lat_deg @param {number} lon_deg @returns {string} 44.63° N, 124.04° W */
const placeWords = (lat_deg, lon_deg) => `${shortest(Math.abs(lat_deg), 6)}\u00b0 ${lat_deg < 0 ? 'S' : 'N'}, `
  + `${shortest(Math.abs(lon_deg), 6)}\u00b0 ${lon_deg < 0 ? 'W' : 'E'}`;

/** As fine as it says something: 7.3 km, 42 km, 1890 km. @param {number} distance_km @returns {string} */
export const distanceWords = (distance_km) => `${distance_km < 10 ? rounded(distance_km, 1) : distance_km < 100
  ? rounded(distance_km, 0) : 10 * Math.round(distance_km / 10)} km`;

/** @param {any} station */
const stationWords = (station) => `${distanceWords(station.distance_km)}, ${station.source}, ${station.kind === 'offset'
  ? 'by offsets: highs and lows published, the curve between estimated' : 'with its own constants'}`;

export class SitePlace {
  /** @param {import('../views/router.js').Stage} stage @param {import('../views/record-form.js').RecordForm} form */
  constructor(stage, form) {
    this.stage = stage;
    this.form = form;
    this.text = '';
    this.problem = '';
    this.said = '';
    /** @type {any[]} the nearest stations */ this.list = [];
    /** @type {string|null} of the place that was asked about */ this.zone = null;
    /** Counts the questions: an answer to an earlier one comes too late. */ this.turn = 0;
    /** @type {any} a station close to the place at the other sign of longitude */ this.mirrored = null;
  }

  /** @param {string} text */
  take(text) {
    this.text = text;
    const place = placeOf(text);
    this.problem = place || !text.trim() ? '' : NO_PLACE;
    if (place) this.put(place);
    this.stage.redraw();
  }

  /** @param {{lat_deg: number, lon_deg: number}} place */
  put(place) {
    this.form.fill(place);
    this.ask();
  }

  /** What stands in the box: as it was typed, unless the form has another place by now. */
  shown() {
    const { lat_deg, lon_deg } = this.form.read().fields;
    const typed = placeOf(this.text);
    const isTyped = this.problem || typeof lat_deg !== 'number' || typeof lon_deg !== 'number'
      || (typed?.lat_deg === lat_deg && typed.lon_deg === lon_deg);
    return isTyped ? this.text : placeWords(lat_deg, lon_deg);
  }

  here() {
    const { stage } = this;
    if (!navigator.geolocation) {
      this.problem = `This ${deviceWord()} does not share its position with the app.`;
      stage.redraw();
      return;
    }
    this.said = 'Asking for the position.';
    stage.redraw();
    navigator.geolocation.getCurrentPosition(({ coords }) => {
      this.problem = '';
      this.put({ lat_deg: Number(rounded(coords.latitude, 6)), lon_deg: Number(rounded(coords.longitude, 6)) });
    }, (error) => {
      this.said = '';
      const why = error.message || 'not allowed';
      this.problem = `This ${deviceWord()} gave no position: ${why}. Type the place instead.`;
      stage.redraw();
    }, { enableHighAccuracy: true, timeout: GNSS_WAIT_MS, maximumAge: 0 });
  }

  /** Ask the server what lies at the place that is filled in. */
  async ask() {
    const { lat_deg, lon_deg } = this.form.read().fields;
    const turn = ++this.turn;
    Object.assign(this, { list: [], zone: null, mirrored: null });
    if (typeof lat_deg !== 'number' || typeof lon_deg !== 'number') {
      this.said = 'Fill in latitude and longitude first.';
      this.stage.redraw();
      return;
    }
    this.said = 'Looking for tide stations.';
    this.stage.redraw();
    const refusal = await refusedBy(async () => {
      const path = `/api/stations?near=${lat_deg},${lon_deg}`;
      const { stations, zone, mirrored } = await this.stage.phone.api('GET', path);
      if (turn !== this.turn) return;
      Object.assign(this, { list: stations, zone: zone ?? null, mirrored: mirrored ?? null });
      if (this.zone && !this.mirrored && !this.form.typed.zone) this.form.fill({ zone: this.zone });
      this.said = `${placeWords(lat_deg, lon_deg)}. ${this.zone ? `Time zone there: ${this.zone}.`
        : 'No time zone is known there: type it below.'}`;
    });
    if (refusal && turn === this.turn) this.said = refusal;
    this.stage.redraw();
  }

  /** @param {any} station */
  choose(station) {
    this.form.fill({ tide_station: station.id, level_datum: station.chart_datum });
    this.stage.say(`${station.name}: levels are above ${station.chart_datum}.`);
  }

  signAsked() {
    if (!this.mirrored) return nothing;
    const { lat_deg, lon_deg } = this.form.read().fields;
    return html`${doubt(`The nearest tide station is ${distanceWords(this.list[0].distance_km)} away. At `
      + `${placeWords(lat_deg, -lon_deg)} there is ${this.mirrored.name}, ${distanceWords(this.mirrored.distance_km)} `
      + 'away. Is the sign of the longitude right?')}
      <div class="two"><button type="button" class="or" @click=${() => { this.mirrored = null;
        this.stage.redraw(); }}>It is right</button><button type="button" class="or"
        @click=${() => this.put({ lat_deg, lon_deg: -lon_deg })}>Flip the sign</button></div>`;
  }

  zoneAsked() {
    if (!this.zone || this.mirrored || this.form.typed.zone === this.zone) return nothing;
    return html`${doubt(`The form says ${this.form.typed.zone ?? 'no time zone'}; the place is in ${this.zone}.`)}
      <button type="button" class="or" @click=${() => this.form.fill({ zone: this.zone })}>Take ${this.zone}</button>`;
  }

  chart() {
    const { lat_deg, lon_deg } = this.form.read().fields;
    return typeof lat_deg === 'number' && typeof lon_deg === 'number' ? stationChart({ lat_deg, lon_deg }, this.list)
      : nothing;
  }

  draw() {
    return html`<section class="stack"><div class="bar"><h2>Where the site is</h2></div>
      <div class="field ${this.problem ? 'wrong' : ''}"><label class="label-text" for="place">Place<small
        id="place-hint">typed or pasted, such as ${EXAMPLE}</small></label>
        <input class="line" id="place" autocomplete="off" aria-describedby="place-hint place-said"
          .value=${this.shown()} @change=${(/** @type {any} */ event) => this.take(event.target.value)}>
        <div id="place-said">${this.problem ? fault(this.problem) : nothing}</div></div>
      <button type="button" class="or" @click=${() => this.here()}>Here, from this device</button>
      <button type="button" class="or" @click=${() => this.ask()}>Find tide stations near this place</button>
      <p role="status">${this.said}</p>${this.signAsked()}${this.zoneAsked()}
      ${this.chart()}<div class="numbered">${this.list.map((station, n) => html`<button type="button" class="row"
        @click=${() => this.choose(station)}><span class="tag">${n + 1}</span><span
          class="said">${station.name}<small>${stationWords(station)}</small></span><span
        class="pill plain">${station.id === this.form.typed.tide_station ? 'in use' : 'use'}</span></button>`)}</div>
      <p class="small">The nearest is not always the best: prefer one on the same water. Tides are predictions, not for
        navigation.</p></section>`;
  }
}
