/** A logger's record as the server gives it (fieldlog/gauge/kept.py), and the crew's own readings (readings.py). */
import type { AllowanceParts } from './allowance-words.js';

/** What a prediction leaves of a season's low tides, metres. */
interface Season {
  lows: number;
  p50: number;
  p90: number;
  p95: number;
  p99: number;
}

/** `allowance` is not there in what an older version worked out. */
interface Residuals extends Season {
  seasons: Record<string, Season>;
  allowance_m: number | null;
  allowance?: AllowanceParts | null;
  basis?: string;
  asks?: string;
}

export interface Constant {
  name: string;
  amplitude_m: number;
  amplitude_ci_m: number;
  phase_deg: number;
  phase_ci_deg: number;
  needs_days: number;
  is_lost?: boolean;
  inferred_from?: string | null;
}

/** One way to predict this site's tide, tried on days that it had not seen. */
export interface Way {
  kind: 'station' | 'offsets' | 'constants';
  station_id: string;
  held_back_days: number;
  rms_m: number;
  p95_m: number;
  residuals?: Residuals | null;
  offsets?: {
    minutes_high: number; minutes_low: number; times: number; plus_high_m: number; plus_low_m: number; events: number;
  } | null;
  constants?: Constant[] | null;
  /** what the record is too short to tell apart; there where constants are; beside: null for the mean level */
  not_parted?: { name: string; beside?: string | null; needs_days: number }[];
}

export interface Result {
  record: {
    used_days: number; levels: number; interval_min: number; from: string; to: string; air?: string | null;
    density_kg_m3?: number | null; unread: number; unread_lines: number[];
  };
  faults: { sentence: string }[];
  datums: {
    chart_datum: string; above_chart_datum_m: Record<string, number>; errors_m: Record<string, number>; method: string;
    days: number; chart_datum_above_zero_m: number;
  };
  candidates: Way[];
  reasons: string[];
  proposed: string | null;
}

export type WaterRecord = { name: string; made_at: number } & (
  | { state: 'failed'; fault: string }
  | { state: 'waiting' | 'working'; step?: string | null }
  | { state: 'done'; result: Result });

/** What the server understood of a file before it is stored. */
export interface Seen {
  columns: { time: number; value: number; unit: string; zone: string };
  names: string[];
  first_rows: string[][];
  questions: string[];
}

/** Of the logger's file, and of the further ones that came with it. */
export type Look = Seen & { barometer?: Seen | null; control?: Seen | null };

/** No allowance where they are too few. */
export type Readings = ({ allowance_m: null } | { allowance_m: number; allowance: AllowanceParts; basis: string }) & {
  count: number;
  months: number;
  least: number;
  p50: number;
  p95: number;
};
