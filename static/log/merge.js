/**
 * How entries become one record, field by field, whatever the order of arrival: the twin of the server's sync/merge.py.
 *
 * @typedef {[string, string, any]} Head entry id, effective stamp, value
 * @typedef {{heads: Head[], waiting: string[]}} Cell
 * @typedef {{first: [string, string, string|null, string|null, string|null]|null, last: [string, string,
 *   string|null]|null, fields: Record<string, Cell>}} State
 * @typedef {{id: string, eff: string, said: any}} Entry a line's id, the stamp it is ordered by, what it says
 */

import { instant, normal } from '../instants.js';
import { msOfStamp } from './line.js';

/** @returns {State} of a record that no entry has touched */
export const empty = () => ({ first: null, last: null, fields: {} });

/** @param {string} eff @param {string} id @param {[string, string, ...any[]]} other */
const isBefore = (eff, id, other) => eff < other[0] || (eff === other[0] && id < other[1]);

/**
 * Whether the server says of an entry that it came after what began its record, and claims to be as old: it is ordered
 * by its time, and says of nobody that they made the record.
 * @param {string} eff
 */
const isBackdated = (eff) => eff.slice(12, 13) >= '8';

/** @param {string} eff @param {string} id @param {[string, string, ...any[]]} other */
const isMadeBefore = (eff, id, other) => (isBackdated(eff) === isBackdated(other[0]) ? isBefore(eff, id, other)
  : isBackdated(other[0]));

/** Fold one entry into a record's state. @param {State} state @param {Entry} entry */
export const apply = (state, entry) => fold(state, [entry]);

/**
 * Fold entries into a record's state. The heads of a field are sorted once, after the last entry: n writes that know
 * nothing of each other cost n log n.
 * @param {State} state @param {Iterable<Entry>} entries
 */
export function fold(state, entries) {
  /** @type {Map<string, {heads: Map<string, Head>, waiting: Set<string>}>} */ const cells = new Map();
  for (const { id, eff, said } of entries) {
    if (!state.first || isMadeBefore(eff, id, state.first)) {
      state.first = [eff, id, said.u ?? null, said.g ?? null, said.y ?? null];
    }
    if (!state.last || isBefore(state.last[0], state.last[1], [eff, id])) state.last = [eff, id, said.u ?? null];
    for (const [name, value] of Object.entries(said.f)) {
      let cell = cells.get(name);
      if (!cell) cells.set(name, cell = opened(Object.hasOwn(state.fields, name) ? state.fields[name] : undefined));
      write(cell, id, eff, normal(name, value), said.b?.[name] ?? []);
    }
  }
  for (const [name, { heads, waiting }] of cells) {
    const sorted = [...heads.values()].sort((one, other) => (isBefore(one[1], one[0], [other[1], other[0]]) ? -1 : 1));
    state.fields[name] = { heads: sorted, waiting: [...waiting].sort() };
  }
}

/** One field while entries are folded into it. @param {Cell} [cell] */
const opened = (cell) => ({
  heads: new Map((cell?.heads ?? []).map((head) => [head[0], head])), waiting: new Set(cell?.waiting ?? []),
});

/**
 * @param {{heads: Map<string, Head>, waiting: Set<string>}} cell @param {string} id @param {string} eff
 * @param {any} value
 * @param {string[]} bases
 */
function write({ heads, waiting }, id, eff, value, bases) {
  for (const base of new Set(bases)) if (!heads.delete(base)) waiting.add(base);
  if (!waiting.delete(id)) heads.set(id, [id, eff, value]);
}

/**
 * @typedef {Record<string, 'lower'|'higher'|'earliest'|'latest'|'either'>} Merges how fields merge of which not the
 *   latest head stands
 */

/**
 * @typedef {Record<string, string>} Since fields that end what another begins: the field, and that other
 */

/**
 * @param {State} state @param {Merges} [merges] @param {Since} [since]
 * @returns {Record<string, any>} the value of each field
 */
export function winners(state, merges = {}, since = {}) {
  /** @type {Record<string, any>} */ const row = {};
  for (const [name, { heads }] of Object.entries(state.fields)) if (heads.length) row[name] = standing(heads,
    wayOf(merges, name));
  for (const name of begunAgain(state, row, since)) row[name] = null;
  return row;
}

/**
 * The fields whose end no longer stands: after the newest write of it somebody wrote that it began later than it ends.
 * Both are asked. Whoever has seen an end and writes another after it has a later stamp, whatever a clock says; and a
 * beginning that is only corrected is no later than its end. What ends something and is no time ends it when it is
 * written.
 * @param {State} state @param {Record<string, any>} row @param {Since} since @returns {string[]}
 */
