/** A spreadsheet comes in, for leads: the file, its columns, a try that stores nothing, then all good rows at once. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { columnsOf, keptChoices, settled } from './bring-in-columns.js';
import { earlierOf } from './bring-in-earlier.js';
import { triedOf } from './bring-in-tried.js';
import { choices, fault, mark, section } from '../views/marks.js';
import { siteName } from '../views/names.js';
import { counted } from '../views/words.js';
import { refusedBy } from '../views/refused.js';

const LOOK_MS = 500;
const MEGABYTE = 1024 * 1024;
const MOST_MEGABYTES = 50;
const STEPS = ['File', 'Columns', 'Try it', 'Import'];

/** @typedef {import('./bring-in-columns.js').Looked} Looked
 * @typedef {import('./bring-in-columns.js').Sets} Sets */
/** @typedef {{name: string, kind: string, mapping: any, site_id: string|null}} Mapping choices that were kept */
/** @typedef {{upload_id: string, name: string, state: string, step: string|null, fault: string|null,
 *   result: any, sheets: {name: string, rows: number}[], taken_sheets: string[]}} Up */

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  if (stage.phone.me.role !== 'lead') return { title: () => 'Import a spreadsheet', back: '#/today',
    body: () => html`<p>This is a lead's work. Ask your lead.</p>` };
  const screen = new BringIn(stage);
  await screen.list();
  return screen;
}

