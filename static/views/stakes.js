/**
 * Stakes that stand together, as on a clipboard: a box each, with the last value and the change beside it. An empty box
 * is "not read"; a large step against the last value is asked about in place.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { check } from '../records/validate.js';
import { formOf } from './kind-forms.js';
import { deviceWord, doubt, fault } from './marks.js';
import { named } from './names.js';
import { followed } from './plan.js';
import { comparableSinceMs, isStillRead, newestFirst, readAt, readPlots, setName, setOf } from './plot-facts.js';
import { readShore } from './shore.js';
import { savedWithUndo } from './undo.js';
import { onVisit } from './visits.js';
import { instant, msOf, nearDay, typedNumber } from './words.js';
import { rounded } from '../rounding.js';

/** A larger step than this against the last value is asked about; our own proposal. */
const STEP_MM = 40;

/**
 * @typedef {{text?: string, ring?: boolean, sure?: string}} Typed of one stake; sure: a text that is right, odd or not
 * @typedef {{plot: import('./plot-facts.js').Plot, last: import('./plot-facts.js').Reading|null,
 *   here: import('./plot-facts.js').Reading|null}} StakeFacts here: its reading on the visit that runs
 */

/**
 * What one box says.
 * @param {Typed} typed @param {number|null} lastMm @param {import('../records/validate.js').Form} form of its kind
 * @returns {{exposedMm: number|null, changeMm: number|null, fault: string|null, question: string|null}}
 *   exposedMm: null where it is not read; fault: what cannot be saved; question: what is odd and was not answered
 */
export function judgedStake(typed, lastMm, form) {
  const text = (typed.text ?? '').trim();
  const nothingRead = { exposedMm: null, changeMm: null, fault: null, question: null };
  if (!text) return typed.ring ? { ...nothingRead, fault: 'Scour ring is marked, but no value is typed. Type how much '
    + 'shows, in mm, or take the mark away.' } : nothingRead;
  const exposedMm = typedNumber(text);
  if (exposedMm === null) return { ...nothingRead, fault: `\u201c${text}\u201d is not a number. Type digits, in mm.` };
  const [wrong] = check(form, { exposed_mm: exposedMm });
  if (wrong?.hard) return { ...nothingRead, fault: wrong.sentence };
  const changeMm = lastMm === null ? null : exposedMm - lastMm;
  const isLarge = changeMm !== null && Math.abs(changeMm) > STEP_MM;
  const odd = isLarge ? `${rounded(Math.abs(changeMm), 0)} mm ${changeMm < 0 ? 'less' : 'more'} than last time. `
    + 'Read this stake again?' : wrong?.sentence ?? null;
  return { exposedMm, changeMm, fault: null, question: typed.sure === text ? null : odd };
}

/** @param {number} changeMm @returns {string} +3, −4, 0 */
const changeWords = (changeMm) => {
  const size = String(Number(rounded(Math.abs(changeMm), 1)));
  return `${size === '0' ? '' : changeMm < 0 ? '\u2212' : '+'}${size}`;
};

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const screen = new Stakes(stage, stage.params[0]);
  await screen.open();
  return screen;
}

class Stakes {
  /** @param {import('./router.js').Stage} stage @param {string} plotId of one of them */
  constructor(stage, plotId) {
    this.stage = stage;
    this.plotId = plotId;
    this.narrow = true;
    /** @type {StakeFacts[]} */ this.stakes = [];
    /** By plot. @type {Record<string, Typed>} */ this.typed = {};
    this.isOnPlan = false;
    /** Those whose box was left, so that what is odd in it may be asked. @type {Set<string>} */ this.left = new Set();
    this.form = formOf(stage.phone, 'stake_reading');
  }

  get back() { return `#/plots/${this.plotId}`; }
  /** Under one name, whichever of them the screen was opened from. */
  get draftKey() { return `stakes:${this.stakes[0]?.plot.record_id ?? this.plotId}`; }

  async open() {
    await this.refresh();
    this.typed = (await this.stage.phone.draft(this.draftKey)) ?? {};
    this.left = new Set(Object.keys(this.typed));
    // The keyboard comes after the focus, and takes its part of the view then.
    window.visualViewport?.addEventListener('resize', this.showBox);
  }

  close = () => window.visualViewport?.removeEventListener('resize', this.showBox);

