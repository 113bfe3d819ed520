/** Finding the tide station of a site, on the form that sets it up. */
import { html } from '../vendor/lit-html-3.3.3/lit-html.js';
import { rounded } from '../rounding.js';

/** @typedef {{list: any[], said: string}} Near stations found, and what to say of the search */

/**
 * The tide stations nearest to the place that is typed; one tap takes a station and the datum that it speaks.
 * @param {import('../views/router.js').Stage} stage @param {import('../views/record-form.js').RecordForm} form
 * @param {Near} near
 */
export function stationsNear(stage, form, near) {
  const ask = async () => {
    const { lat_deg, lon_deg } = form.read().fields;
    if (typeof lat_deg !== 'number' || typeof lon_deg !== 'number') {
      near.said = 'Fill in latitude and longitude first.';
      stage.redraw();
      return;
    }
    try {
      near.list = (await stage.phone.api('GET', `/api/stations?near=${lat_deg},${lon_deg}`)).stations;
      near.said = '';
    } catch (error) {
      const { sentence } = /** @type {{sentence?: string}} */ (error);
      if (!sentence) throw error;
      near.said = sentence;
    }
    stage.redraw();
  };
  const take = (/** @type {any} */ one) => {
    form.fill({ tide_station: one.id, level_datum: one.chart_datum });
    stage.say(`${one.name}: levels are above ${one.chart_datum}.`);
  };
  return html`<section class="stack"><div class="bar"><h2>Reference port</h2></div><button type="button" class="or"
    @click=${ask}>Find tide stations near this place</button>
    <p role="status">${near.said}</p>${near.list.map((one) => html`<button type="button" class="row"
      @click=${() => take(one)}><span class="said">${one.name}<small>${rounded(one.distance_km, 1)} km, ${one.source},
      ${one.kind === 'offset' ? 'by offsets: highs and lows published, the curve between estimated'
        : 'with its own constants'}</small></span><span
        class="pill plain">${one.id === form.typed.tide_station ? 'taken' : 'take'}</span></button>`)}
    <p class="small">The nearest is not always the best: prefer one on the same water. Tides are predictions, not for
      navigation.</p></section>`;
}
