/** Download the data: every table as a file that other programs read; leads have all, others what is open. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, fault, section } from '../views/marks.js';
import { byName, siteName } from '../views/names.js';
import { counted } from '../views/words.js';
import { refusedBy } from '../views/refused.js';

const LOOK_MS = 500;
const FORMS = [
  { value: 'xlsx', label: 'Spreadsheet',
    says: 'An XLSX workbook: a sheet for each table, and what each column means.' },
  { value: 'csv', label: 'Any (CSV)', says: 'A zip: a file for each table, and what each column means.' },
  { value: 'geojson', label: 'Map', says: 'A zip of GeoJSON files: everything that has a place.' },
  { value: 'photos', label: 'Photos', says: 'A zip of the photos, in folders by site and unit, with a table.' },
  { value: 'sqlite', label: 'Database', says: 'An SQLite file, with a table for each kind.' },
  { value: 'parquet', label: 'Parquet', says: 'A zip of Parquet files, for statistics over many rows.' },
];
const YES_NO = [{ value: false, label: 'No' }, { value: true, label: 'Yes' }];
const OPEN = 'You get what is open: units, checks, positions, sightings, flags. People are numbers.';
const ALL = 'You get every table. People are numbers unless you add names. Medical notes never leave the server.';

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  const screen = new Data(stage);
  await screen.refresh();
  return screen;
}

class Data {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.isLead = stage.phone.me.role === 'lead';
    this.back = this.isLead ? '#/set-up' : '#/phone';
    this.asked = { as: 'xlsx', site_id: /** @type {string|null} */ (null), from_day: /** @type {string|null} */ (null),
      to_day: /** @type {string|null} */ (null), names: false, private: false, history: false };
    this.problem = '';
    /** @type {string} the download that is under way */ this.ticket = '';
    this.progress = '';
    /** @type {any[]} */ this.sites = [];
    /** @type {ReturnType<typeof setTimeout>|undefined} */ this.timer = undefined;
  }

  title = () => 'Download the data';
  where = () => this.stage.phone.pack()?.programme?.name ?? '';
  narrow = true;

  refresh = async () => {
    const sites = await this.stage.phone.rows('site', {});
    this.sites = sites.sort((one, other) => byName(siteName(one), siteName(other)));
  };
  close = () => clearTimeout(this.timer);

  /** @param {Partial<Data['asked']>} changed */
  choose = (changed) => {
    Object.assign(this.asked, changed);
    this.problem = '';
    this.stage.redraw();
  };

  /** @param {() => Promise<void>} work what needs the server */
  async asking(work) {
    this.problem = await refusedBy(work);
    if (this.problem) this.ticket = '';
    this.stage.redraw();
  }

  start = () => this.asking(async () => {
    const { ticket, rows } = await this.stage.phone.api('POST', '/api/exports', this.asked);
    this.ticket = ticket;
    this.progress = `0 of about ${counted(rows, 'row')} written`;
    const link = document.createElement('a');
    link.href = `/api/exports/${ticket}/file`;
    link.download = '';
    link.click();
    this.look();
  });

  look() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.asking(async () => {
      const { rows, about, state } = await this.stage.phone.api('GET', `/api/exports/${this.ticket}`);
      if (!this.ticket) return;
      this.progress = `${rows} of about ${counted(Math.max(rows, about), 'row')} written`;
      if (state === 'done' || state === 'stopped') {
        this.ticket = '';
        this.progress = state === 'done' ? `File saved: ${counted(rows, 'row')}.`
          : 'Download stopped. Nothing was kept.';
      } else this.look();
    }), LOOK_MS);
  }

  stop = () => this.asking(async () => {
    await this.stage.phone.api('DELETE', `/api/exports/${this.ticket}`);
    this.look();
  });

  /** @param {'from_day'|'to_day'} name @param {string} title */
  day = (name, title) => html`<div class="field"><label class="label-text"
    for="f-${name}">${title}</label><input class="line" type="date" id="f-${name}" .value=${this.asked[name] ?? ''}
    @change=${(/** @type {any} */ event) => this.choose({ [name]: event.target.value || null })}></div>`;

  /** @param {'names'|'private'|'history'} name @param {string} legend */
  yesNo = (name, legend) => choices({ name, legend, value: this.asked[name], choices: YES_NO,
    pick: (value) => this.choose({ [name]: value }) });

  body = () => html`<div class="stack">${this.problem ? fault(this.problem) : nothing}
    <p>${this.isLead ? ALL : OPEN}</p>
    ${choices({ name: 'form', legend: 'Which kind of file?', value: this.asked.as, choices: FORMS,
      pick: (as) => this.choose({ as }) })}
    <p class="small">${FORMS.find(({ value }) => value === this.asked.as)?.says}</p>
    ${this.sites.length > 1 ? choices({ name: 'site', legend: 'Which site?', value: this.asked.site_id,
      shape: 'lines', pick: (id) => this.choose({ site_id: id }), choices: [{ value: null, label: 'All' },
        ...this.sites.map((site) => ({ value: site.record_id, label: siteName(site) }))] }) : nothing}
    ${section('Days', nothing, html`<p class="small">Leave both empty for all days. Units, rows and species come
      anyway.</p>${this.day('from_day', 'First day')}${this.day('to_day', 'Last day')}`)}
    ${this.isLead ? html`${this.yesNo('names', 'Names of people?')}
      ${this.yesNo('private', 'Contacts? The server\u2019s log notes it')}` : nothing}
    ${this.yesNo('history', 'Earlier values too, with who wrote them and when?')}
    <p role="status">${this.progress}</p></div>`;

  foot = () => (this.ticket
    ? html`<button type="button" class="or" @click=${this.stop}>Stop the download</button>`
    : html`<button type="button" class="do" @click=${this.start}>Download</button>`);
}
