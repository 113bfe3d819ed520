/** Who is out, and how long what the desk wrote of people may be shown where it was written. Pure. */

/** Contacts are shown on the phone that wrote them for so long at most. */
export const SHOWN_MS = 24 * 3_600_000;

/**
 * Whether somebody is still out: nobody gave a time out, or a reason for none. Of a day alone nobody knows that.
 * @param {Partial<import('./rows.js').SignIn>} signIn
 */
export const isOut = (signIn) => !signIn.out_at && !signIn.no_out_reason && signIn.time_known !== false;

/**
 * Whether the head count of the day is open: it closes when everyone is signed out, after a day in any case.
 * @param {Partial<import('./rows.js').SignIn>[]} signIns @param {number} nowMs
 */
export const isHeadCountOpen = (signIns, nowMs) => signIns.some((signIn) => isOut(signIn)
  && nowMs - Date.parse(signIn.in_at ?? '') < SHOWN_MS);
