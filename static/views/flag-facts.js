/** What is known of a site's flags on this phone, and how one is decided: for their list, and for one by itself. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { differenceRows, differencesOf, withBothSides } from './difference.js';
import { evidenceRows, plain } from './evidence.js';
import { peopleOut } from './heads.js';
import { isLeft, leftFlags } from './left-out.js';
import { deviceWord } from './marks.js';
import { unitTag } from './names.js';
import { siteFlags } from './open-flags.js';
import { RecordForm } from './record-form.js';
import { savedWithUndo } from './undo.js';
import { instant } from './words.js';

/** @typedef {import('./open-flags.js').ShownFlag} ShownFlag */

/** What hangs on today is made where it is read, and ends with what it asks for, not by a decision. */
const COMPUTED = ['overdue', 'not_signed_out'];

/**
 * @typedef {{left: ShownFlag[], flags: ShownFlag[], unitIds: Map<string, string|null>,
 *   units: Map<string, import('../records/rows.js').Unit>, decided: Set<string>, differences: Map<string,
 *   import('./difference.js').Difference|null>, sentences: Map<string, string>}} FlagFacts
 * left: who was not signed out; flags: those and the pack's; decided: of which a decision waits on this phone;
 * sentences: as this phone says them, of two values with whose and when each is
 */

/**
 * Which unit a record tells of.
 * @param {import('./router.js').Phone} phone @param {{kind: string, id: string}} subject
 * @returns {Promise<string|null>}
 */
async function unitOf(phone, subject) {
  const row = await phone.row(subject.kind, subject.id);
  return row?.unit_id ?? (row?.of_kind === 'unit' ? row.of_id : null);
}

/** @param {import('./router.js').Stage} stage @returns {Promise<FlagFacts>} */
export async function readFlags(stage) {
  const { phone } = stage;
  const packed = siteFlags(phone);
  const [differences, everyone, units, unitIds, decisions] = await Promise.all([
    differencesOf(stage, packed), peopleOut(phone), phone.rows('unit', { siteId: phone.me.site_id }),
    Promise.all(packed.map(async (flag) => /** @type {[string, string|null]} */ ([flag.flag_id,
      flag.unitId ?? await unitOf(phone, flag.subject)]))),
    phone.rows('flag_decision', { siteId: phone.me.site_id }),
  ]);
  const sentences = new Map((await withBothSides(stage, packed, differences)).map((flag) =>
    /** @type {[string, string]} */ ([flag.flag_id, flag.sentence])));
  const left = leftFlags(phone, everyone.filter((stay) => isLeft(stay, phone.now())), stage.zone);
  return {
    left, flags: [...left, ...packed], unitIds: new Map(unitIds), differences, sentences,
    units: new Map(units.map((unit) => [unit.record_id, unit])),
    decided: new Set(decisions.flatMap(({ entry_state: state, flag_id: id }) => (state === 'phone' && id ? [id] : []))),
  };
}

/** @param {FlagFacts} facts @param {ShownFlag} flag @returns {string} its sentence, as this phone says it */
export const flagWords = ({ sentences }, flag) => sentences.get(flag.flag_id) ?? flag.sentence;

/** @param {FlagFacts} facts @param {ShownFlag} flag @returns {string} that a lead decided here, where that waits */
export const waitsWords = ({ decided }, flag) =>
  (decided.has(flag.flag_id) ? `, a decision waits on this ${deviceWord()}` : '');

/**
 * What the flag is about, and the unit's tag where the sentence does not begin with it.
 * @param {FlagFacts} facts @param {ShownFlag} flag
 */
export function aboutFlag(facts, flag) {
  const unit = facts.units.get(facts.unitIds.get(flag.flag_id) ?? '');
  const words = flagWords(facts, flag);
  const isNamed = unit && [':', ','].some((after) => words.startsWith(`${unitTag(unit)}${after}`));
  const tag = unit && !isNamed ? `${unitTag(unit)} ` : '';
  return `${tag}${flag.title ?? plain(flag.rule)}${waitsWords(facts, flag)}`;
}

/** Evidence of a flag, what settles it, and a lead's decision. */
export class FlagBody {
  /** @param {import('./router.js').Stage} stage */
  constructor(stage) {
    this.stage = stage;
    /** @type {{flag: any, form: RecordForm}|null} */ this.deciding = null;
  }

  /** @param {FlagFacts} facts @param {ShownFlag} flag */
  draw(facts, flag) {
    const { stage } = this;
    const unitId = facts.unitIds.get(flag.flag_id);
    const mayDecide = stage.phone.me.role === 'lead' && !COMPUTED.includes(flag.rule);
    return html`${facts.differences.has(flag.flag_id) ? differenceRows(stage, facts.differences.get(flag.flag_id))
      : evidenceRows(flag, stage)}${flag.settled_reason ? html`<p class="why">Settled: ${flag.settled_reason}</p>`
      : flag.settles ? html`<p class="why">Settled by ${flag.settles}.</p>` : nothing}
    ${this.deciding?.flag.flag_id === flag.flag_id ? this.form()
      : html`<div class="two">${unitId ? html`<a class="or" href="#/units/${unitId}">See the unit</a>` : nothing}
      ${flag.rule === 'not_signed_out' ? html`<a class="or" href="#/people">See People</a>` : nothing}
      ${mayDecide ? html`<button type="button" class="or" @click=${() => this.decide(flag)}>Decide</button>`
        : nothing}</div>`}`;
  }

  /** @param {ShownFlag} flag */
  async decide(flag) {
    const { stage } = this;
    this.deciding = { flag,
      form: await new RecordForm(stage, 'flag_decision', `flag_decision:${flag.flag_id}`).start({}) };
    stage.redraw();
    queueMicrotask(() => document.getElementById('deciding')?.focus());
  }

  async leave() {
    const { deciding } = this;
    this.deciding = null;
    await deciding?.form.drop();
    this.stage.redraw();
  }

  async save() {
    if (!this.deciding) return;
    const { flag, form } = this.deciding;
    const fields = form.ready({ flag_id: flag.flag_id, decided_at: instant(this.stage.phone.now()) });
    const undo = fields && await savedWithUndo(this.stage,
      [{ kind: 'flag_decision', recordId: form.recordId, fields }]);
    if (!undo) return;
    await this.leave();
    this.stage.say(`Saved on this ${deviceWord()}. It counts once it is sent.`, undo);
  }

  form() {
    const form = this.deciding?.form;
    return html`<div class="stack" id="deciding" tabindex="-1">${form?.input('decision',
      { title: 'What is your decision?' })}${form?.input('reason', { hint: 'Anyone can read it beside the flag.' })}
      <div class="two"><button type="button" class="or" @click=${() => this.leave()}>Cancel</button><button
        type="button" class="do" @click=${() => this.save()}>Save decision</button></div></div>`;
  }
}
