/** The file that a lead takes in at the laptop: the bodies of a sync, one a lane. */
import { readHead } from './head.js';

/**
 * @param {import('./db.js').Store} store @param {() => number} now @param {(bits: number) => string} random
 * @returns {Promise<Blob>}
 */
export const exportLines = (store, now, random) => store.run(['lines', 'meta'], 'readonly', async (tx) => {
  const head = await readHead(tx);
  const bodies = await Promise.all(Object.entries(head.lanes).map(async ([laneId, lane]) => {
    /** @type {import('./folding.js').Line[]} */ const lines = await tx.objectStore('lines').getAll(IDBKeyRange.bound([laneId], [laneId, []]));
    const start = lines.findLastIndex((line) => line.text === null) + 1;
    const header = {
      p: 1, rid: random(64), d: laneId, from: start + 1, prev: lines[start - 1]?.ch ?? '', mine: lane.n, cursor: null,
      want: 0, now: now(),
    };
    return [JSON.stringify(header), ...lines.slice(start).map((line) => line.text)].map((text) => `${text}\n`).join('');
  }));
  return new Blob(bodies, { type: 'application/x-ndjson' });
});
