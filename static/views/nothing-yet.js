/** Joined, but the site has not come down yet. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const { phone } = stage;
  const isLead = phone.me.role === 'lead';
  return {
    title: () => 'No site yet', where: () => phone.pack()?.programme?.name ?? '', narrow: true,
    body: () => html`<p role="status">${phone.syncState.busy ? 'The site is coming; keep the app open.' : phone.syncState.last_error_sentence ?? 'The site, its units and the tide come with the first sync. Stay where there is a network until they are here.'}</p>
      ${isLead && phone.pack() ? html`<p>A new programme has no site. Set one up first: its place, its tide station and its levels.</p><a class="or" href="#/set-up/site/new">Set up a site</a>` : nothing}`,
    foot: () => html`<button type="button" class="do" @click=${() => phone.syncNow()}>Sync now</button>`,
  };
}
