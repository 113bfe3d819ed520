/** Reading records, their history and their disagreements. Rows are read as they stand; the log is not folded. */
import { disagreements, winners } from '../log/merge.js';
import { msOfStamp, parsed, recordKey } from '../log/line.js';
import { lineState, refKey, rowIn, stateIn } from '../log/folding.js';
import { readHead } from '../log/identity.js';

/*
 * Rows as they were last read, kept in memory: a save puts in its own, so that a screen that stays open need not read
 * thousands of others again. Whatever else changes records empties it.
 */

/** @typedef {import('../log/folding.js').Kept} Kept */

export class ShownRows {
  /** @param {import('../log/db.js').Store} store */
  constructor(store) {
    this.store = store;
    /**
     * @type {Map<string, {kind: string, site: string|null, rows: Promise<Map<string, Kept>>, known: Map<string,
     *   Kept>}>}
     */
    this.lists = new Map();
  }

  /**
   * The records of a kind, removed ones too, remembered.
   * @param {string} kind @param {Wanted} wanted @returns {Promise<Kept[]>}
   */
  async read(kind, wanted) {
    const { siteId = null } = wanted;
    const key = `${kind}|${siteId ?? ''}`;
    let list = this.lists.get(key);
    if (!list) {
      /** @type {Map<string, Kept>} */ const known = new Map();
      const rows = keptRows(this.store, kind, wanted).then((keptRecords) => {
        for (const kept of keptRecords) known.set(kept.id, kept);
        return known;
      });
      list = { kind, site: siteId, rows, known };
      this.lists.set(key, list);
      rows.catch(() => this.lists.delete(key));
    }
    const records = [...(await list.rows).values()];
    if (kind === 'import' || !records.some(({ row }) => row.import_id)) return records;
    const gone = await this.gone();
    return gone.size ? records.map((kept) => withImport(kept, gone)) : records;
  }

  /** The imports that were removed, each with what it made. @returns {Promise<Set<string>>} */
  async gone() {
    return new Set((await this.read('import', {})).filter(({ isDeleted }) => isDeleted).map(({ id }) => id));
  }

  /**
   * The records of a kind that name one of some others.
   * @param {string} kind @param {{kind: string, id: string}[]} of @param {string|null} siteId as `keptRowsOf` has it
   */
  async naming(kind, of, siteId) {
    const records = await keptRowsOf(this.store, kind, of, siteId);
    if (!records.some((/** @type {Kept} */ kept) => kept.row.import_id)) return records;
    const gone = await this.gone();
    return records.map((/** @type {Kept} */ kept) => withImport(kept, gone));
  }

  /**
   * One record: of a list that is remembered, else as it is kept. A screen names dozens of the lists that it shows.
   * @param {string} kind @param {string} id @returns {Promise<Kept|undefined>}
   */
  async one(kind, id) {
    const kept = this.known(kind, id)
      ?? await this.store.run(['records'], 'readonly', (tx) => tx.store.get([kind, id]));
    return kept?.row.import_id ? withImport(kept, await this.gone()) : kept;
  }

  /** @param {string} kind @param {string} id @returns {Kept|undefined} */
  known(kind, id) {
    for (const list of this.lists.values()) {
      const kept = list.kind === kind ? list.known.get(id) : undefined;
      if (kept) return kept;
    }
    return undefined;
  }

  /** Records that this page has just written. @param {Kept[]} written */
  async put(written) {
    for (const list of this.lists.values()) {
      const rows = await list.rows;
      for (const kept of written) {
        if (kept.kind !== list.kind || (list.site !== null && kept.site !== list.site && kept.site !== '')) continue;
        rows.set(kept.id, kept);
      }
    }
  }

  /**
   * Put what is remembered into a database that was emptied, but for records with something that stood on this phone
   * alone.
   * @param {any} tx @param {Map<string, 'phone'|'held'>} unsettled by `recordKey`
   */
  refill(tx, unsettled) {
    const records = tx.objectStore('records');
    for (const { kind, known } of this.lists.values()) {
      for (const kept of known.values()) if (!unsettled.has(recordKey(kind, kept.id))) records.put(kept);
    }
    this.forget();
  }

  /** Anything may have changed. */
  forget() {
    this.lists.clear();
  }
}

/** Records as they are shown while the import that made them is removed. @type {WeakMap<Kept, Kept>} */
const removed = new WeakMap();

/**
 * A record, removed where its import is; whoever changed it since made it one of their own.
 * @param {Kept} kept @param {Set<string>} gone imports that were removed @returns {Kept}
 */
