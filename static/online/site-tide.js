/** The tide at this site, for leads: bring a logger's record, see what is wrong with it, choose tide and allowance. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { beside, further, madeOf } from './allowance-words.js';
import { constantsOfWay } from './tide-constants.js';
import { allowanceOf } from '../tides/windows.js';
import { doubt, fault, mark, section, signed } from '../views/marks.js';
import { siteName } from '../views/names.js';
import { allowanceKept, basisKept, basisOf } from '../views/allowance.js';
import { rulesOf } from '../tides/constants.js';
import { refusedBy } from '../views/refused.js';
import { savedWithUndo } from '../views/undo.js';
import { counted, fromBox, fullDay, length, typedNumber } from '../views/words.js';

const LOOK_MS = 1000;
const PRESSURES = ['kPa', 'hPa', 'mbar', 'bar', 'dbar', 'psi', 'inHg'];
const UNITS = ['m', 'cm', 'mm', 'ft', 'in', ...PRESSURES];
const FILES = [
  { name: 'logger', label: 'The logger\u2019s file', about: 'CSV: a time and a level or a pressure in each line' },
  { name: 'barometer', label: 'A barometer\u2019s file', about: 'air pressure over the same days', withPressure: true },
  { name: 'control', label: 'The reference port\u2019s own gauge',
    about: 'optional: what it observed on these days, above its chart datum; makes the datums far better' },
];
const NUMBERS = [
  { name: 'salinity_psu', label: 'Salinity of the water', unit: 'psu', withPressure: true, isAboveZero: true },
  { name: 'temperature_c', label: 'Its temperature', unit: '\u00b0C', withPressure: true },
  { name: 'zero_above_chart_datum_m', label: 'The record\u2019s zero above the chart datum, if it was leveled',
    unit: 'm' },
];
const PERCENTILES = /** @type {const} */ (['p50', 'p90', 'p95', 'p99']);
const DATUMS = ['MHHW', 'MHW', 'MTL', 'MSL', 'MLW', 'MLLW'];
const WAYS = { station: 'The reference port as it is', offsets: 'Offsets against the reference port',
  constants: 'The site\u2019s own constants' };
const OLDER =
  'No allowance: this was worked out by an older rule, which counted this record\u2019s own days only. Upload the '
    + 'file again.';
/** Under this many days a record has not seen every season. */
const YEAR_DAYS = 330;

/** @typedef {import('../views/record-form.js').Typed} Typed */

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  const screen = new SiteTide(stage);
  if (stage.phone.me.role !== 'lead') return { title: () => 'The tide at this site',
    body: () => html`<p>This is a lead's work. Ask your lead.</p>` };
  await screen.list();
  return screen;
}

