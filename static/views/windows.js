/** Windows of the next 60 days, for the site's work level or a row's own, each with its reasons. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, doubt, mark, section } from './marks.js';
import { readShore, waterAt, whereFrom } from './shore.js';
import { spark } from './tide-curve.js';
import { clock, counted, day, length, month, spanWords } from './words.js';

const DAY_MS = 86_400_000;
const DAYS = 60;
const DAYLIGHT = { day: 'daylight', partly: 'partly dark', dark: 'dark', 'polar night': 'no daylight at all' };

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, params } = stage;
  /** @type {any} */ let shore;
  /** @type {any[]} */ let rows = [];
  /** @type {string|null} */ let rowId = params[0] ?? null;
  let usableOnly = true;
  const refresh = async () => {
    shore = await readShore(phone);
    rows = (await phone.rows('row', { siteId: phone.me.site_id })).sort((/** @type {any} */ one, /** @type {any} */ other) => one.order_number - other.order_number);
  };
  await refresh();
  const workM = () => rows.find((row) => row.record_id === rowId)?.bed_level_m ?? shore.site.work_level_m;
  const listed = () => {
    const now = phone.now();
    return phone.windows(phone.me.site_id, rowId).filter((/** @type {any} */ one) => (one.closesMs ?? one.lowMs) > now && one.lowMs < now + DAYS * DAY_MS);
  };

  /** @param {import('./shore.js').Window} one */
  const windowRow = (one) => {
    const { zone, settings } = stage;
    const times = one.opensMs === null ? `low ${clock(one.lowMs, zone)} at ${length(one.lowM, settings.feet)}` : `${clock(one.opensMs, zone)} to ${one.closesMs ? clock(one.closesMs, zone) : 'no end'}`;
    return html`<details class="window"><summary>${spark((ms) => waterAt(shore, ms) ?? 0, one, workM())}<span class="said">${day(one.lowMs, zone)}<small>${times}, ${one.usableMin > 0 ? `${spanWords(one.usableMin * 60_000)} usable` : 'no usable time'}</small></span>
      ${one.safe ? nothing : html`<span class="pill look">${mark('look')}no</span>`}</summary>
      <div class="stack"><dl class="pairs"><dt>Low</dt><dd>${clock(one.lowMs, zone)}, ${length(one.lowM, settings.feet)}</dd>
        <dt>Turn back at</dt><dd>${one.backMs ? clock(one.backMs, zone) : 'none'}</dd>
        <dt>Usable</dt><dd>${one.fromMs && one.untilMs ? `${clock(one.fromMs, zone)} to ${clock(one.untilMs, zone)}` : 'none'}</dd><dt>Light</dt><dd>${DAYLIGHT[one.daylight]}</dd></dl>
      ${one.cautions.filter(({ word }) => word !== 'predicted').map((caution) => doubt(caution.sentence))}</div></details>`;
  };

  const byMonth = (/** @type {any[]} */ list) => {
    /** @type {Map<string, any[]>} */ const months = new Map();
    for (const one of list) {
      const key = month(one.lowMs, stage.zone);
      months.set(key, [...(months.get(key) ?? []), one]);
    }
    return [...months];
  };

  return {
    title: () => 'Windows', where: () => `The next ${DAYS} days, predicted`, refresh,
    body: () => {
      const all = listed();
      const shown = usableOnly ? all.filter((/** @type {any} */ one) => one.safe) : all;
      const { calendar, sentence } = phone.pack()?.sites?.[phone.me.site_id] ?? {};
      return html`<div class="cols"><div class="stack">${sentence ? doubt(sentence) : nothing}
          ${shown.length ? byMonth(shown).map(([name, list]) => section(name, counted(list.length, 'low'), list.map(windowRow))) : html`<p>No window to plan with. Look at all lows for the reasons.</p>`}</div>
        <div class="stack first">${choices({ name: 'level', legend: 'Whose ground?', value: rowId, pick: (value) => { rowId = value; stage.redraw(); },
            choices: [{ value: null, label: 'The site' }, ...rows.map((row) => ({ value: row.record_id, label: `Row ${row.name}` }))] })}
          <p>Work level ${length(workM(), stage.settings.feet)} above ${shore.site.level_datum}.</p>
          ${choices({ name: 'which', legend: 'Which lows?', value: usableOnly, pick: (value) => { usableOnly = value; stage.redraw(); }, choices: [{ value: true, label: 'To plan with' }, { value: false, label: 'All, with reasons' }] })}
          <div class="why">${whereFrom(shore, stage).map((line) => html`<p>${line}</p>`)}<p>A window listed here is a time to plan with, not a promise. Local rules and what you see go first.</p></div>
          ${calendar ? html`<a class="or" href=${calendar}>Add to a calendar</a>` : nothing}</div></div>`;
    },
  };
}
