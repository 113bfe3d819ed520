/** Two visits that were one: the records of the other then count on this one. A join can be taken back at any time. */
import { groupsOf } from '../records/joined.js';
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { labelOf } from './kind-forms.js';
import { deviceWord, section } from './marks.js';
import { siteName } from './names.js';
import { readPast } from './past-visit-read.js';
import { savedWithUndo } from './undo.js';
import { clock, fullDay, msOf } from './words.js';

/** Visits that began further apart than this are of other days, whoever wrote them. Our own rule. */
const NEAR_MS = 2 * 24 * 3_600_000;

/** @typedef {import('../records/rows.js').Visit} Visit */

export class JoinVisits {
  /** @param {import('./router.js').Stage} stage @param {string} visitId */
  constructor(stage, visitId) {
    this.stage = stage;
    this.visitId = visitId;
    this.narrow = true;
    this.back = `#/visits/${visitId}/correct`;
    /** @type {import('./past-visit-read.js').Past|null} */ this.past = null;
    /** @type {Visit[]} */ this.near = [];
  }

  open() { return this.refresh(); }

  refresh = async () => {
    const past = await readPast(this.stage.phone, this.visitId);
    this.past = past;
    if (!past) return;
    const { visit, known, startedMs } = past;
    const isNear = (/** @type {Visit} */ other) => other.record_id !== visit.record_id
      && Math.abs((msOf(other.started_at) ?? Infinity) - startedMs) < NEAR_MS;
    this.near = groupsOf(known.visits).all.filter(isNear)
      .sort((one, other) => (msOf(one.started_at) ?? 0) - (msOf(other.started_at) ?? 0));
  };

  title = () => 'Join with another visit';
  where = () => (this.past ? `${siteName(this.past.shore.site)}, ${fullDay(this.past.startedMs, this.stage.zone)}`
    : nothing);

  body = () => {
    const { past, near } = this;
    if (!past) return html`<p>This visit is not on this ${deviceWord()}.</p>`;
    const joined = past.group.filter((visit) => visit.joined_to);
    return html`${joined.length ? section('Joined with it', joined.length, joined.map((visit) =>
      this.row(visit, 'Take back', () => this.write(visit, null)))) : nothing}
      ${section('Visits of about that day', near.length, near.length ? near.map((visit) =>
        this.row(visit, 'Join', () => this.write(visit, past.visit.record_id)))
        : html`<p class="row">No other visit began within two days of this one.</p>`)}
      <p class="small">Its people, checks and photos then count on this visit. What was written stays as it is.</p>`;
  };

  /** @param {Visit} visit @param {string} word @param {() => void} act */
  row(visit, word, act) {
    const { phone, zone } = this.stage;
    const ms = msOf(visit.started_at) ?? 0;
    const purpose = labelOf(phone, 'visit', 'purpose', visit.purpose, 'Visit');
    const when = `${fullDay(ms, zone)}, ${clock(ms, zone)}`;
    return html`<div class="row wrap"><span class="said">${purpose}<small>${when}</small></span><button type="button"
      class="or short" aria-label="${word}: ${purpose}, ${when}" @click=${act}>${word}</button></div>`;
  }

  /** @param {Visit} visit @param {string|null} joinedTo null: it is a visit of its own again */
  async write(visit, joinedTo) {
    const { stage } = this;
    if (stage.isSecondTap()) return;
    const undo = await savedWithUndo(stage, [{ kind: 'visit', recordId: visit.record_id,
      fields: { joined_to: joinedTo }, visitId: visit.record_id }]);
    if (undo) stage.say(joinedTo ? 'Joined. It can be taken back here.' : 'Two visits again.', undo);
  }
}
