/** Writing entries: number, stamp, line, chain and the record they change, in one transaction. */
import { chain, entryId, isPrivate, lineOf, parsed, recordKey, tick } from './line.js';
import { apply, basesOf, empty, winners } from './merge.js';
import { keptOf, stateIn } from './folding.js';
import { beginLane, putHead, readClock, readHead } from './identity.js';

/* The file that a lead takes in at the laptop: the bodies of a sync, one a lane. */

/**
 * The file holds the keys of its lanes, so that it proves itself; this phone goes on in another lane, so that a file
 * left lying proves nothing that is written later.
 * @param {import('./db.js').Store} store @param {() => number} now @param {(bits: number) => string} random
 * @returns {Promise<Blob>}
 */
export const exportLines = (store, now, random) => store.run(['lines', 'meta'], 'readwrite', async (tx) => {
  const head = await readHead(tx);
  const written = Object.entries(head.lanes).filter(([, lane]) => lane.n > 0);
  const bodies = await Promise.all(written.map(async ([laneId, lane]) => {
    /** @type {import('./folding.js').Line[]} */ const lines = await tx.objectStore('lines')
      .getAll(IDBKeyRange.bound([laneId], [laneId, []]));
    const start = lines.findLastIndex((line) => line.text === null) + 1;
    const header = {
      p: 1, rid: random(64), d: laneId, from: start + 1, prev: lines[start - 1]?.ch ?? '', mine: lane.n, cursor: null,
      want: 0, now: now(), key: lane.key,
    };
    return [JSON.stringify(header), ...lines.slice(start).map((line) => line.text)].map((text) => `${text}\n`).join('');
  }));
  if (head.lanes[head.lane].n > 0) {
    beginLane(head, random);
    putHead(tx, head);
  }
  return new Blob(bodies, { type: 'application/x-ndjson' });
});

/**
 * @typedef {{kind: string, recordId: string, fields: Record<string, any>, siteId: string|null, visitId: string|null,
 *   fixes?: string|null, reopens?: string|null}} Change `siteId` is the site of a new record; a known one keeps its
 *   own, and a site is its own; `fixes`: the held entry that it mends; `reopens`: the one whose mending it takes back
 * @typedef {{nowMs: number, person: string|null, saltedKinds: Set<string>, random: (bits: number) => string,
 *   guarded: (kind: string) => string[], offset: (nowMs: number, skewMs: number) => [number, string, number]|null}} Pen
 *   `guarded`: the fields that this person's role may set in a new record only
 */

const HOUR_MS = 3_600_000;

/**
 * Half a letter, as a cut paste may leave one, cannot be sent: the sign for a missing one stands in its place.
 * @param {Record<string, any>} fields @returns {Record<string, any>}
 */
export const withWholeLetters = (fields) => Object.fromEntries(
  Object.entries(fields).map(([name, value]) => [name, mended(value)]),
);

/** @param {any} value @returns {any} */
const mended = (value) => (typeof value === 'string' ? value.replace(/\p{Surrogate}/gu, '\ufffd')
  : Array.isArray(value) ? value.map(mended) : value && typeof value === 'object' ? withWholeLetters(value) : value);

export const WRITTEN = ['lines', 'records', 'meta'];

/**
 * Write entries, all or none.
 * @param {import('./db.js').Store} store @param {Change[]} changes @param {Pen} pen
 * @returns {Promise<{written: {recordId: string, entryId: string}[], before: (import('./folding.js').Kept|undefined)[],
 *   kept: import('./folding.js').Kept[]}>} once they are on the disk: the entries, and their records as they stood
 *   before all of them and as they stand now
 */
