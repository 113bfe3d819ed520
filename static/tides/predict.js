// @ts-check
/**
 * The tide curve on the phone: sums the yearly numbers that fieldlog/tides/phone.py made, and reads levels, highs and
 * lows and crossings from it by the same rules as fieldlog/tides (trace.py, extremes.py, offsets.py), which give the
 * reasons. Levels are metres above the station's chart datum, times are milliseconds since 1970 UTC.
 */
import { instant } from '../instants.js';

/**
 * @typedef {{year: number, start_ms: number, mean_level_m: number, amplitude_m: number[], speed_deg_per_h: number[],
 *   phase_deg: number[]}} YearNumbers one UTC year; they follow one another without a gap
 * @typedef {{minutes: number, times: number, plus_m: number}} Offset
 * @typedef {{station: {id: string, name: string, chart_datum: string, kind: string, source: string, licence: string,
 *   attribution: string}, is_estimated: boolean, warnings: string[], left_out_m?: number, from_ms: number, to_ms:
 *   number, numbers: YearNumbers[], offsets: {high: Offset, low: Offset} | null}} PhoneNumbers
 * @typedef {{ms: number, level_m: number, kind: 'high' | 'low'}} Extreme
 * @typedef {{ms: number, rising: boolean}} Crossing
 * @typedef {{ms: Float64Array, level: Float64Array, slope: Float64Array}} Trace nodes of a piecewise cubic
 * @typedef {{ms: number, level: number, before: number, isHigh: boolean, node: number}} Turn a high or low of a trace
 * @typedef {{trace: Trace, listed: Turn[], fromMs: number, toMs: number}} Built
 */

const HOUR_MS = 3600000;
const DAY_MS = 24 * HOUR_MS;
const NODE_SPACING_MS = 600000;
const CONTEXT_MS = 4 * DAY_MS;
const RESEED = 64;
const CLOSE_MIN = 120;
const CLOSE_M = 0.03048;
const SMALLEST_RISE_M = 0.01;
const DEGREE = Math.PI / 180;

/**
 * Whether a tide is here and has numbers of a whole span of time.
 * @template {{fromMs: number, toMs: number}} Some
 * @param {Some|null|undefined} tide @param {number} fromMs @param {number} toMs @returns {tide is Some}
 */
export const knows = (tide, fromMs, toMs) => (tide ? fromMs >= tide.fromMs && toMs <= tide.toMs : false);

/**
 * Open a station's numbers.
 * @param {PhoneNumbers} given what the pack carries
 */
export function openTide(given) {
  const { numbers, offsets } = given;
  const firstMs = numbers[0].start_ms;
  const lastMs = endOfYear(numbers[numbers.length - 1]);
  /** @type {Built | null} */
  let built = null;

  /** @param {number} fromMs @param {number} toMs */
  function mustKnow(fromMs, toMs) {
    if (fromMs >= given.from_ms && toMs <= given.to_ms) return;
    const known = `${instant(given.from_ms)} to ${instant(given.to_ms)}`;
    throw new RangeError(`This phone has the tide of ${given.station.name} for ${known} only.`);
  }

  /** @param {number} fromMs @param {number} toMs @returns {Built} */
  function covering(fromMs, toMs) {
    mustKnow(fromMs, toMs);
    if (!built || fromMs < built.fromMs || toMs > built.toMs) {
      // Whole days, so that a span that moves on with the clock is not built anew each time.
      const [first, last] = [Math.max(given.from_ms, fromMs - (fromMs % DAY_MS)),
        Math.min(given.to_ms, toMs - (toMs % DAY_MS) + DAY_MS)];
      const start = Math.max(first - CONTEXT_MS, firstMs);
      const end = Math.min(last + CONTEXT_MS, lastMs);
      const { trace, turns } = withTurns(traceOf(numbers, start, end));
      const curve = offsets ? warped(trace, turns, offsets) : { trace, listed: listed(turns) };
      built = { ...curve, fromMs: first, toMs: last };
    }
    return built;
  }

  return {
    station: given.station,
    isEstimated: given.is_estimated,
    warnings: given.warnings,
    leftOutM: given.left_out_m,
    fromMs: given.from_ms,
    toMs: given.to_ms,

    /** @param {number} ms @returns {number} */
    levelAt(ms) {
      mustKnow(ms, ms);
      return offsets ? levelIn(covering(ms, ms).trace, ms) : levelAt(numbers, ms);
    },

    /** @param {number} fromMs @param {number} toMs @param {number} stepMs */
    curve(fromMs, toMs, stepMs) {
      const { trace } = covering(fromMs, toMs);
      /** @type {{ms: number, level_m: number}[]} */
      const points = [];
      for (let ms = fromMs; ms <= toMs; ms += stepMs) points.push({ ms, level_m: levelIn(trace, ms) });
      return points;
    },

    /** @param {number} fromMs @param {number} toMs @returns {Extreme[]} highs and lows, both ends included */
    extremes(fromMs, toMs) {
      return covering(fromMs, toMs).listed
        .filter((turn) => turn.ms >= fromMs && turn.ms <= toMs)
        .map((turn) => ({ ms: Math.round(turn.ms), level_m: turn.level, kind: turn.isHigh ? 'high' : 'low' }));
    },

    /** @param {number} levelM @param {number} fromMs @param {number} toMs @returns {Crossing[]} */
    crossings(levelM, fromMs, toMs) {
      return crossingsIn(covering(fromMs, toMs).trace, levelM, fromMs, toMs);
    },
  };
}

