/**
 * The visit's plan, by team, kept on the phone and re-ordered when the crew runs late. A lead makes it online
 * (online/plan-making.js).
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, doubt, rowLink, section } from './marks.js';
import { named, unitTag } from './names.js';
import { floodsAt } from './floods.js';
import { up } from '../tides/turning.js';
import { backWords, plannedWindow, readShore, reasonOf, turnBack, visitWindow } from './shore.js';
import { OF_PLOTS } from './record-place.js';
import { nextUnit } from './unit-facts.js';
import { clock, counted, day, msOf } from './words.js';

const MINUTE_MS = 60_000;
/** A crew this far behind its plan follows a new order. */
const LATE_MS = 5 * MINUTE_MS;
const SAME_LOW_MS = 2 * 3_600_000;

/**
 * @typedef {import('../records/rows.js').VisitPlanPlannedStopsItem} PlannedStop
 * @typedef {{stopId: string, team: number, beginsMs: number, minutes: number, weight: number}} Stop
 * @typedef {Stop & {untilMs: number|null, isLate: boolean}} Ordered untilMs: when its ground floods
 */

/** A line of a plan of an app up to 0.3.0: team, unit or plot, minutes after low, minutes it takes, weight. */
const STOP = new RegExp('^(\\d{1,2}) ([A-Za-z0-9-]{1,64}) (-?\\d{1,4}(?:\\.\\d+)?) (\\d{1,4}(?:\\.\\d+)?)'
  + '(?: (\\d{1,9}(?:\\.\\d+)?(?:e-?\\d{1,2})?))?$');

/** @param {unknown} text @returns {string[]} */
const linesIn = (text) => String(text ?? '').split('\n').filter(Boolean);

/** @param {string} line @returns {PlannedStop|null} */
function stopIn(line) {
  const [, team, stopId, minute, minutes, weight] = STOP.exec(line) ?? [];
  return stopId ? { team: Number(team), stop_id: stopId, after_low_min: Number(minute), takes_min: Number(minutes),
    weight: Number(weight ?? 1) } : null;
}

/**
 * What a plan lists, and what an older app wrote as text; null stands for a line that cannot be read.
 * @param {any} plan a visit_plan record @returns {(PlannedStop|null)[]}
 */
const plannedIn = (plan) => plan.planned_stops ?? linesIn(plan.stops).map(stopIn);

/**
 * The stops of a plan; lines that are none are left out.
 * @param {any} plan @returns {Stop[]} in walking order, team by team
 */
export function stopsOf(plan) {
  const lowMs = msOf(plan.low_at) ?? 0;
  return plannedIn(plan).flatMap((stop) => (stop ? [{ team: stop.team, stopId: stop.stop_id,
    beginsMs: lowMs + Math.round(stop.after_low_min * 60) * 1000, minutes: stop.takes_min, weight: stop.weight ?? 1 }]
    : []));
}

/**
 * What does not fit, by reason: in the plan's list, else in the text of an older app.
 * @param {any} plan @returns {{ids: string[], why: string}[]}
 */
export function leftOutOf(plan) {
  if (!plan.left_out_stops) {
    return linesIn(plan.left_out).map((line) =>
      ({ ids: line.split(' ')[0].split(','), why: line.slice(line.indexOf(' ') + 1) }));
  }
  /** @type {Map<string, string[]>} */ const byReason = new Map();
  for (const { stop_id: stopId, why } of plan.left_out_stops) {
    const ids = byReason.get(why ?? '') ?? [];
    byReason.set(why ?? '', ids);
    ids.push(stopId);
  }
  return [...byReason].map(([why, ids]) => ({ ids, why }));
}

/** @param {Stop} stop */
const endOf = (stop) => stop.beginsMs + stop.minutes * MINUTE_MS;

/** @param {number} lowMs @param {number} otherMs @returns {boolean} whether a plan is of a low */
const isSame = (lowMs, otherMs) => Math.abs(lowMs - otherMs) <= SAME_LOW_MS;

/**
 * The newest plan of a low water.
 * @param {any[]} plans visit_plan records @param {number|null} lowMs
 */
export const planFor = (plans, lowMs) => (lowMs === null ? null : plans
  .filter((plan) => isSame(msOf(plan.low_at) ?? 0, lowMs))
  .sort((one, other) => (msOf(other.made_at) ?? 0) - (msOf(one.made_at) ?? 0))[0] ?? null);

