/**
 * Low tides: the next usable one first, then those of 60 days, for the site's work level, a row's or a unit's own, each
 * with its reasons; and the year as a picture.
 */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { drawnOnce } from './drawn-once.js';
import { ebb } from './ebb.js';
import { choices, deviceWord, doubt, isWide, mark, section } from './marks.js';
import { byOrder, named, rowName, unitTag } from './names.js';
import { pathWords, readShore, reasonOf, rowLevels, waterAt, whereFrom } from './shore.js';
import { constantsOf } from '../tides/constants.js';
import { leavesHomeMs, workEndsMs } from '../tides/turning.js';
import { knows } from '../tides/predict.js';
import { ranked } from '../tides/ranking.js';
import { accessWindows, isComplete, nextWindow } from '../tides/windows.js';
import { spark } from './tide-curve.js';
import { clock, counted, day, length, localDay, month, nearDay, spanWords } from './words.js';
import { linesOf, yearPicture } from './year.js';

const DAY_MS = 86_400_000;
const DAYS = 60;
const HOUR_MS = 3_600_000;
const YEAR_DAYS = 396;
/** The picture of the year moves on this often: less than the width of its line of today. */
const YEAR_STEP_MS = 10 * 60_000;
/** How many of the best are told, and of the list before someone asks for more. */
const [BEST, SHOWN] = [12, 7];
const DAYLIGHT = { day: 'daylight', partly: 'partly dark', dark: 'dark', 'polar night': 'no daylight at all' };

