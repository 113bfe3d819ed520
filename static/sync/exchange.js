/**
 * The phone's half of the protocol: what it asks, and what an answer changes. Every step is one transaction, so the
 * phone may be killed between any two of them.
 *
 * @typedef {[number, string, 'ok', number, string] | [number, string, 'q', 0, string, string?]} Ack
 * @typedef {[number, string, string, string|null]} Pulled
 * @typedef {{rid: string, now: number, err: null|'gap'|'diverged'|'fork', acks: Ack[], top: [number, string], pull:
 *   Pulled[], older?: (string|[string, string])[], cursor: [number, string], past?: number, more: boolean, reset:
 *   boolean, durable?: number, revoked?: boolean, photos?: string[], pack?: string|null, role?: string, sites?:
 *   string[]|null}} Reply
 * @typedef {import('../log/folding.js').Line} Line
 * @typedef {import('../log/folding.js').Entry} Entry
 * @typedef {import('../log/identity.js').Head} Head
 */
import { FOLDED, foldIn, rebuild, rebuildAll } from '../log/folding.js';
import { beginLane, isUnsent, learnClock, observe, putHead, readHead } from '../log/identity.js';
import { entryId, moved, parsed, recordKey } from '../log/line.js';
import { append } from '../log/entries.js';
import { carryOutPurges, PURGE } from '../log/purged.js';
import { askAgain, isGone, offerAgain, offerPhotos, order, takeVerdicts } from './receipts.js';
import { unwrap } from '../vendor/idb-8.0.4/index.js';

/* What a pull brings: others' entries, and news of one's own. */

/**
 * Keep what was pulled.
 * @param {any} tx @param {import('../log/identity.js').Head} head @param {Reply} reply
 * @param {Set<string>} dirty records to fold again are added
 * @returns {Promise<{fresh: Entry[], isStolen: boolean}>} entries to fold in; whether another phone writes under this
 *   one's lane
 */
export async function takePulled(tx, head, reply, dirty) {
  // The receipt of the same answer says the same of an entry just sent.
  const told = new Map(reply.acks.filter((ack) => ack[2] === 'ok').map((ack) => [ack[1], ack[4]]));
  const news = reply.pull.filter(([, id, eff, text]) => text !== null || told.get(id) !== eff);
  const taken = await Promise.all(news.map((pulled) => takeOne(tx, head, pulled, dirty)));
  const fresh = taken.flatMap(({ entry }) => (entry ? [entry] : []));
  return { fresh, isStolen: taken.some(({ isStolen }) => isStolen) };
}

/**
 * Entries that came as their lines alone: a line's hash is its name, and its stamp its place but where that is said.
 * @param {(string|[string, string])[]} older @returns {Pulled[]}
 */
const withNames = (older) => older.map((line) => {
  const [text, eff] = typeof line === 'string' ? [line, parsed(line)?.s ?? ''] : line;
  return [0, entryId(text), eff, text];
});

/**
 * @param {any} tx @param {import('../log/identity.js').Head} head @param {Pulled} pulled @param {Set<string>} dirty
 * @returns {Promise<{entry?: Entry, isStolen?: boolean}>}
 */
async function takeOne(tx, head, [, id, eff, text], dirty) {
  const said = text === null ? null : parsed(text);
  const others = tx.objectStore('others');
  const keep = () => unwrap(others).put({ id, eff, text, record: recordKey(said.t, said.r) });
  if (said && !Object.hasOwn(head.lanes, said.d)) {
    keep();
    observe(head, eff);
    return { entry: { id, eff, said, isOwn: false } };
  }
  const [own, there, other] = await Promise.all([
    tx.objectStore('lines').index('id').get(id), said ? tx.objectStore('lines').get([said.d, said.n]) : null,
    others.get(id),
  ]);
  if (own) noteTaken(tx, own, eff, dirty);
  if (own || said) observe(head, eff);
  if (other && other.eff !== eff) {
    others.put({ ...other, eff });
    dirty.add(other.record);
  }
  // The text of an own private entry was taken off this phone for good.
  if (!said || own?.isPrivate) return {};
  keep();
  const isFolded = own && own.text !== null;
  return { entry: isFolded ? undefined : { id, eff, said, isOwn: false },
    isStolen: there?.id !== id && said.d === head.lane };
}

/**
 * An own id in a pull is taken, whatever the phone thought.
 * @param {any} tx @param {Line} own @param {string} eff @param {Set<string>} dirty
 */
function noteTaken(tx, own, eff, dirty) {
  if (own.state !== 'held' && order(own) === eff) return;
  if (own.record) dirty.add(own.record);
  tx.objectStore('lines').put({ ...own, state: 'taken', eff, why: null, sentence: null });
}

/* When two phones write under one lane (a phone's backup was put on another): write anew what the server has not. */

