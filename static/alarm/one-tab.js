/**
 * Of several tabs of the app on one phone one sounds the alarm: the one that holds a lock of the browser (Web Locks
 * API, W3C). The first has it; another takes it when it is in front and can be heard, and when the tab that has it is
 * closed. Where a browser has no locks, each tab sounds: twice is better than never.
 */
const LOCK = 'fieldlog.alarm';

export class OneTab {
  constructor() {
    /** Whether the alarm is this tab's to sound. */
    this.isHere = !navigator.locks;
    this.isWaiting = false;
  }

  /** Have it where no other tab has it. @returns {Promise<void>} once that is known */
  begin() {
    return new Promise((known) => {
      if (navigator.locks) this.hold({ ifAvailable: true }, known);
      else known();
    });
  }

  /** Have it now. The other tab learns of it a moment later, so this one does not wait either. */
  take() {
    if (this.isHere) return;
    this.isHere = true;
    this.hold({ steal: true });
  }

  /** Have it when the tab that has it is closed. */
  wait() {
    if (this.isWaiting) return;
    this.isWaiting = true;
    this.hold({});
  }

  /** @param {LockOptions} options @param {() => void} [answered] */
  hold(options, answered = () => {}) {
    navigator.locks.request(LOCK, options, (lock) => {
      answered();
      if (!lock) return this.wait();
      if (!options.steal) this.isWaiting = false;
      this.isHere = true;
      return new Promise(() => {});
    }).catch((/** @type {Error} */ error) => {
      if (error.name !== 'AbortError') throw error;
      this.isHere = false;
      this.wait();
    });
  }
}
