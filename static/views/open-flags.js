/** The flags of a site as its pack brought them. */
import { msOf } from './words.js';

/** An instant as milliseconds. @param {string|null|undefined} instant */
const timeOf = (instant) => msOf(instant) ?? 0;

/** @typedef {import('../records/pack.js').ShownFlag} ShownFlag */

/** @param {{state: string}} flag */
export const isOpen = (flag) => flag.state === 'open' || flag.state === 'reopened';

/** @param {import('./router.js').Phone} phone @returns {ShownFlag[]} open ones, act before look */
export function openFlags(phone) {
  /** @type {Record<string, number>} */ const weight = { stop: 0, act: 1, look: 2 };
  return siteFlags(phone)
    .filter(isOpen)
    .sort((one, other) => (weight[one.severity] ?? 3) - (weight[other.severity] ?? 3));
}

/**
 * @param {import('./router.js').Phone} phone
 * @returns {ShownFlag[]} open flags and those settled in the last 30 days; a unit that becomes overdue today is
 *   flagged from its moment on
 */
export function siteFlags(phone) {
  const { flags = [], due_today: due = [] } = phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  const isDue = (/** @type {{raised_at: string}} */ flag) => timeOf(flag.raised_at) <= phone.now();
  return [...flags, ...due.filter(isDue)].map((flag) =>
    ({ ...flag, unitId: flag.subject.kind === 'unit' ? flag.subject.id : null }));
}

/**
 * @param {import('./router.js').Phone} phone
 * @returns {{open?: number, settled?: number}} how many flags the site has, those too that are not on this phone
 */
export function flagCounts(phone) {
  const { flag_counts: counts, due_at: moments = [] } = phone.pack()?.sites?.[phone.me.site_id ?? ''] ?? {};
  if (!counts) return {};
  return { ...counts, open: counts.open + moments.filter((at) => timeOf(at) <= phone.now()).length };
}
