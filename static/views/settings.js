/** How this phone shows things: sun or night, metres or feet. Kept on the phone, never sent. */

/** @typedef {{theme: 'sun'|'night', feet: boolean, fault: string|null, keep: (changed: {theme?: 'sun'|'night', feet?: boolean}) => void}} Settings */

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
  const { theme, feet } = stored();
  /** @type {Settings} */
  const settings = {
    theme: theme === 'night' ? 'night' : 'sun',
    feet: feet === true,
    fault: null,
    keep(changed) {
      Object.assign(settings, changed);
      store({ theme: settings.theme, feet: settings.feet });
      page.dataset.theme = settings.theme;
    },
  };
  page.dataset.theme = settings.theme;
  return settings;
}
