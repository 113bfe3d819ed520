/**
 * Syncing as the person sees it: one at a time, waiting longer after each failure, with a sentence for what stands in
 * the way. Sending never gates reading or writing.
 *
 * @typedef {import('../log/identity.js').SyncState} SyncState
 * @typedef {{cursor: [number, string], past: number}} Place where an answer ends
 * @typedef {{rid: string, lane: string, next: Promise<Place|null>, reply: Promise<import('./exchange.js').Reply>}}
 *   Asked
 * @typedef {{sync: (body: string, heard?: (next: Place) => void) => Promise<import('./exchange.js').Reply>, pack:
 *   (address: string, etag: string|null) => Promise<string|null|undefined>, photoPart:
 *   import('./photo-upload.js').Transport['photoPart']}} Transport
 * @typedef {{onPhoto: () => void, onFault: (sentence: string) => void, onReply: (reply: import('./exchange.js').Reply,
 *   hasNewRecords: boolean) => Promise<void>, onState: () => void, bringPack: () => Promise<void>, person: () =>
 *   string|null, etag: () => string|null}} Ears
 */
import { Exchange } from './exchange.js';
import { NoAnswer } from './http.js';
import { sendPhotos } from './photo-upload.js';
import { wasTold } from '../log/db.js';

/* One sync: rounds of asking and applying until nobody has more to say, then the pack, then photos. */

const BATCH = 1000;
/** Entries of earlier seasons at once: a save that comes between waits for no more. */
const PAST_WANT = 1000;
/** Screens that show records are drawn anew no more often while the past comes. */
const PAST_TOLD_MS = 3_000;
const WANT = 1000;
/** Rounds a lane may take; a phone and a server that never agree must not talk for ever. */
const MOST_ROUNDS = 200;
/** Rounds in a row that bring neither a receipt nor an entry. */
const MOST_IDLE = 3;

/**
 * Bring all lanes of this phone and the server to the same.
 * @param {import('./exchange.js').Exchange} exchange @param {Pick<Transport, 'sync'>} transport
 * @param {string|null} person
 * @returns {Promise<import('./exchange.js').Reply|null>} the last answer
 */
export async function syncLanes(exchange, transport, person) {
  /** @type {import('./exchange.js').Reply|null} */ let reply = null;
  const asked = new Set();
  for (let lane = await nextLane(exchange, asked); lane; lane = await nextLane(exchange, asked)) {
    asked.add(lane);
    let batch = BATCH;
    let again = true;
    let idle = 0;
    for (let round = 0; again && idle < MOST_IDLE && round < MOST_ROUNDS; round++) {
      const body = await exchange.request(lane, { batch, want: WANT, person });
      try {
        reply = await patiently(() => transport.sync(body));
      } catch (error) {
        const sent = body.split('\n').length - 2;
        if (!(error instanceof NoAnswer) || error.word !== 'too-large' || sent < 2) throw error;
        batch = Math.floor(sent / 2);
        continue;
      }
      again = await exchange.response(lane, reply);
      idle = reply.acks.length || reply.pull.length ? 0 : idle + 1;
    }
  }
  exchange.isFirstSync = false;
  return reply;
}

/** A wait of this length is part of a sync; a longer one ends it, with a sentence. */
const SHORT_WAIT_MS = 5_000;
const MOST_WAITS = 5;

/**
 * A server that is busy and says for how long is asked again then, not by all phones at the same moment.
 * @template T @param {() => Promise<T>} ask @returns {Promise<T>}
 */
async function patiently(ask) {
  for (let waits = 0; ; waits++) {
    try {
      return await ask();
    } catch (error) {
      const isShort = error instanceof NoAnswer && error.word === 'busy' && error.retryAfterMs > 0
        && error.retryAfterMs <= SHORT_WAIT_MS;
      if (!isShort || waits === MOST_WAITS) throw error;
      const waitMs = error.retryAfterMs * (1 + Math.random() / 2);
      await new Promise((resolve) => { setTimeout(resolve, waitMs); });
    }
  }
}

