/** Work that can wait until nothing else is to be done. */

/** A page that is never idle, or a browser that does not say when, goes on after this. */
const AT_LATEST_MS = 500;
const LATER_MS = 50;

/** @returns {Promise<unknown>} */
export const whenIdle = () => new Promise((resolve) => {
  if ('requestIdleCallback' in globalThis) globalThis.requestIdleCallback(resolve, { timeout: AT_LATEST_MS });
  else setTimeout(resolve, LATER_MS);
});
