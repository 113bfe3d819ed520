/** How this phone shows things: sun or night, metres or feet, whose plan, keys. Kept on the phone, never sent. */

/**
 * @typedef {{theme: 'sun'|'night', feet: boolean, team: number, ticked: string[], keys: boolean}} Shows ticked: "visit
 *   stop" of plots that are left off that visit's list; keys: single keys do something, which who speaks to a computer
 *   wants to switch off
 * @typedef {Shows & {fault: string|null, keep: (changed: Partial<Shows>) => void}} Settings
 */

const KEY = 'fieldlog.shows';

/** Some browsers refuse storage in private mode; the settings then last until the app is closed. */
function stored() {
  try {
    return JSON.parse(localStorage.getItem(KEY) ?? '{}');
  } catch (error) {
    if (error instanceof DOMException || error instanceof SyntaxError) return {};
    throw error;
  }
}

/** @param {object} shows */
function store(shows) {
  try {
    localStorage.setItem(KEY, JSON.stringify(shows));
  } catch (error) {
    if (!(error instanceof DOMException)) throw error;
  }
}

/** @param {HTMLElement} page the html element that carries the theme @returns {Settings} */
export function readSettings(page) {
  const { theme, feet, team, ticked, keys } = stored();
  /** @type {Settings} */
  const settings = {
    theme: theme === 'night' ? 'night' : 'sun',
    feet: feet === true,
    team: team ?? 1,
    ticked: ticked ?? [],
    keys: keys !== false,
    fault: null,
    keep(changed) {
      Object.assign(settings, changed);
      const { fault: _fault, keep: _keep, ...shows } = settings;
      store(shows);
      page.dataset.theme = settings.theme;
    },
  };
  page.dataset.theme = settings.theme;
  return settings;
}
