/** What is known of a site's plots: what each was last read as, what last happened to it, which are due. */
import { inputsOf, labelOf } from './kind-forms.js';
import { byName, named } from './names.js';
import { OF_PLOTS } from './record-place.js';
import { msOf, nearDay, turnMs } from './words.js';

/**
 * @typedef {import('../records/rows.js').Plot} Plot
 * @typedef {import('../records/rows.js').Recorded & Record<string, any>} Reading
 * @typedef {{plot: Plot, newest: {kind: string, row: Reading}|null, newestMs: number|null,
 *   lastEvent: string|null}} Known
 */

const DAY_MS = 86_400_000;
/** A plot is due once this part of its interval has passed, as fieldlog/plan/due.py has it. */
const SOON_PART = 0.75;
const NO_LONGER_READ = ['lost', 'retired'];
/** Readings after one of these are a piece of their own: nothing is compared across it. */
const BEGINS_ANEW = ['set', 'moved', 'replaced', 'new_datum'];

/** What a plot of each type is read by; a photo point by taking its photo. @type {Record<string, string[]>} */
const READ_BY = {
  stake: ['stake_reading'], rod_table: ['table_reading'], horizon: ['horizon_reading'], quadrat: ['cover_reading'],
  transect: ['edge_reading', 'level_run', 'rod_profile'], photo_point: [], water_point: ['water_reading'],
};

/** @param {Plot} plot @returns {string[]} the kinds of its readings; all of them where nobody said its type */
export const kindsOf = (plot) => READ_BY[plot.plot_type ?? ''] ?? OF_PLOTS;

/** @param {string|null} lastEvent what last happened to a plot @returns {boolean} */
export const isStillRead = (lastEvent) => !NO_LONGER_READ.includes(lastEvent ?? '');

/**
 * Whether a plot is to be read, as fieldlog/plan/due.py `is_plot_due` has it.
 * @param {{newestMs: number|null, everyDays: number|null|undefined, lastEvent: string|null}} of @param {number} nowMs
 * @returns {boolean}
 */
export const isPlotDue = ({ newestMs, everyDays, lastEvent }, nowMs) => isStillRead(lastEvent)
  && nowMs >= dueMs(newestMs, everyDays);

/**
 * From when on it is to be read; the beginning of time where it was never read or has no interval.
 * @param {number|null} newestMs @param {number|null|undefined} everyDays @returns {number}
 */
export const dueMs = (newestMs, everyDays) => (newestMs === null || (everyDays ?? null) === null ? -Infinity
  : newestMs + SOON_PART * Number(everyDays) * DAY_MS);

/** When something was read, or a photo of it taken. @param {Reading} row */
export const readAt = (row) => row.read_at ?? row.taken_at;

/**
 * The site's plots, by name.
 * @param {import('./router.js').Phone} phone @returns {Promise<Known[]>}
 */
export async function readPlots(phone) {
  const siteId = phone.me.site_id;
  const kinds = [...OF_PLOTS, 'photo'];
  const [plots, events, ...lists] = await Promise.all([phone.rows('plot', { siteId }),
    phone.rows('plot_event', { siteId }), ...kinds.map((kind) => phone.rows(kind, { siteId }))]);
  const lastEvents = lastEventsOf(events);
  /** @type {Map<string, {kind: string, row: Reading}>} */ const newest = new Map();
  lists.forEach((rows, n) => {
    for (const row of /** @type {Reading[]} */ (rows)) {
      const plotId = kinds[n] === 'photo' ? row.of_kind === 'plot' && row.of_id : row.plot_id;
      const before = plotId ? newest.get(plotId)?.row : null;
      if (!plotId || !readAt(row) || (before && (msOf(readAt(before)) ?? 0) >= (msOf(readAt(row)) ?? 0))) continue;
      newest.set(plotId, { kind: kinds[n], row });
    }
  });
  return plots.map((plot) => {
    const last = newest.get(plot.record_id) ?? null;
    return { plot, newest: last, newestMs: last && msOf(readAt(last.row)),
      lastEvent: lastEvents.get(plot.record_id) ?? null };
  }).sort((one, other) => byName(named(one.plot.label), named(other.plot.label)));
}

/** @typedef {import('../records/rows.js').PlotEvent} PlotEvent */

/** What last happened to each plot. @param {PlotEvent[]} events @returns {Map<string, string|null>} */
const lastEventsOf = (events) =>
  new Map(oldestFirst(events).map((event) => [event.plot_id ?? '', event.event ?? null]));

/** @param {PlotEvent[]} events @returns {PlotEvent[]} */
const oldestFirst = (events) => [...events].sort((one, other) =>
  (msOf(one.event_at) ?? 0) - (msOf(other.event_at) ?? 0) || (one.record_id < other.record_id ? -1 : 1));

/**
 * From when on a plot's readings may be compared, ms.
 * @param {PlotEvent[]} events of one plot @returns {number} 0 where nothing made them begin anew
 */
export const comparableSinceMs = (events) => Math.max(0, ...events
  .filter(({ event }) => BEGINS_ANEW.includes(event ?? '')).map((event) => msOf(event.event_at) ?? 0));

/**
 * Readings, the newest first.
 * @template {Reading} R @param {R[]} rows @returns {R[]} sorted in place
 */
export const newestFirst = (rows) => rows.sort((one, other) => turnMs(other, readAt(other)) - turnMs(one, readAt(one)));

/**
 * The plots that are read together, on one screen.
 * @param {Known[]} known all of the site @param {Plot} plot @returns {Known[]} itself alone where it is in no set
 */
export const setOf = (known, plot) => known.filter((other) => other.plot.record_id === plot.record_id
  || (setName(plot) && other.plot.plot_type === plot.plot_type && setName(other.plot) === setName(plot)));

/** @param {Plot} plot @returns {string} '' where it is in no set */
export const setName = (plot) => named(plot.set_label?.trim(), '');

/** @param {import('./router.js').Phone} phone @param {Plot} plot @returns {string} Stake */
export const typeWords = (phone, plot) => labelOf(phone, 'plot', 'plot_type', plot.plot_type, 'No type yet');

/** What a reading says beside its values. */
const APART = ['plot_id', 'visit_id', 'read_at', 'time_known', 'own_values', 'note'];

/**
 * What was read, in few words.
 * @param {import('./router.js').Phone} phone @param {string} kind @param {Reading} row @returns {string}
 */
export function readingWords(phone, kind, row) {
  if (kind === 'photo' || kind === 'people_photo') return 'Photo';
  const values = [...inputsOf(phone, kind).values()].flatMap(({ name, title, control, unit, choices }) => {
    const value = row[name] ?? null;
    if (APART.includes(name) || value === null || value === false || control === 'ref') return [];
    if (control === 'yesno') return [title];
    if (control === 'list') return [`${title} ${Array.isArray(value) ? value.length : 0}`];
    if (choices.length) return [labelOf(phone, kind, name, value)];
    return [`${title} ${String(value).replace('-', '\u2212')}${unit ? ` ${unit}` : ''}`];
  });
  const [first = 'Read', ...rest] = values;
  return [first, ...rest.map((words) => words.slice(0, 1).toLowerCase() + words.slice(1))].join(', ');
}

/** @param {Known} of @param {number} nowMs @param {string} zone @returns {string} when a plot was last read */
export const lastWords = ({ newestMs }, nowMs, zone) => (newestMs === null ? 'never read'
  : `last read ${nearDay(newestMs, nowMs, zone)}`);
