/**
 * What leaves the phone again. Own entries keep their text until a backup covers them and 90 days have passed; private
 * ones until a backup covers them and the head count of their day is closed, which is after 24 hours in any case.
 * Number, id and chain stay. Photos stay until a backup made after their receipt.
 */
import { whenIdle } from '../idle.js';
import { isHeadCountOpen, SHOWN_MS } from '../records/heads-out.js';
import { msOfStamp } from '../log/line.js';
import { isUnsent, putHead, readHead } from '../log/identity.js';
import { lineState, rebuild } from '../log/folding.js';

const DAY_MS = 86_400_000;
const TEXT_DAYS = 90;
/**
 * `durable` says which lines a backup covers; backups are made each night, so one made after a receipt is two nights
 * off.
 */
const PHOTO_DAYS = 2;

/**
 * @param {import('../log/db.js').Store} store @param {number} nowMs
 * @returns {Promise<{hasHidden: boolean, isShowing: boolean}>} hasHidden: whether a record changed; what else goes was
 *   text that no screen shows; isShowing: whether private entries stay while their head count is open
 */
export async function letGo(store, nowMs) {
  const done = await store.run(['lines', 'others', 'records', 'meta'], 'readwrite', async (tx) => {
    const head = await readHead(tx);
    /** @type {Promise<boolean>|undefined} */ let isOpen;
    const all = { hasHidden: false, isShowing: false };
    /** @param {any} line */
    const isShown = async (line) => {
      if (!line.s || nowMs - msOfStamp(line.s) >= SHOWN_MS) return false;
      isOpen ??= isAnyoneOut(tx, nowMs);
      if (!(await isOpen)) return false;
      all.isShowing = true;
      return true;
    };
    for (const [laneId, lane] of Object.entries(head.lanes))
      if (await blankLines(tx, laneId, lane, nowMs, isShown)) all.hasHidden = true;
    putHead(tx, head);
    return all;
  }, { durability: 'relaxed' });
  await letPhotosGo(store, nowMs);
  return done;
}

/** Asked only where a private entry is younger than a day. @param {any} tx @param {number} nowMs */
async function isAnyoneOut(tx, nowMs) {
  const signIns = IDBKeyRange.bound(['sign_in'], ['sign_in', []]);
  for (let at = await tx.objectStore('records').openCursor(signIns, 'prev'); at; at = await at.continue())
    if (isHeadCountOpen([at.value.row], nowMs)) return true;
  return false;
}

/**
 * @param {any} tx @param {string} laneId @param {import('../log/identity.js').Lane} lane @param {number} nowMs
 * @param {(line: any) => Promise<boolean>} isShown whether a private line stays while its head count is open
 * @returns {Promise<number>} how many records were hidden
 */
async function blankLines(tx, laneId, lane, nowMs, isShown) {
  if (!lane.durable) return 0;
  let hidden = 0;
  const lines = tx.objectStore('lines');
  const covered = await lines.getAll(IDBKeyRange.bound([laneId, 1], [laneId, lane.durable]));
  for (const line of covered) {
    if (lineState(line, lane) !== 'taken') continue;
    const isOld = line.s && nowMs - msOfStamp(line.s) > TEXT_DAYS * DAY_MS;
    if (line.text === null || !(line.isPrivate || isOld) || (line.isPrivate && await isShown(line))) continue;
    if (line.isPrivate) {
      await hide(tx, line.record);
      hidden += 1;
    } else {
      tx.objectStore('others').put({ id: line.id, eff: line.eff ?? line.s, text: line.text, record: line.record });
      lane.blank = Math.max(lane.blank, line.n);
    }
    lines.put({ ...line, text: null });
  }
  return hidden;
}

/**
 * Off the screens and out of the file, but a later entry still names what it follows.
 * @param {any} tx @param {string} key
 */
async function hide(tx, key) {
  const cut = key.indexOf('|');
  const kept = await tx.objectStore('records').get([key.slice(0, cut), key.slice(cut + 1)]);
  if (!kept) return;
  const state = JSON.parse(kept.state);
  for (const cell of Object.values(state.fields)) for (const head of cell.heads) head[2] = null;
  tx.objectStore('records').put({ ...kept, state: JSON.stringify(state), row: { record_id: kept.id }, refs: [],
    isDeleted: true, isOpen: false });
}

/** @param {import('../log/db.js').Store} store @param {number} nowMs */
const letPhotosGo = (store, nowMs) => store.run(['photos', 'photo_bytes', 'lines', 'meta'], 'readwrite', async (tx) => {
  const [head, sent] = await Promise.all([readHead(tx), tx.objectStore('photos').index('sent').getAll(1)]);
  for (const { sha256, covered, sent_ms: sentMs } of sent) {
    const durable = covered ? head.lanes[covered.lane]?.durable ?? 0 : 0;
    if (!covered || durable < covered.n || nowMs - sentMs < PHOTO_DAYS * DAY_MS) continue;
    tx.objectStore('photos').delete(sha256);
    tx.objectStore('photo_bytes').delete(sha256);
  }
}, { durability: 'relaxed' });

/**
 * Wipe what this phone may no longer hold: others' entries of every kind that is not open, own ones once nothing waits.
 * @param {import('../log/db.js').Store} store @param {Set<string>} openKinds
 */
export const wipePrivate = (store, openKinds) => store.run(['lines', 'others', 'records', 'meta'], 'readwrite',
  async (tx) => {
  const waits = isUnsent(await readHead(tx));
  /** @type {Set<string>} */ const touched = new Set();
  for (const name of waits ? ['others'] : ['others', 'lines']) {
    for (const line of await tx.objectStore(name).getAll()) {
      if (!line.record || openKinds.has(line.record.slice(0, line.record.indexOf('|')))) continue;
      touched.add(line.record);
      if (name === 'others') tx.objectStore(name).delete(line.id);
      else tx.objectStore(name).put({ ...line, text: null });
    }
  }
  await rebuild(tx, touched);
});

/** Lines that are written at a time: neither a save nor a tap waits for more. */
const MARKED_AT_ONCE = 10;

/**
 * Say at each line that it was taken, as 0.2.0 wants to read it, should someone go back to that. Nothing here needs it,
 * so it is done when nobody waits.
 * @param {import('../log/db.js').Store} store
 */
export async function markTaken(store) {
  while (await store.run(['lines', 'meta'], 'readwrite', markSome, { durability: 'relaxed' })) await whenIdle();
}

/** @param {any} tx @returns {Promise<boolean>} whether more is left */
async function markSome(tx) {
  if (!(await tx.objectStore('meta').getKey('head'))) return false;
  const head = await readHead(tx);
  const [laneId, lane] = Object.entries(head.lanes).find(([, lane]) => lane.marked < lane.answered) ?? [];
  if (!laneId || !lane) return false;
  const end = Math.min(lane.answered, lane.marked + MARKED_AT_ONCE);
  for (const line of await tx.objectStore('lines')
    .getAll(IDBKeyRange.bound([laneId, lane.marked + 1], [laneId, end]))) {
    if (line.state === 'phone') tx.objectStore('lines').put({ ...line, state: 'taken', eff: line.eff ?? line.s });
  }
  lane.marked = end;
  putHead(tx, head);
  return true;
}