/**
 * The level at one instant from yearly numbers alone (a harmonic station, or the reference of one by offsets).
 * @param {YearNumbers[]} numbers @param {number} ms @returns {number}
 */
export function levelAt(numbers, ms) {
  const year = numbers.find((number) => ms >= number.start_ms && ms < endOfYear(number));
  if (!year) throw new RangeError(`There are no tide numbers for ${instant(ms)}.`);
  const hours = (ms - year.start_ms) / HOUR_MS;
  let level = year.mean_level_m;
  for (let i = 0; i < year.amplitude_m.length; i += 1) {
    level += year.amplitude_m[i] * Math.cos((year.speed_deg_per_h[i] * hours + year.phase_deg[i]) * DEGREE);
  }
  return level;
}

/** @param {YearNumbers} year */
function endOfYear(year) {
  return Date.UTC(year.year + 1, 0, 1);
}

/**
 * Nodes from one instant to another; a New Year is two nodes at one time.
 * @param {YearNumbers[]} numbers @param {number} fromMs @param {number} toMs @returns {Trace}
 */
function traceOf(numbers, fromMs, toMs) {
  const parts = numbers
    .map((year) => ({ year, start: Math.max(fromMs, year.start_ms), end: Math.min(toMs, endOfYear(year)) }))
    .filter((part) => part.end > part.start)
    .map((part) => ({ ...part, cells: Math.ceil((part.end - part.start) / NODE_SPACING_MS) }));
  const trace = emptyTrace(parts.reduce((count, part) => count + part.cells + 1, 0));
  let first = 0;
  for (const { year, start, end, cells } of parts) {
    addYear(trace, first, year, start, (end - start) / cells, cells + 1);
    first += cells + 1;
  }
  return trace;
}

/** @param {number} count @returns {Trace} */
function emptyTrace(count) {
  return { ms: new Float64Array(count), level: new Float64Array(count), slope: new Float64Array(count) };
}

/**
 * Sums one year's cosines into nodes `first` onwards, turning each constituent's phasor by one step a node.
 * @param {Trace} trace @param {number} first @param {YearNumbers} year @param {number} startMs @param {number} stepMs
 * @param {number} count
 */
