/**
 * The numbers of the window rule. They stand on the server (`fieldlog/windows/constants.py`) and come with a site's
 * pack.
 *
 * @typedef {{allowance_m: number, walk_out_factor: number, travel_min: number, reach_s: number, join_s: number,
 *   light_reach_s: number, margin_s: number, enough_min: number, enough_margin_m: number, points: {minutes: number,
 *   margin: number, daylight: number, weekday: number}}} Constants
 */

/**
 * What servers up to 0.3.0 went by, whose packs do not say it. It is history: what the rule goes by today is changed on
 * the server.
 * @type {Constants}
 */
export const BEFORE_PACKS_SAID = {
  allowance_m: 0.2, walk_out_factor: 1.5, travel_min: 60, reach_s: 86_400, join_s: 28_800, light_reach_s: 43_200,
  margin_s: 129_600,
  enough_min: 180, enough_margin_m: 0.5, points: { minutes: 50, margin: 20, daylight: 20, weekday: 10 },
};

/**
 * A site's record with what its pack says beside it: its closures, and the numbers of the window rule.
 * @template {object} Row
 * @param {Row} site its row
 * @param {{closures?: import('./cautions.js').Closure[], constants?: Constants|null}|null|undefined} packed what the
 *   pack has of it, undefined before one came
 * @returns {Row & {closures: import('./cautions.js').Closure[], constants: Constants|null}}
 */
export const rulesOf = (site, packed) =>
  ({ ...site, closures: packed?.closures ?? [], constants: packed?.constants ?? null });

/** @param {{constants?: Constants|null}|null|undefined} rules a site's, with what its pack said @returns {Constants} */
export const constantsOf = (rules) => rules?.constants ?? BEFORE_PACKS_SAID;
