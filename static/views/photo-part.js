/** What the screen of a photo has besides: the picture, whether people can be recognized, and consent. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord } from './marks.js';
import { absent, peopleQuestion, saidOfPeople } from './photo-box.js';
import { savedWithUndo } from './undo.js';

export class PhotoPart {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    this.kind = '';
    /** @type {any} */ this.row = null;
    /** @type {string|null} */ this.url = null;
  }

  /** @param {string} kind @param {any} row */
  async read(kind, row) {
    Object.assign(this, { kind, row });
    if (row.sha256 && !this.url) this.url = await this.stage.phone.photoUrl(row.sha256);
  }

  close() {
    if (this.url?.startsWith('blob:')) URL.revokeObjectURL(this.url);
  }

  /** @param {boolean} mayChange */
  draw(mayChange) {
    const { row, url } = this;
    const picture = url ? html`<img class="shown" src=${url} alt=${row.shows || 'Photo without a caption'}
      @error=${absent}><span class="none small" hidden>not on this ${deviceWord()}</span>` : nothing;
    return html`${picture}${mayChange ? this.question() : nothing}${this.consent()}`;
  }

  /** What is on record is not an answer to be tapped by mistake: it stands as it was given. */
  question() {
    const value = this.kind === 'photo' ? false : this.row.recognizable ?? undefined;
    return peopleQuestion(this.row.record_id, value, (people) => this.answer(people));
  }

  consent() {
    const { kind, row, stage } = this;
    if (kind !== 'people_photo') return nothing;
    const words = row.consent ? 'Everyone shown agreed: exports and reports may have it. Readers still do not get it.'
      : 'In no open export and no report until a lead says that everyone shown agreed.';
    const button = stage.phone.me.role !== 'lead' ? nothing : html`<button type="button" class="or"
      @click=${() => this.agree(!row.consent)}>${row.consent ? 'Take the consent back'
        : 'Everyone shown agreed'}</button>`;
    return html`<p class="small">${words}</p>${row._deleted ? nothing : button}`;
  }

  /** @param {boolean} consent */
  async agree(consent) {
    const { stage, kind, row } = this;
    if (stage.isSecondTap()) return;
    const change = { kind, recordId: row.record_id, fields: { consent }, visitId: row.visit_id ?? null };
    const undo = await savedWithUndo(stage, [change]);
    if (undo) stage.say(consent ? `Consent saved on this ${deviceWord()}.` : 'Consent taken back.', undo);
  }

  /** @param {boolean} people */
  async answer(people) {
    const { stage, kind, row } = this;
    if (stage.isSecondTap()) return;
    const changes = saidOfPeople(stage.phone, kind, row, people);
    if (!changes.length) return;
    const undo = await savedWithUndo(stage, changes);
    if (!undo) return;
    stage.say(people ? 'Saved as a photo of people.' : 'Saved as a photo without people.', undo);
    if (changes.length > 1) location.hash = `#/record/${changes[0].kind}/${changes[0].recordId}`;
  }
}
