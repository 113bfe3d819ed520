/** One sync: rounds of asking and applying until nobody has more to say, then the pack, then photos. */
import { NoAnswer } from './http.js';

const BATCH = 1000;
const WANT = 1000;
/** Rounds a lane may take; a phone and a server that never agree must not talk for ever. */
const MOST_ROUNDS = 200;

/**
 * @typedef {{sync: (body: string) => Promise<import('./exchange.js').Reply>}} Transport
 */

/**
 * Bring all lanes of this phone and the server to the same.
 * @param {import('./exchange.js').Exchange} exchange @param {Transport} transport @param {string|null} person
 * @returns {Promise<import('./exchange.js').Reply|null>} the last answer
 */
export async function syncLanes(exchange, transport, person) {
  /** @type {import('./exchange.js').Reply|null} */ let reply = null;
  const asked = new Set();
  for (let lane = await nextLane(exchange, asked); lane; lane = await nextLane(exchange, asked)) {
    asked.add(lane);
    let batch = BATCH;
    let again = true;
    for (let round = 0; again && round < MOST_ROUNDS; round++) {
      const body = await exchange.request(lane, { batch, want: WANT, person });
      try {
        reply = await transport.sync(body);
      } catch (error) {
        const sent = body.split('\n').length - 2;
        if (!(error instanceof NoAnswer) || error.word !== 'too-large' || sent < 2) throw error;
        batch = Math.floor(sent / 2);
        continue;
      }
      again = await exchange.response(lane, reply);
    }
  }
  return reply;
}

/** The lane that is written to first; a fork may add one. @param {import('./exchange.js').Exchange} exchange @param {Set<string>} asked */
async function nextLane(exchange, asked) {
  const head = await exchange.head();
  return [head.lane, ...Object.keys(head.lanes)].find((lane) => !asked.has(lane)) ?? null;
}
