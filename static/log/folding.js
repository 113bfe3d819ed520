/**
 * From lines to the records that are shown. Entries are folded in as they come; a record whose past changed (an entry
 * held, released, or ordered anew) is folded again from its lines. Nothing here awaits anything but the transaction.
 *
 * @typedef {import('./merge.js').State} State
 * @typedef {{lane: string, n: number, id: string, ch: string, text: string|null, s: string, record?: string,
 *   state: 'phone'|'taken'|'held', eff: string|null, why: string|null, sentence: string|null, fixed?: boolean,
 *   isPrivate?: boolean}} Line its `state` counts where it is held; else `lineState` says it
 * @typedef {{id: string, eff: string, text: string, record: string}} Other
 * @typedef {{kind: string, id: string, site: string, refs: string[], state: string, row: Record<string, any>,
 *   isOpen: boolean, isDeleted: boolean, isOwn: boolean, inOneForm?: true}} Kept a record as it stands in the database;
 *   `inOneForm`: its instants have one form, which they have not where an app of before folded it
 * @typedef {{id: string, eff: string, said: any, isOwn: boolean}} Entry
 */
import { normal } from '../instants.js';
import { apply, disagreements, empty, fold, winners } from './merge.js';
import { msOfStamp, parsed, recordKey } from './line.js';
import { unwrap } from '../vendor/idb-8.0.4/index.js';

export const FOLDED = ['lines', 'others', 'records'];

/** @param {Line} line @param {import('./identity.js').Lane} lane @returns {'phone'|'taken'|'held'} */
export const lineState = (line, lane) => (line.n > lane.answered ? 'phone' : line.state === 'held' ? 'held' : 'taken');

/** @param {string} kind @param {string} field @param {string} value @returns {string} where a reference is found */
export const refKey = (kind, field, value) => `${kind}|${field}|${value}`;

/**
 * @param {string} kind @param {string} id @param {State} state
 * @param {boolean} isOwn whether this phone wrote any of it
 * @param {string|null} [importId] the import that its entries are part of: it counts where there is one entry alone
 * @returns {Kept}
 */
export function keptOf(kind, id, state, isOwn, importId = null) {
  const values = winners(state);
  const [createdEff, firstId, createdBy, site, visit] = /** @type {NonNullable<State['first']>} */ (state.first);
  const [changedEff, lastId, changedBy] = /** @type {NonNullable<State['last']>} */ (state.last);
  const row = {
    // Of the visit that it was made on, until a lead says another.
    record_id: id, site_id: site, visit_id: values.in_visit || visit, ...values,
    created_by: createdBy, created_at_ms: msOfStamp(createdEff),
    changed_by: changedBy, changed_at_ms: msOfStamp(changedEff),
    ...(importId && firstId === lastId ? { import_id: importId } : {}),
  };
  const refs = Object.entries(row)
    .filter(([name, value]) => name.endsWith('_id') && typeof value === 'string' && name !== 'record_id'
      && name !== 'site_id')
    .map(([name, value]) => refKey(kind, name, /** @type {string} */ (value)));
  return {
    kind, id, site: site ?? '', refs, state: JSON.stringify(state), row,
    isOpen: Object.keys(disagreements(state)).length > 0, isDeleted: values._deleted === true,
    isOwn, inOneForm: true,
  };
}

/** @param {Kept} kept @returns {State} */
export function stateIn({ state, inOneForm }) {
  /** @type {State} */ const read = JSON.parse(state);
  if (inOneForm) return read;
  for (const [name, { heads }] of Object.entries(read.fields)) for (const head of heads) head[2] = normal(name,
    head[2]);
  return read;
}

/** @param {Kept} kept @returns {Record<string, any>} its row */
export const rowIn = ({ row, inOneForm }) =>
  (inOneForm ? row : Object.fromEntries(Object.entries(row).map(([name, value]) => [name, normal(name, value)])));

/** A range of names with more than so many for each record is not worth reading. */
const CROWD = 4;

