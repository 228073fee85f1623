/* Lengths and numbers as the job writes them: its units, real minus signs, groups of three from 10 000 on. */

const MINUS = "\u2212";
const THIN = "\u202f";

export function number(value, digits = 1, signed = false) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "unknown";
  let text = Math.abs(value).toFixed(digits);
  const nought = Number(text) === 0;
  if (Number(text) >= 10000) text = text.replace(/\B(?=(\d{3})+(?!\d))/g, THIN);
  const sign = nought ? "" : value < 0 ? MINUS : signed ? "+" : "";
  return sign + text;
}

export const decibels = (value, signed = false) => `${number(value, 1, signed)} dB`;

export function percent(share, digits = 1) {
  if (share === null || share === undefined) return "unknown";
  const shown = Number((100 * share).toFixed(digits));
  const step = 10 ** -digits;
  if (share > 0 && shown === 0) return `under ${step} %`;
  if (share < 1 && shown >= 100) return `over ${100 - step} %`;
  return `${shown > 0 && shown < 100 ? shown.toFixed(digits) : shown} %`;
}

/* Formats of one job; `units` as the server tells them. */
export class Formats {
  constructor(units) {
    this.units = units;
    this.metric = units.length === "metre";
  }

  distance(metres) {
    if (!this.metric) return `${number(metres / this.units.metres_per_length, 0)} ft`;
    if (Math.abs(metres) < 999.5) return `${number(metres, 0)} m`;
    return `${number(metres / 1000, metres < 9995 ? 2 : 1)} km`;
  }

  height(metres, digits = 1) {
    return `${number(metres / this.units.metres_per_height, digits)} ${this.units.height_short}`;
  }

  /* Divisor and name of the unit in which distances of this size stand on an axis. */
  along(metres) {
    if (!this.metric) return [this.units.metres_per_length, "ft"];
    return metres >= 2000 ? [1000, "km"] : [1, "m"];
  }

  coordinate(value) {
    return value.toFixed(this.units.geographic ? 6 : 1);
  }

  position(easting, northing) {
    const [first, second] = this.units.axis_names;
    return `${first} ${this.coordinate(easting)}, ${second} ${this.coordinate(northing)}`;
  }
}

/* Round steps for an axis from low to high, some `wanted` of them. */
export function ticks(low, high, wanted) {
  const rough = (high - low) / Math.max(wanted, 1);
  if (!(rough > 0)) return [];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((one) => one * power >= rough);
  const found = [];
  for (let at = Math.ceil(low / step - 1e-9) * step; at <= high + step * 1e-9; at += step) {
    found.push(Number(at.toPrecision(12)));
  }
  return found;
}
