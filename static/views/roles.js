/** Which screens a role has a use for: what it can neither read nor write is neither offered nor opened. */

/** Screens that are not for everyone. @type {Record<string, string[]>} */
const USED_BY = {
  visit: ['lead', 'crew'], 'turn-back': ['lead', 'crew'], 'unit-check': ['lead', 'crew'],
  plan: ['lead', 'crew'], sheet: ['lead', 'crew'], 'add-photos': ['lead', 'crew'],
  stakes: ['lead', 'crew'], 'plot-reading': ['lead', 'crew'],
  people: ['lead', 'crew', 'desk'], person: ['lead', 'crew', 'desk'], 'past-visit': ['lead', 'crew', 'desk'],
  desk: ['lead', 'desk'], 'count-heads': ['lead', 'crew', 'desk'],
  'set-up': ['lead'], access: ['lead'], 'site-tide': ['lead'], 'bring-in': ['lead'], 'plan-making': ['lead'],
  hours: ['lead'], 'own-hours': ['lead', 'crew', 'desk'],
  closing: ['lead'], held: ['lead'], 'correct-visit': ['lead'],
};

/** @param {string} role @param {string} name of a screen */
export const hasUse = (role, name) => !Object.hasOwn(USED_BY, name) || USED_BY[name].includes(role);
