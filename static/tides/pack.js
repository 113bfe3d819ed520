/**
 * Windows out of the pack's columns (the server's `fieldlog/pack/windows_columns.py` writes them): the same windows that
 * windows.js computes, the times whole minutes turned towards less time on the shore.
 *
 * @typedef {(number|null)[]} Column differences to the value before; null is passed over
 * @typedef {{bed_level_m: number|null, opens: Column, back: Column, closes: Column, from: Column, until: Column,
 *   usable: Column, daylight: string, stops: number[], minds: number[]}} Level
 * @typedef {{from_day: string, low_s: Column, low_mm: Column, words: string[][], levels: Record<string, Level>}} Columns
 */
import { cautionSentence } from './cautions.js';
import { ALLOWANCE_M } from './windows.js';

const MINUTE_MS = 60_000;

/** @type {Record<string, import('./windows.js').Daylight>} */
const DAYLIGHT = { d: 'day', p: 'partly', k: 'dark', n: 'polar night' };

/**
 * The windows of one level in time order.
 * @param {Columns} columns the pack's `windows` of a site
 * @param {string} level "site", or a row's id
 * @param {import('./windows.js').Rules} site the site's row, for the sentences
 * @returns {import('./windows.js').Window[]} empty where the pack has no such level
 */
export function unpackWindows(columns, level, site) {
  const said = columns.levels[level];
  if (!said) return [];
  const zeroMs = Date.parse(`${columns.from_day}T00:00:00Z`);
  const lowsMs = sums(columns.low_s).map((second) => zeroMs + Number(second) * 1000);
  const lowsMm = sums(columns.low_mm);
  const [opens, back, closes, from, until] = [said.opens, said.back, said.closes, said.from, said.until].map(sums);
  const usable = sums(said.usable);
  const rules = { ...site, allowance_m: site.allowance_m ?? ALLOWANCE_M };
  return lowsMs.map((lowMs, place) => {
    const minuteMs = Math.floor(lowMs / MINUTE_MS) * MINUTE_MS;
    /** @param {Column} column */
    const at = (column) => atMs(column[place], minuteMs);
    /** @type {import('./windows.js').Window} */
    const window = {
      id: null, lowMs, lowM: Number(lowsMm[place]) / 1000,
      opensMs: at(opens), backMs: at(back), closesMs: at(closes), fromMs: at(from), untilMs: at(until),
      usableMin: Number(usable[place]), daylight: DAYLIGHT[said.daylight[place]], safe: false, cautions: [],
      bedLevelM: said.bed_level_m,
    };
    const [stops, minds] = [columns.words[said.stops[place]], columns.words[said.minds[place]]];
    window.safe = !stops.length;
    // A season has hundreds of windows, a screen shows few of their sentences.
    window.cautions = [...stops, ...minds].map((word, turn) => ({
      word, stops: turn < stops.length, get sentence() { return cautionSentence(word, window, rules); },
    }));
    return window;
  });
}

/** @param {number|null} minute @param {number} fromMs */
const atMs = (minute, fromMs) => (minute === null ? null : fromMs + minute * MINUTE_MS);

/**
 * Values out of their differences; null stays and is passed over.
 * @param {Column} differences
 * @returns {Column}
 */
function sums(differences) {
  let last = 0;
  return differences.map((difference) => (difference === null ? null : (last += difference)));
}
