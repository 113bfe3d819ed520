/** The phone's answers to the shared vectors, in the shape of the files. */
import { tick } from '/log/line.js';
import { chain, entryId, madeUpId, nameFits, nameOfSite } from '/log/line.js';
import { apply, disagreements, empty, winners } from '/log/merge.js';

const read = async (name) => (await fetch(`/vectors/sync_${name}.json`)).json();

export async function ids() {
  const { entry_ids: texts, chain: links, made_up_ids: names, names_of_sites: named } = await read('ids');
  let last = '';
  return {
    entry_ids: texts.map(([text]) => [text, entryId(text)]),
    chain: links.map(([id]) => [id, (last = chain(last, id))]),
    made_up_ids: names.map(([name]) => [name, madeUpId(name)]),
    names_of_sites: named.map(([id, site]) => [id, site, nameOfSite(id, site)]),
    fits: named.flatMap(([id, site, name]) => [nameFits(name, site), nameFits(name, 'another site'), nameFits(id, 'another site')]),
  };
}

export async function ticks() {
  return (await read('clock')).ticks.map(([nowMs, before]) => [nowMs, before, tick(nowMs, before)]);
}

function* orders(list) {
  if (list.length < 2) yield list;
  for (const [place, first] of list.entries()) {
    for (const rest of orders(list.filter((_, other) => other !== place))) yield [first, ...rest];
  }
}

/** For each case the fields of every order of arrival. */
export async function folds() {
  return (await read('fold')).cases.map(({ entries, merges, since }) => [...orders(entries)].map((order) => {
    const state = empty();
    for (const [id, eff, f, b] of order) apply(state, { id, eff, said: { f, b } });
    const open = disagreements(state, merges, since);
    return Object.fromEntries(Object.entries(winners(state, merges, since)).sort().map(([name, value]) => [name, {
      value, others: (open[name]?.values.slice(1) ?? []).map((other) => JSON.stringify(other)).sort(),
    }]));
  }));
}
