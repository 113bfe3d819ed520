/** The site's plots: what is due first, when each was last read, and sets that are read together. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { rowLink, section } from './marks.js';
import { named } from './names.js';
import { dueMs, isPlotDue, isStillRead, lastWords, readingWords, readPlots, setName, setOf,
  typeWords } from './plot-facts.js';
import { hasUse } from './roles.js';
import { counted } from './words.js';

/** @typedef {import('./plot-facts.js').Known} Known @typedef {Known[]} Together plots of one set, or one alone */

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, zone } = stage;
  /** @type {Known[]} */ let known = [];
  const refresh = async () => { known = await readPlots(phone); };
  await refresh();

  const hasInterval = (/** @type {Known} */ { plot }) => (plot.read_every_days ?? null) !== null;
  const isDue = (/** @type {Known} */ of) => isPlotDue({ ...of, everyDays: of.plot.read_every_days }, phone.now());
  /** @type {[string, (of: Known) => boolean][]} */ const parts = [
    ['Due', (of) => isDue(of) && (hasInterval(of) || of.newestMs === null)],
    ['No days between readings set', (of) => isDue(of) && !hasInterval(of) && of.newestMs !== null],
    ['Not due yet', (of) => !isDue(of) && isStillRead(of.lastEvent)],
    ['No longer read', (of) => !isStillRead(of.lastEvent)],
  ];
  const turn = (/** @type {Known} */ { newestMs, plot }) => dueMs(newestMs, plot.read_every_days);
  /** @param {Known[]} list @returns {Together[]} what is due longest first */
  const together = (list) => {
    /** @type {Together[]} */ const sets = [];
    for (const of of list) if (!sets.some((set) => set.includes(of))) sets.push(setOf(list, of.plot));
    const first = (/** @type {Together} */ set) => Math.min(...set.map(turn));
    return sets.sort((one, other) => (first(one) === first(other) ? 0 : first(one) - first(other)));
  };
  const plotRow = (/** @type {Known} */ of) => {
    const every = of.plot.read_every_days;
    return rowLink({ href: `#/plots/${of.plot.record_id}`, tag: named(of.plot.label), said: typeWords(phone, of.plot),
      small: `${lastWords(of, phone.now(), zone)}${of.newest
        ? `: ${readingWords(phone, of.newest.kind, of.newest.row)}` : ''}${every ? `. Every ${counted(every, 'day')}`
        : ''}` });
  };
  const setRow = (/** @type {Together} */ set) => {
    if (set.length === 1) return plotRow(set[0]);
    const [{ plot }] = set;
    const latest = set.reduce((last, of) => ((of.newestMs ?? 0) > (last.newestMs ?? 0) ? of : last));
    const every = plot.plot_type === 'stake' && hasUse(phone.me.role, 'stakes') && isStillRead(set[0].lastEvent)
      ? rowLink({ href: `#/plots/${plot.record_id}/stakes`, said: `Read ${setName(plot)} together` }) : nothing;
    return html`<details><summary><span class="said">${setName(plot)}<small>${typeWords(phone, plot)},
      ${counted(set.length, 'plot')}, ${lastWords(latest, phone.now(), zone)}</small></span></summary>
      <div>${every}${set.map(plotRow)}</div></details>`;
  };
  return {
    title: () => 'Plots', back: '#/units', refresh, narrow: true, aside: () => stage.alarm.pill(),
    where: () => `${counted(known.length, 'plot')}, ${known.filter(parts[0][1]).length} due`,
    body: () => html`${known.length ? parts.map(([heading, isOf]) => {
      const list = known.filter(isOf);
      return list.length ? section(heading, counted(list.length, 'plot'), together(list).map(setRow)) : nothing;
    }) : html`<p>No plot is set up yet. A lead adds plots under Set-up.</p>`}${hasUse(phone.me.role, 'set-up')
      ? rowLink({ href: '#/set-up/plot', said: 'Set up plots', small: 'their types, sets and days between readings' })
      : nothing}`,
  };
}
