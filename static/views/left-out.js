/** Whoever was never signed out stays in sight, whatever the day; and how old what each phone knows is. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, mark } from './marks.js';
import { personName } from './names.js';
import { VISIT_MS } from './visits.js';
import { day, instant, localDay, moment, msOf } from './words.js';

/** @typedef {import('./heads.js').Out} Out */

/**
 * From when on somebody without a time out is of an earlier tide: no later than their visit, or for hours neither its
 * alarm nor this would tell of them.
 * @param {import('../records/rows.js').SignIn} signIn @param {import('./visits.js').Visit[]} visits
 * @returns {number} milliseconds
 */
export const leftFrom = (signIn, visits) => VISIT_MS + Math.min(msOf(signIn.in_at) ?? 0,
  msOf(visits.find((visit) => visit.record_id === signIn.visit_id)?.started_at) ?? Infinity);

/**
 * Whether someone came in on an earlier tide, and nobody said when they left.
 * @param {Out} one @param {number} nowMs
 */
export const isLeft = ({ leftMs }, nowMs) => leftMs <= nowMs;

/**
 * The flags of those, made on this phone since it has every sign-in; the server makes the same when it is asked
 * (flags/signed_out.py), and says in the pack what the rule is called and what settles it.
 * @param {import('./router.js').Phone} phone @param {Out[]} left @param {string} zone
 * @returns {import('../records/pack.js').ShownFlag[]} for leads; nobody else is asked to find out
 */
export const leftFlags = (phone, left, zone) => (phone.me.role !== 'lead' ? []
  : left.map(({ signIn, person, leftMs }) => ({
  flag_id: `not_signed_out ${signIn.record_id}`, rule: 'not_signed_out',
  ...phone.pack()?.sites?.[phone.me.site_id ?? '']?.not_signed_out, severity: 'act', state: 'open', unitId: null,
  evidence: {},
  subject: { kind: 'sign_in', id: signIn.record_id }, raised_at: instant(leftMs),
  sentence: `${personName(person)}: not signed out. In since ${moment(msOf(signIn.in_at) ?? 0, phone.now(), zone)}. `
    + 'Ask, then give a time or a reason under People.',
})));

/** @param {Out} one @param {Out[]} left @param {number} nowMs @param {string} zone */
export function leftBoard({ signIn, person }, left, nowMs, zone) {
  const since = moment(msOf(signIn.in_at) ?? 0, nowMs, zone);
  const others = left.filter((stay) => stay.signIn !== signIn && signIn.visit_id
    && stay.signIn.visit_id === signIn.visit_id).map((stay) => personName(stay.person));
  return html`<div class="board stop" role="alert"><div
    class="label">${mark('stop')}Not signed out</div><div
    class="figure words">${personName(person)}</div>
    <p class="note">In since ${since}${others.length
      ? `, with ${others.join(', ')}, who ${others.length === 1 ? 'is' : 'are'} not signed out either`
      : ''}. Ask where ${personName(person)} is before anything else.</p></div>`;
}

/**
 * How old what stands here is: when this phone last heard of the others, and when each of them last wrote what came to
 * it.
 * @param {import('./router.js').Phone} phone @param {any[]} parts of phones on the visit
 * @param {any[]} written records, newest last or not
 * @param {Map<string, string>} names @param {string} zone
 */
export function agesOf(phone, parts, written, names, zone) {
  const nowMs = phone.now();
  const synced = phone.syncState.last_ok_ms;
  const mine = synced ? `As of ${moment(synced, nowMs, zone)}, when this ${deviceWord()} last synced.`
    : `This ${deviceWord()} has not synced yet: it knows only what was written on it.`;
  const others = parts.filter((part) => !part.until_at && part.device !== phone.me.device_id).map((part) => {
    const last = Math.max(part.changed_at_ms ?? 0,
      ...written.filter((row) => row.changed_by && row.changed_by === part.created_by)
      .map((row) => row.changed_at_ms ?? 0));
    return `${names.has(part.created_by) ? `${names.get(part.created_by)}\u2019s phone` : 'Another phone'} was last `
      + `heard at ${moment(last, nowMs, zone)}.`;
  });
  return [mine, ...others].join(' ');
}

/**
 * Beside a head count, which they are not in: "1 left open from Sat, Nov 21".
 * @param {Out[]} left first in first @param {number} nowMs @param {string} zone
 */
export function leftOpenWords(left, nowMs, zone) {
  if (!left.length) return '';
  const inMs = msOf(left[0].signIn.in_at) ?? 0;
  const when = localDay(inMs, zone) === localDay(nowMs, zone) ? moment(inMs, nowMs, zone) : day(inMs, zone);
  return `${left.length} left open ${left.length === 1 ? 'from' : 'since'} ${when}`;
}

/** Where someone without a time is named on other screens. @param {Out[]} left */
export const leftNotice = (left) => (left.length
  ? html`<a class="notice stop" href="#/people" role="alert">${mark('stop')}<span
  class="said">Not signed out: ${left.map((stay) => personName(stay.person)).join(', ')}. Ask, then give a time or a
  reason.</span></a>` : nothing);