class SiteTide {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    /** @type {import('../views/shore-known.js').SiteRules|null} */ this.site = null;
    /** @type {import('./water-record.js').WaterRecord[]} */ this.records = [];
    /** @type {import('./water-record.js').Readings|null} */ this.readings = null;
    /** @type {Record<string, {name: string, text: string, columns: Record<string, any>}>} */ this.files = {};
    /** @type {Record<string, string>} */ this.numbers = {};
    /** @type {import('./water-record.js').Look|null} */ this.seen = null;
    this.said = '';
    this.typed = { allowance: '', reason: '' };
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.timer = undefined;
  }

  title = () => 'The tide at this site';
  where = () => siteName(this.site);
  back = '#/set-up';

  port = () => this.stage.phone.tides(this.stage.phone.me.site_id)?.station.name ?? this.site?.tide_station;
  path = (rest = '') => `/api/sites/${this.stage.phone.me.site_id}/water-records${rest}`;

  /** @template A @param {Promise<A>} work @returns {Promise<A|null>} null where the server said why not */
  async told(work) {
    /** @type {A|null} */ let answer = null;
    try {
      this.said = await refusedBy(async () => { answer = await work; });
      return answer;
    } finally {
      this.stage.redraw();
    }
  }

  async list() {
    const { phone } = this.stage;
    await this.refresh();
    const answer = await this.told(phone.api('GET', this.path()));
    if (answer) Object.assign(this, { records: answer.records, readings: answer.readings });
    clearTimeout(this.timer);
    if (this.records.some(({ state }) => state === 'waiting' || state === 'working'))
      this.timer = setTimeout(() => { this.list(); }, LOOK_MS);
  }

  refresh = async () => {
    const { phone } = this.stage;
    const record = await phone.row('site', phone.me.site_id);
    this.site = record ? rulesOf(record, phone.pack()?.sites?.[record.record_id]) : null;
  };
  close = () => clearTimeout(this.timer);

  request() {
    const { logger, ...further } = this.files;
    const numbers = Object.fromEntries(Object.entries(this.numbers).filter(([, text]) => text.trim())
      .map(([name, text]) => [name, Number(text.replace(',', '.'))]));
    return { name: logger?.name, text: logger?.text, columns: logger?.columns, ...numbers,
      ...Object.fromEntries(Object.entries(further).map(([name, { text, columns }]) => [name, { text, columns }])) };
  }

  /** @param {string} name @param {{target: {files: FileList|null}}} event */
  choose = async (name, event) => {
    const file = event.target.files?.[0];
    if (!file) return;
    this.files[name] = { name: file.name, text: await file.text(), columns: {} };
    await this.look();
  };

  async look() {
    if (!this.files.logger) return;
    // What was understood before stays on the screen, so that a wrong word can be mended where it was typed.
    const seen = await this.told(this.stage.phone.api('POST', this.path('/look'), this.request()));
    if (seen) this.seen = seen;
    this.stage.redraw();
  }

  /** @param {string} file @param {string} column @param {string} value */
  say = (file, column, value) => { this.files[file].columns[column] = value; this.look(); };

  keep = async () => {
    if (!(await this.told(this.stage.phone.api('POST', this.path(), this.request())))) return;
    [this.files, this.seen] = [{}, null];
    for (const { name } of FILES) {
      const input = /** @type {HTMLInputElement|null} */ (document.getElementById(`file-${name}`));
      if (input) input.value = '';
    }
    await this.list();
  };

  /** @param {Record<string, any>} fields @param {string} sentence */
  async take(fields, sentence) {
    const { phone } = this.stage;
    const id = phone.me.site_id;
    const undo = await savedWithUndo(this.stage, [{ kind: 'site', recordId: id, fields, siteId: id }]);
    if (undo) this.stage.say(sentence, undo);
  }

  body = () => html`<div class="cols even"><div class="stack">${this.bring()}${this.crew()}${this.another()}</div>
    <div class="stack">${this.records.length ? this.records.map((record) => this.record(record))
      : html`<p>No logger file yet. The site uses the tide of ${this.port() ?? 'no port'}, with an
      allowance of ${length(allowanceOf(this.site ?? {}), this.stage.settings.feet)}:
      ${basisOf(this.site ?? {})}.</p>`}</div></div>`;

  bring() {
    const isPressure = PRESSURES.includes(this.seen?.columns.unit ?? '');
    const isAsked = (/** @type {{withPressure?: boolean}} */ number) => isPressure || !number.withPressure;
    return html`<section class="stack"><div class="bar"><h2>Upload a logger file</h2></div>
      ${FILES.filter(isAsked).map(({ name, label, about }) => (name === 'logger' || this.files.logger
        ? html`<div class="field"><label class="label-text"
        for="file-${name}">${label}<small>${about}</small></label><input class="line" id="file-${name}" type="file"
        accept=".csv,.txt,.tsv,text/*"
        @change=${(/** @type {{target: HTMLInputElement}} */ event) => this.choose(name, event)}></div>
        ${this.seen && this.files[name] ? this.howRead(name, name === 'logger' ? this.seen
          : this.seen[/** @type {'barometer'|'control'} */ (name)])
          : nothing}` : nothing))}
      ${this.seen ? html`${NUMBERS.filter(isAsked)
        .map((number) => this.number(number))}
        <button type="button" class="do" ?disabled=${this.said !== ''} @click=${this.keep}>Store it and work it
          out</button>` : nothing}
      <p role="status">${this.said ? fault(this.said) : nothing}</p>
      <p class="small">You see how the file is read before anything is stored. Set the logger deep enough to stay wet
        at the lowest low. Level it in if you can. Work on the shore only at a usable low tide.</p></section>`;
  }

  /** @param {string} file @param {import('./water-record.js').Seen|null|undefined} seen */
  howRead(file, seen) {
    if (!seen) return nothing;
    const { columns, names, first_rows: rows, questions } = seen;
    return html`<div class="said-back"><p>How it is read: times from <b>${names[columns.time]}</b>, on the clock of
      <b>${columns.zone}</b>; values from <b>${names[columns.value]}</b> in <b>${columns.unit}</b>.</p>
      <div class="wide-scroll" tabindex="0" role="group" aria-label="First lines of the file"><table class="plain
        stacks"><thead><tr>${names.map((/** @type {string} */ name) => html`<th>${name}</th>`)}</tr></thead>
        <tbody>${rows.map((/** @type {string[]} */ row) => html`<tr>${row.map((cell, n) => html`<td
          data-head=${names[n] ?? ''}>${cell}</td>`)}</tr>`)}</tbody></table></div>
      ${questions.map((/** @type {string} */ question) => doubt(question))}
      <div class="field"><label class="label-text"
        for="zone-${file}">Zone of the times<small>an IANA name, or an offset such as UTC-05:00</small></label><input
        class="line" id="zone-${file}" .value=${this.files[file].columns.zone
          ?? columns.zone} @change=${(/** @type {Typed} */ event) => this.say(file, 'zone', event.target.value)}></div>
      <div class="two"><div class="field"><label class="label-text"
        for="value-${file}">Column of the values</label><select class="line" id="value-${file}"
        @change=${(/** @type {Typed} */ event) => this.say(file, 'value',
          event.target.value)}>${names.map((/** @type {string} */ name, /** @type {number} */ n) => html`<option
          value=${n} .selected=${n === columns.value}>${name}</option>`)}</select></div>
        <div class="field"><label class="label-text" for="unit-${file}">Their unit</label><select class="line"
          id="unit-${file}" @change=${(/** @type {Typed} */ event) => this.say(file, 'unit',
            event.target.value)}>${UNITS.map((unit) => html`<option
            .selected=${unit === columns.unit}>${unit}</option>`)}</select></div></div></div>`;
  }

  crew() {
    const [{ readings }, { feet }] = [this, this.stage.settings];
    return section('The crew\u2019s own readings', readings ? counted(readings.count, 'reading') : 'none',
      !readings ? html`<p>Readings of the water on visits are compared with the prediction here.</p>` : html`
      ${readings.allowance_m === null ? html`<p>An allowance needs ${readings.least} readings, over two months where
        the port's yearly cycle is not known; there are ${counted(readings.count, 'reading')} in
        ${counted(readings.months, 'month')}.</p>`
        : html`<p><b>${length(readings.allowance_m, feet)} is added.</b>${further(readings.allowance, false)}</p><p
          class="small">Basis:
          ${readings.basis}.</p>${doubt(
            'Crews go out on fair days: storms are hardly in these readings. Keep the larger allowance where a '
              + 'record says one.')}<button type="button" class="or"
                @click=${() => this.take({ allowance_m: readings.allowance_m, allowance_basis: readings.basis },
                  'The allowance follows the readings.')}>Use their allowance</button>`}
      <details><summary>Details: how high they were</summary><p>Half the readings were no higher than
        ${beside(readings.p50, feet)} the prediction, 95 % no higher than ${beside(readings.p95, feet)} it.
        ${readings.allowance_m === null ? '' : madeOf(readings.allowance, 'readings', feet)}</p></details>`);
  }

  /** @param {import('./water-record.js').WaterRecord} waterRecord */
  record(waterRecord) {
    const heading = `${waterRecord.name}, ${fullDay(waterRecord.made_at, this.stage.zone || 'UTC')}`;
    if (waterRecord.state === 'failed') return section(heading, 'cannot be used', fault(waterRecord.fault));
    if (waterRecord.state !== 'done') return section(heading, 'being worked out',
      html`<p role="status">${waterRecord.step ?? 'waiting'} \u2026</p>`);
    const { record, faults, datums, candidates, reasons } = waterRecord.result;
    const { feet } = this.stage.settings;
    const told = candidates.find((way) => way.residuals)?.residuals;
    return html`<div class="stack"><div class="bar"><h2>${heading}</h2>
      <span>${counted(record.used_days, 'day')} used</span></div>
      <p>${record.levels.toLocaleString('en')} levels every ${record.interval_min} min from ${record.from} to
        ${record.to}. ${record.air ?? ''} ${record.density_kg_m3
          ? `Density of the water ${record.density_kg_m3} kg/m\u00b3.` : ''} ${record.unread
          ? `${counted(record.unread, 'line')} could not be read, the first: `
            + `${record.unread_lines.join(', ')}.` : ''}</p>
      ${faults.length ? faults.map((fault) => doubt(fault.sentence))
        : html`<p>No fault was found in it.</p>`}
      ${told && record.used_days < YEAR_DAYS
        ? doubt(`The record holds ${Math.round(record.used_days)} days, of `
          + `${Object.keys(told.seasons).join(' and ')} only: storms of other seasons are not in it. Keep the larger `
          + 'allowance until they are.') : nothing}
      ${candidates.map((way) => this.way(way,
        waterRecord.result))}${reasons.map((why) => html`<p class="small">${why}</p>`)}
      ${section('Datums', `above ${datums.chart_datum}`,
        html`<table class="plain"><tbody>${DATUMS.map((name) => html`<tr><th scope="row">${name}</th><td
          class="num">${length(datums.above_chart_datum_m[name], feet)}</td></tr>`)}</tbody></table>
        <p class="small">By ${datums.method}, over ${counted(datums.days, 'day')}. The record's zero is
          ${length(Math.abs(datums.chart_datum_above_zero_m), feet)}
          ${datums.chart_datum_above_zero_m > 0 ? 'below' : 'above'} ${datums.chart_datum}.</p>
        <details><summary>Details: how far each may be off</summary><p>${DATUMS.map((name) =>
          `${name} \u00b1 ${length(2 * datums.errors_m[name], feet)}`).join(', ')}. 95 % of such records stay
          within that.</p></details>`)}</div>`;
  }

  /** @param {typeof NUMBERS[number]} asked */
  number({ name, label, unit, isAboveZero }) {
    const value = this.numbers[name] ?? '';
    const take = (/** @type {string} */ text) => { this.numbers[name] = text; this.stage.redraw(); };
    const box = html`<div class="box"><input id="n-${name}" inputmode="decimal" autocomplete="off" .value=${value}
      @input=${(/** @type {Typed} */ event) => take(event.target.value)}><i>${unit}</i></div>`;
    return html`<div class="measure"><label for="n-${name}"><b>${label}</b></label>
      ${isAboveZero ? box : signed({ title: label, value, take, box })}</div>`;
  }

  /** @param {import('./water-record.js').Way} way @param {import('./water-record.js').Result} result */
  way(way, result) {
    const { feet } = this.stage.settings;
    const isTaken = this.site?.tide_station === way.station_id;
    const { residuals } = way;
    // What an older version worked out has no parts: it counted the record's own days only.
    const { allowance: parts, allowance_m: metres = null, basis = '' } = residuals ?? {};
    const allowance = parts ? metres : null;
    const kept = allowanceKept(this.site ?? {});
    const isRaised = allowance !== null && allowance > kept;
    const [allowance_m, allowance_basis] = isRaised ? [allowance, basis] : [kept, basisKept(this.site ?? {})];
    return html`<section class="stack"><div class="bar"><h2>${WAYS[/** @type {keyof typeof WAYS} */ (way.kind)]}</h2>
      <span>${way.kind === result.proposed ? 'proposed' : ''}${isTaken ? ' in use' : ''}</span></div>
      <p>Tried on ${counted(Math.round(way.held_back_days), 'day')} that it had not seen: it was off by about
        ${length(way.rms_m, feet)}.</p>
      <details><summary>Details: ${residuals ? `by season${way.constants ? ', constants, what cannot be separated'
        : ''}` : 'how far off'}</summary><div class="stack"><p>On those days 95 % of levels were within
          ${length(way.p95_m, feet)}; the error is ${length(way.rms_m, feet)} (rms).</p>
          ${residuals ? html`${parts && allowance !== null ? html`<p>${madeOf(parts, 'lows', feet)}</p>` : nothing}
          <p>Within two hours of ${counted(residuals.lows, 'low tide')}: half of the levels were no higher than
          ${beside(residuals.p50, feet)} the prediction. 95 % were no higher than ${beside(residuals.p95, feet)} it,
          99 % than ${beside(residuals.p99, feet)} it.</p><div class="wide-scroll" tabindex="0" role="group"
          aria-label="By season"><table class="plain stacks"><thead><tr><th>Season</th><th class="num">Lows</th>
          ${['P50', 'P90', 'P95', 'P99'].map((p) => html`<th class="num">${p}</th>`)}</tr></thead><tbody>
          ${Object.entries(residuals.seasons).map(([name, part]) => html`<tr><th scope="row">${name}</th><td
              class="num" data-head="Lows">${part.lows}</td>${PERCENTILES.map((p) => html`<td
                class="num" data-head=${p.toUpperCase()}>${length(part[p], feet)}</td>`)}</tr>`)}</tbody></table></div>
          ${constantsOfWay(way, feet)}` : nothing}</div></details>
      ${!parts || allowance === null ? html`<p>${residuals?.asks ?? (residuals?.allowance_m
        ? OLDER : 'There are too few low tides in it for an allowance.')}</p>`
        : html`<p><b>${length(allowance, feet)} is added.</b>${further(parts, true)}</p><p
          class="small">Basis: ${basis}.</p>`}
      <div class="two"><button type="button" class="or"
        ?disabled=${isTaken} @click=${() => this.take({ tide_station: way.station_id, allowance_m, allowance_basis },
          `The site uses this tide, with an allowance of ${length(allowance_m, feet)}. Its low tides come with the `
            + 'next sync.')}>${isTaken ? html`${mark('taken')}In use` : 'Use this tide'}</button>
        <button type="button" class="or" ?disabled=${allowance === null
          || !isTaken} @click=${() => this.take({ allowance_m: allowance, allowance_basis: basis },
            'The allowance follows the record.')}>Use its allowance</button></div>${isTaken || allowance === null
            ? nothing : html`<p class="small">An allowance belongs to its tide: use the tide first. That never makes
            the allowance smaller.</p>`}</section>`;
  }

  /** An allowance that a lead types, with its reason. */
  another() {
    const { feet } = this.stage.settings;
    const { allowance, reason } = this.typed;
    const metres = typedNumber(allowance);
    const isGood = metres !== null && metres >= 0 && reason.trim() !== '';
    return section('Another allowance', `now ${length(allowanceOf(this.site ?? {}), feet)}`,
      html`<p class="small">${basisOf(this.site ?? {})}</p>
      <div class="measure"><label for="another"><b>Allowance</b></label><div class="box"><input id="another"
        inputmode="decimal" autocomplete="off" .value=${allowance} @input=${(/** @type {Typed} */ event) =>
          this.type('allowance', event)}><i>${feet ? 'ft' : 'm'}</i></div></div>
      <div class="field"><label class="label-text"
        for="reason">Reason<small>shown beside the allowance on every screen</small></label><input class="line"
        id="reason" maxlength="180" .value=${reason} @input=${(/** @type {Typed} */ event) => this.type('reason',
          event)}></div>
      <button type="button" class="or" ?disabled=${!isGood} @click=${() => this.useAnother(fromBox(metres ?? 0, feet),
        reason.trim())}>Use this allowance</button>`);
  }

  /** @param {'allowance'|'reason'} name @param {Typed} event */
  type(name, event) {
    this.typed[name] = event.target.value;
    this.stage.redraw();
  }

  /** @param {number} metres @param {string} reason */
  async useAnother(metres, reason) {
    await this.take({ allowance_m: metres, allowance_basis: `set by a lead: ${reason}` },
      `The allowance is ${length(metres, this.stage.settings.feet)} now.`);
    this.typed = { allowance: '', reason: '' };
    this.stage.redraw();
  }
}