/**
 * Cut a lane before `at`, where the server holds another line, and write the rest into a new lane: also what counted as
 * taken, for that was before the server was restored; a lane has no gaps. Without a cursor no answer says any more that
 * the server was restored, so whoever forks asks for its receipts again.
 * @param {any} tx @param {import('../log/identity.js').Head} head @param {string} laneId @param {number} at
 * @param {(bits: number) => string} random
 */
export async function fork(tx, head, laneId, at, random) {
  const lines = tx.objectStore('lines');
  const rest = IDBKeyRange.bound([laneId, at], [laneId, []]);
  const [redo, before] = await Promise.all([lines.getAll(rest), at > 1 ? lines.get([laneId, at - 1]) : null]);
  lines.delete(rest);
  const { answered, marked } = head.lanes[laneId];
  Object.assign(head.lanes[laneId], {
    n: at - 1, ch: before?.ch ?? '', answered: Math.min(answered, at - 1), marked: Math.min(marked, at - 1),
  });
  if (laneId === head.lane) beginLane(head, random);
  /** @type {Map<string, string>} */ const renamed = new Map();
  for (const { id, text, fixed } of redo) {
    if (text === null) continue;
    const said = parsed(text);
    const line = append(tx, head, said ? moved(said, id, head.lane, head.lanes[head.lane].n + 1, renamed) : text);
    if (fixed) lines.put({ ...line, fixed });
    if (said) renamed.set(id, line.id);
  }
  Object.assign(head, { cursor: null, past: null });
  tx.objectStore('others').clear();
  await rebuildAll(tx);
}

const BODY_BYTES = 1024 * 1024;
export const EXCHANGED = [...FOLDED, 'photos', 'meta'];

/**
 * Lanes are answered for in the order in which they were begun, so that what was written later arrives later.
 * @param {Head} head @param {string} laneId
 */
function waitsForOlder(head, laneId) {
  const order = Object.keys(head.lanes);
  return order.slice(0, order.indexOf(laneId)).some((id) => head.lanes[id].answered < head.lanes[id].n);
}

/**
 * Own lines of a record would stand without the rest of it until its past comes, so only a new phone asks for the
 * season first.
 * @param {Head} head
 */
const hasWritten = (head) => Object.values(head.lanes).some((lane) => lane.n > 0);

export class Exchange {
  /**
   * @param {{db: import('../log/db.js').Store, now: () => number, random: (bits: number) => string, app?: string}}
   *   parts
   */
  constructor({ db, now, random, app }) {
    this.db = db;
    this.now = now;
    this.random = random;
    this.app = app;
    /** Whether an answer changed records on this phone since somebody last set it back. */
    this.hasNewRecords = false;
    /**
     * The lines of the request that waits, so that its answer need not read them again.
     * @type {{rid: string, lines: Map<number, Line>}|null}
     */
    this.sent = null;
    this.isFirstSync = true;
  }

  /** @returns {Promise<Head>} */
  head() {
    return this.db.run(['lines', 'meta'], 'readonly', readHead);
  }

  /**
   * A sync body: the header, and the first lines of a lane that are not answered for.
   * @param {string} named the lane; where the browser emptied the phone meanwhile, its new one is asked for
   * @param {{batch: number, want: number, person?: string|null}} size entries to send and to ask for
   * @param {string} [rid] the request's name
   * @param {{cursor: [number, string], past: number}|null} [after] where an answer ends that is not applied yet; the
   *   request after it counts only when `response` was told of it
   * @returns {Promise<string>}
   */
  request(named, { batch, want, person }, rid = this.random(64), after = null) {
    return this.db.run(['lines', 'meta'], 'readwrite', async (tx) => {
      const lines = tx.objectStore('lines');
      const head = await readHead(tx);
      const laneId = head.lanes[named] ? named : head.lane;
      const lane = head.lanes[laneId];
      const from = lane.answered + 1;
      /** @type {[Line|null, Line[]]} */ const [before, unsent] = await Promise.all([
        from > 1 ? lines.get([laneId, from - 1]) : null,
        waitsForOlder(head, laneId) ? [] : lines.getAll(IDBKeyRange.bound([laneId, from], [laneId, from + batch - 1])),
      ]);
      if (!after) putHead(tx, { ...head, asked: rid });
      const sent = fitting(unsent);
      this.sent = { rid, lines: new Map(sent.map((line) => [line.n, line])) };
      const header = {
        p: 1, rid, d: laneId, from, prev: before?.ch ?? '', mine: head.isAskingAll ? 0 : lane.n,
        cursor: (after ?? head).cursor, want,
        now: this.now(), key: lane.key, season: hasWritten(head) ? undefined : true,
        past: (after ?? head).past ?? undefined,
        older: true, purges: true, app: this.app, person: person ?? undefined,
      };
      const texts = sent.map((line) => line.text);
      return `${[JSON.stringify(header), ...texts].join('\n')}\n`;
    }, { durability: 'relaxed' });
  }

