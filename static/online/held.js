/** For leads: what is held about one person, who sees it and where copies are; and forgetting them, asked twice. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { doubt, fault, section } from '../views/marks.js';
import { placeOfRecord } from '../views/record-place.js';
import { counted, fullDay, moment } from '../views/words.js';
import { refusedBy } from '../views/refused.js';

/** @type {Record<string, string>} */
const ROLE_WORDS = { lead: 'leads', crew: 'crew', desk: 'desk', reader: 'readers' };

/**
 * @typedef {{kind: string, title: string, count: number, first_ms: number, last_ms: number, seen_by: string[],
 *   fate: string, sentence: string}} Holding the records of one kind
 * @typedef {{what: string, kind: string|null, record_id: string|null, text: string, hit: string,
 *   is_former: boolean}} Naming a text with the name
 * @typedef {{what: string, where: string, sentence: string}} Copy
 * @typedef {{name: string, role: string, seen_at: number|null}} Device
 * @typedef {{name: string, initials: string, is_forgotten: boolean, sites: {name: string}[], holdings: Holding[],
 *   named: Naming[], copies: Copy[], phones: Device[], warnings: string[], tag: string}} Report
 */

/** @param {import('../views/router.js').Stage} stage @returns {Promise<import('../views/router.js').Screen>} */
export async function view(stage) {
  const screen = new HeldAbout(stage);
  await screen.open();
  return screen;
}

class HeldAbout {
  /** @param {import('../views/router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.personId = stage.params[0] ?? '';
    this.back = `#/people/${this.personId}`;
    this.problem = '';
    /** @type {Report|null} */ this.report = null;
    /** @type {'no'|'asked'|'sure'|'done'} how far somebody went towards forgetting */ this.step = 'no';
    this.typed = '';
    this.isClean = true;
  }

  async open() {
    await this.asking(async () => {
      this.report = await this.stage.phone.api('GET', `/api/people/${this.personId}/held`);
    });
  }

  /** @param {() => Promise<void>} work what needs the server */
  async asking(work) {
    this.problem = await refusedBy(work);
    this.stage.redraw();
  }

  title = () => 'What is held';
  where = () => this.report?.name ?? '';

  body = () => {
    const { report } = this;
    const atTop = this.problem && this.step !== 'sure' ? fault(this.problem) : nothing;
    return html`${atTop}${!report ? nothing : html`${this.step === 'done'
      ? html`<p role="status">Forgotten. The name is now ${report.initials}. Other phones delete their copies when
        they next sync.</p>${this.isClean ? nothing : doubt('The disk may still hold deleted text. '
        + 'The next nightly backup deletes it.')}`
      : section('Records', report.sites.map(({ name }) => name).join(', '),
        report.holdings.map((holding) => this.holding(holding)))}
      ${this.texts(report)}${this.copies(report)}${this.step === 'done' ? nothing : this.asked(report)}`}`;
  };

  /** @param {Holding} holding */
  holding({ title, count, first_ms: firstMs, last_ms: lastMs, seen_by: seenBy, sentence }) {
    const [first, last] = [fullDay(firstMs, this.stage.zone), fullDay(lastMs, this.stage.zone)];
    return html`<p class="row"><span class="said">${title}: ${count}<small>${first === last ? first
      : `${first} to ${last}`}. ${seenBy.length ? `Seen by ${seenBy.map((role) => ROLE_WORDS[role] ?? role)
        .join(', ')}. ` : ''}${sentence}</small></span></p>`;
  }

  /** @param {Report} report */
  texts({ named }) {
    if (!named.length) return nothing;
    return html`${section('Texts with the name', counted(named.length, 'text'), named.map((text) => this.naming(text)))}
      <p class="small">These stay. Look at each, and write it again without the name. The earlier text stays in the
        history.</p>`;
  }

  /** @param {Naming} naming */
  naming({ what, kind, record_id: recordId, text, hit, is_former: isFormer }) {
    const place = kind ? placeOfRecord(this.stage.phone, kind, recordId) : null;
    const words = html`<span class="said">${text || hit}<small>${what}${isFormer ? ', an earlier text' : ''}</small>
      </span>`;
    return place ? html`<a class="row" href=${place}>${words}</a>` : html`<p class="row">${words}</p>`;
  }

  /** @param {Report} report */
  copies({ copies, phones }) {
    return section('Copies', nothing, [
      ...copies.map(({ what, where, sentence }) => html`<p class="row"><span class="said">${where || what}<small>${
        sentence}</small></span></p>`),
      ...phones.map(({ name, role, seen_at: seenMs }) => html`<p class="row"><span class="said">${name}<small>${
        ROLE_WORDS[role] ?? role}, ${seenMs ? `last seen ${moment(seenMs, this.stage.phone.now(), this.stage.zone)}`
          : 'never seen'}. Deletes its copy when it next syncs.</small></span></p>`),
    ]);
  }

  /** @param {Report} report */
  asked(report) {
    if (report.is_forgotten) return html`<p>This person was forgotten: ${report.name} is all that is left of the name.
      </p>`;
    if (this.step === 'no') return html`<button type="button" class="or" @click=${() => this.go('asked')}>Forget this
      person</button>`;
    const going = report.holdings.filter(({ fate }) => fate === 'deleted')
      .map(({ title, count }) => `${title} (${count})`);
    const warned = html`${doubt(`${report.name} becomes ${report.initials} everywhere. ${going.length
      ? `Deleted: ${going.join(', ')}.` : 'Nothing else about this person is deleted.'}`)}
      ${report.warnings.map((warning) => doubt(warning))}`;
    if (this.step === 'asked') return html`${warned}<div class="two"><button type="button" class="or"
      @click=${() => this.go('no')}>Cancel</button><button type="button" class="do stop"
      @click=${() => this.go('sure')}>Go on</button></div>`;
    return html`${warned}<div class="field"><label class="label-text" for="f-name">Type the name to delete it for
      good<small>${report.name}</small></label><input class="line" id="f-name" autocomplete="off" .value=${this.typed}
      @input=${(/** @type {any} */ event) => { this.typed = event.target.value; }}></div>
      ${this.problem ? fault(this.problem) : nothing}<div class="two"><button type="button" class="or"
      @click=${() => this.go('no')}>Cancel</button><button type="button" class="do stop"
      @click=${this.forget}>Delete for good</button></div>`;
  }

  /** @param {'no'|'asked'|'sure'} step */
  go(step) {
    Object.assign(this, { step, problem: '' });
    this.stage.redraw();
  }

  forget = () => this.asking(async () => {
    const { phone } = this.stage;
    const answer = await phone.api('POST', `/api/people/${this.personId}/purge`,
      { tag: this.report?.tag ?? '', name: this.typed });
    this.report = { .../** @type {Report} */ (this.report), ...answer };
    this.isClean = answer.is_clean;
    this.step = 'done';
    await phone.syncNow();
  });
}
