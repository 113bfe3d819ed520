/**
 * A long list, drawn in parts: the first screenful with the rest of the screen, what follows when nothing else is to be
 * done. All of it stands in the page then, for whoever looks through that or prints it, and what stands already stays
 * where it is.
 */
import { whenIdle } from '../idle.js';

/** Rows of the first part; no screen shows as many. */
const FIRST = 24;
/** Rows of each part that follows: drawing so many keeps a tap waiting no longer than a tenth of a second. */
const MORE = 40;

/**
 * @param {() => void} redraw
 * @returns {<T>(list: T[], wanted?: (of: T) => boolean) => T[]} what of a list is to be drawn now; `wanted`: which one
 *   is gone to at once, so the first part reaches it
 */
export function inParts(redraw) {
  let most = FIRST;
  let isWaiting = false;
  const goOn = () => {
    if (isWaiting) return;
    isWaiting = true;
    // After the next frame, which shows what there is.
    requestAnimationFrame(async () => {
      await whenIdle();
      isWaiting = false;
      most += MORE;
      redraw();
    });
  };
  return (list, wanted = () => false) => {
    most = Math.max(most, list.findIndex(wanted) + 1);
    if (list.length > most) goOn();
    return list.slice(0, most);
  };
}
