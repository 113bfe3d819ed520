/**
 * Visits that were joined into one: which name stands for all of them, and which visit is shown. A join is a word of a
 * lead, and phones may write it without knowing of each other: a chain leads to its end, a ring to its least name, and
 * a visit joined to one that was removed, or is not here, is still shown. The twin of fieldlog/flags/joined.py.
 */

/** @typedef {{record_id: string, joined_to?: string|null, started_at?: string|null}} Joined */

/**
 * @param {string} id @param {(id: string) => string|null|undefined} nextOf to which other a visit was joined
 * @returns {string} the name that stands for a visit and all that were joined with it
 */
export function rootOf(id, nextOf) {
  const seen = [id];
  let next = nextOf(id);
  while (next && !seen.includes(next)) {
    seen.push(next);
    next = nextOf(next);
  }
  return next ? seen.slice(seen.indexOf(next)).sort()[0] : seen[seen.length - 1];
}

/**
 * @template {Joined} V
 * @typedef {{rootOf: (id: string|null|undefined) => string, of: (id: string|null|undefined) => V[],
 *   shown: (id: string|null|undefined) => V|undefined, all: V[]}} Groups
 * of: the visits that are one with this name, the first begun first; shown: the one that stands for them; all: those
 * that are shown
 */

/** Made once for each list that is read. @type {WeakMap<object, Groups<any>>} */
const made = new WeakMap();

/** @template {Joined} V @param {V[]} visits of a site that nobody removed @returns {Groups<V>} */
export function groupsOf(visits) {
  const known = made.get(visits);
  if (known) return known;
  const to = new Map(visits.map((visit) => [visit.record_id, visit.joined_to]));
  const root = (/** @type {string|null|undefined} */ id) => rootOf(id ?? '', (at) => to.get(at));
  /** @type {Map<string, V[]>} */ const groups = new Map();
  for (const visit of visits) {
    const name = visit.joined_to ? root(visit.record_id) : visit.record_id;
    const group = groups.get(name);
    if (group) group.push(visit);
    else groups.set(name, [visit]);
  }
  for (const group of groups.values()) if (group.length > 1) group.sort(firstBegun);
  const shownOf = (/** @type {string} */ name) => {
    const group = groups.get(name) ?? [];
    return group.find((visit) => visit.record_id === name) ?? group[0];
  };
  const grouped = {
    rootOf: root, of: (/** @type {any} */ id) => groups.get(root(id)) ?? [],
    shown: (/** @type {any} */ id) => shownOf(root(id)), all: [...groups.keys()].map(shownOf),
  };
  made.set(visits, grouped);
  return grouped;
}

/** @param {Joined} one @param {Joined} other */
function firstBegun(one, other) {
  const [first, second] = [one, other].map(({ started_at: at, record_id: id }) => `${at || '9'} ${id}`);
  return first < second ? -1 : 1;
}
