/** Where a phone that has joined can show no site: it has not come yet, none is set up, or it has no time zone. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, inDeviceWords, rowLink } from './marks.js';
import { named, siteName } from './names.js';
import { readSteps, stepList } from './steps.js';

/**
 * @typedef {import('./router.js').Phone} Phone @typedef {import('./router.js').Screen} Screen
 */

/** @param {import('./router.js').Stage} stage @returns {Promise<Screen>} */
export async function nothingYet(stage) {
  const { phone } = stage;
  const isLead = phone.me.role === 'lead';
  const site = phone.me.site_id ? await phone.row('site', phone.me.site_id) : null;
  if (site && phone.pack()?.forms) return withoutZone(site, isLead);
  if (phone.pack()?.forms) return isLead ? firstSteps(phone) : noSite(phone);
  return {
    title: () => 'No site yet', where: () => phone.pack()?.programme?.name ?? '', narrow: true,
    body: () => html`<p role="status">${phone.syncState.busy ? 'The site is coming; keep the app open.'
      : inDeviceWords(phone.syncState.last_error_sentence)
      ?? 'The site, its units and the tide come with the first sync. Stay where there is a network until they are '
        + 'here.'}</p>`,
    foot: () => html`<button type="button" class="do" @click=${() => phone.syncNow()}>Sync now</button>`,
  };
}

/** What a lead of a new programme does first. @param {Phone} phone @returns {Promise<Screen>} */
async function firstSteps(phone) {
  const steps = await readSteps(phone);
  return {
    title: () => 'No site yet', where: () => phone.pack()?.programme?.name ?? '', narrow: true,
    body: () => html`<p role="status">Set one up first: its place, its tide station and its levels. The rest follows,
      step by step.</p>${stepList(steps)}${rowLink({ href: '#/access', said: 'Invitations',
        small: 'whoever joins now joins every site' })}`,
    foot: () => html`<a class="do" href="#/set-up/site/new">Set up a site</a>`,
  };
}

/** @param {Phone} phone @returns {Screen} */
const noSite = (phone) => ({
  title: () => 'No site yet', where: () => phone.pack()?.programme?.name ?? '', narrow: true,
  body: () => html`<p role="status">No lead has set up a site that this ${deviceWord()} may see. Once one has, it comes
    with the next sync.</p>`,
  foot: () => html`<button type="button" class="do" @click=${() => phone.syncNow()}>Sync now</button>`,
});

/**
 * Every screen tells times on the site's clock, so a site without a known time zone is told before anything else.
 * @param {any} site @param {boolean} isLead @returns {Screen}
 */
function withoutZone(site, isLead) {
  const zone = named(site.zone, '');
  return {
    title: () => 'No time zone', where: () => siteName(site), narrow: true,
    body: () => html`<p role="status">${zone
      ? `This ${deviceWord()} does not know the site's time zone, \u201c${zone}\u201d, so it cannot show times.`
      : 'The site has no time zone yet, so no times can be shown.'} ${isLead ? 'Choose it in the site\u2019s set-up.'
      : 'Ask a lead to choose it in the set-up.'}</p>
      ${isLead ? html`<a class="or" href="#/set-up/site/${site.record_id}">Set up the site</a>` : nothing}<a class="or"
        href="#/phone">Choose another site, or sync</a>`,
  };
}
