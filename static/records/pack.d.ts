/**
 * What a pack says (fieldlog/pack/build.py and fieldlog/pack/parts.py), as this phone keeps it. A part that has not
 * come is not there, and servers of before left out what stands here as optional.
 */
import type { Form } from './validate.js';
import type { Closure } from '../tides/cautions.js';
import type { Constants } from '../tides/constants.js';
import type { PhoneNumbers } from '../tides/predict.js';
import type { TapeScale } from '../survey/movement.js';

/** Differences to the value before; null is passed over. */
export type Column = (number | null)[];

/** Windows of one level, as columns (fieldlog/pack/windows_columns.py). */
export interface Level {
  bed_level_m: number | null;
  opens: Column;
  back: Column;
  /** a letter a low; an older server's pack lacks it */
  why?: string;
  closes: Column;
  from: Column;
  until: Column;
  usable: Column;
  daylight: string;
  stops: number[];
  minds: number[];
}

/** The windows of a site. */
export interface Columns {
  from_day: string;
  low_s: Column;
  low_mm: Column;
  dries?: Column;
  words: string[][];
  left_out_m?: number;
  levels: Record<string, Level>;
}

/** What is said of a rule beside each of its flags (fieldlog/flags/flag.py). */
export interface RuleWords {
  title?: string;
  todo?: string;
  settles?: string;
}

/** A flag as it travels (fieldlog/flags/reading.py). */
export interface Flag extends RuleWords {
  flag_id: string;
  rule: string;
  severity: 'act' | 'look';
  subject: { kind: string; id: string };
  sentence: string;
  evidence?: Record<string, any> | null;
  raised_at: string;
  state: 'open' | 'reopened' | 'settled' | 'accepted';
  settled_at?: string | null;
  settled_by?: string | null;
  settled_reason?: string | null;
}

/** A flag with the unit that it is of, null where it is of something else; `isHere`: raised here, not sent yet. */
export type ShownFlag = Flag & { unitId: string | null; isHere?: boolean };

/** What the Sun does (fieldlog/windows/daylight.py): minutes after `from_day` 0 h UTC. */
export interface Sun {
  from_day: string;
  sunrise: (number | null)[];
  sunset: (number | null)[];
  light: [number, number][];
}

/** What the server derived of one site. */
export interface PackedSite {
  calendar?: string | null;
  constants?: Constants | null;
  tide?: PhoneNumbers | null;
  sun?: Sun | null;
  moons?: ['new' | 'full', number][] | null;
  windows?: Columns | null;
  /** why there is no window soon, or why the site has none at all */
  sentence?: string | null;
  closures?: Closure[];
  /** metres above chart datum of units that were leveled themselves, by id */
  beds?: Record<string, number>;
  doubts?: string[];
  flags?: Flag[];
  flag_counts?: { open: number; settled: number };
  due_today?: Flag[];
  due_at?: string[];
  not_signed_out?: RuleWords;
  /** sentences of small movements, by unit */
  remarks?: Record<string, string>;
  tape_scale?: TapeScale | null;
  /** readers' alone (fieldlog/pack/visit_sums.py) */
  visits?: { day: string; purpose: string | null; people: number }[];
  visit_count?: number;
  visit_years?: { year: number; visits: number; hours: number }[];
}

/** A line that the server holds, for leads. */
export interface HeldLine {
  lane_id: string;
  number: number;
  entry_id: string;
  why: string;
  sentence: string | null;
  received_at: number | null;
  line: string;
}

/** A kind's form, with what its rows need beside it. */
export type PackedForm = Form & {
  'x-kind': string;
  'x-privacy': string;
  'x-writers': string[];
  'x-site-bound'?: boolean;
  'x-salted'?: boolean;
};

/** The whole of it. */
export interface PackContent {
  etag: string;
  made_at: string;
  me: { device_id: string; role: string; sites: string[] | null };
  /** leads: for leads alone, how many people lead what this one does */
  programme: { name: string | null; leads?: number };
  attribution?: string[];
  forms: { version: string; kinds: Record<string, PackedForm> };
  tray?: HeldLine[];
  sites: Record<string, PackedSite>;
}

/** What says of which parts a pack is made. */
export interface PackIndex extends Omit<PackContent, 'forms' | 'tray' | 'sites'> {
  /** the path of each site's calendar, by site */
  calendars: Record<string, string | null>;
  /** the tag of each part, by its address */
  parts: Record<string, string>;
}