/**
 * Older lanes first, the one that is written to last; a fork may add one. A lane that a backup covers whole is asked
 * once, when the app was opened: it may have been released or lost since.
 * @param {import('./exchange.js').Exchange} exchange @param {Set<string>} asked
 */
async function nextLane(exchange, asked) {
  const { lane, lanes } = await exchange.head();
  const isDue = (/** @type {string} */ id) => exchange.isFirstSync || lanes[id].durable < lanes[id].n;
  return [...Object.keys(lanes).filter((id) => id !== lane && isDue(id)), lane].find((id) => !asked.has(id)) ?? null;
}

/* When to sync: at opening, when the network or the screen comes back, every minute while the screen is on. */

const EVERY_MS = 60_000;
const AFTER_SAVING_MS = 2_000;

/**
 * @param {{run: () => Promise<boolean>, runIfDue: () => Promise<boolean>}} sync
 * @param {() => boolean} mayRun whether this phone is joined
 * @returns {{saved: () => void}} to be told of each save
 */
export function keepSyncing(sync, mayRun) {
  const due = () => { if (mayRun() && !document.hidden) sync.runIfDue().catch(wasTold); };
  /** @type {ReturnType<typeof setTimeout>|undefined} */ let soon;
  window.addEventListener('online', () => { if (mayRun()) sync.run().catch(wasTold); });
  document.addEventListener('visibilitychange', due);
  window.setInterval(due, EVERY_MS);
  due();
  return {
    saved: () => {
      clearTimeout(soon);
      soon = setTimeout(due, AFTER_SAVING_MS);
    },
  };
}

const FIRST_WAIT_MS = 5_000;
const LONGEST_WAIT_MS = 5 * 60_000;
const LOCK = 'fieldlog-sync';
const CLOCK_OFF_MS = 120_000;

/**
 * @param {{db: import('../log/db.js').Store, transport: Transport, now: () => number, random: (bits: number) =>
 *   string, app?: string, ears: Ears, state: SyncState}} parts
 */
export const createSync = (parts) => new Session(parts);

class Session {
  /** @param {Parameters<typeof createSync>[0]} parts */
  constructor({ db, transport, now, random, app, ears, state }) {
    this.db = db;
    this.transport = transport;
    this.now = now;
    this.random = random;
    this.ears = ears;
    this.state = state;
    this.exchange = new Exchange({ db, now, random, app });
    this.failures = 0;
    this.notBeforeMs = 0;
    /** @type {Promise<boolean>|null} */ this.running = null;
    /** Whether all that runs is the past, which may come for minutes. */ this.isOnlyPast = false;
    /** @type {Promise<boolean>|null} */ this.following = null;
  }

  /**
   * Sync now, whatever failed before. Who asks while only the past still comes gets an answer of their own: the past
   * stands back and goes on after it. @returns {Promise<boolean>} whether all went well
   */
  run() {
    if (this.isOnlyPast && this.running) {
      this.following ??= this.running.then(() => { this.following = null; return this.run(); });
      return this.following;
    }
    this.running ??= this.locked().finally(() => { this.running = null; this.isOnlyPast = false; });
    return this.running;
  }

  /** Sync unless a failure is too fresh. @returns {Promise<boolean>} */
  async runIfDue() {
    return this.now() < this.notBeforeMs || this.state.needs_join || this.state.update_app ? false
      : this.running ?? this.run();
  }

