/* The path as a drawing: ground with the earth's bulge, what stands on it, the straight ray, the first Fresnel
   zone around it, the worst obstacle. The bulge is added to the ground, so every gap can be read off upright. */

import { draw, make } from "./dom.js";
import { number, ticks } from "./units.js";

const EDGE = { left: 46, right: 12, top: 26, bottom: 34 };
const CLEAR_PART = 0.6;
const ZONE_STEPS = 121;

/* `found` as the server answers; `ends` are the names of base and place. */
export function profileOf(found, ends, show, width) {
  const view = viewOf(found, show, Math.max(width, 280));
  const picture = draw("svg", {
    viewBox: `0 0 ${view.width} ${view.height}`, class: "profile", role: "img",
    "aria-label": `Path from ${ends[0]} to ${ends[1]}. ${found.obstacle}`,
  });
  picture.append(...axes(view), ...ground(view), ...ray(view), ...masts(view, ends, show), ...obstacle(view, show));
  return make("figure", { class: "profile-figure" }, picture, legend(view));
}

function viewOf(found, show, width) {
  const { profile } = found;
  const bulge = profile.bulge_m;
  const floor = profile.ground_m.map((height, i) => height + bulge[i]);
  const top = floor.map((height, i) => height + profile.clutter_m[i]);
  const zone = zoneOf(profile);
  const low = Math.min(...floor, ...zone.map((one) => one.ray - one.radius));
  const high = Math.max(...top, ...zone.map((one) => one.ray + one.radius));
  const room = Math.max(high - low, 10);
  const view = { found, profile, floor, top, zone, width, height: Math.round(Math.min(Math.max(0.5 * width, 210), 320)),
    low: low - 0.1 * room, high: high + 0.22 * room, length: profile.distance_m.at(-1) };
  [view.divisor, view.unit] = show.along(view.length);
  view.perHeight = show.units.metres_per_height;
  view.heightUnit = show.units.height_short;
  const [wide, tall] = [width - EDGE.left - EDGE.right, view.height - EDGE.top - EDGE.bottom];
  view.x = (metres) => EDGE.left + (metres / view.length) * wide;
  view.y = (metres) => EDGE.top + ((view.high - metres) / (view.high - view.low)) * tall;
  return view;
}

/* The zone is round near its ends, where the profile has too few points: its radius from the middle's. */
function zoneOf(profile) {
  const x = profile.distance_m, length = x.at(-1), last = x.length - 1;
  const form = x.map((at, i) => (i === 0 || i === last ? null : profile.fresnel_radius_m[i] ** 2 / (at * (length - at))));
  const scale = form.find((one) => one !== null && Number.isFinite(one)) || 0;
  const rise = (profile.ray_m[last] - profile.ray_m[0]) / length;
  return Array.from({ length: ZONE_STEPS }, (_, i) => {
    const at = (length * (1 - Math.cos((Math.PI * i) / (ZONE_STEPS - 1)))) / 2;
    return { at, ray: profile.ray_m[0] + rise * at, radius: Math.sqrt(Math.max(scale * at * (length - at), 0)) };
  });
}

const path = (points, closed) => `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}${closed ? "Z" : ""}`;
const line = (className, points, closed = false) => draw("path", { class: className, d: path(points, closed) });
const words = (x, y, text, anchor = "start", className = "") => draw("text", { x, y, "text-anchor": anchor, class: className }, text);

function axes(view) {
  const base = view.height - EDGE.bottom, right = view.width - EDGE.right;
  const parts = [];
  ticks(view.low / view.perHeight, view.high / view.perHeight, 5).forEach((tick) => {
    const y = view.y(tick * view.perHeight);
    if (y < EDGE.top - 1 || y > base + 1) return;
    parts.push(line("rule", [[EDGE.left, y], [right, y]]), words(EDGE.left - 5, y + 3.5, number(tick, 0), "end"));
  });
  const span = view.length / view.divisor;
  ticks(0, span, view.width > 500 ? 8 : 4).forEach((tick) => {
    const x = view.x(tick * view.divisor);
    const digits = tick % 1 ? (tick * 10) % 1 ? 2 : 1 : 0;
    parts.push(line("rule", [[x, base], [x, base + 4]]), words(x, base + 15, number(tick, digits), "middle"));
  });
  parts.push(words((EDGE.left + right) / 2, view.height - 4, `distance from the base (${view.unit})`, "middle"));
  parts.push(words(4, EDGE.top - 12, `height (${view.heightUnit})`));
  return parts;
}

