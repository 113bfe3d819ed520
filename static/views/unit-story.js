/** What happened to a unit, newest first: work on it, and its flags with what they rest on and who settled them. */
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { evidenceRows, plain } from './evidence.js';
import { labelOf } from './kind-forms.js';
import { mark } from './marks.js';
import { isOpen } from './open-flags.js';
import { recordRow } from './removed.js';
import { fullDay, momentOf, msOf, nearDay, turnMs } from './words.js';

/**
 * @typedef {import('../records/pack.js').ShownFlag} ShownFlag
 * @typedef {import('../records/rows.js').Recorded} Recorded
 * @typedef {import('../records/rows.js').FlagDecision} FlagDecision
 * @typedef {{events: (import('../records/rows.js').UnitEvent & {removed?: string})[], flags: ShownFlag[],
 *   decisions: FlagDecision[], observations: Recorded[], onBoard: string|null,
 *   nameOf: (record: Recorded) => string}} Story observations: checks and positions, by which a flag may be settled;
 *   onBoard: the flag whose sentence stands at the top of the screen; nameOf: who wrote it, '' where that is not told
 */

const CAPITAL = /^./;

/** @type {Record<string, string>} */
const DECIDED = { settled: 'Settled', accepted: 'Accepted as it is', reopened: 'Opened again' };

/**
 * Who settled a flag and when, in words: a lead's decision, or whoever made the observation that did.
 * @param {ShownFlag} flag @param {Story} story @param {(at: string|null|undefined) => string} dayOf
 * @returns {string} empty where it is open
 */
export function settledWords(flag, { decisions, observations, nameOf }, dayOf) {
  const decision = decisions.find(({ record_id: id }) => id === flag.settled_by);
  if (isOpen(flag) && !decision) return '';
  const reason = flag.settled_reason?.replace(CAPITAL, (letter) => letter.toUpperCase()) ?? '';
  if (decision) return decidedWords(decision, flag.state, nameOf(decision), dayOf);
  if (flag.state === 'accepted') return `${DECIDED.accepted} ${dayOf(flag.settled_at)} by a lead: ${reason}`;
  const observation = observations.find(({ record_id: id }) => id === flag.settled_by);
  // It may be a lead's decision that is not here.
  const settled = flag.settled_at ? `Settled ${dayOf(flag.settled_at)}` : 'Settled';
  if (!observation) return `${settled}. ${reason}`.trim();
  const [what, name] = ['fixed_at' in observation ? 'measurement' : 'check', nameOf(observation)];
  const by = name ? `the ${what} of ${name}` : `a later ${what}`;
  return `${settled} by ${by}. ${reason}`.trim();
}

/**
 * @param {FlagDecision} decision @param {string|null|undefined} as what was decided @param {string} name of the lead,
 *   '' where it is not told @param {(at: string|null|undefined) => string} dayOf
 */
const decidedWords = ({ decided_at: at, reason }, as, name, dayOf) =>
  `${DECIDED[as ?? ''] ?? 'Decided'} ${dayOf(at)} by ${name || 'a lead'}: ${reason ?? 'no reason noted'}`;

/** @param {import('./router.js').Stage} stage @param {ShownFlag} flag @param {Story} story */
function flagRow(stage, flag, story) {
  const { phone, zone } = stage;
  const dayOf = (/** @type {string|null|undefined} */ at) => (msOf(at) ? nearDay(msOf(at) ?? 0, phone.now(), zone)
    : 'on a day not noted');
  const title = flag.title ?? plain(flag.rule);
  const settled = settledWords(flag, story, dayOf);
  const isTold = flag.flag_id === story.onBoard;
  const decisions = story.decisions.filter(({ flag_id: id, record_id: made }) =>
    id === flag.flag_id && made !== flag.settled_by);
  return html`<details class="flag ${isOpen(flag) ? 'open' : ''}"><summary>${mark(isOpen(flag) ? 'look'
    : 'taken')}<span class="said">Flag:
    ${title.charAt(0).toLowerCase()}${title.slice(1)}<small>${isTold ? 'Said at the top. '
      : `${flag.sentence} `}Raised ${dayOf(flag.raised_at)}${isOpen(flag) ? ', open' : ''}.${
        settled ? ` ${settled}` : ''}</small></span></summary>
    ${decisions.map((decision) => html`<p class="why">${decidedWords(decision, decision.decision,
      story.nameOf(decision), dayOf)}</p>`)}
    ${evidenceRows(flag, stage)}</details>`;
}

/**
 * @param {import('./router.js').Stage} stage @param {Story} story @returns {unknown[]} rows, newest first
 */
export function storyRows(stage, story) {
  const { phone, zone } = stage;
  const eventRow = (/** @type {Story['events'][number]} */ event) => {
    const name = story.nameOf(event);
    const small = `${momentOf(event, event.event_at, phone.now(), zone)}${name ? `, by ${name}` : ''}${
      event.note ? `. ${event.note}` : ''}`;
    return recordRow(stage, 'unit_event', event, labelOf(phone, 'unit_event', 'event', event.event, 'Work not named'),
      small);
  };
  return [
    ...story.events.map((event) => ({ ms: turnMs(event, event.event_at), draw: () => eventRow(event) })),
    ...story.flags.map((flag) => ({ ms: msOf(flag.raised_at) ?? phone.now(), draw: () =>
      flagRow(stage, flag, story) })),
  ].sort((one, other) => other.ms - one.ms).map(({ draw }) => draw());
}

/** Since when there is something on record. @param {Story} story @param {string} zone @returns {string} */
export function sinceWords({ events, flags }, zone) {
  const times = [...events.map(({ event_at: at }) => msOf(at)), ...flags.map(({ raised_at: at }) => msOf(at))]
    .filter((ms) => ms !== null);
  return times.length ? `since ${fullDay(Math.min(...times), zone)}` : '';
}
