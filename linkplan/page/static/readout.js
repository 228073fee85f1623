/* What stands under the pointer: coordinates by the job's own formula, and what the map's colour means. */

const cubic = (u, v) => [1, u, v, u * u, u * v, v * v, u * u * u, u * u * v, u * v * v, v * v * v];
const sum = (coefficients, terms) => terms.reduce((all, term, i) => all + term * coefficients[i], 0);

/* Easting and northing in the job's system and in local metres, or null outside the fitted rectangle. */
function jobPlace(ground, where) {
  if (!ground.fits || !ground.mercator) return null;
  const [west, south, east, north] = ground.mercator;
  const { x, y } = L.CRS.EPSG3857.project(where);
  if (x < west || x > east || y < south || y > north) return null;
  const terms = cubic((2 * (x - west)) / (east - west) - 1, (2 * (y - south)) / (north - south) - 1);
  return ground.fits.map((coefficients) => sum(coefficients, terms));
}

export function readoutOf(facts, show, view, where) {
  const parts = [];
  const at = jobPlace(facts.ground, where);
  if (at) parts.push(show.position(at[0], at[1]));
  if (!at || !facts.units.geographic) parts.push(`${where.lat.toFixed(6)}, ${where.lng.toFixed(6)}`);
  const base = view.bases[view.side];
  const from = at && at.length > 3 && base ? jobPlace(facts.ground, base.getLatLng()) : null;
  if (from) {
    const [dx, dy] = [at[2] - from[2], at[3] - from[3]];
    const azimuth = Math.round(((Math.atan2(dx, dy) * 180) / Math.PI + 360) % 360) % 360;
    parts.push(`${show.distance(Math.hypot(dx, dy))} at ${String(azimuth).padStart(3, "0")}° from the base`);
  }
  const value = view.valueAt(where);
  if (value) parts.push(value);
  return parts.join("  ·  ");
}

