/**
 * Which windows to choose first, by the same points as the server's `fieldlog/windows/ranking.py`.
 *
 * @typedef {import('./windows.js').Window} Window
 * @typedef {import('./windows.js').Rules} Rules
 */
import { localDay } from '../days.js';
import { constantsOf } from './constants.js';
import { allowanceOf } from './windows.js';

/**
 * The windows that nothing stops, best first, of equals the earlier.
 * @param {Window[]} windows @param {Rules & {visit_weekday?: string|null}} rules
 * @returns {{window: Window, score: number, points: Record<string, number>, marginM: number}[]}
 */
export const ranked = (windows, rules) => windows.filter(({ safe }) => safe).map((window) => rankOf(window, rules))
  .sort((one, other) => other.score - one.score || one.window.lowMs - other.window.lowMs);

/** @param {Window} window @param {Rules & {visit_weekday?: string|null}} rules */
function rankOf(window, rules) {
  const { points: most, enough_min: enoughMin, enough_margin_m: enoughM } = constantsOf(rules);
  const marginM = (window.bedLevelM ?? rules.work_level_m) - allowanceOf(rules) - window.lowM;
  const part = (/** @type {keyof typeof most} */ name, /** @type {number} */ share) =>
    Math.floor(most[name] * Math.min(1, Math.max(0, share)) + 0.5);
  const isWeekend = [0, 6].includes(new Date(localDay(window.lowMs, rules.zone)).getUTCDay());
  const isWanted = !rules.visit_weekday || rules.visit_weekday === 'any'
    || (rules.visit_weekday === 'weekend') === isWeekend;
  const points = {
    minutes: part('minutes', window.usableMin / enoughMin), margin: part('margin', marginM / enoughM),
    daylight: window.daylight === 'day' ? most.daylight : Math.floor(most.daylight / 2),
    weekday: isWanted ? most.weekday : 0,
  };
  return { window, points, marginM, score: Object.values(points).reduce((sum, point) => sum + point, 0) };
}
