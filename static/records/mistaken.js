/**
 * Which records were removed. A sign-in is never removed: its record says who was counted, and would hide them when
 * they come again.
 */
export const MISTAKEN = { no_out_reason: 'Signed in by mistake' };

/** @param {string} kind @param {Record<string, any>|undefined} row or what one entry says */
export const isRemoved = (kind, row) =>
  row?._deleted === true || (kind === 'sign_in' && row?.no_out_reason === MISTAKEN.no_out_reason);
