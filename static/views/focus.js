/**
 * The focus stays where one is, though what had it was drawn away: a keyboard or a screen reader that is thrown back to
 * the page's beginning by each save has lost its place.
 */

const FITS = 'button:not(:disabled), a[href], summary, [tabindex]';

/** @param {Element} element @param {Element} root @returns {Element[]} what it stands in, the nearest first */
function around(element, root) {
  const places = [];
  for (let place = element.parentElement; place && place !== root; place = place.parentElement) places.push(place);
  return places;
}

/**
 * @param {HTMLElement} root what is drawn
 * @returns {{drawing: (draw: () => void) => void}} around each drawing
 */
export function keepFocus(root) {
  const page = root.ownerDocument;
  /** @type {{element: HTMLElement, around: Element[], before: Element[]}|null} */ let held = null;
  /** What has the focus cannot be used for now, as a button while its work lasts. */ let isWaiting = false;
  const isNowhere = () => !page.activeElement || page.activeElement === page.body;
  const take = () => {
    const { activeElement } = page;
    if (activeElement instanceof HTMLElement && root.contains(activeElement)) {
      const fitting = [...root.querySelectorAll(FITS)];
      held = { element: activeElement, around: around(activeElement, root),
        before: fitting.slice(0, Math.max(0, fitting.indexOf(activeElement))) };
    } else if (!isWaiting) held = null;
  };
  const give = () => {
    if (!held) return;
    isWaiting = held.element.isConnected && held.element.matches(':disabled');
    if (isWaiting || !isNowhere()) return;
    if (held.element.isConnected) held.element.focus({ preventScroll: true });
    if (isNowhere()) nearest(held, root)?.focus({ preventScroll: true });
  };
  // Who taps elsewhere wants to be there.
  root.addEventListener('pointerdown', () => { isWaiting = false; }, { capture: true });
  return { drawing(draw) { take(); draw(); give(); } };
}

/**
 * What stands now where the element stood: the next one after what stood before it. Nothing that would open a keypad: a
 * place, not a box to type in.
 * @param {{around: Element[], before: Element[]}} held @param {HTMLElement} root @returns {HTMLElement|null}
 */
function nearest({ around: places, before }, root) {
  for (const place of places.filter((place) => place.isConnected)) {
    const fitting = /** @type {HTMLElement[]} */ ([...place.querySelectorAll(FITS)]);
    const last = before.findLast((former) => former.isConnected && place.contains(former));
    const at = last ? fitting.indexOf(/** @type {HTMLElement} */ (last)) + 1 : 0;
    if (fitting.length) return fitting[Math.min(at, fitting.length - 1)];
  }
  return root.querySelector('h1');
}
