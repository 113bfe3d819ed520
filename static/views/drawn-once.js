/**
 * What is costly to draw, seldom changes and lies below the first screenful: drawn after what stands above it, into a
 * place of its own, and again only when what it shows has changed.
 */
import { whenIdle } from '../idle.js';
import { html, nothing, render } from '../vendor/lit-html-3.3.3/lit-html.js';

/**
 * @param {() => void} redraw
 * @returns {(shows: unknown[], draw: () => unknown) => unknown} `shows`: all that the drawing is made of, compared one
 *   by one with what was shown before
 */
export function drawnOnce(redraw) {
  const place = document.createElement('div');
  place.className = 'as-is';
  /** @type {unknown[]|null} */ let shown = null;
  let isDue = false;
  // After the next frame, which shows the rest of the screen.
  requestAnimationFrame(async () => {
    await whenIdle();
    isDue = true;
    redraw();
  });
  return (shows, draw) => {
    if (!isDue) return nothing;
    if (!shown || shows.some((show, n) => show !== shown?.[n])) render(draw(), place);
    shown = shows;
    return html`${place}`;
  };
}