function addYear(trace, first, year, startMs, stepMs, count) {
  for (let k = 0; k < count; k += 1) {
    trace.ms[first + k] = startMs + k * stepMs;
    trace.level[first + k] = year.mean_level_m;
  }
  for (let i = 0; i < year.amplitude_m.length; i += 1) {
    const amplitude = year.amplitude_m[i];
    const speed = (year.speed_deg_per_h[i] * DEGREE) / HOUR_MS;
    const phase = year.phase_deg[i] * DEGREE + speed * (startMs - year.start_ms);
    const turnCos = Math.cos(speed * stepMs);
    const turnSin = Math.sin(speed * stepMs);
    let x = 0;
    let y = 0;
    for (let k = 0; k < count; k += 1) {
      if (k % RESEED === 0) {
        x = amplitude * Math.cos(phase + speed * k * stepMs);
        y = amplitude * Math.sin(phase + speed * k * stepMs);
      }
      trace.level[first + k] += x;
      trace.slope[first + k] -= speed * y;
      [x, y] = [x * turnCos - y * turnSin, y * turnCos + x * turnSin];
    }
  }
}

/** Hermite's cubic in a cell, x from 0 to 1 across it. @param {Trace} trace @param {number} cell @param {number} x */
function cubic({ ms, level, slope }, cell, x) {
  const width = ms[cell + 1] - ms[cell];
  const rise = level[cell + 1] - level[cell];
  const start = slope[cell] * width;
  const end = slope[cell + 1] * width;
  return level[cell] + x * (start + x * (3 * rise - 2 * start - end + x * (start + end - 2 * rise)));
}

/** The last node not after an instant. @param {Trace} trace @param {number} ms */
function nodeAt(trace, ms) {
  let low = 0;
  let high = trace.ms.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (trace.ms[middle] <= ms) low = middle;
    else high = middle;
  }
  return low;
}

/** @param {Trace} trace @param {number} ms */
function levelIn(trace, ms) {
  const cell = nodeAt(trace, ms);
  if (cell === trace.ms.length - 1) return trace.level[cell];
  return cubic(trace, cell, (ms - trace.ms[cell]) / (trace.ms[cell + 1] - trace.ms[cell]));
}

/**
 * The trace with a node at every high and low, and those highs and lows.
 * @param {Trace} given @returns {{trace: Trace, turns: Turn[]}}
 */
function withTurns(given) {
  /** @type {number[]} */
  const cells = [];
  for (let k = 0; k + 1 < given.ms.length; k += 1) {
    if (given.slope[k] >= 0 !== given.slope[k + 1] >= 0) cells.push(k);
  }
  const isStep = (/** @type {number} */ cell) => given.ms[cell + 1] === given.ms[cell];
  const trace = emptyTrace(given.ms.length + cells.filter((cell) => !isStep(cell)).length);
  /** @type {Turn[]} */
  const turns = [];
  let taken = 0;
  let node = 0;
  const copyTo = (/** @type {number} */ end) => {
    for (const column of /** @type {const} */ (['ms', 'level', 'slope'])) {
      trace[column].set(given[column].subarray(taken, end), node);
    }
    node += end - taken;
    taken = end;
  };
  for (const cell of cells) {
    copyTo(cell + 1);
    const isHigh = given.slope[cell] >= 0;
    if (isStep(cell)) {
      turns.push({ ms: given.ms[cell], level: given.level[cell + 1], before: given.level[cell], isHigh, node });
    } else {
      const x = levelPoint(given, cell);
      const level = cubic(given, cell, x);
      trace.ms[node] = given.ms[cell] + x * (given.ms[cell + 1] - given.ms[cell]);
      trace.level[node] = level;
      turns.push({ ms: trace.ms[node], level, before: level, isHigh, node });
      node += 1;
    }
  }
  copyTo(given.ms.length);
  return { trace, turns };
}

/** Where in a cell, 0 to 1, the slope is nought: Newton from the chord. @param {Trace} trace @param {number} cell */
function levelPoint({ ms, level, slope }, cell) {
  const width = ms[cell + 1] - ms[cell];
  const rise = level[cell + 1] - level[cell];
  const start = slope[cell] * width;
  const end = slope[cell + 1] * width;
  const linear = 2 * (3 * rise - 2 * start - end);
  const square = 3 * (start + end - 2 * rise);
  let x = start / (start - end);
  for (let round = 0; round < 4; round += 1) {
    const bend = linear + 2 * square * x;
    if (bend !== 0) x = Math.min(1, Math.max(0, x - (start + x * (linear + x * square)) / bend));
  }
  return x;
}