function ground(view) {
  const { x, y, profile } = view;
  const at = profile.distance_m.map(x);
  const floor = view.floor.map((height, i) => [at[i], y(height)]);
  const base = view.height - EDGE.bottom;
  const parts = [line("ground", [[at[0], base], ...floor, [at.at(-1), base]], true)];
  if (standing(view)) {
    const top = view.top.map((height, i) => [at[i], y(height)]);
    parts.push(line("clutter", [...top, ...floor.slice().reverse()], true));
  }
  return [...parts, line("ground-line", floor)];
}

const standing = (view) => view.profile.clutter_m.some((height) => height > 0);

function ray(view) {
  const edge = (part) => view.zone.map(({ at, ray: height, radius }) => [view.x(at), view.y(height + part * radius)]);
  const ends = [view.zone[0], view.zone.at(-1)].map(({ at, ray: height }) => [view.x(at), view.y(height)]);
  return [line("zone", [...edge(1), ...edge(-1).reverse()], true), line("zone-part", edge(-CLEAR_PART)), line("ray", ends)];
}

function masts(view, ends, show) {
  const { profile, x, y } = view;
  const tall = [profile.antenna_from_m, profile.antenna_to_m];
  return [0, profile.distance_m.length - 1].flatMap((i, end) => {
    const at = x(profile.distance_m[i]);
    const tip = y(profile.ray_m[i]);
    // the two share the line: some 6.4 pixels a sign, and 11 signs of height each
    const room = (view.width - EDGE.left - EDGE.right - 36) / 6.4 - 22;
    const short = `${fitted(ends[end], Math.max(room - ends[1 - end].length, room * (end ? 0.65 : 0.35)))}, ${show.height(tall[end])} up`;
    return [line("mast", [[at, y(view.floor[i])], [at, tip]]), draw("circle", { class: "tip", cx: at, cy: tip, r: 4 }),
      words(end ? view.width - EDGE.right : EDGE.left + 36, EDGE.top - 12, short, end ? "end" : "start", "end-name")];
  });
}

const fitted = (name, most) => (name.length > most ? `${name.slice(0, Math.max(most - 1, 3))}…` : name);

function obstacle(view, show) {
  const spot = view.profile.obstacle;
  if (!spot) return [];
  const share = spot.distance_m / view.length;
  const { ray_m: heights } = view.profile;
  const height = heights[0] + (heights.at(-1) - heights[0]) * share;
  const at = view.x(spot.distance_m), [from, to] = [view.y(height), view.y(height - spot.clearance_m)];
  const how = spot.clearance_m < 0
    ? `${show.height(-spot.clearance_m)} above the ray`
    : `${show.height(spot.clearance_m)} under the ray`;
  const anchor = share < 0.33 ? "start" : share > 0.67 ? "end" : "middle";
  const tip = Math.min(from, to);
  return [line("obstacle-line", [[at, tip - 4], [at, EDGE.top + 12]]), line("obstacle", [[at, from], [at, to]]),
    draw("circle", { class: "obstacle-end", cx: at, cy: to, r: 3 }), words(at, EDGE.top + 8, `worst obstacle: ${how}`, anchor, "note")];
}

function legend(view) {
  const entries = [["ground", "ground"], ["clutter", "trees and buildings"], ["zone", "first Fresnel zone"],
    ["zone-part", `${CLEAR_PART} of it`], ["ray", "straight ray"]].filter(([key]) => key !== "clutter" || standing(view));
  return make("figcaption", { class: "profile-legend" }, entries.map(([key, name]) =>
    make("span", {}, make("span", { class: `swatch ${key}` }), name)));
}
