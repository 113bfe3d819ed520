/** When to sync: at opening, when the network or the screen comes back, every minute while the screen is on. */
import { wasTold } from '../store/faults.js';

const EVERY_MS = 60_000;
const AFTER_SAVING_MS = 2_000;

/**
 * @param {{run: () => Promise<boolean>, runIfDue: () => Promise<boolean>}} sync
 * @param {() => boolean} mayRun whether this phone is joined
 * @returns {{saved: () => void}} to be told of each save
 */
export function keepSyncing(sync, mayRun) {
  const due = () => { if (mayRun() && !document.hidden) sync.runIfDue().catch(wasTold); };
  /** @type {ReturnType<typeof setTimeout>|undefined} */ let soon;
  window.addEventListener('online', () => { if (mayRun()) sync.run().catch(wasTold); });
  document.addEventListener('visibilitychange', due);
  window.setInterval(due, EVERY_MS);
  due();
  return {
    saved: () => {
      clearTimeout(soon);
      soon = setTimeout(due, AFTER_SAVING_MS);
    },
  };
}
