/** When two phones write under one lane (a phone's backup was put on another): write anew what the server has not. */
import { rebuildAll } from '../store/folding.js';
import { newLane } from '../store/head.js';
import { append } from '../store/log.js';
import { moved, parsed } from './line.js';

/**
 * Cut a lane before `at`, where the server holds another line, and write the rest into a new lane: also what counted as
 * taken, for that was before the server was restored; a lane has no gaps.
 * @param {any} tx @param {import('../store/head.js').Head} head @param {string} laneId @param {number} at
 * @param {(bits: number) => string} random
 */
export async function fork(tx, head, laneId, at, random) {
  const lines = tx.objectStore('lines');
  const rest = IDBKeyRange.bound([laneId, at], [laneId, []]);
  const [redo, before] = await Promise.all([lines.getAll(rest), at > 1 ? lines.get([laneId, at - 1]) : null]);
  lines.delete(rest);
  Object.assign(head.lanes[laneId], { n: at - 1, ch: before?.ch ?? '' });
  if (laneId === head.lane) {
    head.lane = random(128);
    head.lanes[head.lane] = newLane();
  }
  /** @type {Map<string, string>} */ const renamed = new Map();
  for (const { id, text } of redo) {
    if (text === null) continue;
    const said = parsed(text);
    const line = append(tx, head, said ? moved(said, id, head.lane, head.lanes[head.lane].n + 1, renamed) : text);
    if (said) renamed.set(id, line.id);
  }
  head.cursor = null;
  tx.objectStore('others').clear();
  await rebuildAll(tx);
}
