/** Where a site's allowance comes from, and what of it stays beside another tide. */
import { constantsOf } from '../tides/constants.js';
import { allowanceOf } from '../tides/windows.js';

/**
 * What stays of an allowance beside another tide: what a record said of the one before may be too little.
 * @param {any} site @returns {number} metres
 */
export const allowanceKept = (site) => (site.allowance_basis
  ? Math.max(allowanceOf(site), constantsOf(site).allowance_m) : allowanceOf(site));

const [OF_ANOTHER, MOST_LETTERS] = ['said of another tide: ', 200];
const PROPOSED = 'our suggestion, since this site has no record yet';

/**
 * Where what stays of an allowance beside another tide comes from: it was not set by a lead because the tide is new.
 * @param {any} site as it was @returns {string|null}
 */
export function basisKept(site) {
  if (allowanceKept(site) > allowanceOf(site)) return 'our suggestion; the one for another tide is less';
  const basis = site.allowance_basis;
  if (!basis) return typeof site.allowance_m === 'number' ? null : PROPOSED;
  const whole = basis.startsWith(OF_ANOTHER) ? basis : `${OF_ANOTHER}${basis}`;
  return whole.length > MOST_LETTERS ? `${whole.slice(0, MOST_LETTERS - 1)}\u2026` : whole;
}

/** Where a site's allowance comes from. @param {any} site @returns {string} */
export const basisOf = (site) => site.allowance_basis?.replace(/^exceeded (?=on|in)/,
  'by an older rule, which does not cover other years: exceeded ')
  ?? (typeof site.allowance_m === 'number' ? 'set by a lead, without a record'
  : PROPOSED);
