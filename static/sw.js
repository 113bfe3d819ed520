/**
 * The worker: the app without a network. Its files come in three tiers, each whole: what is needed on the shore first,
 * then the rest. A version's files lie together, and a page gets those of its own version alone; a new version waits
 * until the person agrees. The server fills the list in, so that the worker differs when any file does.
 */
/**
 * Each tier's paths, with the beginning of the SHA-256.
 * @type {{version: string, tiers: Record<string, Record<string, string>>}}
 */
const SHELL = /*SHELL*/{ version: "", tiers: {} };

const worker = /** @type {any} */ (self);
const PREFIX = 'shell-';
/** Where a version's files are addressed, and, in its store, what says that a tier is whole. */
const ADDRESS = '/shell/';
const WHOLE = '/whole/';
/** In this version's store: the names of earlier versions whose pages were still open when it took over. */
const EARLIER = '/earlier';
/** Never answered from here: these are the server's. */
const SERVER_PATHS = ['/api/', '/reports/', '/calendar/', '/healthz'];
/** Where no more of a tier's files than this part changed, they are fetched one by one, else the tier as one. */
const FEW = 1 / 4;

const TIERS = Object.keys(SHELL.tiers);
const [FIRST] = TIERS;
const OWN = PREFIX + SHELL.version;
/** Opened each time: a browser may have emptied it meanwhile. */
const own = () => caches.open(OWN);
const hashOf = (/** @type {string} */ path) =>
  Object.values(SHELL.tiers).find((files) => Object.hasOwn(files, path))?.[path];

/* Files: from an earlier version, in a tier as one, or one by one; each is looked at before it is kept. */

/** @param {BufferSource} bytes @param {string} hash @returns {Promise<boolean>} */
async function is(bytes, hash) {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('').startsWith(hash);
}

/** @param {Response|undefined} response @param {string} hash @returns {Promise<Response|null>} one that is right */
async function right(response, hash) {
  return response?.ok && await is(await response.clone().arrayBuffer(), hash) ? response : null;
}

const earlierNames = async () => (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== OWN);

/** @typedef {{cache: Cache, paths: Set<string>}} Store of a version, with what is in it */

/** Every version's store, this one's first. @returns {Promise<Store[]>} */
const storesHere = async () => Promise.all([OWN, ...await earlierNames()].map(async (name) => {
  const cache = await caches.open(name);
  return { cache, paths: new Set((await cache.keys()).map(({ url }) => new URL(url).pathname)) };
}));

/**
 * The file, if any version here has it. A response remembers its address, and a module's imports go by that: an earlier
 * version's would import its own, so it is made anew.
 * @param {Store[]} stores @param {string} path @param {string} hash @returns {Promise<Response|null>}
 */
async function fromHere(stores, path, hash) {
  for (const { cache, paths } of stores) {
    const known = paths.has(path) ? await right(await cache.match(path), hash) : null;
    if (known) return new Response(await known.blob(), { headers: known.headers });
  }
  return null;
}

/**
 * From the network; the browser's own cache may hold a log-in page under the address, so the second look goes past it.
 * @template Made @param {string} name @param {(answer: Response) => Promise<Made|null>} look
 * @returns {Promise<Made>}
 */
async function fetched(name, look) {
  for (const cache of /** @type {const} */ (['default', 'reload'])) {
    const answer = await fetch(`${ADDRESS}${SHELL.version}/${name}`,
      { redirect: 'error', credentials: 'same-origin', cache });
    const made = await look(answer);
    if (made) return made;
  }
  throw new TypeError(`${name} did not arrive as it should.`);
}

const fetchFile = (/** @type {string} */ path, /** @type {string} */ hash) =>
  fetched(path.slice(1), (answer) => right(answer, hash));

const MEDIA_TYPES = {
  css: 'text/css', js: 'text/javascript', json: 'application/json', svg: 'image/svg+xml',
  webmanifest: 'application/manifest+json',
};

/**
 * A file out of a tier, with the headers that the server gives every answer.
 * @param {string} path @param {string} text @param {Headers} given
 */
function fileOf(path, text, given) {
  const headers = new Headers(given);
  for (const name of ['content-encoding', 'content-length', 'etag', 'vary']) headers.delete(name);
  const suffix = /** @type {keyof MEDIA_TYPES} */ (path.split('.').at(-1));
  headers.set('content-type', `${MEDIA_TYPES[suffix] ?? 'text/html'}; charset=utf-8`);
  return new Response(text, { headers });
}

/** @param {string} tier @param {[string, string][]} lacking @returns {Promise<[string, Response][]>} those that came */
const fetchTier = (tier, lacking) => fetched(`${tier}.json`, async (answer) => {
  const texts = answer.ok ? await answer.json().catch(() => null) : null;
  if (!texts) return null;
  const wanted = lacking.filter(([path]) => Object.hasOwn(texts, path));
  const encoder = new TextEncoder();
  const rights = await Promise.all(wanted.map(([path, hash]) => is(encoder.encode(texts[path]), hash)));
  return rights.every(Boolean) ? wanted.map(([path]) => [path, fileOf(path, texts[path], answer.headers)]) : null;
});