/**
 * What is left of a team's plan at a moment. While the crew keeps to it, the order is the plan's. A late crew goes by
 * what floods first; what cannot be done before its ground floods, or before turning back, is left out: the lightest,
 * then the longest.
 * @param {Stop[]} stops of one team, in the plan's order @param {Set<string>} done @param {number} nowMs
 * @param {(stopId: string) => number|null} untilOf when a stop's ground floods
 * @param {number|null} backMs when to turn back
 * @returns {{stops: Ordered[], dropped: Ordered[], lateMs: number}} lateMs: how far behind the plan the crew is
 */
export function orderNow(stops, done, nowMs, untilOf, backMs) {
  const left = stops.filter(({ stopId }) => !done.has(stopId));
  const lateMs = left.length ? Math.max(0, nowMs - left[0].beginsMs) : 0;
  const ends = (/** @type {Stop} */ stop) => Math.min(untilOf(stop.stopId) ?? Infinity, backMs ?? Infinity);
  const told = (/** @type {Stop} */ stop, /** @type {number} */ beginsMs, isLate = false) =>
    ({ ...stop, beginsMs, untilMs: untilOf(stop.stopId), isLate });
  const gap = walkOf(stops);
  const inTurn = (/** @type {Stop[]} */ list) => {
    let atMs = nowMs;
    return list.map((stop) => {
      const beginsMs = Math.max(atMs, lateMs > LATE_MS ? nowMs : stop.beginsMs);
      atMs = beginsMs + stop.minutes * MINUTE_MS + gap;
      return { stop, beginsMs, fits: beginsMs + stop.minutes * MINUTE_MS <= ends(stop) };
    });
  };
  const asPlanned = inTurn(left);
  if (lateMs <= LATE_MS || asPlanned.every(({ fits }) => fits)) {
    return { stops: asPlanned.map(({ stop, beginsMs, fits }) => told(stop, beginsMs, !fits)), dropped: [], lateMs };
  }
  let kept = [...left].sort((one, other) => ends(one) - ends(other) || left.indexOf(one) - left.indexOf(other));
  /** @type {Stop[]} */ const dropped = [];
  for (;;) {
    const turn = inTurn(kept);
    const at = turn.findIndex(({ fits }) => !fits);
    if (at < 0) return { stops: turn.map(({ stop, beginsMs }) => told(stop, beginsMs)),
      dropped: dropped.map((stop) => told(stop, nowMs, true)), lateMs };
    const out = kept.slice(0, at + 1).reduce((worst, stop) =>
      (stop.weight < worst.weight || (stop.weight === worst.weight && stop.minutes > worst.minutes) ? stop : worst));
    dropped.push(out);
    kept = kept.filter((stop) => stop !== out);
  }
}

/** The usual walk from one stop to the next, as the plan counts it. @param {Stop[]} stops @returns {number} ms */
function walkOf(stops) {
  const gaps = stops.slice(1).map((stop, n) => stop.beginsMs - stops[n].beginsMs - stops[n].minutes * MINUTE_MS)
    .filter((gap) => gap >= 0).sort((a, b) => a - b);
  return gaps.length ? Math.min(gaps[Math.floor(gaps.length / 2)], 3 * MINUTE_MS) : 0;
}

/**
 * The plan of the running visit as a phone follows it. A unit is done once it is checked on this visit, a plot once a
 * reading of it stands on this visit; a plot may also be left off the list here.
 * @param {import('./router.js').Stage} stage @param {import('./shore.js').Shore} shore
 * @param {import('./unit-facts.js').Known[]} known
 */
