/* Everything on the map that is drawn and not computed: boundary, zones, lines, ground without masts, control
   points, candidates of a search. Lines are cased, so that they are seen on light and dark ground alike. */

import { byId, make } from "./dom.js";

const CASED = [["#fff", 6], ["#000", 2.5]];

const LOOKS = {
  boundary: CASED,
  zone: [["#fff", 4], ["#27508a", 2, "7 4"]],
  line: [["#fff", 5], ["#8f1d14", 3], ["#fff", 1.2, "2 9"]],
  keepOut: [["#fff", 4], ["#5c0a0a", 1.5, "2 3"]],
  corridor: [["#fff", 4], ["#000", 1.6, "10 4 2 4"]],
};

function outline(geometry, look, name, fill) {
  const group = L.featureGroup();
  LOOKS[look].forEach(([color, weight, dashArray], i) => {
    const last = i === LOOKS[look].length - 1;
    L.geoJSON(geometry, {
      interactive: last && Boolean(name),
      style: { color, weight, dashArray, lineCap: "butt", pane: "outlines", smoothFactor: 0.2,
        fill: last && Boolean(fill), fillColor: fill || "none", fillOpacity: 1 },
      pane: "outlines",
    }).addTo(group);
  });
  if (name) group.bindTooltip(() => make("div", {}, name), { sticky: true });
  return group;
}

export function boundaryOf(facts) {
  return outline(facts.boundary, "boundary", "", "");
}

/* [key, name for the list, layer] of what the job draws besides its boundary. */
export function outlinesOf(facts) {
  const group = (layers) => L.featureGroup(layers);
  const zones = facts.zones.map((one) => outline(one.geometry, "zone", zoneWords(one), ""));
  const lines = facts.lines.map((one) => outline(one.geometry, "line", lineWords(one), ""));
  return [
    ["zones", "Zones", group(zones)],
    ["lines", "Overhead lines", group(lines)],
    ["keep-out", "Ground where no mast may stand",
      group(facts.keep_out ? [outline(facts.keep_out, "keepOut", "ground where no mast may stand", "url(#crossed)")] : [])],
    ["corridor", "Line of the corridor",
      group(facts.corridor ? [outline(facts.corridor, "corridor", "line of the corridor", "")] : [])],
  ].filter(([, , layer]) => layer.getLayers().length);
}

function zoneWords(zone) {
  const must = zone.must_share === null ? "" : `, ${Math.round(100 * zone.must_share)} % is a must`;
  const relies = zone.relies ? `; ${zone.relies} rely on corrections here` : "";
  return `${zone.name} (weight ${zone.weight}${must})${relies}`;
}

function lineWords(line) {
  const voltage = line.voltage_kv === null ? "voltage unknown" : `${line.voltage_kv} kV`;
  return `${line.name} (${voltage})${line.clearance_words ? `: ${line.clearance_words}` : ""}`;
}

const SIZE = { base: 26, control: 22, asked: 30, mark: 24 };
const square = (size) => [size, size];

/* A sign with its name; `kind` is that of a template of the page. */
export function signIcon(kind, label, more = "") {
  const box = make("div", {}, byId(`sign-${kind}`).content.cloneNode(true), make("span", { class: "label" }, label));
  return L.divIcon({ className: `sign ${kind} ${more}`, html: box, iconSize: square(SIZE[kind]) });
}

export function markIcon(words, first) {
  const box = make("div", {}, make("span", { class: "mark" }, words));
  return L.divIcon({ className: `sign ${first ? "first" : "ranked"}`, html: box, iconSize: square(SIZE.mark) });
}

/* Leaflet names only pictures; a drawn sign needs its name for those who do not see it. */
export function named(marker, words, role = "button") {
  marker.on("add", () => {
    const element = marker.getElement();
    element.setAttribute("aria-label", words);
    if (element.tabIndex >= 0) element.setAttribute("role", role);
    else element.setAttribute("role", "img");
  });
  return marker;
}

/* Names that find no room are left out; the base's stays. */
export function arrange(map, markers) {
  const taken = [];
  const free = (box) => taken.every((one) =>
    box[2] <= one[0] || one[2] <= box[0] || box[3] <= one[1] || one[3] <= box[1]);
  const shown = markers.filter((marker) => marker.getElement() && map.hasLayer(marker));
  const at = (marker) => map.latLngToLayerPoint(marker.getLatLng());
  shown.forEach((marker) => taken.push([at(marker).x - 10, at(marker).y - 10, at(marker).x + 10, at(marker).y + 10]));
  shown.forEach((marker, i) => {
    const label = marker.getElement().querySelector(".label");
    if (!label) return;
    const { x, y } = at(marker);
    const wide = label.offsetWidth, high = label.offsetHeight;
    const tries = [[10, -high - 1], [-wide - 10, -high - 1], [10, 1], [-wide - 10, 1]];
    const edges = ([dx, dy]) => [x + dx, y + dy, x + dx + wide, y + dy + high];
    const found = tries.find((one) => free(edges(one))) || (i === 0 ? tries[0] : null);
    label.classList.toggle("left-out", !found);
    if (!found) return;
    const half = marker.options.icon.options.iconSize[0] / 2;
    label.style.left = `${found[0] + half}px`;
    label.style.top = `${found[1] + half}px`;
    taken.push(edges(found));
  });
}
