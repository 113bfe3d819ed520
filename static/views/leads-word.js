/** A lead's word that lower water counts; asked only where it was read lower, and never more than was read. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { instant, length } from './words.js';

export class LeadsWord {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    /** @type {RecordForm|null} */ this.form = null;
  }

  /** @param {import('./shore.js').Shore} shore */
  isAsked({ visit, seenM }) {
    return Boolean(visit) && this.stage.phone.me.role === 'lead' && seenM !== null && seenM < 0;
  }

  /** @param {import('./shore.js').Shore} shore */
  async open(shore) {
    if (this.form || !shore.visit || !this.isAsked(shore)) return;
    this.form = await new RecordForm(this.stage, 'level_word', `level_word:${shore.visit.record_id}`).start({});
  }

  /** @param {import('./shore.js').Shore} shore */
  draw(shore) {
    if (!this.form || !this.isAsked(shore)) return nothing;
    const { feet } = this.stage.settings;
    const allowed = shore.allowsM ? `A lead lets ${length(shore.allowsM, feet)} of it count.`
      : 'It gives no extra time unless you allow it.';
    return html`<div class="tight"><p>The water was read ${length(-(shore.seenM ?? 0), feet)} lower than predicted.
      ${allowed}</p>${this.form.input('allows_m')}${this.form.input('reason', { title: 'Why' })}
      <button type="button" class="or" @click=${() => this.save(shore)}>Let lower water count</button></div>`;
  }

  /** @param {import('./shore.js').Shore} shore */
  async save({ visit }) {
    const { stage, form } = this;
    if (!visit) return;
    const fields = form?.ready({ of_visit_id: visit.record_id, said_at: instant(stage.phone.now()) });
    if (!form || !fields) return;
    const word = { kind: 'level_word', recordId: null, fields, visitId: visit.record_id };
    const undo = await savedWithUndo(stage, [word]);
    if (!undo) return;
    await form.drop();
    this.form = null;
    stage.say('Extra time is on. Read the level again in 15 minutes.', undo);
  }
}