  /** One page of this phone at a time; without locks a stale answer is told by its number. */
  async locked() {
    if (!navigator.locks) return this.once();
    return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => (lock ? this.once() : false));
  }

  async once() {
    this.tell({ busy: true });
    try {
      this.exchange.hasNewRecords = false;
      const reply = await syncLanes(this.exchange, this.transport, this.ears.person());
      this.failures = 0;
      this.notBeforeMs = 0;
      const said = { portal: false, needs_join: false, waiting: false, update_app: false, last_error_sentence: null };
      if (reply) {
        this.tell({ ...said, last_ok_ms: this.now(), revoked: reply.revoked === true,
          clock_sentence: clockSentence(this.now() - reply.now) });
        await this.ears.onReply(reply, this.exchange.hasNewRecords);
        if (reply.pack && reply.pack !== this.ears.etag()) await this.ears.bringPack();
      }
      // A photo that the server refuses for now must not keep the past from coming.
      const refused = this.state.revoked ? null
        : await sendPhotos(this.db, this.transport, this.now, this.ears)
          .then(() => null, (/** @type {unknown} */ fault) => fault);
      this.tell({ busy: false });
      this.isOnlyPast = true;
      await this.fetchPast();
      if (refused) throw refused;
      return true;
    } catch (error) {
      this.failed(error);
      return false;
    }
  }

  /**
   * Ask for more of the past.
   * @param {string} lane @param {Place|null} after
   * @returns {Asked}
   */
  askPast(lane, after) {
    const rid = this.random(64);
    /** @type {(next: Place|null) => void} */ let heard = () => {};
    /** @type {Promise<Place|null>} */ const next = new Promise((resolve) => { heard = resolve; });
    const reply = this.exchange.request(lane, { batch: BATCH, want: PAST_WANT, person: this.ears.person() }, rid, after)
      .then((body) => patiently(() => this.transport.sync(body, heard))).finally(() => heard(null));
    // Who awaits it hears of a failure; where an earlier one failed nobody does.
    reply.catch(() => {});
    return { rid, lane, next, reply };
  }

  /**
   * The records of earlier seasons, some at a time, while the app is used. Each request also takes along what was
   * written meanwhile. What comes after an answer is asked for when its head is here, so that the line does not wait
   * while the answer is put away.
   */
  async fetchPast() {
    let { past } = await this.exchange.head();
    this.tell({ past_coming: past !== null });
    /** @type {Asked|null} */ let following = null;
    for (let toldMs = this.now(); past !== null;) {
      /** @type {Asked} */ const asked = following ?? this.askPast((await this.exchange.head()).lane, null);
      const next = await asked.next;
      following = next && !this.following ? this.askPast(asked.lane, next) : null;
      const reply = await asked.reply;
      await this.exchange.response(asked.lane, reply, following?.rid);
      const now = (await this.exchange.head()).past;
      if (now !== null && now >= past && !reply.more) return;
      past = now;
      if (past !== null && this.following && !following) return;
      if (past === null) this.tell({ past_coming: false });
      if (past !== null && this.now() - toldMs < PAST_TOLD_MS) continue;
      toldMs = this.now();
      await this.ears.onReply(reply, true);
    }
  }

  /** @param {any} error */
  failed(error) {
    const isKnown = error instanceof NoAnswer;
    if (isKnown) {
      const wait = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** this.failures);
      const jitter = parseInt(this.random(16), 16) / 0xffff;
      this.failures += 1;
      this.notBeforeMs = this.now() + Math.max(error.retryAfterMs, wait * (0.5 + jitter / 2));
    }
    this.tell({
      busy: false, waiting: isKnown, last_error_sentence: error.sentence
        ?? 'Syncing stopped: the app failed. Everything stays on this phone.',
      portal: error.word === 'portal', needs_join: error.word === 'not-joined', update_app: error.word === 'outdated',
      revoked: this.state.revoked || error.word === 'revoked',
    });
    if (!error.sentence) throw error;
  }

  /** @param {Partial<SyncState>} changes */
  tell(changes) {
    Object.assign(this.state, changes);
    this.ears.onState();
  }
}

/** @param {number} aheadMs @returns {string|null} */
export function clockSentence(aheadMs) {
  const minutes = Math.round(Math.abs(aheadMs) / 60_000);
  if (Math.abs(aheadMs) <= CLOCK_OFF_MS) return null;
  const hours = Math.floor(minutes / 60);
  const days = Math.floor(hours / 24);
  const span = days > 1 ? `${days} days` : hours ? `${hours} h ${minutes % 60} min` : `${minutes} min`;
  return `This phone's clock is ${span} ${aheadMs > 0 ? 'ahead' : 'behind'}. Nothing is lost: set the clock, then `
    + 'sync again.';
}
