/**
 * The site grid, as fieldlog/survey/grid.py has it, where source and accuracy stand: degrees of WGS 84 to metres east
 * and north.
 */
const WGS84_A_M = 6378137;
const WGS84_F = 1 / 298.257223563;
const E2 = WGS84_F * (2 - WGS84_F);
const RADIANS = Math.PI / 180;
/** A circle's 95 % radius in its sigmas of an axis. */
const RADIUS_95 = Math.sqrt(-2 * Math.log(0.05));

/**
 * @param {{lat_deg: number, lon_deg: number, grid_azimuth_deg?: number|null}} site @param {number} lat_deg
 * @param {number} lon_deg
 * @returns {[number, number]} east and north, metres
 */
export function fromDegrees(site, lat_deg, lon_deg) {
  const [x, y, z] = earthCentred(lat_deg, lon_deg);
  const [x0, y0, z0] = earthCentred(site.lat_deg, site.lon_deg);
  const [dx, dy, dz] = [x - x0, y - y0, z - z0];
  const [lat, lon] = [site.lat_deg * RADIANS, site.lon_deg * RADIANS];
  const outward = Math.cos(lon) * dx + Math.sin(lon) * dy;
  const [east, north] = [Math.cos(lon) * dy - Math.sin(lon) * dx, Math.cos(lat) * dz - Math.sin(lat) * outward];
  const azimuth = (site.grid_azimuth_deg ?? 0) * RADIANS;
  const [sine, cosine] = [Math.sin(azimuth), Math.cos(azimuth)];
  return [east * cosine - north * sine, east * sine + north * cosine];
}

/** @param {number} lat_deg @param {number} lon_deg @returns {[number, number, number]} metres */
function earthCentred(lat_deg, lon_deg) {
  const [lat, lon] = [lat_deg * RADIANS, lon_deg * RADIANS];
  const normal = WGS84_A_M / Math.sqrt(1 - E2 * Math.sin(lat) ** 2);
  return [normal * Math.cos(lat) * Math.cos(lon), normal * Math.cos(lat) * Math.sin(lon),
    normal * (1 - E2) * Math.sin(lat)];
}

/** @param {unknown} value @returns {value is number} */
const isNumber = (value) => typeof value === 'number';

/** @typedef {number|null|undefined} Noted */

/**
 * A survey receiver's fix that was written in degrees only, with its metres, as fieldlog/flags/receiver.py has it; any
 * other as it is.
 * @template {{method?: string|null, lat_deg?: Noted, lon_deg?: Noted, accuracy_m?: Noted, east_m?: Noted,
 *   north_m?: Noted, sigma_m?: Noted}} F
 * @param {F} fix @param {{lat_deg?: Noted, lon_deg?: Noted, grid_azimuth_deg?: Noted}|null|undefined} site
 * @returns {F}
 */
export function onGrid(fix, site) {
  const isPlaced = isNumber(fix.east_m) && isNumber(fix.north_m);
  const { lat_deg, lon_deg } = fix;
  const [site_lat_deg, site_lon_deg] = [site?.lat_deg, site?.lon_deg];
  if (fix.method !== 'rtk' || isPlaced || !isNumber(lat_deg) || !isNumber(lon_deg) || !isNumber(site_lat_deg)
    || !isNumber(site_lon_deg)) return fix;
  const origin = { lat_deg: site_lat_deg, lon_deg: site_lon_deg, grid_azimuth_deg: site?.grid_azimuth_deg };
  const [east_m, north_m] = fromDegrees(origin, lat_deg, lon_deg);
  return { ...fix, east_m, north_m, sigma_m: fix.sigma_m ?? (fix.accuracy_m ? fix.accuracy_m / RADIUS_95 : null) };
}