  refresh = async () => {
    const { phone } = this.stage;
    this.shore = await readShore(phone);
    const known = await readPlots(phone);
    const plot = known.find((of) => of.plot.record_id === this.plotId)?.plot;
    const together = plot?.plot_type !== 'stake' ? [] : setOf(known, plot)
      .filter(({ lastEvent }) => isStillRead(lastEvent));
    const visitId = this.shore.visit?.record_id ?? null;
    this.stakes = await Promise.all(together.map(async (of) => {
      const ofPlot = { kind: 'plot', id: of.plot.record_id };
      const [events, all] = await Promise.all([phone.rowsOf('plot_event', ofPlot),
        phone.rowsOf('stake_reading', ofPlot)]);
      const readings = newestFirst(all.filter((row) => typeof row.exposed_mm === 'number'));
      const sinceMs = comparableSinceMs(events);
      const isHere = (/** @type {{visit_id: string|null}} */ row) => visitId !== null && row.visit_id === visitId;
      return { plot: of.plot, here: readings.find(isHere) ?? null,
        last: readings.find((row) => !isHere(row) && (msOf(row.read_at) ?? 0) >= sinceMs) ?? null };
    }));
    const plan = this.shore.visit ? await followed(this.stage, this.shore, []) : null;
    this.isOnPlan = together.some((of) => plan?.has(of.plot.record_id));
  };

  title = () => (this.stakes.length ? setName(this.stakes[0].plot) || named(this.stakes[0].plot.label)
    : 'No such stakes');
  aside = () => this.stage.alarm.pill();
  where = () => {
    const newest = newestFirst(this.stakes.flatMap(({ last }) => last ?? []))[0];
    return !this.stakes.length ? nothing : newest
      ? `last read ${nearDay(msOf(readAt(newest)) ?? 0, this.stage.phone.now(), this.stage.zone)}`
      : 'never read before';
  };

  /** Those that are still to be read on this visit. */
  get unread() { return this.stakes.filter(({ here }) => !here); }

  /** @param {StakeFacts} of */
  judged = ({ plot, last }) => judgedStake(this.typed[plot.record_id] ?? {}, last?.exposed_mm ?? null, this.form);

  /** @param {string} id @param {Typed} typed what changed of it */
  set(id, typed) {
    this.typed = { ...this.typed, [id]: { ...this.typed[id], ...typed } };
    const filled = Object.fromEntries(Object.entries(this.typed).filter(([, { text, ring }]) => text || ring));
    if (Object.keys(filled).length) this.stage.phone.keepDraft(this.draftKey, filled, { field: id });
    else this.stage.phone.dropDraft(this.draftKey);
    this.stage.unsay();
    this.stage.redraw();
  }

  body = () => {
    if (!this.stakes.length) return html`<p>These stakes are not on this ${deviceWord()}, or are no longer read.</p>`;
    return html`<div class="stakes"><div class="stake heads" aria-hidden="true"><span></span><span>last</span>
      <span>showing now</span><span>change</span><span>scour ring</span></div>
      ${this.stakes.map((of) => (of.here ? this.readRow(of, of.here) : this.row(of)))}</div>
      <p class="small">How much of each stake stands out of the bed, in mm, always on the same side. An empty box is not
        read; type a zero where nothing shows.</p>`;
  };

  /** Read on this visit already: corrected where any record is. @param {StakeFacts} of @param {any} here */
  readRow({ plot, last }, here) {
    return html`<div class="stake"><b>${named(plot.label)}</b><span class="last">${last?.exposed_mm ?? '\u2013'}</span>
      <a class="pill plain tap" href="#/record/stake_reading/${here.record_id}">${here.exposed_mm} mm, read</a>
      <span class="change">${last ? changeWords(here.exposed_mm - last.exposed_mm) : ''}</span>
      <span class="small">${here.scour_ring ? 'ring' : ''}</span></div>`;
  }

  /** @param {StakeFacts} of */
  row(of) {
    const { plot, last } = of;
    const id = plot.record_id;
    const { text = '', ring = false } = this.typed[id] ?? {};
    const { changeMm, fault: wrong, question } = this.judged(of);
    const isAsked = this.left.has(id) && question !== null;
    const isWrong = this.left.has(id) && wrong !== null;
    const label = named(plot.label);
    const lastMm = last?.exposed_mm ?? null;
    const leave = () => { if (this.typed[id]) this.left.add(id); this.stage.redraw(); };
    return html`<div class="stake ${isWrong ? 'wrong' : isAsked ? 'asks' : ''}"><b>${label}</b><span
      class="last">${lastMm ?? '\u2013'}</span><div class="box"><input id="stake-${id}" aria-label="${label}, ${
        lastMm === null ? 'not read before' : `last ${lastMm} mm`}" inputmode="decimal" autocomplete="off"
      enterkeyhint=${of === this.unread[this.unread.length - 1] ? 'done' : 'next'}
      aria-invalid=${isWrong ? 'true' : nothing} aria-describedby="said-${id}" .value=${text}
      @input=${(/** @type {any} */ event) => this.set(id, { text: event.target.value })} @change=${leave}
      @focus=${this.showBox}
      @keydown=${(/** @type {KeyboardEvent} */ event) => this.onKey(event, of)}><i>mm</i></div><span
      class="change">${changeMm === null ? '' : changeWords(changeMm)}</span><label class="choice ringbox"><input
      type="checkbox" aria-label="${label}: scour ring" .checked=${ring}
      @change=${(/** @type {any} */ event) => this.set(id, { ring: event.target.checked })}><span><svg class="draw"
      viewBox="0 0 24 24" aria-hidden="true"><circle class="ring" cx="12" cy="12" r="8"/><circle class="post" cx="12"
      cy="12" r="3"/></svg></span></label></div><div id="said-${id}" class="of-stake" role="alert">${isWrong
        ? fault(wrong ?? '') : isAsked ? this.ask(of, question ?? '') : nothing}</div>`;
  }

