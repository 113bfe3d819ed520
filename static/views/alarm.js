/**
 * The turn-back alarm of the app: armed when a visit starts, on every screen, until everyone of that visit is signed
 * out. It looks at the clock every few seconds, rings, and draws the banner that stands over each screen;
 * alarm/state.js says when.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { alarmState, asleepSince } from '../alarm/state.js';
import { OneTab } from '../alarm/one-tab.js';
import { means, Ringer } from '../alarm/ringing.js';
import { deviceWord, isLargeText, mark, pill } from './marks.js';
import { alarmVisit, backWords, readShore, turnBack, zoneOf } from './shore.js';
import { isOfThisTide } from './visits.js';
import { clock, counted, spanWords } from './words.js';

const KEY = 'fieldlog.alarm';
const LOOK_MS = 5_000;
const MINUTE_MS = 60_000;
const WRITERS = ['crew', 'lead'];

/**
 * What the phone keeps of the alarm, so that closing the app forgets nothing; never sent.
 * @typedef {{siteId: string|null, visitId: string|null, isOn: boolean|null, isHeard: boolean, heardMs: number|null,
 *   lookedMs: number}} Kept
 * isOn: null until somebody was asked; isHeard: the test tone was
 * @typedef {{fromMs: number, toMs: number, isSure: boolean}} Silence isSure: nothing was played in that time
 */

/** @returns {Kept} */
const nothingKept = () => ({ siteId: null, visitId: null, isOn: null, isHeard: false, heardMs: null, lookedMs: 0 });

/**
 * Some browsers refuse storage in private mode; the alarm then lasts until the app is closed.
 * @returns {Partial<Kept>}
 */
function stored() {
  try {
    return JSON.parse(localStorage.getItem(KEY) ?? '{}');
  } catch (error) {
    if (error instanceof DOMException || error instanceof SyntaxError) return {};
    throw error;
  }
}

/** What the alarm of this browser is. */
export function meansWords() {
  const { sound, vibration } = means();
  if (sound && vibration) return 'sound and vibration';
  if (sound) return 'sound only; this browser cannot vibrate';
  return vibration ? 'vibration only; this browser has no sound'
    : 'none; this browser has neither sound nor vibration, so agree on another signal';
}

export class Alarm {
  /** @param {import('./router.js').AnyPhone} phone @param {() => void} redraw @param {{feet: boolean}} settings */
  constructor(phone, redraw, settings) {
    this.phone = phone;
    this.settings = settings;
    this.redraw = redraw;
    /** @type {Kept} */ this.kept = { ...nothingKept(), ...stored() };
    this.ringer = new Ringer(() => this.soundChanged());
    this.tab = new OneTab();
    /** @type {import('./shore.js').Shore|null} */ this.shore = null;
    /** @type {{atMinute: number, told: import('./shore.js').Back|null}} */ this.back = { atMinute: -1, told: null };
    /** @type {number|null} */ this.hiddenMs = document.hidden ? phone.now() : null;
    this.rangHidden = false;
    /** A tone is due that the browser did not let sound yet. */
    this.owes = false;
    this.turn = 0;
    /** @type {Silence|null} */ this.silence = null;
    this.state = alarmState({ nowMs: 0, backMs: null, out: 0, heardMs: null, lookedMs: 0, awaySinceMs: null });
    this.zone = 'UTC';
  }

  start() {
    document.addEventListener('visibilitychange', () => (document.hidden ? this.left() : this.returned()));
    window.addEventListener('pageshow', () => this.look());
    // A browser that took the sound away gives it back to the next finger, wherever that lands.
    window.addEventListener('click', () => {
      if (this.isLost) this.ringer.unlock();
      this.inFront();
    }, true);
    // What was tapped in another tab: switched on, heard, ended.
    window.addEventListener('storage', ({ key }) => {
      if (key !== KEY) return;
      this.readKept();
      this.refresh().then(this.redraw);
    });
    setInterval(() => this.look(), LOOK_MS);
    return this.tab.begin().then(() => this.refresh());
  }

  /** Read what changed on this phone or came to it. */
  async refresh() {
    const turn = ++this.turn;
    const at = await this.place();
    const visit = at && (await alarmVisit(at));
    const shore = visit && (await readShore(at, visit));
    const zone = at && (await zoneOf(at));
    if (turn !== this.turn) return;
    Object.assign(this, { shore, zone: zone ?? 'UTC' });
    this.back.atMinute = -1;
    if (visit) this.goOnWith(visit.record_id, at.me.site_id);
    else this.end();
    this.look();
  }

  /** The phone at the site of the visit: looking at another site meanwhile does not switch the alarm off. */
  async place() {
    const { me } = this.phone;
    const { siteId } = this.kept;
    if (!me?.site_id || !siteId || siteId === me.site_id) return me?.site_id ? this.phone : null;
    const there = Object.create(this.phone, { me: { value: { ...me, site_id: siteId } } });
    return (await alarmVisit(there)) ? there : this.phone;
  }

