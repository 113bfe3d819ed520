/** Which life stages and behaviors fit a species' group: a crab is never in flower, a grass does nothing. */

const EVERY = ['egg', 'larva', 'juvenile', 'adult', 'seedling', 'flowering', 'dead'];

/** @type {Record<string, {stages: string[], does: string[]}>} */
const GROUPS = {
  invertebrate: { stages: ['egg', 'larva', 'juvenile', 'adult', 'dead'],
    does: ['attached', 'moving', 'feeding', 'dug in'] },
  fish: { stages: ['egg', 'larva', 'juvenile', 'adult', 'dead'],
    does: ['swimming', 'in a school', 'feeding', 'hiding'] },
  bird: { stages: ['egg', 'juvenile', 'adult', 'dead'], does: ['feeding', 'resting', 'nesting', 'flying over'] },
  mammal: { stages: ['juvenile', 'adult', 'dead'], does: ['swimming', 'feeding', 'resting', 'on land'] },
  plant: { stages: ['seedling', 'adult', 'flowering', 'dead'], does: [] },
  alga: { stages: ['juvenile', 'adult', 'dead'], does: [] },
};

/**
 * @param {string|null|undefined} group of the species; of one that is only written in words none is known
 * @returns {{stages: string[], does: string[], moves: boolean}} `does`: behaviors to offer; `moves`: whether it can do
 *   anything at all
 */
export function fitting(group) {
  const known = GROUPS[group ?? ''];
  return known ? { ...known, moves: known.does.length > 0 } : { stages: EVERY, does: [], moves: true };
}
