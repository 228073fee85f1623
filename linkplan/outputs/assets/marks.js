
"use strict";

/* Marks and outlines of a search for places. Names go in as text nodes only. */
function markSign(place) {
  if (place.sign === "out") {
    const box = document.createElement("span");
    box.className = "cross";
    return box;
  }
  const mark = document.createElement("span");
  mark.className = "mark";
  mark.textContent = place.number;
  return mark;
}

/* Name with equipment, and share, of a row in the panel's list. */
function listedRow([name, kit, share, counted]) {
  return [["name", name, kit], ["number", share, counted]].map(([kind, text, more]) => {
    const part = document.createElement("span");
    const small = document.createElement("small");
    part.className = kind;
    small.textContent = more;
    part.append(text, small);
    return part;
  });
}

/* What stands beside the name of a group of marks, and of a kind of outlines, in the panel. */
function groupSample(sign) {
  const box = document.createElement("span");
  box.className = "sample sign " + sign;
  box.append(markSign({ sign, number: { first: "1", ranked: "2" }[sign] || "" }));
  return box;
}

function svgPart(name, attributes) {
  const part = document.createElementNS("http://www.w3.org/2000/svg", name);
  Object.entries(attributes).forEach(([key, value]) => part.setAttribute(key, value));
  return part;
}

function strokeSample(strokes) {
  const box = svgPart("svg", { width: 34, height: 14, class: "sample" });
  strokes.forEach((stroke) => box.append(stroke.fill
    ? svgPart("rect", { x: 1, y: 1, width: 32, height: 12, fill: stroke.fillColor, stroke: stroke.color, "stroke-width": 1.5 })
    : svgPart("line", { x1: 0, y1: 7, x2: 34, y2: 7, stroke: stroke.color, "stroke-width": stroke.weight,
      "stroke-dasharray": stroke.dashArray || "none" })));
  return box;
}

/* One layer a kind; each with a casing, so that it is seen on light and dark ground alike. Returns name,
   layer and sample of each for the panel. */
function drawOutlines(map, kinds) {
  const pattern = svgPart("pattern", { id: "crossed", width: 9, height: 9, patternUnits: "userSpaceOnUse" });
  pattern.append(svgPart("path", { d: "M0 0 9 9M9 0 0 9", stroke: "#5c0a0a", "stroke-width": 1.3, fill: "none" }));
  document.getElementById("hatch").after(pattern);
  map.createPane("found").style.zIndex = 415;
  return kinds.map((kind) => {
    const group = L.featureGroup();
    kind.shapes.forEach((shape) => {
      kind.strokes.forEach((stroke, i) => {
        const how = { fill: false, pane: "found", smoothFactor: 0.3, lineCap: "butt", ...stroke,
          interactive: i === kind.strokes.length - 1 };
        if (how.fill) how.fillOpacity = 1;
        const points = shape.parts.map((part) => part.map((ring) => ring.map((pair) => [pair[1], pair[0]])));
        const drawn = shape.closed ? L.polygon(points, how) : L.polyline(points.map((part) => part[0]), how);
        drawn.addTo(group);
        if (how.interactive) {
          drawn.bindTooltip(() => {
            const box = document.createElement("div");
            box.textContent = shape.name;
            return box;
          }, { sticky: true });
        }
      });
    });
    if (!kind.hidden) group.addTo(map);
    return [kind.name, group, strokeSample(kind.strokes), kind.hidden];
  });
}