/**
 * Which of some records are here, read by the range of their names: those that come with the past are not, and to ask
 * for each costs a third of writing it.
 * @param {any} records @param {Map<string, Entry[]>} grouped
 * @returns {Promise<Set<string>|null>} keys of `recordKey`; null where too many others are in between
 */
async function known(records, grouped) {
  /** @type {Map<string, string[]>} */ const ids = new Map();
  for (const [{ said: { t: kind, r: id } }] of grouped.values()) {
    const [least, most] = ids.get(kind) ?? [id, id];
    ids.set(kind, [id < least ? id : least, id > most ? id : most]);
  }
  const ranges = [...ids].map(([kind, [least, most]]) => IDBKeyRange.bound([kind, least], [kind, most]));
  const most = CROWD * grouped.size;
  /** @type {[string, string][][]} */ const keysHere =
    await Promise.all(ranges.map((range) => records.getAllKeys(range, most)));
  return keysHere.some((keys) => keys.length === most) ? null
    : new Set(keysHere.flat().map(([kind, id]) => recordKey(kind, id)));
}

/** @param {Entry[]} entries of one record @returns {string|null} the import that they are part of */
const importOf = ([entry]) => entry.said.i ?? null;

/** Fold entries into the records they change. @param {any} tx @param {Entry[]} entries */
export async function foldIn(tx, entries) {
  const records = tx.objectStore('records');
  // What fails ends the transaction, so nobody need wait for each.
  const plain = unwrap(records);
  /** @type {Map<string, Entry[]>} */ const grouped = new Map();
  for (const entry of entries) {
    const key = recordKey(entry.said.t, entry.said.r);
    const group = grouped.get(key);
    if (group) group.push(entry);
    else grouped.set(key, [entry]);
  }
  const here = await known(records, grouped);
  await Promise.all([...grouped].map(async ([key, group]) => {
    const { t: kind, r: id } = group[0].said;
    /** @type {Kept|undefined} */ const kept = !here || here.has(key) ? await records.get([kind, id]) : undefined;
    const state = kept ? stateIn(kept) : empty();
    fold(state, group);
    const isOwn = Boolean(kept?.isOwn) || group.some((entry) => entry.isOwn);
    plain.put(keptOf(kind, id, state, isOwn, kept ? kept.row.import_id : importOf(group)));
  }));
}

/** @param {Line[]} lines @param {Other[]} others @returns {Entry[]} all that counts; what is held does not */
function entriesOf(lines, others) {
  const known = new Set(others.map((other) => other.id));
  const own = lines.filter((line) => line.text !== null && line.state !== 'held' && !known.has(line.id));
  return [
    ...others.map(({ id, eff, text }) => ({ id, eff, said: parsed(text), isOwn: false })),
    ...own.map((line) => ({ id: line.id, eff: line.eff ?? line.s, said: parsed(/** @type {string} */ (line.text)),
      isOwn: true })),
  ].filter((entry) => entry.said?.t && entry.said?.r);
}

/** Fold records again from their lines. @param {any} tx @param {Iterable<string>} keys of `recordKey` */
export async function rebuild(tx, keys) {
  const records = tx.objectStore('records');
  await Promise.all([...keys].map(async (key) => {
    const [lines, others] = await Promise.all(['lines', 'others']
      .map((store) => tx.objectStore(store).index('record').getAll(key)));
    const entries = entriesOf(lines, others);
    const cut = key.indexOf('|');
    const [kind, id] = [key.slice(0, cut), key.slice(cut + 1)];
    if (!entries.length) { records.delete([kind, id]); return; }
    const state = empty();
    for (const entry of entries) apply(state, entry);
    records.put(keptOf(kind, id, state, lines.length > 0, importOf(entries)));
  }));
}

/** Fold everything again. @param {any} tx */
export async function rebuildAll(tx) {
  const [lines, others] = await Promise.all(['lines', 'others'].map((store) => tx.objectStore(store).getAll()));
  tx.objectStore('records').clear();
  await foldIn(tx, entriesOf(lines, others));
}