export async function followed({ phone, settings }, shore, known) {
  const { visit } = shore;
  const [plans, rows] = await Promise.all([phone.rows('visit_plan', { siteId: phone.me.site_id }), stopRows(phone)]);
  const plan = visit ? planFor(plans, visitWindow(shore)?.lowMs ?? null) : null;
  const stops = plan ? stopsOf(plan).filter(({ stopId }) => rows.has(stopId)) : [];
  const teams = [...new Set(stops.map(({ team }) => team))];
  const floods = visit ? floodsAt(phone, shore, [...rows.values()].flatMap((row) => [row.row_id, row.record_id]),
    phone.now()) : new Map();
  const backMs = turnBack(shore, phone.now())?.atMs ?? null;
  const read = visit ? await plotsRead(phone, visit, stops.filter(({ stopId }) => !rows.get(stopId).isUnit)) : [];
  const checked = known.filter((facts) => facts.checkedNow).map(({ unit }) => unit.record_id);
  const mark = (/** @type {string} */ stopId) => `${visit?.record_id} ${stopId}`;
  const team = () => (teams.includes(settings.team) ? settings.team : teams[0]);
  const order = () => {
    const done = new Set([...checked, ...read, ...stops.map(({ stopId }) => stopId)
      .filter((stopId) => settings.ticked.includes(mark(stopId)))]);
    return orderNow(stops.filter((stop) => stop.team === team()), done, phone.now(),
      (stopId) => floods.get(stopId) ?? floods.get(rows.get(stopId).row_id) ?? null, backMs);
  };
  return {
    teams, team, order, floods, rows,
    has: (/** @type {string} */ stopId) => stops.some((stop) => stop.stopId === stopId),
    isLeftOff: (/** @type {string} */ stopId) => settings.ticked.includes(mark(stopId)),
    leaveOff: (/** @type {string} */ stopId, isOff = true) => settings.keep({ ticked: [...settings.ticked
      .filter((tick) => tick.startsWith(mark('')) && tick !== mark(stopId)), ...(isOff ? [mark(stopId)] : [])] }),
    /**
     * The unit to go to: the plan's next; none after its last; without a plan the next in walking order.
     * @param {string|null} [afterId]
     */
    next: (afterId = null) => {
      const planned = order().stops.map(({ stopId }) => known.find(({ unit }) => unit.record_id === stopId))
        .find((facts) => facts && facts.unit.record_id !== afterId);
      return planned ?? (stops.some((stop) => stop.stopId === afterId && stop.team === team()) ? null
        : nextUnit(known, afterId));
    },
  };
}

/**
 * The plots among these stops that were read on a visit; a photo of one is a reading of it.
 * @param {import('./router.js').Phone} phone @param {{record_id: string}} visit @param {Stop[]} stops
 * @returns {Promise<string[]>} their ids
 */
async function plotsRead(phone, visit, stops) {
  const plots = stops.map(({ stopId }) => ({ kind: 'plot', id: stopId }));
  const lists = plots.length ? await Promise.all([...OF_PLOTS, 'photo'].map((kind) => phone.rowsOf(kind, plots))) : [];
  return lists.flat().filter((row) => row.visit_id === visit.record_id).map((row) => row.plot_id ?? row.of_id);
}

/**
 * The units and plots of a site by their ids, each with its name.
 * @param {import('./router.js').Phone} phone @returns {Promise<Map<string, any>>}
 */
export async function stopRows(phone) {
  const [units, plots] = await Promise.all(['unit', 'plot']
    .map((kind) => phone.rows(kind, { siteId: phone.me.site_id })));
  return new Map([
    ...units.map((unit) => ({ ...unit, isUnit: true, called: unitTag(unit) })),
    ...plots.map((plot) => ({ ...plot, isUnit: false, called: named(plot.label) })),
  ].map((row) => [row.record_id, row]));
}

/**
 * When the work of a plan's low begins and when all turn back: as its window has it, or as the running visit knows.
 * @param {import('./shore.js').Shore} shore @param {number} lowMs
 * @param {import('./router.js').Stage} stage @returns {unknown} nothing of a low that this phone does not have
 */
export function timesOf(shore, lowMs, stage) {
  const { zone } = stage;
  const nowMs = stage.phone.now();
  const running = plannedWindow(shore);
  const back = running && isSame(running.lowMs, lowMs) ? turnBack(shore, nowMs) : null;
  if (back) return html`<p>${backWords(back, shore, stage)}</p>`;
  const low = shore.windows.find((window) => isSame(window.lowMs, lowMs) && window.fromMs !== null
    && window.backMs !== null);
  if (!low) return nothing;
  return html`<p>Work from ${clock(low.fromMs ?? 0, zone)}. Turn back by
    ${clock(low.backMs ?? 0, zone)}${reasonOf(low, shore.site, nowMs)}.</p>`;
}

/**
 * A plan as it is read.
 * @param {any} plan a visit_plan's fields @param {Map<string, any>} rows the units and plots @param {string} zone
 */
