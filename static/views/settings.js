/** How this phone shows things: its light, metres or feet, which site. Kept on the phone, never sent. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { choices, isWide } from './marks.js';
import { byName, siteName } from './names.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone, settings } = stage;
  /** @type {any[]} */ let sites = [];
  const refresh = async () => {
    sites = phone.me ? (await phone.rows('site', {})).sort((one, other) =>
      byName(siteName(one), siteName(other))) : [];
  };
  await refresh();
  const keep = (/** @type {any} */ changed) => { settings.keep(changed); stage.redraw(); };
  const pickSite = async (/** @type {string} */ id) => { await phone.setSite(id); stage.go('#/today'); };
  return {
    title: () => 'Settings', where: () => 'Kept here, never sent', back: '#/today', narrow: true, refresh,
    body: () => html`<div class="stack">
      ${choices({ name: 'theme', legend: 'Light', value: settings.theme, pick: (theme) => keep({ theme }),
        choices: [{ value: 'sun', label: 'Sun' }, { value: 'night', label: 'Night' }] })}
      ${choices({ name: 'feet', legend: 'Levels and distances', value: settings.feet, pick: (feet) => keep({ feet }),
        choices: [{ value: false, label: 'Meters' }, { value: true, label: 'Feet' }] })}
      <p class="small">Small measures stay in millimeters. Records are always kept in meters.</p>
      ${isWide() ? choices({ name: 'keys', legend: 'Keys: / searches, \u2191 and \u2193 go through a list',
        value: settings.keys, pick: (keys) => keep({ keys }),
        choices: [{ value: true, label: 'On' }, { value: false, label: 'Off' }] }) : nothing}
      ${sites.length > 1 ? choices({ name: 'site', legend: 'Site', value: phone.me.site_id, pick: pickSite,
        choices: sites.map((site) => ({ value: site.record_id, label: siteName(site) })) }) : nothing}</div>`,
  };
}
