/** The nearest tide stations round a place, north up: numbers as in the list below it, which says the rest in words. */
import { html, nothing, svg } from '../vendor/lit-html-3.3.3/lit-html.js';

const [WIDE, HIGH, RADIUS] = [320, 220, 92];
const RADIAN = Math.PI / 180;
/** Rings are drawn at round distances. */
const ROUND_KM = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_100];

/**
 * Where each station stands on the drawing. The direction is the bearing on a plane, which is right for a drawing of a
 * shore; distances from the middle go by their square root, so that near ones stay apart.
 * @param {{lat_deg: number, lon_deg: number}} place @param {any[]} stations
 * @returns {{ring_km: number, points: {x: number, y: number}[]}} ring_km: the distance of the outer ring
 */
export function chartOf(place, stations) {
  const farthest_km = Math.max(...stations.map((station) => station.distance_km));
  const ring_km = ROUND_KM.find((km) => km >= farthest_km) ?? farthest_km;
  const points = stations.map(({ lat_deg, lon_deg, distance_km }) => {
    const east = (((lon_deg - place.lon_deg + 540) % 360) - 180) * Math.cos(place.lat_deg * RADIAN);
    const bearing = Math.atan2(east, lat_deg - place.lat_deg);
    const out = RADIUS * Math.sqrt(distance_km / ring_km);
    return { x: Math.round(WIDE / 2 + out * Math.sin(bearing)), y: Math.round(HIGH / 2 - out * Math.cos(bearing)) };
  });
  return { ring_km, points };
}

/** @param {{lat_deg: number, lon_deg: number}} place @param {any[]} stations */
export function stationChart(place, stations) {
  if (!stations.length) return nothing;
  const { ring_km, points } = chartOf(place, stations);
  const [x, y] = [WIDE / 2, HIGH / 2];
  const caption = `The ${stations.length} nearest tide stations round the place, north up, outer ring at `
    + `${ring_km} km.`;
  return html`<svg class="draw" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label=${caption}>
    <circle class="axis" cx=${x} cy=${y} r=${RADIUS}/><circle class="axis" cx=${x} cy=${y} r=${RADIUS / 2}/>
    <path class="axis" d="M${x - 6} ${y}h12M${x} ${y - 6}v12"/>
    <text class="m" x=${x} y="14">N</text><text x=${x + RADIUS - 20} y=${HIGH - 14}>${ring_km} km</text>
    ${points.map((point, n) => svg`<text class=${n % 2 ? 'b halo e' : 'b halo'} x=${point.x + (n % 2 ? -8 : 8)}
      y=${point.y + 5}>${n + 1}</text>`)}
    ${points.map((point, n) => svg`<circle class=${stations[n].kind === 'offset' ? 'ring' : 'dot'}
      cx=${point.x} cy=${point.y} r="5"/>`)}</svg>
    <p class="small">A full dot has its own constants, a ring is predicted by offsets.</p>`;
}
