/** What is known of a shore now, as `readShore` of shore.js gives it. */
import type { Site, Visit } from '../records/rows.js';
import type { ShownFlag } from '../records/pack.js';
import type { Closure } from '../tides/cautions.js';
import type { Constants } from '../tides/constants.js';
import type { Light, Tide, Window } from '../tides/windows.js';
import type { Out } from './heads.js';

/** A site's row with what its pack says beside it (`rulesOf` of constants.js); its numbers may lack. */
export type SiteRules = Site & { closures: Closure[]; constants: Constants | null };

export interface Shore {
  site: SiteRules | null;
  visit: Visit | null;
  /** out, left, party, elsewhere: as `partedOut` has them */
  out: Out[];
  left: Out[];
  party: Out[];
  elsewhere: Out[];
  flags: ShownFlag[];
  openCount: number;
  tide: Tide | null;
  windows: Window[];
  light: Light[];
  /** the last reading less the prediction, metres */
  seenM: number | null;
  /** what of it counts, metres */
  shiftM: number;
  /** how much lower water a lead lets count, metres */
  allowsM: number;
  /** the slowest walk that was timed on this visit, minutes */
  slowestMin: number | null;
}

/** With a tide and all the site's numbers, which drawings and dry ground need. */
export type Tidal = Shore & { tide: Tide; site: import('../tides/windows.js').Rules & SiteRules };
