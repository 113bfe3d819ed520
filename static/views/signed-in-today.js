/** The day's sign-ins, each leading to its record; and the one tap that signs everyone out, asked once by name. */
import { html, nothing } from '../vendor/lit-html-3.3.3/lit-html.js';
import { deviceWord, section } from './marks.js';
import { personName } from './names.js';
import { recordRow, withRemovals } from './removed.js';
import { clock, localDay, msOf, turnMs } from './words.js';

/**
 * @param {import('./router.js').Stage} stage @param {any[]} signIns of the site, removed ones too
 * @returns {Promise<any[]>} the day's, newest first
 */
export function readToday(stage, signIns) {
  const dayOf = (/** @type {number} */ ms) => localDay(ms, stage.zone);
  const today = signIns.filter((signIn) => dayOf(msOf(signIn.in_at) ?? 0) === dayOf(stage.phone.now()));
  const newestFirst = today.sort((one, other) => turnMs(other, other.in_at) - turnMs(one, one.in_at));
  return withRemovals(stage, 'sign_in', newestFirst);
}

/**
 * @param {import('./router.js').Stage} stage @param {any[]} today of `readToday` @param {Map<string, string>} names
 */
export function todayList(stage, today, names) {
  const { zone } = stage;
  if (!today.length) return nothing;
  const rows = today.map((signIn) => {
    const out = signIn.out_at ? `signed out ${clock(msOf(signIn.out_at) ?? 0, zone)}`
      : signIn.no_out_reason ? `no sign-out time: ${signIn.no_out_reason}` : 'not signed out';
    const name = names.get(signIn.person_id) ?? `Somebody not on this ${deviceWord()}`;
    return recordRow(stage, 'sign_in', signIn, name, signIn.time_known === false ? 'times not known'
      : `in ${clock(msOf(signIn.in_at) ?? 0, zone)}, ${out}`);
  });
  return section('Signed in today', today.filter((signIn) => !signIn.removed).length, rows);
}

/** Signs everyone out: apart from what is tapped on the way out. */
export class EveryoneOut {
  /** @param {import('./router.js').Stage} stage @param {(these: any[]) => void} signOut */
  constructor(stage, signOut) {
    this.stage = stage;
    this.signOut = signOut;
    this.isAsked = false;
  }

  ask() {
    if (this.stage.isSecondTap()) return;
    this.isAsked = true;
    this.stage.redraw();
    queueMicrotask(() => document.getElementById('all-out')?.focus());
  }

  /** @param {{signIn: any, person: any}[]|null} out null: not all are back */
  answer(out) {
    if (this.stage.isSecondTap()) return;
    this.isAsked = false;
    if (out) this.signOut(out);
    this.stage.redraw();
  }

  /** One person alone is signed out on their own row. @param {{signIn: any, person: any}[]} out */
  draw(out) {
    if (out.length < 2) {
      this.isAsked = false;
      return nothing;
    }
    const asked = html`<div class="said-back" id="all-out" tabindex="-1" role="alert">
      <b>Are these ${out.length} back on firm ground?</b><p>${out.map((stay) => personName(stay.person)).join(', ')}</p>
      <div class="two"><button type="button" class="or" @click=${() => this.answer(null)}>Not all</button>
        <button type="button" class="or" @click=${() => this.answer(out)}>Sign out these ${out.length}</button></div>
      </div>`;
    return section('When everyone is back', nothing, this.isAsked ? asked
      : html`<button type="button" class="or" @click=${() => this.ask()}>Sign out all ${out.length}</button>`);
  }
}