  /**
   * The alarm stays as it is where the visit became another's part, or a newer one was started.
   * @param {string} visitId @param {string} siteId
   */
  goOnWith(visitId, siteId) {
    if (this.kept.visitId === null) this.keep({ lookedMs: this.phone.now() });
    if (this.kept.visitId !== visitId) this.keep({ visitId, siteId, heardMs: null });
    if (this.kept.isOn && !this.ringer.sound) this.ringer.unlock();
    if (this.kept.isOn) this.ringer.stayOn();
  }

  end() {
    if (this.kept.visitId === null) return;
    this.ringer.stop();
    this.silence = null;
    this.keep(nothingKept());
  }

  /** What stands there by any tab of this phone; when this tab looked last is its own. */
  readKept() { Object.assign(this.kept, stored(), { lookedMs: this.kept.lookedMs }); }

  /** @param {Partial<Kept>} changed */
  keep(changed) {
    this.readKept();
    Object.assign(this.kept, changed);
    try {
      localStorage.setItem(KEY, JSON.stringify(this.kept));
    } catch (error) {
      if (!(error instanceof DOMException)) throw error;
    }
  }

  /** By a finger: the tone is allowed, and heard once. @param {string} visitId @param {string|null} siteId */
  arm(visitId, siteId) {
    this.turn += 1;
    this.keep({ visitId, siteId, isOn: true, lookedMs: this.phone.now() });
    this.ringer.unlock();
    this.ringer.stayOn();
    this.tab.take();
    this.ring();
    this.redraw();
  }

  /** Of several tabs the one that is looked at sounds, once it can. */
  inFront() {
    if (!document.hidden && this.ringer.canRing) this.tab.take();
  }

  /** By a finger, for the visit that it is of. */
  armAgain() {
    const { visitId, siteId } = this.kept;
    if (visitId && siteId) this.arm(visitId, siteId);
    this.refresh();
  }

  /** Now, or as soon as the browser lets it sound. @returns {boolean} whether it was now */
  ring() {
    this.owes = means().sound && !this.ringer.isLive;
    return this.ringer.ring();
  }

  soundChanged() {
    if (this.owes && this.ringer.isLive) this.ring();
    this.inFront();
    this.redraw();
  }

  left() {
    const nowMs = this.phone.now();
    Object.assign(this, { hiddenMs: nowMs, rangHidden: false });
    this.ringer.forgetLight();
    this.keep({ lookedMs: nowMs });
  }

  returned() {
    const wasHere = this.tab.isHere;
    if (this.kept.isOn) {
      this.ringer.unlock();
      this.ringer.stayOn();
      this.inFront();
    }
    this.look(wasHere);
  }

  /** The turn-back time, worked out once a minute. @param {number} nowMs */
  backMs(nowMs) {
    const minute = Math.floor(nowMs / MINUTE_MS);
    if (this.back.atMinute !== minute) {
      this.back = { atMinute: minute, told: this.shore && turnBack(this.shore, nowMs) };
    }
    return this.back.told?.atMs ?? null;
  }

  /** @param {boolean} [wasHere] whether no other tab may have sounded since the last look */
  look(wasHere = this.tab.isHere) {
    if (!this.shore) return;
    const isOn = this.kept.isOn === true;
    const nowMs = this.phone.now();
    // From then on whoever has no time out is told of as left out, on the screen that stands too.
    if (!this.shore.visit || !isOfThisTide(this.shore.visit, nowMs)) { this.phone.emit('change', null); return; }
    const { heardMs, lookedMs } = this.kept;
    const awaySinceMs = document.hidden ? null : this.hiddenMs ?? asleepSince(lookedMs, nowMs);
    this.state = alarmState({ nowMs, backMs: this.backMs(nowMs), out: this.shore.party.length, heardMs, lookedMs,
      awaySinceMs });
    const { rings, silentFromMs } = this.state;
    if (isOn && silentFromMs !== null) this.silence = { fromMs: silentFromMs, toMs: nowMs,
      isSure: !this.rangHidden && wasHere };
    if (!document.hidden) this.hiddenMs = null;
    if (isOn && rings && this.tab.isHere && this.ring() && document.hidden) this.rangHidden = true;
    if (rings || Math.floor(lookedMs / MINUTE_MS) !== Math.floor(nowMs / MINUTE_MS)) {
      this.keep({ lookedMs: nowMs });
      this.redraw();
    } else this.kept.lookedMs = nowMs;
  }

  heard() {
    Object.assign(this, { silence: null, owes: false });
    this.keep({ heardMs: this.phone.now() });
    this.look();
    this.redraw();
  }

  /** Switched on, and the browser took the sound away. */
  get isLost() {
    return Boolean(this.shore && this.kept.isOn && means().sound && !this.ringer.isLive);
  }