/** The list rule: close pairs of a high and a low are both dropped. @param {Turn[]} turns @returns {Turn[]} */
function listed(turns) {
  const kept = [];
  for (let at = 0; at < turns.length; at += 1) {
    const [turn, next] = [turns[at], turns[at + 1]];
    const isPair = next
      && Math.abs(Math.round(next.ms / 60000) - Math.round(turn.ms / 60000)) < CLOSE_MIN
      && Math.abs(next.before - turn.level) < CLOSE_M;
    if (isPair) at += 1;
    else kept.push(turn);
  }
  return kept;
}

/**
 * A station's own curve and listed highs and lows from its reference's.
 * @param {Trace} reference @param {Turn[]} turns @param {{high: Offset, low: Offset}} offsets
 * @returns {{trace: Trace, listed: Turn[]}}
 */
function warped(reference, turns, offsets) {
  const moved = turns.map((turn) => {
    const { minutes, times, plus_m: plus } = turn.isHigh ? offsets.high : offsets.low;
    const [level, before] = [turn.level * times + plus, turn.before * times + plus];
    return { ...turn, ms: turn.ms + minutes * 60000, level, before, of: turn };
  });
  /** @type {typeof moved} */
  const own = [];
  for (const turn of /** @type {typeof moved} */ (listed(moved))) {
    if (own.length && turn.ms <= own[own.length - 1].ms) own.pop();
    else own.push(turn);
  }
  const first = own[0].node;
  const trace = emptyTrace(own[own.length - 1].node - first + 1);
  for (let k = 0; k + 1 < own.length; k += 1) warpPiece(reference, trace, first, own[k], own[k + 1]);
  return { trace, listed: own };
}

/**
 * Fills the nodes between two matching events.
 * @param {Trace} reference @param {Trace} trace @param {number} first
 * @param {Turn & {of: Turn}} from @param {Turn & {of: Turn}} to
 */
function warpPiece(reference, trace, first, from, to) {
  const [span, rise] = [to.ms - from.ms, to.level - from.level];
  const stretch = span / (to.of.ms - from.of.ms);
  const referenceRise = to.of.level - from.of.level;
  const isFlat = Math.abs(referenceRise) < SMALLEST_RISE_M;
  const scale = rise / referenceRise;
  for (let node = from.node; node <= to.node; node += 1) {
    const k = node - first;
    const ms = from.ms + (reference.ms[node] - from.of.ms) * stretch;
    const x = (ms - from.ms) / span;
    trace.ms[k] = ms;
    trace.level[k] = from.level
      + (isFlat ? rise * x * x * (3 - 2 * x) : (reference.level[node] - from.of.level) * scale);
    trace.slope[k] = isFlat ? (rise * 6 * x * (1 - x)) / span : (reference.slope[node] * scale) / stretch;
  }
}

/**
 * Every instant at which a trace, its turning points being nodes, passes a level.
 * @param {Trace} trace @param {number} levelM @param {number} fromMs @param {number} toMs @returns {Crossing[]}
 */
function crossingsIn(trace, levelM, fromMs, toMs) {
  /** @type {Crossing[]} */
  const crossings = [];
  for (let cell = nodeAt(trace, fromMs - 1); cell + 1 < trace.ms.length && trace.ms[cell] <= toMs; cell += 1) {
    const rising = trace.level[cell + 1] >= levelM;
    if (trace.level[cell] >= levelM !== rising) {
      let [low, high] = [0, 1];
      for (let round = 0; round < 24; round += 1) {
        const middle = (low + high) / 2;
        if (cubic(trace, cell, middle) >= levelM === rising) high = middle;
        else low = middle;
      }
      const ms = Math.round(trace.ms[cell] + high * (trace.ms[cell + 1] - trace.ms[cell]));
      if (ms >= fromMs && ms <= toMs) crossings.push({ ms, rising });
    }
  }
  return crossings;
}
