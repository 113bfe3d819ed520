/** One person may have a record at each site: which records are of the same person. */

/**
 * The records of each person together: `same_as` is followed both ways, however long the chain, and a ring of them
 * ends.
 * @param {any[]} people @returns {any[][]} each in the order of `people`, as the groups are by their first
 */
export function grouped(people) {
  /** @type {Map<string, string>} */ const towards = new Map();
  const rootOf = (/** @type {string} */ id) => {
    let root = id;
    while (towards.has(root)) root = /** @type {string} */ (towards.get(root));
    return root;
  };
  for (const { record_id: id, same_as: other } of people) {
    const [one, next] = [rootOf(id), other ? rootOf(other) : null];
    if (next && next !== one) towards.set(one, next);
  }
  /** @type {Map<string, any[]>} */ const groups = new Map();
  for (const person of people) {
    const root = rootOf(person.record_id);
    groups.set(root, [...(groups.get(root) ?? []), person]);
  }
  return [...groups.values()];
}

/**
 * Every record of the person that a record is of, itself among them.
 * @param {any[]} people @param {string} id @returns {any[]}
 */
export const recordsOf = (people, id) =>
  grouped(people).find((same) => same.some((person) => person.record_id === id)) ?? [];

/**
 * Who of other sites has no record at a site yet; of a person with several records elsewhere the first.
 * @param {any[]} people of all sites, those of no site among them @param {string} siteId @returns {any[]}
 */
export const notAt = (people, siteId) => grouped(people)
  .filter((same) => same.every((person) => person.site_id && person.site_id !== siteId)).map(([first]) => first);