  /** What stands in the header of a screen that has no room for more. */
  pill() {
    const nowMs = this.phone.now();
    const backMs = this.shore?.party.length ? this.backMs(nowMs) : null;
    if (backMs === null) return undefined;
    const leftMs = backMs - nowMs;
    if (leftMs <= 0) return pill('stop', `${spanWords(leftMs)} past due`);
    return pill(this.state.shows ? 'look' : 'plain', `back in ${spanWords(leftMs)}`);
  }

  /** Whether it stands over the screens now. */
  get isUp() { return Boolean(this.shore) && (this.state.shows || this.silence !== null); }

  /** Over every screen; its live region is always there, so that what comes into it is read out. */
  banner() {
    const { isDue, quietUntilMs } = this.state;
    const { isUp } = this;
    const heard = html`<button type="button" class="or" @click=${() => this.heard()}>Heard</button>`;
    const button = quietUntilMs !== null ? html`<p>Silent until ${clock(quietUntilMs, this.zone)}</p>` : this.kept.isOn
      ? heard : nothing;
    return html`<section class="alarm ${isUp ? 'stays' : ''}" aria-label="Turn-back alarm">
      <div class=${isUp ? `notice ${isDue ? 'stop' : 'look'}` : ''}>${isUp ? mark(isDue ? 'stop' : 'look') : nothing}
        <div class="said"><div role="alert" aria-atomic="true">${isUp ? this.sentences() : nothing}</div>${isUp
          ? html`${this.timer()}${button}` : nothing}</div></div>
      ${this.lost()}</section>`;
  }

  /**
   * What is read out: it changes with people and states, not with the minute. In large letters the reason, which stands
   * on Today and on the clock, would fill a small screen.
   */
  sentences() {
    const { silence, shore } = this;
    const { told } = this.back;
    const people = counted(shore?.party.length ?? 0, 'person', 'people');
    const due = !shore || !told ? nothing : this.state.isDue
      ? `Turn back was due at ${clock(told.atMs, this.zone)}. ${people} from this visit not signed out.`
      : `${isLargeText() ? `Turn back by ${clock(told.atMs, this.zone)}.` : backWords(told, shore, this)} ${people} `
        + 'out: finish the unit you are at, and gather.';
    return html`<p>${due}</p>${silence ? html`<p>The alarm ${silence.isSure ? 'was'
      : 'may have been'} silent for ${spanWords(silence.toMs - silence.fromMs)}, from
      ${clock(silence.fromMs, this.zone)} to ${clock(silence.toMs, this.zone)}: this ${deviceWord()} was locked, or the
      app was not in front.</p>` : nothing}`;
  }

  timer() {
    const leftMs = (this.back.told?.atMs ?? 0) - this.phone.now();
    return html`<p class="left" role="timer"
      aria-live="off">${leftMs > 0 ? `${spanWords(leftMs)} left` : `${spanWords(leftMs)} ago`}</p>`;
  }

  lost() {
    if (!this.isLost) return nothing;
    return html`<div class="notice look" role="alert">${mark('look')}<div
      class="said"><p>The browser stopped the alarm's sound. Tap to switch the alarm on again.</p>
      <button type="button" class="or" @click=${() => this.armAgain()}>Switch the alarm on again</button></div></div>`;
  }

  /**
   * Asked once a visit: of the phone that started it whether the tone was heard, of another whether it shall sound too.
   * While the alarm stands the question is folded: both together would fill a small screen, and the alarm comes first.
   * @returns {unknown} null where nothing is asked
   */
  asks() {
    const { isOn, isHeard } = this.kept;
    if (!this.shore || isHeard || isOn === false || !WRITERS.includes(this.phone.me?.role ?? '')) return null;
    const arm = () => this.armAgain();
    const [sentence, yes, no] = isOn
      ? [`The turn-back alarm is on, on every screen (${meansWords()}). Did you notice it just now?`,
        html`<button type="button" class="or" @click=${() => { this.keep({ isHeard: true }); this.redraw(); }}>Yes, I
          noticed it</button>`,
        html`<button type="button" class="or" @click=${arm}>Try it again</button>`]
      : [`A visit is open. Shall this ${deviceWord()} sound the turn-back alarm too?`,
        html`<button type="button" class="or" @click=${arm}>Switch it on and hear it</button>`,
        html`<button type="button" class="or" @click=${() => { this.keep({ isOn: false }); this.redraw(); }}>Not on this
          ${deviceWord()}</button>`];
    const asked = html`<div class="notice plain" role="status">${mark('phone')}<div class="said"><p>${sentence}</p><div
      class="answers">${yes}${no}</div></div></div>`;
    return !this.isUp ? asked : html`<details class="more"><summary><span class="said">${isOn
      ? 'Did you notice the alarm?' : `Sound it on this ${deviceWord()} too?`}</span></summary>${asked}</details>`;
  }
}
