/** What signing somebody in writes, on every screen that does. */
import { turnOf } from './shore.js';
import { instant, localDay } from './words.js';

/**
 * @param {import('./router.js').Stage} stage
 * @param {{visit: any, signIns: import('../records/rows.js').SignIn[]}} known the visit that runs; sign-ins of the
 *   site, removed ones too: the next one of that day gets another name
 * @param {any} person @param {Record<string, any>} [more] fields beside those
 */
export function signInOf({ phone, zone }, { visit, signIns }, person, more = {}) {
  const now = phone.now();
  const turn = turnOf(zone, now, signIns, person.record_id);
  const recordId = phone.signInId(phone.me.site_id, localDay(now, zone), person.record_id, turn);
  // Another phone may have signed them out of the turn of this name already: said so, they are still out.
  const fields = { person_id: person.record_id, in_at: instant(now), out_at: null, no_out_reason: null,
    ...(person.role ? { sign_in_role: person.role } : {}),
    ...(visit?.briefing_done ? {} : { briefing_heard: false }), ...more };
  return { kind: 'sign_in', recordId, fields, visitId: visit?.record_id ?? null };
}