export class BringIn {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    /** @type {Up|null} */ this.upload = null;
    /** @type {Looked|null} */ this.looked = null;
    /** @type {Mapping[]} */ this.mappings = [];
    /** @type {any[]} */ this.imports = [];
    /** @type {any} */ this.site = null;
    this.isOfAll = false;
    this.problem = '';
    this.busy = '';
    /** The name under which choices are kept; null while nobody asks. @type {string|null} */ this.keptAs = null;
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.timer = undefined;
  }

  title = () => 'Import a spreadsheet';
  back = '#/set-up';
  where() {
    if (!this.upload || !this.looked) return siteName(this.site);
    const sheet = this.looked.sheet && this.looked.sheets.length > 1 ? `, sheet ${this.looked.sheet}` : '';
    return `${this.upload.name}${sheet}, ${counted(this.looked.rows, 'row')}`;
  }

  refresh = async () => { this.site = await this.stage.phone.row('site', this.stage.phone.me.site_id); };
  close = () => clearTimeout(this.timer);

  /** @param {string} kind */
  kindTitle = (kind) => this.stage.phone.pack()?.forms?.kinds?.[kind]?.title ?? kind;

  /** Which of the four steps one is at, from 0. */
  get step() {
    if (!this.upload) return 0;
    return { read: 1, trying: 2, tried: 2, taking: 3 }[this.upload.state] ?? 1;
  }

  async list() {
    await this.refresh();
    await this.asking(async () => {
      const { uploads, imports, mappings } = await this.stage.phone.api('GET', '/api/imports');
      Object.assign(this, { imports, mappings });
      const [open] = uploads.slice(-1);
      if (!this.upload && open) await this.goOn(open);
    });
  }

  /** Take up a file that was chosen before. @param {Up} upload */
  async goOn(upload) {
    this.upload = upload;
    if (['read', 'tried'].includes(upload.state)) await this.look(/** @type {any} */ (upload).mapping ?? {}, false);
    if (['trying', 'taking'].includes(upload.state)) this.wait();
  }

  /** @param {() => Promise<void>} work what needs the server */
  async asking(work, busy = '') {
    Object.assign(this, { problem: '', busy });
    this.stage.redraw();
    this.problem = await refusedBy(work);
    this.busy = '';
    this.stage.redraw();
  }

  path = (rest = '') => `/api/imports/${this.upload?.upload_id}${rest}`;

  /** @param {any} event */
  choose = (event) => {
    /** @type {File|undefined} */ const file = event.target.files?.[0];
    if (!file) return;
    if (file.size > MOST_MEGABYTES * MEGABYTE) {
      this.problem = `The file has ${(Math.round(file.size / MEGABYTE))} MB; the limit is ${MOST_MEGABYTES} MB. `
        + 'Split it into smaller files, then try again.';
      this.stage.redraw();
      return;
    }
    this.asking(async () => {
      const site = this.isOfAll ? '' : `&site_id=${this.stage.phone.me.site_id}`;
      const path = `/api/imports?name=${encodeURIComponent(file.name)}${site}`;
      this.upload = await this.stage.phone.api('POST', path, file);
      await this.look({}, false);
    }, 'Reading the file …');
  };

  /** @param {any} mapping as far as it is settled @param {boolean} [isNew] whether it changes what was tried */
  async look(mapping, isNew = true) {
    this.looked = await this.stage.phone.api('POST', this.path('/look'), mapping);
    if (isNew && this.upload) Object.assign(this.upload, { state: 'read', result: null });
  }

  /** @param {Sets} sets */
  settle = (sets) => this.asking(async () => {
    await this.look(settled(this.looked?.mapping, sets));
    // The next question is drawn where the answered one was, and a browser keeps what was chosen there.
    for (const chosen of document.querySelectorAll('.askbox input:checked')) Object.assign(chosen, { checked: false });
  });
  /** @param {any} mapping what is read in another way from the start: sheet, line of headers, kind, a kept mapping */
  again = (mapping) => this.asking(async () => { await this.look(mapping); });

  tryIt = () => this.asking(async () => {
    this.upload = await this.stage.phone.api('POST', this.path('/try'));
    this.wait();
  });

  take = () => this.asking(async () => {
    this.upload = await this.stage.phone.api('POST', this.path('/take'));
    this.wait();
  });

  wait() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.asking(async () => {
      const { uploads, imports } = await this.stage.phone.api('GET', '/api/imports');
      const upload = uploads.find((/** @type {Up} */ { upload_id: id }) => id === this.upload?.upload_id);
      this.imports = imports;
      const before = this.upload;
      if (upload) {
        this.upload = upload;
        if (['trying', 'taking'].includes(upload.state) && !upload.fault) this.wait();
        if (upload.taken_sheets.length > (before?.taken_sheets.length ?? 0)) await this.sheetTaken(upload);
      } else await this.taken();
    }), LOOK_MS);
  }

  /** One sheet of several: the file stays for the others. @param {Up} upload */
  async sheetTaken({ sheets, taken_sheets: taken }) {
    await this.look({}, false);
    const left = sheets.filter(({ name, rows }) => rows && !taken.includes(name)).length;
    this.stage.say(`Sheet ${taken[taken.length - 1]} is imported. ${counted(left, 'sheet')} left in this file.`);
    await this.stage.phone.syncNow();
  }

  async taken() {
    Object.assign(this, { upload: null, looked: null });
    this.stage.say('Imported. Nothing of the file is left on the server.');
    await this.stage.phone.syncNow();
  }

  drop = () => this.asking(async () => {
    await this.stage.phone.api('DELETE', this.path());
    Object.assign(this, { upload: null, looked: null });
  });

  toColumns = () => {
    if (this.upload) this.upload.state = 'read';
    this.stage.redraw();
  };

  keep = () => this.asking(async () => {
    const kept = { name: this.keptAs, mapping: this.looked?.mapping, site_id: this.looked?.site_id ?? null };
    await this.stage.phone.api('POST', '/api/import-mappings', kept);
    this.mappings = (await this.stage.phone.api('GET', '/api/imports')).mappings;
    this.keptAs = null;
    this.stage.say('Choices kept. The next file like this takes one tap.');
  });

  /** @param {Mapping} kept */
  forget = ({ name, site_id: siteId, mapping }) => this.asking(async () => {
    const { stage: { phone } } = this;
    const place = siteId ? `?site_id=${encodeURIComponent(siteId)}` : '';
    await phone.api('DELETE', `/api/import-mappings/${encodeURIComponent(name)}${place}`);
    this.mappings = (await phone.api('GET', '/api/imports')).mappings;
    this.stage.say(`\u201c${name}\u201d is removed.`, () => this.asking(async () => {
      await phone.api('POST', '/api/import-mappings', { name, mapping, site_id: siteId });
      this.mappings = (await phone.api('GET', '/api/imports')).mappings;
    }));
  });

  stages = () => html`<ol class="stages">${STEPS.map((name, n) => html`<li class=${n < this.step ? 'done' : ''}
    aria-current=${n === this.step ? 'step' : nothing}>${n < this.step ? mark('taken', 'done') : n + 1} ${name}</li>`)}
    </ol>`;

  file() {
    const { me } = this.stage.phone;
    const places = [{ value: false, label: siteName(this.site) }, { value: true, label: 'No site, or several' }];
    return html`<div class="stack">
      ${me.sites === null ? choices({ name: 'of-all', legend: 'Of which site are its rows?', value: this.isOfAll,
        choices: places, pick: (value) => { this.isOfAll = value; this.stage.redraw(); } }) : nothing}
      <div class="field"><label class="label-text" for="sheet-file">A spreadsheet<small>CSV, XLSX or GeoJSON; up to
        ${MOST_MEGABYTES} MB and 300,000 rows</small></label><input class="line" type="file" id="sheet-file"
        accept=".csv,.tsv,.txt,.xlsx,.xls,.ods,.zip,.json,.geojson" @change=${this.choose}></div>
      <p class="small">Nothing is stored before you say so. The file stays on the server for a day at most, and is in no
        backup.</p>${keptChoices(this)}${earlierOf(this)}</div>`;
  }

  body = () => html`<div class="stack">${this.problem ? fault(this.problem) : nothing}${this.stages()}
    <p role="status">${this.busy || this.upload?.fault || ''}</p>${this.at()}</div>`;

  at() {
    if (!this.upload) return this.busy ? nothing : this.file();
    if (this.step === 1) return this.looked ? columnsOf(this, this.looked) : nothing;
    if (this.upload.state === 'tried') return triedOf(this.upload, this.looked);
    return section(this.upload.state === 'taking' ? 'Being imported' : 'Being tried', nothing,
      html`<p role="status">${this.upload.step ?? 'waiting for its turn'}</p>`);
  }

  foot = () => {
    if (!this.upload || this.busy) return nothing;
    const drop = html`<button type="button" class="or" @click=${this.drop}>Drop the file</button>`;
    if (this.upload.state === 'tried') return html`${this.upload.result.good ? html`<button type="button" class="do"
      @click=${this.take}>Import ${counted(this.upload.result.good, 'row')}</button>` : nothing}
      <button type="button" class="or" @click=${this.toColumns}>Back to the columns</button>${drop}`;
    if (this.step !== 1 || !this.looked) return nothing;
    return html`<button type="button" class="do" ?disabled=${this.looked.questions.length > 0}
      @click=${this.tryIt}>Try it, store nothing</button>
      <button type="button" class="or" @click=${() => { this.keptAs = ''; this.stage.redraw(); }}>Keep these
        choices</button>${drop}`;
  };
}