export function withImport(kept, gone) {
  if (!gone.size || !gone.has(kept.row.import_id)) return kept;
  let shown = removed.get(kept);
  if (!shown) {
    shown = { ...kept, isDeleted: true, row: { ...kept.row, _deleted: true } };
    removed.set(kept, shown);
  }
  return shown;
}

/** Above every string in an IndexedDB key. @type {any[]} */
const END = [];

/**
 * @typedef {{siteId?: string|null}} Wanted
 * @typedef {{kind: string, id: string}} Of a record that others name
 * @typedef {(key: string, isOwn: boolean) => 'phone'|'taken'|'held'|undefined} StateOf
 * @typedef {{merges: (kind: string) => import('../log/merge.js').Merges,
 *   since: (kind: string) => import('../log/merge.js').Since}} Rules how the fields of a kind merge
 */

/**
 * Whether a record may be shown, as a removed one is, struck. What this phone may not show any more says nothing.
 * @param {Kept} kept
 */
export const isShown = ({ isDeleted, row }) => !isDeleted || row._deleted === true;

/**
 * The records of a kind, removed ones too.
 * @param {import('../log/db.js').Store} store @param {string} kind
 * @param {Wanted} wanted records of the whole programme belong to every site
 * @returns {Promise<Kept[]>}
 */
export async function keptRows(store, kind, { siteId = null }) {
  const keptRecords = await store.run(['records'], 'readonly', async (tx) => {
    if (siteId === null) return tx.store.getAll(IDBKeyRange.bound([kind], [kind, END]));
    const place = tx.store.index('place');
    return (await Promise.all([siteId, ''].map((site) => place.getAll([kind, site])))).flat();
  });
  return keptRecords.filter(isShown);
}

/**
 * The records of a kind that name one of some records, by its kind's own field or by `of_kind` and `of_id`, and are of
 * its site: a reference binds within one site only, and whoever knows an id writes it down at another. Removed ones
 * too. All in one transaction: to begin one takes longer than to find that nothing names a record.
 * @param {import('../log/db.js').Store} store @param {string} kind
 * @param {Of[]} subjects @param {string|null} siteId of a record that is not here yet
 * @returns {Promise<Kept[]>}
 */
export const keptRowsOf = (store, kind, subjects, siteId) => store.run(['records'], 'readonly', async (tx) => {
  const refs = tx.store.index('ref');
  const rows = await Promise.all(subjects.map(async (of) => {
    const [asked, named, told] = await Promise.all([
      tx.store.get([of.kind, of.id]), ...[`${of.kind}_id`, 'of_id']
        .map((field) => refs.getAll(refKey(kind, field, of.id))),
    ]);
    const site = asked ? asked.site : siteId ?? '';
    return [...named, ...told.filter((/** @type {Kept} */ kept) => kept.row.of_kind === of.kind)]
      .filter((/** @type {Kept} */ kept) => isShown(kept) && kept.site === site);
  }));
  // One may name a record twice: as what it is of, and as the visit it was made on.
  return [...new Map(rows.flat().map((kept) => [kept.id, kept])).values()];
});

/**
 * A record as views see it.
 * @param {import('../log/folding.js').Kept} kept @param {StateOf} stateOf @param {Rules} rules
 * @returns {any}
 */
export function rowOf(kept, stateOf, rules) {
  const [row, merges, since] = [rowIn(kept), kept.isOpen ? rules.merges(kept.kind) : {}, rules.since(kept.kind)];
  const isFolded = Object.keys(merges).length > 0 || mayHaveBegunAgain(row, since);
  const values = isFolded ? winners(stateIn(kept), merges, since) : {};
  return { ...row, ...values, entry_state: stateOf(recordKey(kept.kind, kept.id), kept.isOwn) };
}

/**
 * Whether an end may stand no longer, of a record whose writers knew of each other.
 * @param {Record<string, any>} row @param {import('../log/merge.js').Since} since
 */
const mayHaveBegunAgain = (row, since) => Object.entries(since).some(([name, begins]) =>
  row[name] && (row[begins] > row[name] || !name.endsWith('_at')));

/**
 * Rows by the record as it is kept, which every change replaces, each with what the catalogue said of ends, and with
 * the key that its state is asked by: to put thousands of keys together anew takes longer than all else here.
 * @type {WeakMap<Kept, {row: any, since: import('../log/merge.js').Since, key: string}>}
 */
const shared = new WeakMap();

/**
 * The same, made once while nothing of it changes: screens read thousands of them at each change. Nobody writes into
 * it. One that disagrees hangs on more of the catalogue, and is made each time.
 * @param {Kept} kept @param {StateOf} stateOf @param {Rules} rules @returns {any}
 */
