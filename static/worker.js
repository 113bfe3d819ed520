/** How the app's worker is registered. */

/** Its address as Trusted Types want it. @returns {string} */
function workerUrl() {
  const types = /** @type {any} */ (window).trustedTypes;
  const make = (/** @type {string} */ path) => {
    if (path !== '/sw.js') throw new TypeError(`${path} is no worker of this app.`);
    return path;
  };
  return types ? types.createPolicy('fieldlog', { createScriptURL: make }).createScriptURL('/sw.js') : make('/sw.js');
}

const url = workerUrl();

/** @returns {Promise<ServiceWorkerRegistration>} */
export const register = () => navigator.serviceWorker.register(url, { updateViaCache: 'none' });
