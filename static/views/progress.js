/** How far a set-up is, what comes next, and the step of which only the server knows. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';

/** @typedef {import('./steps.js').Step} Step */

/**
 * Whether a phone of the crew has joined.
 * @param {number|null} joined how many other devices have, null where the server was not reached
 * @returns {Step}
 */
export function inviting(joined) {
  const missing = joined === null ? 'Not known: the server did not answer.'
    : joined ? null : 'No other phone has joined yet.';
  return { name: 'invitations', said: 'Invitations', why: 'A code for each role lets the crew\u2019s phones in.',
    missing, needed: false, href: '#/access', count: joined };
}

/**
 * How many other devices have joined; null where the server was not reached.
 * @param {import('./router.js').Phone} phone @returns {Promise<number|null>}
 */
export async function othersJoined(phone) {
  try {
    const answer = await phone.api('GET', '/api/devices');
    const list = Array.isArray(answer) ? answer : answer.devices;
    return list.filter((/** @type {any} */ device) => !device.revoked_at
      && device.device_id !== phone.me?.device_id).length;
  } catch (error) {
    if (/** @type {{sentence?: string}} */ (error).sentence) return null;
    throw error;
  }
}

/** @param {Step[]} steps */
const doneOf = (steps) => steps.filter((step) => step.missing === null).length;

/** A line of as many parts as there are steps, and the same in words. @param {Step[]} steps */
export const progressLine = (steps) => html`<div class="progress"><p><b>${doneOf(steps)} of ${steps.length}
  done</b></p><div class="parts" aria-hidden="true">${steps.map((step) => html`<i
    class=${step.missing === null ? 'done' : ''}></i>`)}</div></div>`;

/**
 * The way on from a step that is done, while another is open.
 * @param {Step[]} steps @param {string} place the address of the step's own screen
 */
export function nextStep(steps, place) {
  const next = steps.find((step) => step.missing !== null);
  const isDone = steps.some((step) => step.href === place && step.missing === null);
  return next && isDone ? html`<a class="or" href=${next.href}>Next: ${next.said.toLowerCase()}</a>` : nothing;
}