export function planParts(plan, rows, zone) {
  const stops = stopsOf(plan);
  const tagOf = (/** @type {string} */ stopId) => rows.get(stopId)?.called ?? `not on this ${deviceWord()}`;
  const whole = (/** @type {Stop[]} */ list) =>
    `${counted(list.length, 'stop')}, ${clock(up(list[0].beginsMs), zone)} to `
      + clock(endOf(list[list.length - 1]), zone);
  const left = leftOutOf(plan);
  const stopRow = (/** @type {Stop} */ stop) => {
    const row = rows.get(stop.stopId);
    const begins = clock(up(stop.beginsMs), zone);
    if (!row) return html`<p class="row"><span class="tag">${tagOf(stop.stopId)}</span><span
      class="said">${begins}<small>${stop.minutes} min</small></span></p>`;
    return rowLink({ href: `#/${row.isUnit ? 'units' : 'plots'}/${stop.stopId}`, tag: tagOf(stop.stopId),
      said: row.isUnit ? begins : `${begins}, plot`, small: `${stop.minutes} min` });
  };
  const unread = plannedIn(plan).length - stops.length;
  return html`${unread
    ? doubt(`${counted(unread, 'line')} of this plan cannot be read and ${unread === 1 ? 'is' : 'are'} left out. A `
      + 'lead can make the plan again.') : nothing}
    ${stops.length ? nothing : html`<p>This plan has no stops.</p>`}${[...new Set(stops.map(({ team }) => team))]
      .map((team) => { const list = stops.filter((stop) => stop.team === team); return section(`Team ${team}`,
        whole(list), list.map(stopRow)); })}
    ${left.length ? section('Does not fit', counted(left.flatMap(({ ids }) => ids).length, 'stop'),
      html`${left.map(({ ids, why }) => html`<p class="row"><span
        class="said">${ids.map(tagOf).join(', ')}<small>${why}</small></span></p>`)}
      <p>${plan.tides_needed ? `All of it needs ${counted(plan.tides_needed, 'low tide')}.`
        : 'More than 40 low tides would not be enough for all of it.'}</p>`) : nothing}
    ${section('To bring', nothing, String(plan.bring ?? '').split('\n').filter(Boolean)
      .map((line) => html`<p class="row">${line}</p>`))}`;
}

/** For the day the phones die: printed before it, typed in after it. @param {string|null} siteId */
const onPaper = (siteId) => section('On paper', nothing, html`<a class="row" target="_blank"
  href="/api/sites/${siteId}/sheet"><span class="said">Sheet to print<small>the next low tide\u2019s times, people and
    units, with a box for each reading; needs the server</small></span></a>
  ${rowLink({ href: '#/sheet', said: 'Type in a sheet', small: 'what was written on paper, with its own times' })}`);

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, zone } = stage;
  /** @type {any[]} */ let plans = [];
  /** @type {import('./shore.js').Shore} */ let shore;
  /** @type {Map<string, any>} */ let rows = new Map();
  const refresh = async () => {
    const [read, all] = await Promise.all([readShore(phone),
      phone.rows('visit_plan', { siteId: phone.me.site_id })]);
    shore = read;
    plans = all.filter((plan) => (msOf(plan.low_at) ?? 0) > phone.now() - 6 * 3_600_000)
      .sort((one, other) => (msOf(one.low_at) ?? 0) - (msOf(other.low_at) ?? 0));
    rows = await stopRows(phone);
  };
  await refresh();
  const next = () => (plans.length ? planFor(plans, msOf(plans[0].low_at)) : null);
  return {
    title: () => 'Visit plan', back: '#/units', refresh, narrow: true,
    where: () => (next() ? `Low ${day(msOf(next().low_at) ?? 0, zone)}, ${clock(msOf(next().low_at) ?? 0, zone)}`
      : 'None made yet'),
    body: () => (next() ? html`${timesOf(shore, msOf(next().low_at) ?? 0, stage)}${planParts(next(), rows, zone)}
      ${onPaper(phone.me.site_id)}`
      : html`${doubt('There is no plan for a coming low tide. Without one, units are listed by what floods first.')}
        ${onPaper(phone.me.site_id)}`),
    foot: () => (phone.me.role === 'lead' ? html`<a class="do" href="#/plan-making">Make a plan</a>` : nothing),
  };
}
