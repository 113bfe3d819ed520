/**
 * Who this phone is to the programme, and whether its storage is still the one it had.
 *
 * @typedef {{device_id: string, role: string, sites: string[]|null, person_id: string|null, site_id: string|null}} Me
 * @typedef {{busy: boolean, last_ok_ms: number|null, last_error_sentence: string|null, clock_sentence: string|null,
 *   waiting: boolean, portal: boolean, needs_join: boolean, revoked: boolean, update_app: boolean}} SyncState how the
 *   last sync went
 */

/** @returns {SyncState} */
export const neverSynced = () => ({
  busy: false, last_ok_ms: null, last_error_sentence: null, clock_sentence: null, waiting: false, portal: false,
  needs_join: false, revoked: false, update_app: false,
});

/** Outside the database, so that one is missed when the browser clears the other. */
const MARK = 'fieldlog-kept';

/** @param {string} name of the database */
const markName = (name) => `${MARK}:${name}`;

/**
 * Whether the browser cleared the database while it kept the mark beside it.
 * @param {string} name @param {boolean} isNew whether the database holds nothing
 * @returns {{unsent: number}|null}
 */
export function clearedSince(name, isNew) {
  const mark = localStorage.getItem(markName(name));
  return isNew && mark ? { unsent: Number(mark) || 0 } : null;
}

/** @param {string} name @param {number} unsent how many entries and photos only this phone has */
export const setMark = (name, unsent) => localStorage.setItem(markName(name), String(unsent));

/** @param {string} name */
export const dropMark = (name) => localStorage.removeItem(markName(name));

/**
 * Me after joining: somebody who joins again is still the same person.
 * @param {any} answer of /api/join @param {Me|null} before @returns {Me}
 */
export const joinedAs = (answer, before) => ({
  device_id: answer.device_id, role: answer.role, sites: answer.sites,
  person_id: answer.person_id ?? before?.person_id ?? null, site_id: siteOf(answer.sites, before?.site_id ?? null),
});

/** @param {string[]|null} sites null: the whole programme @param {string|null} chosen @returns {string|null} */
export const siteOf = (sites, chosen) => (sites === null || (chosen && sites.includes(chosen)) ? chosen : sites[0] ?? null);
