/**
 * The visit's plan: which units in which order, by team, kept on the phone and re-ordered when the crew runs late. A lead makes one
 * where there is a network; everyone follows it without.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, doubt, rowLink, section } from './marks.js';
import { runningVisit } from './shore.js';
import { clock, counted, day, instant, msOf } from './words.js';

const MINUTE_MS = 60_000;
/** A crew this far behind its plan follows a new order. */
const LATE_MS = 5 * MINUTE_MS;
const SAME_LOW_MS = 2 * 3_600_000;
const TEAMS = [1, 2, 3, 4];

/**
 * @typedef {{stopId: string, team: number, beginsMs: number, minutes: number, weight: number}} Stop
 * @typedef {Stop & {untilMs: number|null, isLate: boolean}} Ordered untilMs: when its ground floods
 */

/** The stops of a visit_plan record. @param {any} plan @returns {Stop[]} in walking order, team by team */
export function stopsOf(plan) {
  const lowMs = msOf(plan.low_at) ?? 0;
  return String(plan.stops ?? '').split('\n').filter(Boolean).map((line) => {
    const [team, stopId, minute, minutes, weight] = line.split(' ');
    return { team: Number(team), stopId, beginsMs: lowMs + Number(minute) * MINUTE_MS, minutes: Number(minutes), weight: Number(weight ?? 1) };
  });
}

/**
 * The newest plan of a low water.
 * @param {any[]} plans visit_plan records @param {number|null} lowMs
 */
export const planFor = (plans, lowMs) => (lowMs === null ? null : plans
  .filter((one) => Math.abs((msOf(one.low_at) ?? 0) - lowMs) <= SAME_LOW_MS)
  .sort((one, other) => (msOf(other.made_at) ?? 0) - (msOf(one.made_at) ?? 0))[0] ?? null);

/**
 * What is left of a team's plan at a moment. While the crew keeps to it, the order is the plan's. A late crew goes by what floods
 * first; what cannot be done before its ground floods, or before turning back, is left out: the lightest, then the longest.
 * @param {Stop[]} stops of one team, in the plan's order @param {Set<string>} done @param {number} nowMs
 * @param {(stopId: string) => number|null} untilOf when a stop's ground floods @param {number|null} backMs when to turn back
 * @returns {{stops: Ordered[], dropped: Ordered[], lateMs: number}} lateMs: how far behind the plan the crew is
 */
export function orderNow(stops, done, nowMs, untilOf, backMs) {
  const left = stops.filter(({ stopId }) => !done.has(stopId));
  const lateMs = left.length ? Math.max(0, nowMs - left[0].beginsMs) : 0;
  const ends = (/** @type {Stop} */ one) => Math.min(untilOf(one.stopId) ?? Infinity, backMs ?? Infinity);
  const told = (/** @type {Stop} */ one, /** @type {number} */ beginsMs, isLate = false) => ({ ...one, beginsMs, untilMs: untilOf(one.stopId), isLate });
  const gap = walkOf(stops);
  const inTurn = (/** @type {Stop[]} */ list) => {
    let atMs = nowMs;
    return list.map((one) => {
      const beginsMs = Math.max(atMs, lateMs > LATE_MS ? nowMs : one.beginsMs);
      atMs = beginsMs + one.minutes * MINUTE_MS + gap;
      return { one, beginsMs, fits: beginsMs + one.minutes * MINUTE_MS <= ends(one) };
    });
  };
  const asPlanned = inTurn(left);
  if (lateMs <= LATE_MS || asPlanned.every(({ fits }) => fits)) {
    return { stops: asPlanned.map(({ one, beginsMs, fits }) => told(one, beginsMs, !fits)), dropped: [], lateMs };
  }
  let kept = [...left].sort((one, other) => ends(one) - ends(other) || left.indexOf(one) - left.indexOf(other));
  /** @type {Stop[]} */ const dropped = [];
  for (;;) {
    const turn = inTurn(kept);
    const at = turn.findIndex(({ fits }) => !fits);
    if (at < 0) return { stops: turn.map(({ one, beginsMs }) => told(one, beginsMs)), dropped: dropped.map((one) => told(one, nowMs, true)), lateMs };
    const out = kept.slice(0, at + 1).reduce((worst, one) => (one.weight < worst.weight || (one.weight === worst.weight && one.minutes > worst.minutes) ? one : worst));
    dropped.push(out);
    kept = kept.filter((one) => one !== out);
  }
}

