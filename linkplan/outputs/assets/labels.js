"use strict";

/* Which names, tags and contour numbers are written at the present zoom, and on which side of their sign:
   the base first, then gaps from the largest, then control points, then contours. What finds no room is left
   out; its sign stays and tells its name when pointed at. Numbered marks come in an order of their own; one
   without room for its number shrinks to a dot. */
function arrangeLabels(map, markers, places, numbers) {
  const taken = [];
  const free = (box) => taken.every((one) =>
    box[2] <= one[0] || one[2] <= box[0] || box[3] <= one[1] || one[3] <= box[1]);
  const rank = { base: 0, gap: 1, control: 1e7 };
  const rankOf = (place) => place.order === undefined ? rank[place.kind] : place.order;
  const shown = markers.map((marker, i) => ({ marker, place: places[i] }))
    .filter(({ marker }) => marker._icon && map.hasLayer(marker))
    .sort((a, b) => rankOf(a.place) - rankOf(b.place));
  shown.forEach(({ marker, place }) => {
    const { x, y } = map.latLngToLayerPoint(marker.getLatLng());
    const around = (half) => [x - half, y - half, x + half, y + half];
    const wide = place.number && place.number.length > 2 ? 15 : 11;
    if (place.number) marker._icon.classList.toggle("small", !free(around(wide)));
    const small = place.kind === "gap" || (place.sign && !place.number) || marker._icon.classList.contains("small");
    taken.push(around(small ? 6 : place.number ? wide : 10));
  });
  shown.forEach(({ marker, place }) => {
    const label = marker._icon.querySelector(".tag, .label");
    const wide = label.offsetWidth, high = label.offsetHeight;
    const { x, y } = map.latLngToLayerPoint(marker.getLatLng());
    const above = [-wide / 2, -high - 9], below = [-wide / 2, 9];
    const right = [12, -high / 2], left = [-wide - 12, -high / 2];
    const corners = [[10, -high - 1], [-wide - 10, -high - 1], [10, 1], [-wide - 10, 1]];
    const tries = place.kind === "gap" ? [above, right, left, below, ...corners] : [...corners, right, left, above, below];
    const edges = (at) => [x + at[0], y + at[1], x + at[0] + wide, y + at[1] + high];
    const at = tries.find((one) => free(edges(one))) || (rankOf(place) === 0 ? tries[0] : null);
    label.style.visibility = at ? "" : "hidden";
    if (!at) return;
    label.style.left = at[0] + "px";
    label.style.top = at[1] + "px";
    taken.push(edges(at));
  });
  numbers.forEach((marker) => {
    const text = marker._icon && marker._icon.firstElementChild;
    if (!text) return;
    const points = marker.line.map((one) => map.latLngToLayerPoint(one));
    const { x, y } = map.latLngToLayerPoint(marker.getLatLng());
    const spread = Math.max(...["x", "y"].map((axis) => {
      const values = points.map((point) => point[axis]);
      return Math.max(...values) - Math.min(...values);
    }));
    const half = text.offsetWidth / 2 + 3;
    const box = [x - half, y - half, x + half, y + half];
    const fits = spread > 160 && free(box);
    text.style.visibility = fits ? "" : "hidden";
    if (fits) taken.push(box);
  });
}

/* The height of a contour, written along it half way; never upside down. */
function contourNumber(line, number) {
  const half = Math.floor(line.length / 2);
  const [a, b] = [line[Math.max(half - 1, 0)], line[half]].map((one) => L.CRS.EPSG3857.project(one));
  let turn = (Math.atan2(a.y - b.y, b.x - a.x) * 180) / Math.PI;
  if (turn > 90) turn -= 180;
  if (turn < -90) turn += 180;
  const box = document.createElement("span");
  box.textContent = number;
  box.style.transform = "translate(-50%, -50%) rotate(" + turn.toFixed(0) + "deg)";
  const at = L.CRS.EPSG3857.unproject(L.point((a.x + b.x) / 2, (a.y + b.y) / 2));
  const marker = L.marker(at, {
    icon: L.divIcon({ className: "contour-number", html: box, iconSize: [0, 0] }), interactive: false, pane: "contours",
  });
  marker.line = line;
  return marker;
}