const begunAgain = (state, row, since) => Object.entries(since).filter(([name, begins]) => {
  if ((row[name] ?? null) === null || (row[begins] ?? null) === null) return false;
  const { heads } = state.fields[name];
  const [id, eff] = heads[heads.length - 1];
  const ended = name.endsWith('_at') ? row[name] : instant(msOfStamp(eff));
  return state.fields[begins].heads.some(([other, stamp, value]) => value !== null
    && isBefore(eff, id, [stamp, other]) && value > ended);
}).map(([name]) => name);

/** @param {Merges} merges @param {string} name */
const wayOf = (merges, name) => (Object.hasOwn(merges, name) ? merges[name] : undefined);

/** The value that stands of a field's heads, one at least. @param {Head[]} heads @param {string|undefined} way */
function standing(heads, way) {
  const value = heads[heads.length - 1][2];
  const rule = way && heads.length > 1 ? RULES[way] : undefined;
  return rule ? rule(heads.map((head) => head[2]), value) : value;
}

/**
 * The careful one of values that stand against each other. Of yes and no, not known is more careful than the bold one.
 * @param {any[]} values @param {'lower'|'higher'} way @param {any} latest
 */
function careful(values, way, latest) {
  if (values.some((value) => typeof value === 'boolean')) {
    if (values.includes(way === 'higher')) return way === 'higher';
    return values.includes(null) ? null : latest;
  }
  const numbers = values.filter((value) => typeof value === 'number');
  if (!numbers.length) return latest;
  return way === 'lower' ? Math.min(...numbers) : Math.max(...numbers);
}

/** @param {any[]} values @param {any} latest */
function earliest(values, latest) {
  const times = values.filter((value) => value !== null);
  return times.length ? times.reduce((one, other) => (other < one ? other : one)) : latest;
}

/**
 * Nothing is a time that has not come yet: who took a time back, or never gave one, is still out.
 * @param {any[]} values
 */
const latestOf = (values) => (values.includes(null) ? null
  : values.reduce((one, other) => (other > one ? other : one)));

/**
 * What the server's `fieldlog/records/fields.py` says of `merge`; a word that is not here merges as the latest.
 * @type {Record<string, (values: any[], latest: any) => any>}
 */
const RULES = {
  lower: (values, latest) => careful(values, 'lower', latest),
  higher: (values, latest) => careful(values, 'higher', latest),
  earliest, latest: latestOf, either: (values, latest) => (values.includes(true) ? true : latest),
};
/** Ways to merge that ask nobody. */
const SETTLING = new Set(['earliest', 'latest', 'either']);

/**
 * The fields with heads of more than one value that people are asked about.
 * @param {State} state @param {Merges} [merges] @param {Since} [since] an end that no longer stands asks nobody
 * @returns {Record<string, {ids: string[], values: any[]}>} the one that stands first, a value once
 */
export function disagreements(state, merges = {}, since = {}) {
  /** @type {Record<string, {ids: string[], values: any[]}>} */ const open = {};
  const openAgain = Object.keys(since).length ? begunAgain(state, winners(state, merges), since) : [];
  for (const [name, { heads }] of Object.entries(state.fields)) {
    const way = wayOf(merges, name);
    if (heads.length < 2 || SETTLING.has(way ?? '') || openAgain.includes(name)) continue;
    /** @type {Map<string, Head>} */ const once = new Map();
    for (const head of [...heads].reverse()) if (!once.has(same(head[2]))) once.set(same(head[2]), head);
    const first = once.get(same(standing(heads, way)));
    const kept = [...new Set([/** @type {Head} */ (first), ...once.values()])];
    if (kept.length > 1) open[name] = { ids: kept.map((head) => head[0]), values: kept.map((head) => head[2]) };
  }
  return open;
}

/** So many entries a line may name as the base of a field; the server holds one that names more. */
const MOST_BASES = 64;

/**
 * @param {State|undefined} state @param {string} name
 * @returns {string[]} the entries that a new write of a field names as its base: what stands, or the latest of very
 *   many
 */
export const basesOf = (state, name) => (state?.fields[name]?.heads ?? []).slice(-MOST_BASES).map((head) => head[0])
  .sort();

/** A text that is equal for equal JSON values; a number is one value however it was written. @param {any} value */
const same = (value) => JSON.stringify(value, (_key, part) => (part && typeof part === 'object' && !Array.isArray(part)
  ? Object.fromEntries(Object.entries(part).sort(([one], [other]) => (one < other ? -1 : 1))) : part));
