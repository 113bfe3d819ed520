/** A check outside a visit is a correction of the last one, or a single look: asked before the form. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { chevron, rowLink } from './marks.js';
import { momentOf } from './words.js';

/**
 * @param {import('./router.js').Stage} stage @param {any|null} last the unit's newest check @param {() => void} look
 */
export function whyNoVisit({ phone, zone }, last, look) {
  const mayCorrect = last && (phone.me.role === 'lead' || last.entry_state !== undefined);
  const when = mayCorrect ? momentOf(last, last.checked_at, phone.now(), zone) : '';
  return html`<section><div class="bar"><h2>No visit is open. Why check this unit now?</h2></div>
    ${mayCorrect ? rowLink({ href: `#/record/unit_check/${last.record_id}`, said: 'To correct the last check',
      small: when }) : nothing}
    <button type="button" class="row" @click=${look}><span class="said">A single look<small>A new check, without a
      visit</small></span>${chevron}</button>
    ${rowLink({ href: '#/visit', said: 'A visit begins now', small: 'Start it first: with its turn-back time' })}
    </section>`;
}
