/** One flag by itself: what it says, the evidence, and what a lead decided. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { plain } from './evidence.js';
import { FlagBody, flagWords, readFlags, waitsWords } from './flag-facts.js';
import { mark } from './marks.js';
import { isOpen } from './open-flags.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [flagId] = stage.params;
  let facts = await readFlags(stage);
  const body = new FlagBody(stage);
  const shown = () => facts.flags.find((flag) => flag.flag_id === flagId);
  return {
    title: () => (shown() ? shown().title ?? plain(shown().rule) : 'No such flag'), back: '#/flags', narrow: true,
    where: () => (shown() ? `${isOpen(shown()) ? 'Open' : 'Settled or accepted'}${waitsWords(facts, shown())}`
      : nothing),
    async refresh() { facts = await readFlags(stage); },
    body: () => (shown() ? html`<p>${mark(isOpen(shown()) ? 'look' : 'taken')} ${flagWords(facts, shown())}</p>
      ${body.draw(facts, shown())}`
      : html`<p>This flag is not on this phone. It may have been settled long ago, or come with the next sync.</p>`),
  };
}
