/* The state as the address's fragment, to share and to reload: #job=pit.toml&base=Q1&antenna_height_m=4.5
   Keys of the second set-up start with "b.". Whatever is not understood is left out, never guessed. */

import { merged } from "./state.js";

export function placeWords(place) {
  if (place.point !== undefined) return place.point;
  if (place.place !== undefined) return `=${place.place}`;
  if (place.easting !== undefined) return `E${place.easting},${place.northing}`;
  return `@${place.longitude.toFixed(7)},${place.latitude.toFixed(7)}`;
}

function placeOf(words) {
  const pair = words.slice(1).split(",").map(Number);
  const good = pair.length === 2 && pair.every(Number.isFinite) && words.includes(",");
  if (words.startsWith("@") && good) return { longitude: pair[0], latitude: pair[1] };
  if (words.startsWith("E") && good) return { easting: pair[0], northing: pair[1] };
  if (words.startsWith("=")) return { place: words.slice(1) };
  return { point: words };
}

function write(into, prefix, setUp) {
  for (const [key, value] of Object.entries(setUp)) {
    into.set(prefix + key, key === "base" ? placeWords(value) : String(value));
  }
}

function read(from, prefix, facts) {
  const found = {};
  const base = from.get(`${prefix}base`);
  if (base) found.base = placeIn(base, facts);
  for (const { key, low, high } of facts.set_up_keys) {
    const words = from.get(prefix + key);
    const value = Number(words);
    if (words && Number.isFinite(value) && value >= low && value <= high) found[key] = value;
  }
  return merged(found, {});
}

/* A point's name comes before anything that it may look like. */
function placeIn(words, facts) {
  if (facts.control_points.some((one) => one.name === words)) return { point: words };
  const place = placeOf(words);
  if (place.point !== undefined) return undefined;
  if (place.place !== undefined) return facts.places.some((one) => one.name === place.place) ? place : undefined;
  return place;
}

/* `view`: [latitude, longitude, zoom] of the map, or null. */
export function addressOf(job, state, view) {
  const words = new URLSearchParams();
  words.set("job", job);
  write(words, "", state.a);
  if (state.b) {
    words.set("compare", state.side);
    write(words, "b.", state.b);
  }
  words.set("layer", state.layer);
  if (state.to) words.set("to", placeWords(state.to));
  if (state.to && state.toSide === "b") words.set("to_side", "b");
  if (view) words.set("view", `${view[0].toFixed(6)},${view[1].toFixed(6)},${view[2]}`);
  return `#${words}`;
}

export const jobIn = (hash) => new URLSearchParams(hash.slice(1)).get("job");

export function stateIn(hash, facts) {
  const words = new URLSearchParams(hash.slice(1));
  const compare = words.get("compare");
  const layers = [...facts.layers.filter((one) => one.available), ...(compare ? facts.compare_layers : [])];
  const to = words.get("to");
  return {
    a: read(words, "", facts),
    b: compare ? read(words, "b.", facts) : null,
    side: compare === "b" ? "b" : "a",
    layer: (layers.find((one) => one.key === words.get("layer")) || facts.layers[0]).key,
    to: (to && placeIn(to, facts)) || null,
    toSide: compare && words.get("to_side") === "b" ? "b" : "a",
  };
}

export function viewIn(hash) {
  const view = (new URLSearchParams(hash.slice(1)).get("view") || "").split(",").map(Number);
  return view.length === 3 && view.every(Number.isFinite) && Math.abs(view[0]) <= 85 ? view : null;
}
