/**
 * Talking to the server. A network is trusted for nothing: an answer counts only with our header, in JSON; all else is
 * a wait or a sentence, and the phone keeps everything.
 */

const SYNC_TIMEOUT_MS = 60_000;
const CALL_TIMEOUT_MS = 30_000;
/** A file of 50 MB over a slow line, and its reading. */
const FILE_TIMEOUT_MS = 600_000;
const PART_TIMEOUT_MS = 60_000;
/** Smaller bodies gain nothing. */
const GZIP_FROM_BYTES = 1_000;

/** @typedef {'offline'|'portal'|'busy'|'not-joined'|'too-large'|'outdated'|'revoked'|'refused'|'disk-full'} Word */

export const SENTENCES = {
  offline: 'No connection to the server. Everything stays on this phone and is sent later.',
  portal: 'This network needs a login first. Open any web page, log in, then sync again. Everything stays on this '
    + 'phone until then.',
  busy: 'The server cannot answer now. Everything stays on this phone, and it tries again.',
  'not-joined':
    'The server no longer knows this phone. Nothing is lost: join again and it continues where it stopped.',
  'too-large': 'This phone sent too much at once. It tries again with less.',
  outdated: 'The server does not understand this version of the app. Update the app; export the entries if that does '
    + 'not help. Nothing is lost.',
  revoked: 'A lead ended this phone\u2019s access.',
  refused: 'The server refused this. Nothing was changed.',
  'disk-full': 'The server\'s disk is full. Everything stays on this phone; tell your lead.',
};

export class NoAnswer extends Error {
  /** @param {Word} word @param {{retryAfterMs?: number, sentence?: string}} [more] */
  constructor(word, { retryAfterMs = 0, sentence = SENTENCES[word] } = {}) {
    super(sentence);
    this.name = 'NoAnswer';
    this.word = word;
    this.sentence = sentence;
    this.retryAfterMs = retryAfterMs;
  }
}

/**
 * `AbortSignal.timeout` is younger than the rest of what is used here.
 * @param {number} timeoutMs @returns {AbortSignal}
 */
function after(timeoutMs) {
  const ending = new AbortController();
  setTimeout(() => ending.abort(), timeoutMs);
  return ending.signal;
}

/**
 * @param {string} path @param {RequestInit} options @param {number} timeoutMs
 * @returns {Promise<Response>} an answer of our server's, whatever its status
 */
async function ask(path, options, timeoutMs) {
  /** @type {Response} */ let answer;
  const signal = after(timeoutMs);
  try {
    answer = await fetch(path, { cache: 'no-store', redirect: 'manual', signal, ...options });
  } catch (error) {
    if (!['TypeError', 'TimeoutError', 'AbortError', 'NetworkError'].includes(/** @type {Error} */ (error).name))
      throw error;
    throw new NoAnswer('offline');
  }
  if (answer.headers.get('X-Fieldlog') === '1') return answer;
  if (answer.status === 429 || (answer.status >= 500 && answer.status !== 511)) throw new NoAnswer('busy',
    { retryAfterMs: retryAfter(answer) });
  if (answer.status === 413) throw new NoAnswer('too-large');
  throw new NoAnswer('portal');
}

/** @param {Response} answer */
function retryAfter(answer) {
  const seconds = Number(answer.headers.get('Retry-After'));
  return Number.isFinite(seconds) ? seconds * 1000 : 0;
}

/** @param {Response} answer @returns {Promise<any>} null where it is no JSON: a proxy changed it, or it was cut */
async function json(answer) {
  try {
    return await answer.json();
  } catch (error) {
    if (!['SyntaxError', 'TypeError', 'AbortError', 'TimeoutError'].includes(/** @type {Error} */ (error).name))
      throw error;
    return null;
  }
}

/**
 * It would take it at another time. A server of 0.2.0 says 409 where another writer was in its way.
 * @param {Response} answer @param {string} [word]
 */
const isBusy = (answer, word) => answer.status === 429 || answer.status >= 500 || word === 'programme-busy';

