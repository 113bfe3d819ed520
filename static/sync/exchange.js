/**
 * The phone's half of the protocol: what it asks, and what an answer changes. Every step is one transaction, so the
 * phone may be killed between any two of them.
 *
 * @typedef {[number, string, 'ok', number, string] | [number, string, 'q', 0, string, string?]} Ack
 * @typedef {[number, string, string, string|null]} Pulled
 * @typedef {{rid: string, now: number, err: null|'gap'|'diverged'|'fork', acks: Ack[], top: [number, string],
 *   pull: Pulled[], cursor: [number, string], more: boolean, reset: boolean, durable?: number, revoked?: boolean,
 *   pack?: string|null, role?: string, sites?: string[]|null}} Reply
 * @typedef {import('../store/folding.js').Line} Line
 * @typedef {import('../store/head.js').Head} Head
 */
import { FOLDED, foldIn, rebuild, rebuildAll } from '../store/folding.js';
import { observe, putHead, readHead } from '../store/head.js';
import { fork } from './fork.js';
import { takePulled } from './take.js';
import { recordKey } from './line.js';

const BODY_BYTES = 1024 * 1024;
/** A clock further off than this is corrected for by what the server says. */
const CLOCK_OFF_MS = 120_000;
export const EXCHANGED = [...FOLDED, 'meta'];

/** @param {string} state @param {string} [lane] */
const inState = (state, lane) => (lane === undefined ? IDBKeyRange.bound([state], [state, []])
  : IDBKeyRange.bound([state, lane], [state, lane, []]));

export class Exchange {
  /**
   * @param {{db: import('../store/db.js').Store, now: () => number, random: (bits: number) => string, app?: string}} parts
   */
  constructor({ db, now, random, app }) {
    this.db = db;
    this.now = now;
    this.random = random;
    this.app = app;
    /** Whether an answer changed records on this phone since somebody last set it back. */
    this.hasNewRecords = false;
  }

  /** @returns {Promise<Head>} */
  head() {
    return this.db.run(['meta'], 'readonly', readHead);
  }

  /**
   * A sync body: the header, and the first lines of a lane that are not answered for.
   * @param {string} laneId @param {{batch: number, want: number, person?: string|null}} size entries to send and to ask for
   * @returns {Promise<string>}
   */
  request(laneId, { batch, want, person }) {
    const rid = this.random(64);
    return this.db.run(['lines', 'meta'], 'readwrite', async (tx) => {
      const lines = tx.objectStore('lines');
      const [head, first] = await Promise.all([readHead(tx), lines.index('state').getKey(inState('phone', laneId))]);
      const lane = head.lanes[laneId];
      const from = first ? first[1] : lane.n + 1;
      const [before, waiting] = await Promise.all([
        from > 1 ? lines.get([laneId, from - 1]) : null,
        first ? lines.getAll(IDBKeyRange.bound([laneId, from], [laneId, from + batch - 1])) : [],
      ]);
      putHead(tx, { ...head, rid, from });
      const texts = fitting(waiting.map((/** @type {Line} */ line) => line.text));
      const header = {
        p: 1, rid, d: laneId, from, prev: before?.ch ?? '', mine: head.isAskingAll ? 0 : lane.n, cursor: head.cursor, want,
        now: this.now(), app: this.app, person: person ?? undefined,
      };
      return `${[JSON.stringify(header), ...texts].join('\n')}\n`;
    }, { durability: 'relaxed' });
  }

  /**
   * Apply an answer, all or nothing.
   * @param {string} laneId @param {Reply} reply
   * @returns {Promise<boolean>} whether another round is needed
   */
  response(laneId, reply) {
    return this.db.run(EXCHANGED, 'readwrite', async (tx) => {
      const head = await readHead(tx);
      // A stale answer (two pages, a slow network) would move the cursor back: ignored whole.
      if (reply.rid !== head.rid || !head.lanes[laneId]) return true;
      head.rid = null;
      head.skewMs = this.now() - reply.now;
      head.offsetMs = Math.abs(head.skewMs) > CLOCK_OFF_MS ? -head.skewMs : 0;
      head.lanes[laneId].durable = reply.durable ?? 0;
      const again = await settle(tx, head, laneId, reply, this);
      putHead(tx, head);
      return again;
    }, { durability: 'relaxed' });
  }
}