export const writeEntries = (store, changes, pen) => store.run(WRITTEN, 'readwrite', async (tx) => {
  const [head, ...before] = await Promise.all([
    readHead(tx), ...changes.map(({ kind, recordId }) => tx.objectStore('records').get([kind, recordId])),
  ]);
  /** @type {Map<string, any>} */ const states = new Map(changes.map(({ kind, recordId }, place) => [
    recordKey(kind, recordId), before[place] ? stateIn(before[place]) : empty(),
  ]));
  const written = changes.map((change) => {
    const state = states.get(recordKey(change.kind, change.recordId));
    const line = append(tx, head, textOf(head, change, state, pen));
    apply(state, { id: line.id, eff: line.s, said: parsed(/** @type {string} */ (line.text)) });
    return { recordId: change.recordId, entryId: line.id };
  });
  const now = changes.map(({ kind, recordId }) => keptOf(kind, recordId, states.get(recordKey(kind, recordId)), true));
  for (const record of now) tx.objectStore('records').put(record);
  for (const { fixes, reopens } of changes) {
    if (fixes) await markFixed(tx, fixes, true);
    if (reopens) await markFixed(tx, reopens, false);
  }
  putHead(tx, head);
  // Nothing more comes, so the disk need not wait for this thread to hear of each part.
  tx.commit();
  return { written, before, kept: now };
});

/**
 * @param {import('./identity.js').Head} head @param {Change} change @param {import('./merge.js').State} state
 * @param {Pen} pen
 */
function textOf(head, change, state, pen) {
  const { kind, recordId, fields: given, siteId, visitId, fixes, reopens } = change;
  const fields = state.first ? unguarded(given, winners(state), pen.guarded(kind)) : given;
  head.hlc = tick(readClock(head, pen.nowMs), head.hlc);
  return lineOf({
    lane: head.lane, number: head.lanes[head.lane].n + 1, stamp: head.hlc, person: pen.person, kind, record: recordId,
    site: kind === 'site' ? recordId : state.first ? state.first[3] : siteId, visit: visitId, fields,
    bases: Object.fromEntries(Object.keys(fields).map((name) => [name, basesOf(state, name)])),
    offset: pen.offset(pen.nowMs, head.skewMs), random: pen.saltedKinds.has(kind) ? pen.random(128) : undefined, fixes,
    reopens,
  });
}

/**
 * A form that is saved twice says again what it said when it made the record. Where that may not be said again it is
 * left out, unless it differs: then the server holds it, and a person sees why.
 * @param {Record<string, any>} fields @param {Record<string, any>} row @param {string[]} guarded
 */
function unguarded(fields, row, guarded) {
  const left = Object.entries(fields).filter(([name, value]) => !guarded.includes(name)
    || (row[name] ?? null) !== value);
  return left.length ? Object.fromEntries(left) : fields;
}

/**
 * Put a text at the end of the lane that is written to. `add` refuses a number that another page took.
 * @param {any} tx @param {import('./identity.js').Head} head @param {string} text
 * @returns {import('./folding.js').Line}
 */
export function append(tx, head, text) {
  const lane = head.lanes[head.lane];
  const said = parsed(text);
  const id = entryId(text);
  lane.n += 1;
  lane.ch = chain(lane.ch, id);
  /** @type {import('./folding.js').Line} */ const line = {
    lane: head.lane, n: lane.n, id, ch: lane.ch, text, s: said?.s ?? '', state: 'phone', eff: null, why: null,
    sentence: null,
  };
  if (said?.t && said.r) line.record = recordKey(said.t, said.r);
  if (isPrivate(said)) line.isPrivate = true;
  tx.objectStore('lines').add(line);
  return line;
}

/**
 * A held entry that a new one mends needs no more attention, until that is taken back.
 * @param {any} tx @param {string} id @param {boolean} fixed
 */
async function markFixed(tx, id, fixed) {
  const line = await tx.objectStore('lines').index('id').get(id);
  if (line) tx.objectStore('lines').put({ ...line, fixed });
}

let [zoneName, zoneOf] = ['UTC', ''];

/**
 * Where and when an entry is written, as its line keeps it: minutes east of UTC, the zone's name, how far the clock
 * was ahead of the server's.
 * @param {number} nowMs @param {number} skewMs @returns {[number, string, number]}
 */
export function offsetHere(nowMs, skewMs) {
  const offsetMin = -new Date(nowMs).getTimezoneOffset();
  // Asking for the name is slow; it is asked for again each hour and when the offset changes.
  const key = `${offsetMin}|${Math.floor(nowMs / HOUR_MS)}`;
  if (key !== zoneOf) [zoneName, zoneOf] = [Intl.DateTimeFormat().resolvedOptions().timeZone ?? 'UTC', key];
  return [offsetMin, zoneName, skewMs];
}
