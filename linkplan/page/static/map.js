/* One map: hillshade, computed cells, signs, the base that is dragged or moved by keys, the place asked about.

   tell.base(side, place, settled, by), tell.ask(side, latlng), tell.askPoint(side, place), tell.moved(map),
   tell.point(map, latlng or null) */

import { button, make } from "./dom.js";
import { Cells } from "./cells.js";
import { arrange, boundaryOf, markIcon, named, outlinesOf, signIcon } from "./signs.js";

const KEYS = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] };
const MOST_STOPS = 40;

export class MapView {
  constructor(element, side, tell) {
    Object.assign(this, { element, side, tell });
    this.map = L.map(element, {
      center: [0, 0], zoom: 2, zoomSnap: 0.25, zoomDelta: 0.5, maxZoom: 21, attributionControl: false, zoomControl: false,
      // moving by hand must not be slowed by what is only for show
      inertia: !matchMedia("(prefers-reduced-motion: reduce)").matches,
      zoomAnimation: !matchMedia("(prefers-reduced-motion: reduce)").matches,
    });
    L.control.zoom({ position: "bottomright" }).addTo(this.map);
    const whole = L.control({ position: "bottomright" });
    whole.onAdd = () => make("div", { class: "leaflet-bar whole" },
      button("⤢", () => this.goTo(null), { title: "The whole job (Home)", "aria-label": "Show the whole job" }));
    whole.addTo(this.map);
    L.DomEvent.disableClickPropagation(whole.getContainer());
    this.map.createPane("outlines").style.zIndex = 420;
    this.bases = {};
    this.drawn = L.layerGroup().addTo(this.map);
    this.groups = {};
    this.marks = L.featureGroup().addTo(this.map);
    this.cells = new Cells([[0, 0], [0, 0]], { opacity: 0, zIndex: 2 }).addTo(this.map);
    this.values = {};
    this.map.on("click", (event) => tell.ask(side, event.latlng));
    this.map.on("mousemove", (event) => tell.point(this, event.latlng));
    this.map.on("mouseout", () => tell.point(this, null));
    this.map.on("moveend drag", () => tell.moved(this));
    this.map.on("zoomend resize", () => this.arrange());
    // the mark of the middle is for those who steer by keys
    element.addEventListener("keydown", (event) => this.key(event));
    element.addEventListener("pointerdown", () => element.classList.remove("by-keys"));
    element.addEventListener("blur", () => element.classList.remove("by-keys"));
    element.addEventListener("keyup", (event) => event.key === "Tab" && event.target === element && element.classList.add("by-keys"));
    new ResizeObserver(() => this.map.invalidateSize({ animate: false })).observe(element);
  }

  /* Everything that comes from the job file; called again when that has changed. */
  show(facts) {
    this.facts = facts;
    if (this.hillshade) this.hillshade.remove();
    this.hillshade = L.imageOverlay(facts.ground.hillshade, facts.ground.bounds,
      { zIndex: 1, className: "hillshade", alt: "" }).addTo(this.map);
    this.drawn.clearLayers();
    if (this.scale) this.scale.remove();
    const metric = facts.units.length === "metre";
    this.scale = L.control.scale({ metric, imperial: !metric, maxWidth: 140 }).addTo(this.map);
    const controls = L.featureGroup(facts.control_points.map((point) => this.control(point)));
    this.groups = { boundary: boundaryOf(facts), controls };
    outlinesOf(facts).forEach(([key, , layer]) => { this.groups[key] = layer; });
    Object.values(this.groups).forEach((layer) => this.drawn.addLayer(layer));
    this.arrange();
  }

  /* To a view [latitude, longitude, zoom], or to the whole job with its base. */
  goTo(view) {
    const { map, facts } = this;
    map.setMaxBounds(null);
    if (view) map.setView([view[0], view[1]], view[2], { animate: false });
    else {
      const { longitude, latitude } = facts.set_up.base;
      map.fitBounds(L.latLngBounds(facts.boundary_bounds).extend([latitude, longitude]), { animate: false, padding: [26, 26] });
    }
    map.setMaxBounds(L.latLngBounds(facts.ground.bounds).pad(0.6));
  }

  control(point) {
    const where = L.latLng(point.latitude, point.longitude);
    const marker = named(L.marker(where, {
      icon: signIcon("control", point.name), riseOnHover: true,
      keyboard: this.facts.control_points.length <= MOST_STOPS,
    }), `Control point ${point.name}`);
    marker.bindPopup(() => make("div", { class: "popup" },
      make("b", {}, point.name), point.code ? make("div", {}, point.code) : null,
      button("Put the base here", () => {
        marker.closePopup();
        this.tell.base(this.mine(), { point: point.name }, true, "point");
      }),
      button("Ask about this point", () => {
        marker.closePopup();
        this.tell.askPoint(this.side, { point: point.name });
      })));
    return marker;
  }