/** @typedef {import('./shore.js').Window} Window */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, params } = stage;
  /** @type {import('./shore.js').Shore} */ let shore;
  /** @type {any[]} */ let rows = [];
  /** @type {string|null} */ let rowId = params[0] ?? null;
  /** @type {any[]} */ let units = [];
  /** @type {{name: string, bedM: number}[]} */ let levels = [];
  /** @type {'use'|'best'|'all'} */ let which = 'use';
  /** @type {string|null} */ let chosen = null;
  let howMany = SHOWN;
  /** @type {Map<string, any[]>} */ const computed = new Map();
  const packed = () => phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  /** The ground of units that were levelled themselves. @returns {Record<string, number>} */
  const beds = () => packed().beds ?? {};
  const refresh = async () => {
    [shore, levels] = await Promise.all([readShore(phone), rowLevels(phone)]);
    computed.clear();
    const siteId = phone.me.site_id;
    units = (await phone.rows('unit', { siteId })).filter((unit) => unit.record_id in beds());
    rows = (await phone.rows('row', { siteId })).sort(byOrder);
  };
  await refresh();
  /** What was read on a visit says nothing of the lows listed, whose times are all predicted. */
  const predicted = () => ({ ...shore, seenM: null, shiftM: 0 });
  const workM = () => beds()[rowId ?? ''] ?? packed().windows?.levels?.[rowId ?? 'site']?.bed_level_m
    ?? shore.site?.work_level_m ?? null;
  /** Of the site and its rows the pack has them; a unit's own are made here. */
  const windowsOf = () => {
    const bedM = beds()[rowId ?? ''];
    if (bedM === undefined || !shore.tide || !isComplete(shore.site)) return phone.windows(phone.me.site_id, rowId);
    const from = phone.now() - 12 * HOUR_MS;
    if (!computed.has(rowId ?? '')) computed.set(rowId ?? '',
      accessWindows(shore.tide, shore.site, shore.light, from,
        Math.min(from + YEAR_DAYS * DAY_MS, shore.tide.toMs - DAY_MS), bedM));
    return computed.get(rowId ?? '') ?? [];
  };
  const listed = () => {
    const now = phone.now();
    return windowsOf().filter((window) => (window.closesMs ?? window.lowMs) > now
      && window.lowMs < now + DAYS * DAY_MS);
  };

  /** Lows that were opened: a list has a hundred, and each drawing reads the tide anew. @type {Set<number>} */
  const opened = new Set();
  /** @param {Window} window */
  const drawing = (window) => {
    const { site, tide } = shore;
    if (!isComplete(site) || !knows(tide, window.lowMs - 13 * HOUR_MS, window.lowMs + 13 * HOUR_MS))
      return nothing;
    return ebb({ ...predicted(), site, tide }, (ms) => waterAt(predicted(), ms),
      { lowMs: window.lowMs, backMs: window.backMs, nowMs: phone.now(), rows: levels, zone: stage.zone, window,
        feet: stage.settings.feet, wide: isWide() });
  };
  /** @param {Window} window @param {unknown} [further] */
  const windowRow = (window, further = nothing) => {
    const { zone, settings } = stage;
    const { site } = shore;
    const ends = workEndsMs(window);
    const times = window.fromMs === null || ends === null
      ? `low ${clock(window.lowMs, zone)} at ${length(window.lowM, settings.feet)}`
      : `${clock(window.fromMs, zone)} to ${clock(ends, zone)}`;
    return html`<details class="window" @toggle=${(/** @type {any} */ event) => {
      if (event.target !== event.currentTarget || event.target.open === opened.has(window.lowMs)) return;
      opened[event.target.open ? 'add' : 'delete'](window.lowMs);
      stage.redraw();
    }}><summary>${spark(window, stage.zone)}<span
      class="said">${nearDay(window.lowMs, phone.now(), zone)}<small>${times}, ${window.usableMin > 0
        ? `${spanWords(window.usableMin * 60_000)} usable` : 'no usable time'}</small>${further}</span>
      ${window.safe ? nothing : html`<span class="pill look">${mark('look')}no</span>`}</summary>
      <div class="stack"><dl class="pairs"><dt>Low</dt>
        <dd>${clock(window.lowMs, zone)}, ${length(window.lowM, settings.feet)}</dd>
        ${window.fromMs === null || !isComplete(site) ? nothing : html`<dt>Leave home at</dt>
          <dd>${clock(leavesHomeMs(window.fromMs, site), zone)}</dd>`}
        <dt>Path dry from</dt><dd>${pathWords(window, zone)}</dd>
        <dt>Work</dt><dd>${window.fromMs !== null && ends !== null
          ? `${clock(window.fromMs, zone)} to ${clock(ends, zone)}`
          : 'no time'}</dd>
        <dt>Turn back by</dt><dd>${window.backMs === null ? 'no time known'
          : `${clock(window.backMs, zone)}${reasonOf(window, site, phone.now())}`}</dd><dt>Light</dt>
          <dd>${DAYLIGHT[window.daylight]}</dd></dl>
      ${window.cautions.filter(({ word }) => word !== 'predicted')
        .map(({ sentence }) => doubt(sentence))}${opened.has(window.lowMs)
          ? drawing(window) : nothing}</div></details>`;
  };

  /** One day: its lows, each with its drawing. */
  const dayPicture = () => {
    if (!chosen || !shore.tide) return nothing;
    const { zone } = stage;
    const ofDay = windowsOf().filter((window) => localDay(window.lowMs, zone) === chosen);
    const middle = ofDay[0]?.lowMs ?? Date.parse(`${chosen}T12:00:00Z`);
    if (!knows(shore.tide, middle - 12 * HOUR_MS, middle + 12 * HOUR_MS)) return html`<p>The tide of that day is not on
      this ${deviceWord()}.</p>`;
    return html`${ofDay.map((window) => windowRow(window))}
      ${ofDay.length ? nothing : html`<p>No low tide that day.</p>`}`;
  };
  const yearOnce = drawnOnce(stage.redraw);
  const picture = () => {
    const [windows, { moons, windows: columns }, wide, { zone }] = [windowsOf(), packed(), isWide(), stage];
    const nowMs = Math.floor(phone.now() / YEAR_STEP_MS) * YEAR_STEP_MS;
    return yearOnce([windows, moons, columns, nowMs, zone, chosen, wide], () => yearPicture({
      windows, nowMs, zone, chosen, wide, lines: linesOf({ moons, from_day: columns?.from_day }, nowMs, YEAR_DAYS),
    }));
  };
  const year = () => section('The year', 'taller: more usable time', html`${picture()}
    <div class="field"><label class="label-text" for="which-day">Look at a day</label><input class="line" id="which-day"
      type="date" .value=${chosen ?? ''} @change=${(/** @type {any} */ event) => { chosen = event.target.value
        || null; stage.redraw(); }}></div>${dayPicture()}`);

  const most = () => constantsOf(shore.site).points;
  const rankedLows = () => (isComplete(shore.site) ? ranked(listed(), shore.site) : []);
  const best = () => html`${rankedLows().slice(0, BEST)
    .map(({ window, score, points, marginM }) => windowRow(window,
      html`<small>${score}: minutes ${points.minutes}, margin ${points.margin}
      (${length(marginM, stage.settings.feet)}), light ${points.daylight}, weekday ${points.weekday}</small>`))}
    <p class="small">Points of 100: usable minutes up to ${most().minutes}, daylight ${most().daylight}, weekday
      ${most().weekday}, and
      ${most().margin} for margin: how far low tide falls below the ground, allowance included.</p>`;

  /** What one comes for: the low that is usable now, or the next one. */
  const next = () => {
    const { zone, settings } = stage;
    const now = phone.now();
    const low = nextWindow(windowsOf(), now);
    if (!low) return html`<div class="board quiet"><div class="label">${mark('look')}No usable low is known</div>
      <p>${packed().sentence ?? 'See all lows for the reasons, or sync once where there is a network.'}</p></div>`;
    const { fromMs, backMs } = /** @type {{fromMs: number, backMs: number}} */ (low);
    const endsMs = workEndsMs(low) ?? backMs;
    const when = fromMs <= now ? `${spanWords(endsMs - now)} left` : localDay(fromMs, zone) === localDay(now, zone)
      ? `today, in ${spanWords(fromMs - now)}` : `${day(fromMs, zone)}, in ${spanWords(fromMs - now)}`;
    const called = fromMs <= now ? 'Usable now' : 'Next usable low';
    return html`<section class="board" aria-label=${called}><div class="label"><span>${called}</span>
      <span>${when}</span></div>
      <div class="figure words">${clock(fromMs, zone)} to ${clock(endsMs, zone)}</div>
      <dl class="facts"><div><dt>Usable</dt><dd>${spanWords(low.usableMin * 60_000)}</dd></div>
        <div><dt>Path dry from</dt><dd>${pathWords(low, zone)}</dd></div>
        <div><dt>Low</dt><dd>${clock(low.lowMs, zone)}<small
          class="small">${length(low.lowM, settings.feet)}</small></dd></div></dl>
      <p class="because">Turn back ${clock(backMs, zone)}${reasonOf(low, shore.site, now)}.</p></section>`;
  };

  const byMonth = (/** @type {any[]} */ list) => {
    /** @type {Map<string, any[]>} */ const months = new Map();
    for (const window of list) {
      const key = month(window.lowMs, stage.zone);
      months.set(key, [...(months.get(key) ?? []), window]);
    }
    return [...months];
  };

  const list = () => {
    const all = listed();
    const lows = which === 'all' ? all : all.filter((window) => window.safe);
    if (!lows.length) return html`<p>No usable low in the next ${DAYS} days.${
      which === 'all' ? '' : ' See all lows for the reasons.'}</p>`;
    if (which === 'best') return section('Best first', counted(Math.min(BEST, lows.length), 'low'), best());
    return html`${byMonth(lows.slice(0, howMany))
      .map(([name, ofMonth]) => section(name, nothing, ofMonth.map((window) => windowRow(window))))}
      ${lows.length > howMany ? html`<button type="button" class="or"
        @click=${() => { howMany = Infinity; stage.redraw(); }}>All
        ${counted(lows.length, 'low')} of the next ${DAYS} days</button>` : nothing}`;
  };
  const grounds = () => html`${choices({ name: 'level', legend: 'Which part of the site?', value: rowId,
    pick: (value) => { rowId = value; stage.redraw(); },
    choices: [{ value: null, label: 'The site' },
      ...rows.map((row) => ({ value: row.record_id, label: rowName(row) }))] })}
    ${units.length ? html`<div class="field"><label class="label-text"
      for="unit-level">Or a unit with its own level</label><select class="line" id="unit-level"
      @change=${(/** @type {any} */ event) => { rowId = event.target.value || null; stage.redraw(); }}><option
      value="">None</option>${units.map((unit) => html`<option
        value=${unit.record_id} .selected=${unit.record_id === rowId}>${unitTag(unit)}</option>`)}</select></div>`
        : nothing}
    ${choices({ name: 'which', legend: 'Which lows?', value: which,
      pick: (value) => { which = value; howMany = SHOWN; stage.redraw(); },
      choices: [{ value: 'use', label: 'Usable' }, { value: 'best', label: 'Best first' },
        { value: 'all', label: 'All, with reasons' }] })}`;
  const howMade = () => html`<details><summary>How these times are made</summary><div class="stack">
    <p>Work level ${length(workM(), stage.settings.feet)} above
      ${named(shore.site?.level_datum, 'a datum that is not set yet')}.</p>
    ${whereFrom(predicted(), stage).map((line) => html`<p>${line}</p>`)}
    <p>Plan with these times; they are not a promise. Local rules and what you see come first.</p></div>
    </details>`;

  return {
    title: () => 'Low tides', where: () => `The next ${DAYS} days, predicted`, refresh,
    body: () => {
      const { calendar, sentence, doubts = [] } = packed();
      return html`<div class="cols even"><div class="stack">${next()}${sentence ? doubt(sentence)
        : nothing}${doubts.map(doubt)}${grounds()}${list()}</div>
        <div class="stack">${howMade()}${calendar ? html`<a class="or" href=${calendar}>Add to a calendar</a>`
          : nothing}${year()}</div></div>`;
    },
  };
}
