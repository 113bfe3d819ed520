/** Plays recorded storms through the phone: each step on a real database, compared at each answer. */
import { Store } from '/log/db.js';
import { openHead, readHead } from '/log/identity.js';
import { append, writeEntries } from '/log/entries.js';
import { disagreements, winners } from '/log/merge.js';
import { entryId, START } from '/log/line.js';
import { lineState } from '/log/folding.js';
import { Exchange } from '/sync/exchange.js';

const PRIVATE = new Set(['private_note']);
const STORES = ['lines', 'others', 'records', 'meta'];

/** Nothing here needs to outlive the browser. */
class QuickStore extends Store {
  once(stores, mode, work) { return super.once(stores, mode, work, 'relaxed'); }
}

class PlayedPhone {
  constructor(name) {
    this.store = new QuickStore(name, { onFault: (sentence) => { throw new Error(sentence); } });
    this.draws = [];
    this.nowMs = 0;
    this.random = (bits) => {
      const drawn = this.draws.shift();
      if (drawn?.length !== bits / 4) throw new Error(`asked for ${bits} random bits, recorded ${drawn}`);
      return drawn;
    };
    this.exchange = new Exchange({ db: this.store, now: () => this.nowMs, random: this.random });
  }

  at(nowMs, draws) {
    if (this.draws.length) throw new Error('fewer random numbers were drawn than recorded');
    this.nowMs = nowMs;
    this.draws = [...draws];
  }

  /** @param {boolean} isOld as 0.2.0 left it, not opened by the app of today yet */
  async new(isOld) {
    if (!isOld) return this.upgrade();
    const lane = this.random(128);
    const head = {
      lane, lanes: { [lane]: { n: 0, ch: '', durable: 0, blank: 0 } }, cursor: null, hlc: START, newest: START, rid: null, from: 1,
      offsetMs: 0, skewMs: 0, isAskingAll: false,
    };
    return this.store.run(['meta'], 'readwrite', (tx) => tx.store.put(head, 'head'));
  }

  async upgrade() { await openHead(this.store, this.random); }

  async copy(source) {
    const all = await source.store.run(STORES, 'readonly', (tx) => Promise.all(
      STORES.map(async (name) => [name, await tx.objectStore(name).getAllKeys(), await tx.objectStore(name).getAll()]),
    ));
    await this.store.run(STORES, 'readwrite', (tx) => {
      for (const [name, keys, values] of all) {
        const store = tx.objectStore(name);
        values.forEach((value, place) => (store.keyPath ? store.put(value) : store.put(value, keys[place])));
      }
    });
  }

  async edit(kind, recordId, siteId, fields, id) {
    const { written: [written] } = await writeEntries(this.store, [{ kind, recordId, fields, siteId, visitId: null }], {
      nowMs: this.nowMs, person: null, saltedKinds: PRIVATE, guarded: () => [], random: this.random, offset: () => null,
    });
    same('entry id', written.entryId, id);
  }

  async scribble(text) {
    await this.store.run(STORES, 'readwrite', async (tx) => {
      const head = await readHead(tx);
      append(tx, head, text);
      tx.objectStore('meta').put(head, 'head');
    });
  }

  async request(lane, batch, want, hash) {
    const body = await this.exchange.request(lane, { batch, want });
    same(`request ${body.slice(0, 300)}`, entryId(body), hash);
  }

  async response(lane, reply, again, hash) {
    same('another round', await this.exchange.response(lane, reply), again);
    const state = JSON.stringify(await this.state());
    if (entryId(state) !== hash) throw new Error(`state after an answer: ${state.slice(0, 1500)}`);
  }

  async state() {
    const [head, lines] = await this.store.run(['lines', 'meta'], 'readonly', (tx) => Promise.all([readHead(tx), tx.objectStore('lines').getAll()]));
    const lanes = Object.keys(head.lanes).sort().map((lane) => [lane, lines.filter((line) => line.lane === lane)
      .map((line) => [line, lineState(line, head.lanes[lane])])
      .map(([line, state]) => [line.id, line.ch, state, state === 'taken' ? line.eff ?? line.s : null])]);
    return [head.lane, lanes, head.cursor, head.hlc, head.newest, head.offsetMs];
  }

  /** @param {import('/log/merge.js').Merges} merges @param {import('/log/merge.js').Since} since */
  async fold(merges, since) {
    const kept = await this.store.run(['records'], 'readonly', (tx) => tx.store.getAll());
    return kept.flatMap(({ kind, id, state }) => {
      const open = disagreements(JSON.parse(state), merges, since);
      return Object.entries(winners(JSON.parse(state), merges, since)).map(([name, value]) => [
        kind, id, name, value, (open[name]?.values.slice(1) ?? []).map((other) => JSON.stringify(other)).sort(),
      ]);
    }).sort((one, other) => (JSON.stringify(one) < JSON.stringify(other) ? -1 : 1));
  }
}

/** @param {string} what @param {any} got @param {any} wanted */
function same(what, got, wanted) {
  if (got !== wanted) throw new Error(`${what}: got ${got}, recorded ${wanted}`);
}

/** @returns {Promise<string|null>} what differs, null where nothing does */
export async function play({ seed, steps, ends }, { texts, merges, since }) {
  const phones = new Map();
  let turn = 0;
  try {
    for (const [word, number, nowMs, draws, ...what] of steps) {
      turn += 1;
      if (word === 'new' || word === 'copy') phones.set(number, new PlayedPhone(`storm-${seed}-${number}`));
      const phone = phones.get(number);
      phone.at(nowMs, draws);
      const source = word === 'copy' ? [phones.get(what[0])] : word === 'scribble' ? [texts[what[0]]] : what;
      await phone[word](...source);
    }
    for (const [number, [fold, state]] of ends) {
      const phone = phones.get(number);
      same(`phone ${number}'s end`, JSON.stringify(await phone.state()), JSON.stringify(state));
      const sorted = fold.sort((one, other) => (JSON.stringify(one) < JSON.stringify(other) ? -1 : 1));
      same(`phone ${number}'s fold`, JSON.stringify(await phone.fold(merges, since)), JSON.stringify(sorted));
    }
    return null;
  } catch (error) {
    return `seed ${seed}, step ${turn} of ${steps.length} (${steps[turn - 1].slice(0, 2)}): ${error.stack}`;
  } finally {
    for (const phone of phones.values()) await phone.store.close();
    for (const phone of phones.values()) indexedDB.deleteDatabase(phone.store.name);
  }
}

/** A database waits for its disk most of the time; each schedule has its own. */
const AT_ONCE = 6;
let recorded;
/** Play the schedules from one number to another. @returns {Promise<string[]>} what differs */
export async function playAll(from, to) {
  recorded ??= await (await fetch('/schedules/schedules.json')).json();
  const waiting = recorded.schedules.slice(from, to);
  const told = [];
  await Promise.all(Array.from({ length: AT_ONCE }, async () => {
    for (let schedule = waiting.shift(); schedule; schedule = waiting.shift()) {
      const fault = await play(schedule, recorded);
      if (fault) told.push(fault);
    }
  }));
  return told;
}