  /* The set-up whose base a control point takes: this map's own, or the one at hand where both are shown. */
  mine() {
    return this.bases.a && this.bases.b ? null : this.side;
  }

  /* Where the base of a set-up stands; null takes it away. */
  setBase(side, place, label, active) {
    const old = this.bases[side];
    if (!place) {
      if (old) old.remove();
      delete this.bases[side];
      return;
    }
    const where = L.latLng(place.latitude, place.longitude);
    if (!old) this.bases[side] = this.baseMarker(side, where, label).addTo(this.map);
    else if (!old.held && !old.getLatLng().equals(where)) old.setLatLng(where);
    const marker = this.bases[side];
    const text = marker.getElement().querySelector(".label");
    if (text.textContent !== label) text.textContent = label;
    marker.getElement().setAttribute("aria-label",
      `Base ${label}. Arrow keys move it by a cell of the map, with Shift by ten.`);
    marker.getElement().classList.toggle("idle", !active);
    if (!marker.held) this.arrange();
  }

  baseMarker(side, where, label) {
    const marker = L.marker(where, {
      icon: signIcon("base", label, `side-${side}`), draggable: true, autoPan: true, zIndexOffset: 3000,
    });
    const tell = (settled, by) => {
      const { lat, lng } = marker.getLatLng();
      this.tell.base(side, { longitude: round(lng), latitude: round(lat) }, settled, by);
    };
    marker.on("dragstart", () => { marker.held = true; });
    marker.on("drag", () => tell(false, "hand"));
    marker.on("dragend", () => {
      marker.held = false;
      tell(true, "hand");
    });
    marker.on("click", () => marker.getElement().focus());
    marker.on("add", () => marker.getElement().addEventListener("keydown", (event) => {
      const step = KEYS[event.key];
      if (!step || event.ctrlKey || event.altKey || event.metaKey) return;
      event.preventDefault();
      event.stopPropagation();
      const metres = this.facts.ground.cell_size_m * (event.shiftKey ? 10 : 1);
      const { lat, lng } = marker.getLatLng();
      const degree = (Math.PI / 180) * L.CRS.Earth.R;
      marker.setLatLng([lat + (step[1] * metres) / degree,
        lng + (step[0] * metres) / (degree * Math.cos((lat * Math.PI) / 180))]);
      tell(true, "keys");
    }));
    return named(marker, label);
  }

  /* Enter asks about the middle of the map. */
  key(event) {
    if (event.target !== this.element) return;
    this.element.classList.add("by-keys");
    if (event.key === "Home") this.goTo(null);
    if (event.key !== "Enter") return;
    event.preventDefault();
    this.tell.ask(this.side, this.map.getCenter());
  }

  /* A decoded picture and what its colours mean; null takes the map away: then nothing is claimed. */
  paint(bitmap, picture) {
    if (!bitmap) {
      this.cells.setOpacity(0);
      this.cells.forget();
      this.values = {};
      return;
    }
    this.cells.paint(bitmap, picture.bounds);
    this.cells.setOpacity(this.opacity);
    this.values = picture.values;
  }

  setOpacity(value) {
    this.opacity = value;
    if (this.cells._bitmap) this.cells.setOpacity(value);
  }

  valueAt(where) {
    const colour = this.cells.colourAt(where);
    return colour === null ? null : colour === "" ? "no data" : this.values[colour] || null;
  }

  /* The place asked about. */
  setTo(place, name) {
    if (this.to) this.to.remove();
    this.to = null;
    if (!place) return;
    this.to = named(L.marker([place.latitude, place.longitude],
      { icon: signIcon("asked", ""), keyboard: false, interactive: false, zIndexOffset: 2500 }), `Place asked about: ${name}`)
      .addTo(this.map);
  }

  /* Places of a search: [{words, first, longitude, latitude, title, pick}]. */
  setMarks(places) {
    this.marks.clearLayers();
    places.forEach((place, i) => {
      named(L.marker([place.latitude, place.longitude],
        { icon: markIcon(place.words, place.first), keyboard: false, riseOnHover: true, zIndexOffset: 2000 - 10 * i }),
      place.title).bindTooltip(() => make("div", {}, place.title), { direction: "top", offset: [0, -8] })
        .on("click", place.pick).addTo(this.marks);
    });
  }

  arrange() {
    if (!this.facts) return;
    const bases = Object.values(this.bases);
    const taken = (marker) => bases.some((base) => base.getLatLng().equals(marker.getLatLng(), 1e-6));
    const controls = this.groups.controls && this.map.hasLayer(this.groups.controls) ? this.groups.controls.getLayers() : [];
    controls.filter((one) => one.getElement()).forEach((one) => one.getElement().classList.toggle("taken", taken(one)));
    arrange(this.map, [...bases, ...controls.filter((one) => !taken(one))]);
  }

  remove() {
    this.cells.forget();
    this.map.remove();
  }
}

const round = (degrees) => Math.round(degrees * 1e7) / 1e7;