/** Bring a tier; files that came stay for the next try, and the tier counts only when all are here. */
async function bring(/** @type {string} */ tier) {
  const cache = await own();
  if (await cache.match(WHOLE + tier)) return;
  /** @type {[string, string][]} */ let lacking = [];
  const stores = await storesHere();
  await Promise.all(Object.entries(SHELL.tiers[tier]).map(async ([path, hash]) => {
    const known = await fromHere(stores, path, hash);
    if (known) await cache.put(path, known);
    else lacking.push([path, hash]);
  }));
  if (lacking.length > FEW * Object.keys(SHELL.tiers[tier]).length) {
    const came = new Map(await fetchTier(tier, lacking));
    await Promise.all(Array.from(came, ([path, file]) => cache.put(path, file)));
    lacking = lacking.filter(([path]) => !came.has(path));
  }
  await Promise.all(lacking.map(async ([path, hash]) => cache.put(path, await fetchFile(path, hash))));
  await cache.put(WHOLE + tier, new Response());
}

/* A version's life. */

/** Whether an earlier version here has a tier whole; those before tiers had all in one. @param {string} tier */
async function hadBefore(tier) {
  const caches_ = await Promise.all((await earlierNames()).map((name) => caches.open(name)));
  const had = await Promise.all(caches_.map(async (cache) => await cache.match(WHOLE + tier)
    || !await cache.match(WHOLE + FIRST)));
  return had.some(Boolean);
}

/** The first tier, and what the version before has: nobody loses a screen by an update. */
async function install() {
  await bring(FIRST);
  for (const tier of TIERS.slice(1)) if (await hadBefore(tier)) await bring(tier);
}

/** Earlier versions go, but for those of which a page is open: it holds a lock of its version's name. */
async function tidy(/** @type {string[]} */ names) {
  const locks = await /** @type {any} */ (navigator).locks?.query();
  const open = new Set(locks?.held.map((/** @type {{name: string}} */ lock) => lock.name));
  await Promise.all(names.filter((name) => !open.has(name)).map((name) => caches.delete(name)));
  await (await own()).put(EARLIER, new Response(JSON.stringify(names.filter((name) => open.has(name)))));
}

async function activate() {
  await tidy(await earlierNames());
  await worker.clients.claim();
}

/** @type {Promise<void>|null} */ let bringing = null;

/** The tiers that are still to come, one after the other; each page is told which are lacking. */
async function bringRest() {
  try {
    for (const tier of TIERS) {
      await tellLacking();
      await bring(tier);
    }
  } finally {
    bringing = null;
    await tellLacking();
  }
  await tidy(await (await (await own()).match(EARLIER))?.json() ?? []);
}

async function tellLacking() {
  const cache = await own();
  const whole = await Promise.all(TIERS.map((tier) => cache.match(WHOLE + tier)));
  const lacking = TIERS.filter((_, n) => !whole[n]);
  for (const client of await worker.clients.matchAll()) client.postMessage({ lacking });
}

/* Answers. */

/**
 * @param {Request} request
 * @returns {{version: string, path: string}|null} the file that answers, null for the network
 */
function fileFor(request) {
  const url = new URL(request.url);
  if (url.origin !== location.origin || request.method !== 'GET') return null;
  if (SERVER_PATHS.some((path) => url.pathname.startsWith(path))) return null;
  if (request.mode === 'navigate') return { version: SHELL.version, path: '/' };
  if (url.pathname.startsWith(ADDRESS)) {
    const [version, ...names] = url.pathname.slice(ADDRESS.length).split('/');
    return { version, path: `/${names.join('/')}` };
  }
  return hashOf(url.pathname) ? { version: SHELL.version, path: url.pathname } : null;
}

/** @param {{version: string, path: string}} file @param {Request} request */
async function answer({ version, path }, request) {
  // The page names its files beside itself, so it is shown at its own address.
  if (request.mode === 'navigate' && new URL(request.url).pathname !== '/') return Response.redirect('/');
  const isOwn = version === SHELL.version;
  const cache = isOwn ? await own() : await caches.has(PREFIX + version) ? await caches.open(PREFIX + version) : null;
  const kept = await cache?.match(path);
  if (kept) return kept;
  const hash = isOwn && request.mode !== 'navigate' ? hashOf(path) : null;
  return hash ? fetchFile(path, hash) : fetch(request);
}

worker.addEventListener('install', (event) => event.waitUntil(install()));
worker.addEventListener('activate', (event) => event.waitUntil(activate()));
worker.addEventListener('message', (event) => {
  if (event.data === 'take-over') worker.skipWaiting();
  if (event.data === 'bring-rest') event.waitUntil(bringing ??= bringRest());
});
worker.addEventListener('fetch', (event) => {
  const file = fileFor(event.request);
  if (file) event.respondWith(answer(file, event.request));
});