  /** @param {StakeFacts} of @param {string} question */
  ask({ plot: { record_id: id } }, question) {
    const yes = () => {
      const text = (this.typed[id]?.text ?? '').trim();
      this.set(id, { sure: text });
      this.goOn(id);
    };
    const again = () => {
      this.left.delete(id);
      this.set(id, { text: '' });
      this.boxOf(id)?.focus();
    };
    return html`<div class="tight">${doubt(question)}<div class="two"><button type="button" class="or"
      @click=${yes}>It is ${this.typed[id]?.text}</button><button type="button" class="or" @click=${again}>Type it
      again</button></div></div>`;
  }

  /** The box that is typed in stands clear of the foot and the keyboard. */
  showBox = () => {
    requestAnimationFrame(() => document.querySelector('.stakes input:focus')?.scrollIntoView({ block: 'center' }));
  };

  /** @param {string} id */
  boxOf(id) { return /** @type {HTMLInputElement|null} */ (document.getElementById(`stake-${id}`)); }

  /** @param {KeyboardEvent} event @param {StakeFacts} of */
  onKey(event, of) {
    if (event.key !== 'Enter') return;
    event.preventDefault();
    this.goOn(of.plot.record_id);
  }

  /** To the next box, or away from the last one. @param {string} id */
  goOn(id) {
    const place = this.unread.findIndex(({ plot }) => plot.record_id === id);
    const next = this.unread[place + 1];
    if (next) this.boxOf(next.plot.record_id)?.focus();
    else this.boxOf(id)?.blur();
  }

  foot = () => {
    const { unread: list, stage } = this;
    if (!this.stakes.length) return nothing;
    if (!list.length) return html`<a class="do" href=${this.on()}>All are read on this visit</a>`;
    const read = list.filter((of) => this.judged(of).exposedMm !== null).length;
    return html`<button type="button" class="do" @click=${() => { if (!stage.isSecondTap()) this.save(); }}>${
      read ? `Save ${partWords(read, list.length)}` : 'Save'}</button>`;
  };

  /** The first box that cannot be saved as it stands, or is still asked about. */
  firstOpen() {
    for (const of of this.unread) {
      const { fault: wrong, question } = this.judged(of);
      const why = wrong ?? question;
      if (why) return { id: of.plot.record_id, sentence: `${named(of.plot.label)}: ${why}` };
    }
    return null;
  }

  async save() {
    const { stage, unread: list } = this;
    const { phone } = stage;
    for (const id of Object.keys(this.typed)) this.left.add(id);
    const first = this.firstOpen();
    const read = list.flatMap((of) => {
      const { exposedMm } = this.judged(of);
      return exposedMm === null ? [] : [{ id: of.plot.record_id, exposedMm }];
    });
    if (first || !read.length) {
      stage.redraw();
      stage.refuse(first?.sentence ?? 'No value is typed yet. Type how much of a stake shows, in mm.');
      this.boxOf(first?.id ?? list[0].plot.record_id)?.focus();
      return;
    }
    const visit = this.shore?.visit ?? null;
    const at = instant(phone.now());
    const changes = read.map(({ id, exposedMm }) => ({ kind: 'stake_reading', recordId: null, visitId: visit?.record_id
      ?? null, fields: { plot_id: id, read_at: at, exposed_mm: exposedMm,
      scour_ring: this.typed[id].ring === true } }));
    const to = this.on();
    const undo = await savedWithUndo(stage, onVisit(phone, visit, changes), { from: to, to: location.hash });
    if (!undo) return;
    await phone.dropDraft(this.draftKey);
    this.typed = {};
    stage.say(`${this.title()}: ${partWords(read.length, list.length)} saved on this ${deviceWord()}.`, undo);
    stage.go(to);
  }

  /** Where one goes on: to the visit's list where they are on it. */
  on() { return this.isOnPlan ? '#/units' : '#/plots'; }
}

/** @param {number} read @param {number} all @returns {string} "9 of 10, one not read" */
export const partWords = (read, all) => (all === 1 ? 'the reading' : read === all ? `all ${all}`
  : `${read} of ${all}, ${all - read === 1 ? 'one' : all - read} not read`);