/** Lines up to a body's size, at least one. @param {string[]} texts */
function fitting(texts) {
  let bytes = 0;
  const end = texts.findIndex((text, place) => { bytes += text.length; return place > 0 && bytes > BODY_BYTES; });
  return end < 0 ? texts : texts.slice(0, end);
}

/** @param {any} tx @param {Head} head @param {string} laneId @param {Reply} reply @param {Exchange} exchange */
async function settle(tx, head, laneId, reply, exchange) {
  const { random } = exchange;
  /** @type {Set<string>} */ const dirty = new Set();
  await takeVerdicts(tx, head, laneId, reply, dirty);
  await offerAgain(tx, laneId, reply.err === 'diverged' ? 0 : reply.top[0], dirty);
  if (dirty.size || reply.err || reply.reset) exchange.hasNewRecords = true;
  if (reply.err === 'fork') {
    const last = reply.acks.at(-1);
    await fork(tx, head, laneId, last ? last[0] + 1 : head.from, random);
    return true;
  }
  if (reply.err === 'diverged') {
    await rebuild(tx, dirty);
    return true;
  }
  const isNew = reply.reset;
  if (isNew) tx.objectStore('others').clear();
  if (isNew && Object.values(head.lanes).some((lane) => lane.blank > 0) && !head.isAskingAll) {
    // What is no longer kept in full must come down again with its text.
    head.isAskingAll = true;
    head.cursor = null;
    await rebuildAll(tx);
    return true;
  }
  const { fresh, isStolen } = await takePulled(tx, head, reply, dirty);
  if (fresh.length || isStolen || dirty.size) exchange.hasNewRecords = true;
  if (isStolen) {
    await fork(tx, head, head.lane, head.lanes[head.lane].n + 1, random);
    return true;
  }
  if (isNew) await rebuildAll(tx);
  else {
    await foldIn(tx, fresh.filter(({ said }) => !dirty.has(recordKey(said.t, said.r))));
    await rebuild(tx, dirty);
  }
  head.cursor = reply.cursor;
  if (!reply.more) head.isAskingAll = false;
  const states = tx.objectStore('lines').index('state');
  const [unsent, unsentHere] = await Promise.all([states.getKey(inState('phone')), states.getKey(inState('phone', laneId))]);
  if (!unsent) head.hlc = head.newest;
  return Boolean(reply.more || reply.err || unsentHere);
}

/** @param {Line} line */
const order = (line) => line.eff ?? line.s;

/**
 * Receipts, by id: a number alone may name another entry by now.
 * @param {any} tx @param {Head} head @param {string} laneId @param {Reply} reply @param {Set<string>} dirty records to fold again
 */
async function takeVerdicts(tx, head, laneId, reply, dirty) {
  if (!reply.acks.length) return;
  const lines = tx.objectStore('lines');
  const [first, last] = [reply.acks[0][0], reply.acks[reply.acks.length - 1][0]];
  /** @type {Map<number, Line>} */ const known = new Map(
    (await lines.getAll(IDBKeyRange.bound([laneId, first], [laneId, last]))).map((/** @type {Line} */ line) => [line.n, line]),
  );
  for (const [number, id, verdict, , what, sentence] of reply.acks) {
    const line = known.get(number);
    if (line?.id !== id) continue;
    const isTaken = verdict === 'ok';
    /** @type {Line} */ const judged = {
      ...line, state: isTaken ? 'taken' : 'held', eff: isTaken ? what : null, why: isTaken ? null : what,
      sentence: isTaken ? null : sentence ?? null,
    };
    if (isTaken) observe(head, what);
    if (line.record && ((line.state === 'held') !== !isTaken || order(line) !== order(judged))) dirty.add(line.record);
    lines.put(judged);
  }
}

/**
 * Lines that the server does not have, or not any more (it was restored from a backup), are sent again.
 * @param {any} tx @param {string} laneId @param {number} top the highest number there @param {Set<string>} dirty
 */
async function offerAgain(tx, laneId, top, dirty) {
  const lines = tx.objectStore('lines');
  const gone = await Promise.all(['taken', 'held'].map((state) => lines.index('state')
    .getAll(IDBKeyRange.bound([state, laneId, top + 1], [state, laneId, []]))));
  for (const line of gone.flat()) {
    if (line.text === null) continue;
    lines.put({ ...line, state: 'phone', eff: null, why: null, sentence: null });
    if (line.record) dirty.add(line.record);
  }
}