export function sharedRowOf(kept, stateOf, rules) {
  const since = rules.since(kept.kind);
  const known = kept.isOpen ? undefined : shared.get(kept);
  if (known?.since === since && known.row.entry_state === stateOf(known.key, kept.isOwn)) return known.row;
  const row = Object.freeze(rowOf(kept, stateOf, rules));
  shared.set(kept, { row, since, key: recordKey(kept.kind, kept.id) });
  return row;
}

/**
 * Every entry of one record that has its text, oldest first.
 * @param {import('../log/db.js').Store} store @param {string} kind @param {string} id
 */
export async function historyOf(store, kind, id) {
  const key = recordKey(kind, id);
  const [head, lines, others] = await store.run(['lines', 'others', 'meta'], 'readonly', (tx) => Promise.all([
    readHead(tx), ...['lines', 'others'].map((name) => tx.objectStore(name).index('record').getAll(key)),
  ]));
  const own = new Set(lines.map((/** @type {import('../log/folding.js').Line} */ line) => line.id));
  const whole = lines.filter((/** @type {any} */ line) => line.text !== null);
  // An own line whose text has left goes on among the others.
  const there = new Set(whole.map((/** @type {any} */ line) => line.id));
  return [
    ...whole.map((/** @type {any} */ line) =>
      shown(line, line.eff ?? line.s, lineState(line, head.lanes[line.lane]), true)),
    ...others.filter((/** @type {any} */ other) => !there.has(other.id))
      .map((/** @type {any} */ other) => shown(other, other.eff, 'taken', own.has(other.id))),
  ].sort((one, other) => (one.eff < other.eff ? -1 : 1));
}

/** @param {any} line @param {string} eff @param {string} state @param {boolean} own */
function shown(line, eff, state, own) {
  const content = parsed(line.text);
  return {
    entryId: line.id, eff, at_ms: msOfStamp(eff), by: content?.u ?? null, fields: content?.f ?? {}, state,
    why: line.why ?? null, sentence: line.sentence ?? null, own,
  };
}

/**
 * @param {import('../log/db.js').Store} store @param {string} kind @param {string} id
 * @param {Rules} rules
 * @returns {Promise<{field: string, ids: string[], winner: any, others: any[]}[]>} values, and the entries that say
 *   them in the same order
 */
export async function openFields(store, kind, id, rules) {
  const kept = await store.run(['records'], 'readonly', (tx) => tx.store.get([kind, id]));
  if (!kept?.isOpen) return [];
  return Object.entries(disagreements(stateIn(kept), rules.merges(kind), rules.since(kind)))
    .map(([field, { ids, values: [winner, ...others] }]) => ({ field, ids, winner, others }));
}

/**
 * Own entries, newest first.
 * @param {import('../log/db.js').Store} store
 * @param {{state?: 'phone'|'taken'|'held', limit?: number}} wanted
 */
export const ownEntries = (store, { state, limit = 100 }) => store.run(['lines', 'meta'], 'readonly', async (tx) => {
  const { lanes } = await readHead(tx);
  const lines = (await Promise.all(Object.entries(lanes)
    .map(([id, lane]) => newest(tx.objectStore('lines'), id, lane, state, limit)))).flat();
  return lines.sort((one, other) => (one.s > other.s ? -1 : 1)).slice(0, limit).map((line) => {
    const content = line.text === null ? null : parsed(line.text);
    return {
      lane: line.lane, n: line.n, entryId: line.id, kind: content?.t ?? '', recordId: content?.r ?? null,
      at_ms: line.s ? msOfStamp(line.s) : 0, state: lineState(line, lanes[line.lane]), why: line.why,
      sentence: line.sentence,
      fields: content?.f ?? {}, visitId: content?.y ?? null, isMended: Boolean(line.fixed),
    };
  });
});

/**
 * @param {any} lines @param {string} id @param {import('../log/identity.js').Lane} lane @param {string|undefined} state
 * @param {number} limit
 */
async function newest(lines, id, lane, state, limit) {
  const [first, last] = [state === 'phone' ? lane.answered + 1 : 1,
    state && state !== 'phone' ? lane.answered : lane.n];
  if (first > last) return [];
  /** @type {import('../log/folding.js').Line[]} */ const newestLines = [];
  let cursor = state === 'held'
    ? await lines.index('state').openCursor(IDBKeyRange.bound([state, id, first], [state, id, last]), 'prev')
    : await lines.openCursor(IDBKeyRange.bound([id, first], [id, last]), 'prev');
  for (; cursor && newestLines.length < limit; cursor = await cursor.continue()) {
    if (!state || lineState(cursor.value, lane) === state) newestLines.push(cursor.value);
  }
  return newestLines;
}
