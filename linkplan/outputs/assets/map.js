"use strict";

/* Draws everything that is not a picture and answers questions about a place on the map. All text from the
   job goes in as text nodes, never as markup. */
function startMap(map, layers, data) {
  const make = (tag, className, text) => {
    const element = document.createElement(tag);
    if (className) element.className = className;
    if (text !== undefined) element.textContent = text;
    return element;
  };
  const latLng = (pair) => L.latLng(pair[1], pair[0]);
  const rings = (polygon) => polygon.map((ring) => ring.map((pair) => [pair[1], pair[0]]));

  const view = L.latLngBounds(data.view.map(latLng));
  map.fitBounds(view, { animate: false });
  L.control.zoom({ position: "bottomright" }).addTo(map);
  L.control.scale({ metric: data.metric, imperial: !data.metric, maxWidth: 140 }).addTo(map);

  /* unknown ground, boundary, places */
  const unknown = L.polygon(data.unknown.map(rings), {
    stroke: true, color: "#464646", weight: 1, fillColor: "url(#hatch)", fillOpacity: 1, interactive: false,
  }).addTo(map);
  map.createPane("contours").style.cssText = "z-index:410;pointer-events:none";
  map.createPane("outlines").style.cssText = "z-index:420;pointer-events:none";
  const cased = (make, dashes) => L.featureGroup([["#fff", 6, null], ["#000", 2.5, dashes]].map(
    ([color, weight, dashArray]) => make({ color, weight, dashArray, fill: false, interactive: false, pane: "outlines", smoothFactor: 0.2 })));
  const boundary = cased((how) => L.polygon(data.boundary.map(rings), how)).addTo(map);
  const limit = data.limit && cased((how) => L.polyline(data.limit.ring.map(latLng), how), "8 5").addTo(map);

  const note = (place) => {
    const box = make("div");
    box.append(make("b", "", place.title));
    place.lines.forEach((line) => box.append(make("div", "", line)));
    return box;
  };
  const icon = (place) => {
    const box = make("div");
    if (place.sign) box.append(markSign(place), make("span", "label", place.label));
    else if (place.kind === "gap") box.append(make("span", "dot"), make("span", "tag", place.label));
    else box.append(document.getElementById("sign-" + place.kind).content.cloneNode(true), make("span", "label", place.label));
    return L.divIcon({ className: "sign " + (place.kind === "gap" ? "gap-sign" : place.sign || place.kind), html: box, iconSize: [0, 0] });
  };
  const groups = { base: L.featureGroup(), control: L.featureGroup(), gap: L.featureGroup() };
  (data.groups || []).forEach(([key]) => { groups[key] = L.featureGroup(); });
  const markers = data.places.map((place, i) =>
    L.marker(latLng(place.at), { icon: icon(place), alt: place.title, riseOnHover: true,
      zIndexOffset: place.sign ? Math.max(2900 - 10 * place.order, 100)
        : { control: 0, gap: 2000 - 100 * i, base: 3000 }[place.kind] })
      .bindPopup(() => note(place))
      .bindTooltip(() => note(place), { direction: "top", offset: [0, -8] })
      .addTo(groups[place.kind]));
  Object.values(groups).forEach((group) => group.addTo(map));
  const outlines = data.outlines ? drawOutlines(map, data.outlines) : [];

  /* contours: corners as steps of a whole number of units from the picture's lower left corner */
  const contours = data.contours && L.featureGroup();
  const numbers = [];
  if (contours) {
    const renderer = L.svg({ pane: "contours", padding: 0.3 });
    const [left, low] = data.mercator;
    data.contours.lines.forEach(([number, steps]) => {
      const line = [];
      let x = 0, y = 0;
      for (let i = 0; i < steps.length; i += 2) {
        x += steps[i];
        y += steps[i + 1];
        line.push(L.CRS.EPSG3857.unproject(L.point(left + x * data.contours.size, low + y * data.contours.size)));
      }
      L.polyline(line, { renderer, color: data.contour, weight: number ? 1.2 : 0.6, opacity: 0.5,
        interactive: false, smoothFactor: 0.5 }).addTo(contours);
      if (number) numbers.push(contourNumber(line, number).addTo(contours));
    });
    contours.addTo(map);
  }

  /* the panel */
  const panel = document.getElementById("panel");
  const legend = make("div");
  legend.setAttribute("aria-live", "polite");
  let current = data.layers[0].key;

  const swatch = (entry) => {
    const chip = make("span", "chip", entry.number || "");
    if (entry.colour) { chip.style.background = entry.colour; chip.style.color = entry.ink; }
    else chip.style.background = "repeating-linear-gradient(135deg, #d4d4d4 0 4px, #464646 4px 5px)";
    return chip;
  };
  const showLegend = () => {
    const layer = data.layers.find((one) => one.key === current);
    legend.replaceChildren();
    if (layer.legend.some((entry) => entry.share)) legend.append(make("div", "of soft", "of the job"));
    if (layer.ramp.length) {
      const ramp = make("div", "ramp");
      layer.ramp.forEach((colour) => { const part = make("span"); part.style.background = colour; ramp.append(part); });
      const ticks = make("div", "ticks");
      layer.ticks.forEach((tick) => ticks.append(make("span", "", tick)));
      legend.append(ramp, ticks);
    }
    layer.legend.forEach((entry) => {
      const row = make("div", "row");
      const name = make("span", "name", entry.name);
      if (entry.note) name.append(make("small", "", entry.note));
      row.append(swatch(entry), name);
      if (entry.share) row.append(make("span", "number", entry.share));
      legend.append(row);
    });
  };

  const choice = make("fieldset", "choices");
  choice.append(make("legend", "", "Show"));
  data.layers.forEach((layer) => {
    const label = make("label");
    const input = make("input");
    Object.assign(input, { type: "radio", name: "layer", value: layer.key, checked: layer.key === current });
    input.addEventListener("change", () => {
      map.removeLayer(layers[current]);
      current = layer.key;
      layers[current].addTo(map).setOpacity(slider.value / 100);
      showLegend();
    });
    label.append(input, layer.name);
    choice.append(label);
  });
  const slider = make("input");
  Object.assign(slider, { type: "range", min: 0, max: 100, value: Math.round(100 * data.opacity), id: "strength" });
  slider.addEventListener("input", () => layers[current].setOpacity(slider.value / 100));
  const strength = make("label", "", "Strength of the colours over the terrain");
  strength.htmlFor = "strength";

  const signs = make("fieldset", "choices");
  signs.append(make("legend", "", "Signs"));
  [["Boundary of the job", boundary], ["Base", groups.base], ["Control points", groups.control],
    ["Gaps", groups.gap], ["Hatch where there is no data", unknown], [data.limit && data.limit.name, limit],
    [contours && data.contours.name, contours], ...(data.groups || []).map(([key, name, sign]) => [name, groups[key], groupSample(sign)]),
    ...outlines].forEach(([name, layer, sample, hidden]) => {
    if (!layer || (layer.getLayers && !layer.getLayers().length)) return;
    const label = make("label");
    const input = make("input");
    Object.assign(input, { type: "checkbox", checked: !hidden });
    input.addEventListener("change", () => {
      if (input.checked) layer.addTo(map);
      else map.removeLayer(layer);
      arrange();
    });
    label.append(input, ...(sample ? [sample] : []), name);
    signs.append(label);
  });

  panel.prepend(choice, legend, strength, slider, signs);
  showLegend();
  const gapList = document.getElementById("gaps");
  data.places.forEach((place, i) => {
    if (place.kind !== "gap" && !place.listed) return;
    const button = make("button", "gap");
    button.type = "button";
    button.append(make("b", "", place.number || place.label), ...(place.listed ? listedRow(place.listed) : [place.lines.slice(0, 2).join(", ")]));
    button.addEventListener("click", () => {
      if (!map.hasLayer(groups[place.kind])) groups[place.kind].addTo(map);
      map.panTo(latLng(place.at));
      markers[i].openPopup();
    });
    gapList.append(button);
  });

  /* only now has the panel its size, and with it the map; scale and buttons stay below the job */
  const room = { paddingTopLeft: [14, 24], paddingBottomRight: [14, 48], animate: false };
  const arrange = () => arrangeLabels(map, markers, data.places, numbers);
  const fit = (bounds) => {
    map.invalidateSize({ animate: false });
    map.fitBounds(bounds, room);
    arrange();
  };
  fit(view);
  map.on("zoomend resize", arrange);
  let before = null;
  addEventListener("beforeprint", () => {
    before = [map.getCenter(), map.getZoom()];
    document.body.classList.add("printing");
    fit(view);
  });
  addEventListener("afterprint", () => {
    document.body.classList.remove("printing");
    map.invalidateSize({ animate: false });
    if (before) map.setView(...before, { animate: false });
    arrange();
  });
  map.setMaxBounds(L.latLngBounds(data.rim.map(latLng)).pad(0.6));

  /* what is at a place: coordinates by the job's own formula, values out of the pictures themselves */
  const cubic = (u, v) => [1, u, v, u * u, u * v, v * v, u * u * u, u * u * v, u * v * v, v * v * v];
  const evaluate = (coefficients, terms) => terms.reduce((sum, term, i) => sum + term * coefficients[i], 0);
  const [west, south, east, north] = data.mercator;
  const pixels = {};
  data.layers.forEach((layer) => {
    const image = new Image();
    image.onload = () => {
      const canvas = make("canvas");
      canvas.width = image.width;
      canvas.height = image.height;
      const context = canvas.getContext("2d", { willReadFrequently: true });
      context.drawImage(image, 0, 0);
      pixels[layer.key] = { context, width: image.width, height: image.height };
    };
    image.src = layers[layer.key]._url;
  });
  const valueAt = (layer, x, y) => {
    const picture = pixels[layer.key];
    if (!picture) return null;
    const column = Math.floor(((x - west) / (east - west)) * picture.width);
    const row = Math.floor(((north - y) / (north - south)) * picture.height);
    const [red, green, blue, alpha] = picture.context.getImageData(column, row, 1, 1).data;
    return alpha ? layer.values[red + "," + green + "," + blue] : "";
  };
  const describe = (where) => {
    const { x, y } = L.CRS.EPSG3857.project(where);
    if (x <= west || x >= east || y <= south || y >= north) return "";
    const terms = cubic((2 * (x - west)) / (east - west) - 1, (2 * (y - south)) / (north - south) - 1);
    const at = data.fits.map((coefficients) => evaluate(coefficients, terms));
    const parts = [
      data.axes[0] + " " + at[0].toFixed(data.digits) + ", " + data.axes[1] + " " + at[1].toFixed(data.digits),
    ];
    if (!data.wgs84) parts.push(where.lat.toFixed(6) + ", " + where.lng.toFixed(6));
    const metres = Math.hypot(at[2], at[3]);
    const azimuth = Math.round(((Math.atan2(at[2], at[3]) * 180) / Math.PI + 360) % 360) % 360;
    const distance = data.metric
      ? (metres < 1000 ? metres.toFixed(0) + " m" : (metres / 1000).toFixed(2) + " km")
      : (metres / data.metres_per_unit).toFixed(0) + " ft";
    if (!data.several) parts.push(distance + " at " + String(azimuth).padStart(3, "0") + "\u00b0 from the base");
    const values = data.layers.map((layer) => valueAt(layer, x, y));
    if (values[0] === "") parts.push("no data");
    else values.forEach((value) => value && parts.push(value));
    return parts.join("  \u00b7  ");
  };
  const readout = document.getElementById("readout");
  const hint = readout.textContent;
  map.on("mousemove click", (event) => { readout.textContent = describe(event.latlng) || hint; });
  map.on("mouseout", () => { readout.textContent = hint; });
  window.describePlace = (latitude, longitude) => describe(L.latLng(latitude, longitude));
}