  /**
   * Apply an answer, all or nothing.
   * @param {string} laneId @param {Reply} reply
   * @param {string|null} [next] the request that goes on from this answer's end
   * @returns {Promise<boolean>} whether another round is needed
   */
  response(laneId, { older = [], ...told }, next = null) {
    /** @type {Reply} */ const reply = { ...told, pull: [...told.pull, ...withNames(older)] };
    // A form that is typed in need not wait for an answer without a purge.
    const stores = reply.pull.some(isPurge) ? [...EXCHANGED, 'drafts'] : EXCHANGED;
    return this.db.run(stores, 'readwrite', async (tx) => {
      const head = await readHead(tx);
      // The browser emptied the phone since it asked: the lane that it begins then has its turn.
      if (!head.lanes[laneId]) return false;
      // A stale answer (two pages, a slow network) would move the cursor back: ignored whole.
      if (reply.rid !== head.asked) return true;
      head.asked = null;
      learnClock(head, this.now(), reply.now);
      head.lanes[laneId].durable = reply.durable ?? 0;
      if (await offerPhotos(tx, reply.photos ?? [])) this.hasNewRecords = true;
      const again = await settle(tx, head, laneId, reply, this);
      // After a fork it would go on from somewhere else.
      if (next && head.cursor?.[1] === reply.cursor[1]) head.asked = next;
      putHead(tx, head);
      return again;
    }, { durability: 'relaxed' });
  }
}

/** @param {Pulled} pulled @returns {boolean} */
const isPurge = ([, , , text]) => text !== null && text.includes(`"t":"${PURGE}"`) && parsed(text)?.t === PURGE;

/** Lines up to a body's size, at least one, and up to one that has no text any more. @param {Line[]} lines */
function fitting(lines) {
  let bytes = 0;
  const end = lines.findIndex(({ text }, place) => {
    bytes += text?.length ?? 0;
    return text === null || (place > 0 && bytes > BODY_BYTES);
  });
  return end < 0 ? lines : lines.slice(0, end);
}

/** @param {any} tx @param {Head} head @param {string} laneId @param {Reply} reply @param {Exchange} exchange */
async function settle(tx, head, laneId, reply, exchange) {
  const { random } = exchange;
  /** @type {Set<string>} */ const dirty = new Set();
  const lane = head.lanes[laneId];
  const sent = exchange.sent?.rid === reply.rid ? exchange.sent.lines : null;
  await takeVerdicts(tx, head, laneId, reply, sent, dirty);
  await offerAgain(tx, lane, laneId, reply.err === 'diverged' ? 0 : reply.top[0], dirty);
  if (dirty.size || reply.err || reply.reset) exchange.hasNewRecords = true;
  if (reply.err === 'fork' || (await isGone(tx, laneId, lane))) {
    await fork(tx, head, laneId, lane.answered + 1, random);
    await askAgain(tx, head, dirty);
    return true;
  }
  if (reply.err === 'diverged') {
    await rebuild(tx, dirty);
    return true;
  }
  const isNew = reply.reset;
  if (isNew) {
    await askAgain(tx, head, dirty);
    tx.objectStore('others').clear();
  }
  if (isNew && Object.values(head.lanes).some(({ blank }) => blank > 0) && !head.isAskingAll) {
    // What is no longer kept in full must come down again with its text.
    head.isAskingAll = true;
    Object.assign(head, { cursor: null, past: null });
    await rebuildAll(tx);
    return true;
  }
  const { fresh, isStolen } = await takePulled(tx, head, reply, dirty);
  if (fresh.length || isStolen || dirty.size) exchange.hasNewRecords = true;
  if (isStolen) {
    await fork(tx, head, head.lane, head.lanes[head.lane].n + 1, random);
    await askAgain(tx, head, dirty);
    return true;
  }
  const { acks } = reply;
  const answered = acks.length ? { lane: laneId, from: acks[0][0], to: acks[acks.length - 1][0] } : null;
  await carryOutPurges(tx, head, fresh.map(({ said }) => said), answered, dirty);
  if (dirty.size) exchange.hasNewRecords = true;
  if (isNew || head.isRefilled) await rebuildAll(tx);
  else {
    await foldIn(tx, fresh.filter(({ said }) => !dirty.has(recordKey(said.t, said.r))));
    await rebuild(tx, dirty);
  }
  Object.assign(head, { cursor: reply.cursor, past: reply.past ?? null, isRefilled: false });
  if (!reply.more) head.isAskingAll = false;
  if (!isUnsent(head)) head.hlc = head.newest;
  return Boolean(reply.more || reply.err || (lane.answered < lane.n && !waitsForOlder(head, laneId)));
}
