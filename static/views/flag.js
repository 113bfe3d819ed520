/** One flag by itself: what it says, the evidence, and what a lead decided. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { plain } from './evidence.js';
import { FlagBody, flagWords, readFlags, waitsWords } from './flag-facts.js';
import { deviceWord, mark } from './marks.js';
import { isOpen } from './open-flags.js';

/** @param {import('./router.js').Stage} stage @returns {Promise<import('./router.js').Screen>} */
export async function view(stage) {
  const [flagId] = stage.params;
  let facts = await readFlags(stage);
  const body = new FlagBody(stage);
  const shown = () => facts.flags.find((flag) => flag.flag_id === flagId);
  return {
    back: '#/flags', narrow: true,
    title: () => {
      const flag = shown();
      return flag ? flag.title ?? plain(flag.rule) : 'No such flag';
    },
    where: () => {
      const flag = shown();
      return flag ? `${isOpen(flag) ? 'Open' : 'Settled or accepted'}${waitsWords(facts, flag)}` : nothing;
    },
    async refresh() { facts = await readFlags(stage); },
    body: () => {
      const flag = shown();
      return flag ? html`<p>${mark(isOpen(flag) ? 'look' : 'taken')} ${flagWords(facts, flag)}</p>
        ${body.draw(facts, flag)}`
        : html`<p>This flag is not on this ${deviceWord()}. It may have been settled long ago, or come with the next
          sync.</p>`;
    },
  };
}
