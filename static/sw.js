/**
 * The worker: the app without a network. All files of a version or none; a new version waits until the person agrees.
 * The server fills the list in, so that the worker differs when any file does.
 */
/** @type {Record<string, string>} each file's path and SHA-256 */
const SHELL = /*FILES*/{};

const worker = /** @type {any} */ (self);
const PREFIX = 'shell-';
/** Never answered from here: these are the server's. */
const SERVER_PATHS = ['/api/', '/reports/', '/calendar/', '/healthz'];

/** @param {string} text @returns {Promise<string>} 16 hex digits, a name for this list of files */
const versionOf = async (text) => (await sha256(new TextEncoder().encode(text))).slice(0, 16);
const cacheName = versionOf(JSON.stringify(SHELL)).then((version) => PREFIX + version);

/** @param {BufferSource} bytes */
async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
}

/**
 * @param {Response} response @param {string} hash
 * @returns {Promise<Response|null>} one that is what it should be, else null
 */
async function checked(response, hash) {
  const bytes = await response.clone().arrayBuffer();
  return (await sha256(bytes)) === hash ? response : null;
}

/**
 * From an earlier version's files, else from the network; a captive portal's page does not have the hash.
 * @param {string} path @param {string} hash
 */
async function fetchFile(path, hash) {
  for (const name of await caches.keys()) {
    const known = await (await caches.open(name)).match(path);
    const same = known && (await checked(known, hash));
    if (same) return same;
  }
  const fresh = await fetch(path, { redirect: 'error', cache: 'no-cache', credentials: 'same-origin' });
  const good = fresh.ok ? await checked(fresh, hash) : null;
  if (!good) throw new TypeError(`${path} did not arrive as it should.`);
  return good;
}

/** Files that came stay for the next try; the version counts only when all are here. */
async function install() {
  const cache = await caches.open(await cacheName);
  await Promise.all(Object.entries(SHELL).map(async ([path, hash]) => {
    const known = await cache.match(path);
    if (known && (await checked(known, hash))) return;
    await cache.put(path, await fetchFile(path, hash));
  }));
}

/** Earlier versions go when this one takes over. */
async function activate() {
  const mine = await cacheName;
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== mine)
    .map((name) => caches.delete(name)));
  await worker.clients.claim();
}

/** @param {Request} request @returns {string|null} the file that answers, null for the network */
function fileFor(request) {
  const url = new URL(request.url);
  if (url.origin !== location.origin || request.method !== 'GET') return null;
  if (SERVER_PATHS.some((path) => url.pathname.startsWith(path))) return null;
  if (request.mode === 'navigate') return '/';
  return Object.hasOwn(SHELL, url.pathname) ? url.pathname : null;
}

/** @param {string} path @param {Request} request */
async function answer(path, request) {
  // The page names its files beside itself, so it is shown at its own address.
  if (request.mode === 'navigate' && new URL(request.url).pathname !== '/') return Response.redirect('/');
  const cache = await caches.open(await cacheName);
  return (await cache.match(path)) ?? fetch(request);
}

worker.addEventListener('install', (event) => event.waitUntil(install()));
worker.addEventListener('activate', (event) => event.waitUntil(activate()));
worker.addEventListener('message', (event) => {
  if (event.data === 'take-over') worker.skipWaiting();
});
worker.addEventListener('fetch', (event) => {
  const path = fileFor(event.request);
  if (path) event.respondWith(answer(path, event.request));
});
