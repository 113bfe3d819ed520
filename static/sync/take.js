/** What a pull brings: others' entries, and news of one's own. */
import { parsed, recordKey } from './line.js';
import { observe } from '../store/head.js';

/**
 * @typedef {import('../store/folding.js').Line} Line
 * @typedef {import('../store/folding.js').Entry} Entry
 */

/**
 * Keep what was pulled.
 * @param {any} tx @param {import('../store/head.js').Head} head @param {import('./exchange.js').Reply} reply
 * @param {Set<string>} dirty records to fold again are added
 * @returns {Promise<{fresh: Entry[], isStolen: boolean}>} entries to fold in; whether another phone writes under this
 *   one's lane
 */
export async function takePulled(tx, head, reply, dirty) {
  // The receipt of the same answer says the same of an entry just sent; with one lane nothing else can be meant.
  const told = Object.keys(head.lanes).length === 1
    ? new Map(reply.acks.filter((ack) => ack[2] === 'ok').map((ack) => [ack[1], ack[4]])) : new Map();
  const news = reply.pull.filter(([, id, eff, text]) => text !== null || told.get(id) !== eff);
  const found = await Promise.all(news.map((pulled) => takeOne(tx, head, pulled, dirty)));
  return { fresh: found.flatMap((one) => (one.entry ? [one.entry] : [])), isStolen: found.some((one) => one.isStolen) };
}

/** @param {any} tx @param {import('../store/head.js').Head} head @param {import('./exchange.js').Pulled} pulled @param {Set<string>} dirty @returns {Promise<{entry?: Entry, isStolen?: boolean}>} */
async function takeOne(tx, head, [, id, eff, text], dirty) {
  const said = text === null ? null : parsed(text);
  const others = tx.objectStore('others');
  const keep = () => others.put({ id, eff, text, record: recordKey(said.t, said.r) });
  if (said && !Object.hasOwn(head.lanes, said.d)) {
    keep();
    observe(head, eff);
    return { entry: { id, eff, said, isOwn: false } };
  }
  const [own, there, other] = await Promise.all([
    tx.objectStore('lines').index('id').get(id), said ? tx.objectStore('lines').get([said.d, said.n]) : null, others.get(id),
  ]);
  if (own) noteTaken(tx, own, eff, dirty);
  if (own || said) observe(head, eff);
  if (other && other.eff !== eff) {
    others.put({ ...other, eff });
    dirty.add(other.record);
  }
  // The text of an own private entry was taken off this phone for good.
  if (!said || own?.isPrivate) return {};
  keep();
  const isFolded = own && own.text !== null;
  return { entry: isFolded ? undefined : { id, eff, said, isOwn: false }, isStolen: there?.id !== id && said.d === head.lane };
}

/** An own id in a pull is taken, whatever the phone thought. @param {any} tx @param {Line} own @param {string} eff @param {Set<string>} dirty */
function noteTaken(tx, own, eff, dirty) {
  if (own.record && (own.state === 'held' || (own.eff ?? own.s) !== eff)) dirty.add(own.record);
  tx.objectStore('lines').put({ ...own, state: 'taken', eff, why: null, sentence: null });
}