/** The usual walk from one stop to the next, as the plan counts it. @param {Stop[]} stops @returns {number} ms */
function walkOf(stops) {
  const gaps = stops.slice(1).map((one, n) => one.beginsMs - stops[n].beginsMs - stops[n].minutes * MINUTE_MS).filter((gap) => gap >= 0).sort((a, b) => a - b);
  return gaps.length ? Math.min(gaps[Math.floor(gaps.length / 2)], 3 * MINUTE_MS) : 0;
}

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, zone } = stage;
  const siteId = phone.me.site_id;
  /** @type {any[]} */ let plans = [];
  /** @type {Map<string, string>} */ let tags = new Map();
  /** @type {any} */ let made = null;
  let [windowId, teams, samples, everything, said, busy] = [/** @type {string|null} */ (null), 1, false, false, '', false];
  const refresh = async () => {
    const [found, units, plots, visit] = await Promise.all([phone.rows('visit_plan', { siteId }), phone.rows('unit', { siteId }), phone.rows('plot', { siteId }), runningVisit(phone)]);
    plans = found.sort((/** @type {any} */ one, /** @type {any} */ other) => (msOf(one.low_at) ?? 0) - (msOf(other.low_at) ?? 0));
    tags = new Map([...units, ...plots].map((/** @type {any} */ one) => [one.record_id, one.tag ?? one.label]));
    windowId ??= visit?.window_id ?? ahead()[0]?.id ?? null;
  };
  const ahead = () => phone.windows(siteId, null).filter((/** @type {any} */ one) => one.safe && one.untilMs > phone.now()).slice(0, 8);
  await refresh();
  const isLead = phone.me.role === 'lead';
  const next = () => plans.filter((one) => (msOf(one.low_at) ?? 0) > phone.now() - 6 * 3_600_000);

  const ask = async () => {
    [busy, said, made] = [true, 'Planning: a few seconds.', null];
    stage.redraw();
    const answer = await phone.api('POST', `/api/sites/${siteId}/plan`, { window_id: windowId, teams, samples, everything })
      .then((/** @type {any} */ plan) => ({ plan, sentence: '' }), (/** @type {any} */ error) => { if (!error.sentence) throw error; return { plan: null, sentence: error.sentence }; });
    [busy, said, made] = [false, answer.sentence, answer.plan];
    stage.redraw();
  };
  const drop = () => { made = null; stage.redraw(); };
  const take = async () => {
    const fields = { ...made.record, made_at: instant(phone.now()) };
    const saved = await stage.saving(() => phone.write('visit_plan', null, fields));
    if (!saved) return;
    drop();
    stage.say('The plan goes to every phone with the next sync.');
  };
  const stopRow = (/** @type {any} */ one) => rowLink({ href: tags.has(one.stopId) ? `#/units/${one.stopId}` : '#/units', tag: tags.get(one.stopId) ?? '?', said: clock(one.beginsMs, zone), small: `${one.minutes} min` });
  const shown = (/** @type {any} */ plan) => {
    const stops = stopsOf(plan);
    const left = String(plan.left_out ?? '').split('\n').filter(Boolean);
    return html`${[...new Set(stops.map(({ team }) => team))].map((team) => section(`Team ${team}`, counted(stops.filter((one) => one.team === team).length, 'stop'), stops.filter((one) => one.team === team).map(stopRow)))}
      ${left.length ? section('Does not fit', counted(left.length, 'stop'), left.map((line) => html`<p class="row"><b class="tag">${tags.get(line.split(' ')[0]) ?? '?'}</b><span class="said">${line.slice(line.indexOf(' ') + 1)}</span></p>`)) : nothing}
      ${left.length ? html`<p>${plan.tides_needed ? `All of it needs ${plan.tides_needed} low waters.` : 'More than 40 low waters would not be enough for all of it.'}</p>` : nothing}
      ${section('To bring', nothing, String(plan.bring ?? '').split('\n').filter(Boolean).map((line) => html`<p class="row">${line}</p>`))}`;
  };
  const asking = () => html`<div class="stack">${choices({ name: 'window', legend: 'Which low water?', shape: 'lines', value: windowId, pick: (value) => { windowId = value; made = null; stage.redraw(); },
      choices: ahead().map((/** @type {any} */ one) => ({ value: one.id, label: `${day(one.lowMs, zone)}, ${clock(one.fromMs, zone)} to ${clock(one.untilMs, zone)}` })) })}
    ${choices({ name: 'teams', legend: 'How many teams, of two or more?', value: teams, pick: (value) => { teams = value; made = null; stage.redraw(); }, choices: TEAMS.map((n) => ({ value: n, label: n })) })}
    ${choices({ name: 'what', legend: 'What?', value: everything, pick: (value) => { everything = value; made = null; stage.redraw(); }, choices: [{ value: false, label: 'What is due' }, { value: true, label: 'Every unit' }] })}
    ${choices({ name: 'samples', legend: 'Plots too?', value: samples, pick: (value) => { samples = value; made = null; stage.redraw(); }, choices: [{ value: false, label: 'No' }, { value: true, label: 'Yes' }] })}
    <p role="status">${said}</p></div>`;
  const proposal = () => html`<div class="stack"><div class="bar"><h2>Proposed</h2><span>${counted(made.stops.length, 'stop')}, ${made.walk_min} min of walking</span></div>
    ${shown(made.record)}<div class="why">${made.basis.map((/** @type {string} */ line) => html`<p>${line}.</p>`)}<p>The simple order, row by row, would reach ${counted(made.simple_stops, 'stop')}.</p></div></div>`;
  return {
    title: () => 'Visit plan', back: '#/units', refresh,
    where: () => (next()[0] ? `Low ${day(msOf(next()[0].low_at) ?? 0, zone)}, ${clock(msOf(next()[0].low_at) ?? 0, zone)}` : 'None made yet'),
    body: () => html`<div class="cols even"><div class="stack">${next().length ? shown(planFor(next(), msOf(next()[0].low_at)) ?? next()[0]) : doubt('No plan is made for a low water ahead. Without one, units are listed by what floods first.')}</div>
      ${isLead ? html`<div class="stack">${asking()}${made ? proposal() : nothing}</div>` : nothing}</div>`,
    foot: () => (!isLead ? nothing : made ? html`<div class="lead"><button type="button" class="do" @click=${take}>Take this plan</button><button type="button" class="or" @click=${drop}>Drop it</button></div>`
      : html`<button type="button" class="do" ?disabled=${busy || !windowId} @click=${ask}>Plan the visit</button>`),
  };
}
