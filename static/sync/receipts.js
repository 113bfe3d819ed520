/**
 * What a server's answer says of this phone's own lines, and what is offered again to one that was restored.
 *
 * @typedef {import('./exchange.js').Reply} Reply
 * @typedef {import('../log/folding.js').Line} Line
 * @typedef {import('../log/identity.js').Head} Head
 */
import { observe } from '../log/identity.js';

/** @param {Line} line */
export const order = (line) => line.eff ?? line.s;

/**
 * Receipts, by id: a number alone may name another entry by now. How far the lane is answered for is a number; a line
 * is written again only where the answer is not what a phone expects, "taken, and ordered by its own stamp".
 * @param {any} tx @param {Head} head @param {string} laneId @param {Reply} reply @param {Map<number, Line>|null} sent
 * @param {Set<string>} dirty records to fold again
 */
export async function takeVerdicts(tx, head, laneId, reply, sent, dirty) {
  if (!reply.acks.length) return;
  const lane = head.lanes[laneId];
  const lines = tx.objectStore('lines');
  const known = sent
    ?? new Map((await lines.getAll(IDBKeyRange.bound([laneId, reply.acks[0][0]], [laneId, reply.acks.at(-1)?.[0]])))
    .map((/** @type {Line} */ line) => [line.n, line]));
  /** @type {Promise<void>[]} */ const written = [];
  for (const [number, id, verdict, , what, sentence] of reply.acks) {
    const line = known.get(number);
    if (line?.id !== id) continue;
    const isTaken = verdict === 'ok';
    if (isTaken) observe(head, what);
    if (number === lane.answered + 1) lane.answered = number;
    if (isTaken && line.state !== 'held' && order(line) === what) continue;
    written.push(lines.get([laneId, number]).then((/** @type {Line} */ now) => lines.put({
      ...now, state: isTaken ? 'taken' : 'held', eff: isTaken ? what : null, why: isTaken ? null : what,
      sentence: isTaken ? null : sentence ?? null,
    })));
    if (line.record && ((line.state === 'held') === isTaken || (isTaken && order(line) !== what)))
      dirty.add(line.record);
  }
  await Promise.all(written);
}

/**
 * What the server does not have, or not any more (it was restored from a backup), waits to be sent again.
 * @param {any} tx @param {import('../log/identity.js').Lane} lane @param {string} laneId
 * @param {number} top the highest number there @param {Set<string>} dirty
 */
export async function offerAgain(tx, lane, laneId, top, dirty) {
  if (top >= lane.answered) return;
  lane.answered = top;
  lane.marked = Math.min(lane.marked, top);
  const lines = tx.objectStore('lines');
  /** @type {Line[]} */ const held = await lines.index('state')
    .getAll(IDBKeyRange.bound(['held', laneId, top + 1], ['held', laneId, []]));
  for (const line of held) {
    if (line.text === null) continue;
    lines.put({ ...line, state: 'phone', eff: null, why: null, sentence: null });
    if (line.record) dirty.add(line.record);
  }
}

/**
 * A restored server may judge otherwise what it once took, and a copy of this phone may have brought it the line first:
 * the receipts of lanes that prove themselves are asked for again, from the last line whose text has left the phone.
 * @param {any} tx @param {Head} head @param {Set<string>} dirty
 */
export async function askAgain(tx, head, dirty) {
  for (const [laneId, lane] of Object.entries(head.lanes)) {
    lane.durable = 0;
    if (!lane.key) continue;
    /** @type {Line[]} */ const lines = await tx.objectStore('lines').getAll(IDBKeyRange.bound([laneId], [laneId, []]));
    await offerAgain(tx, lane, laneId, lines.findLastIndex((line) => line.text === null) + 1, dirty);
  }
  // A photo that is there already costs one part; one that a restored server lacks has nowhere else to come from.
  const sent = await tx.objectStore('photos').index('sent').getAllKeys(1);
  await offerPhotos(tx, sent);
}

/**
 * Photos that were sent and are not on the server any more.
 * @param {any} tx @param {string[]} names @returns {Promise<boolean>} whether one waits again
 */
export async function offerPhotos(tx, names) {
  const photos = tx.objectStore('photos');
  const again = (await Promise.all(names.map((sha256) => photos.get(sha256)))).filter((photo) => photo?.sent
    && !photo.fault);
  for (const photo of again) photos.put({ ...photo, sent: 0, offset: 0, restarts: 0, sent_ms: null, covered: null });
  return again.length > 0;
}

/**
 * Whether the server lacks a line that this phone cannot send again; what follows it needs another lane.
 * @param {any} tx @param {string} laneId @param {import('../log/identity.js').Lane} lane
 */
export async function isGone(tx, laneId, lane) {
  if (lane.answered === lane.n) return false;
  return (await tx.objectStore('lines').get([laneId, lane.answered + 1]))?.text === null;
}