/** @param {Response} answer @returns {Promise<NoAnswer>} */
async function faultOf(answer) {
  const said = await json(answer);
  const told = { sentence: said?.detail, retryAfterMs: retryAfter(answer) };
  if (answer.status === 401) return new NoAnswer('not-joined');
  if (answer.status === 413) return new NoAnswer('too-large', told);
  if (answer.status === 507) return new NoAnswer('disk-full', told);
  if (said?.word === 'revoked') return new NoAnswer('revoked', told);
  if (isBusy(answer, said?.word)) return new NoAnswer('busy', told);
  return new NoAnswer('refused', told);
}

/** @param {string} text @returns {Promise<{body: BodyInit, headers: Record<string, string>}>} */
async function packed(text) {
  const headers = { 'Content-Type': 'application/x-ndjson' };
  if (text.length < GZIP_FROM_BYTES || !('CompressionStream' in globalThis)) return { body: text, headers };
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream('gzip'));
  return { body: await new Response(stream).arrayBuffer(), headers: { ...headers, 'Content-Encoding': 'gzip' } };
}

/**
 * @param {string} text a sync body
 * @param {(next: {cursor: [number, string], past: number}) => void} [heard] told where the past goes on, before the
 *   answer is here
 * @returns {Promise<import('./exchange.js').Reply>}
 */
async function sync(text, heard) {
  const answer = await ask('/api/sync', { method: 'POST', ...(await packed(text)) }, SYNC_TIMEOUT_MS);
  const next = answer.ok && answer.headers.get('Fieldlog-Next')?.match(/^(\d+) ([0-9a-f]*) (\d+)$/);
  if (next) heard?.({ cursor: [Number(next[1]), next[2]], past: Number(next[3]) });
  if (answer.status === 400 || answer.status === 426) throw new NoAnswer('outdated');
  if (!answer.ok) throw await faultOf(answer);
  const reply = await json(answer);
  if (!reply || !Array.isArray(reply.acks)) throw new NoAnswer('portal');
  return reply;
}

/**
 * @param {string} address '' for all in one document, else of the index or a part, below /api/pack
 * @param {string|null} etag of what is here
 * @returns {Promise<string|null|undefined>} the new text; null: the same; undefined: this server has none, or not for
 *   this phone
 */
async function pack(address, etag) {
  const answer = await ask(`/api/pack${address}`, { headers: etag ? { 'If-None-Match': `"${etag}"` } : {} },
    CALL_TIMEOUT_MS);
  if (answer.status === 304) return null;
  if (answer.ok) return answer.text();
  const fault = await faultOf(answer);
  if (fault.word === 'refused') return undefined;
  throw fault;
}

/**
 * @param {string} sha256 @param {ArrayBuffer} part @param {number} offset @param {number} total bytes
 * @returns {Promise<{isDone: boolean, isWrong: boolean, offset: number}>} how many bytes the server has; whether all
 *   came and were others
 */
async function photoPart(sha256, part, offset, total) {
  const headers = { 'Content-Type': 'application/octet-stream', 'Upload-Offset': String(offset),
    'Upload-Length': String(total) };
  const answer = await ask(`/api/photos/${sha256}`, { method: 'PATCH', headers, body: part }, PART_TIMEOUT_MS);
  const have = answer.headers.get('Upload-Offset');
  if (answer.status === 201) return { isDone: true, isWrong: false, offset: total };
  // Without a number it is no answer about a photo, such as 409 where a server of 0.2.0 was busy.
  if (have === null || ![204, 409, 422].includes(answer.status)) throw await faultOf(answer);
  return { isDone: false, isWrong: answer.status === 422, offset: Number(have) };
}

/**
 * Any other call: joining, and the lead's screens that need the server.
 * @param {string} method @param {string} path @param {unknown} [body] a file travels as its bytes, all else as JSON
 */
async function call(method, path, body) {
  const isFile = body instanceof Blob;
  /** @type {Record<string, string>} */ const headers = body === undefined ? {}
    : { 'Content-Type': isFile ? 'application/octet-stream' : 'application/json' };
  const sent = body === undefined || isFile ? body : JSON.stringify(body);
  const answer = await ask(path, { method, headers, body: sent }, isFile ? FILE_TIMEOUT_MS : CALL_TIMEOUT_MS);
  if (!answer.ok) throw await faultOf(answer);
  return answer.status === 204 ? null : json(answer);
}

export const http = { sync, pack, photoPart, call };
