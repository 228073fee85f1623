/* Ties the state to what is on screen: a change of the state goes to the maps, panels and the address; what a hand
   does goes back into the state. */

import { addressOf, stateIn, viewIn } from "./address.js";
import { get, jobPath, newTab } from "./api.js";
import { byId, make, say } from "./dom.js";
import { openDialog } from "./dialogs.js";
import { LayersPanel } from "./layers_panel.js";
import { Maps } from "./maps.js";
import { PlacePanel } from "./place_panel.js";
import { readoutOf } from "./readout.js";
import { SetUpPanel } from "./set_up_panel.js";
import { alike, merged, Store } from "./state.js";
import { Formats } from "./units.js";

const POINT_HINT = "Point at the map to read coordinates and values; click it to ask about a place.";

export class App {
  constructor(job, facts) {
    this.job = job;
    this.tab = newTab("");
    this.facts = facts;
    this.show = new Formats(facts.units);
    this.store = new Store(stateIn(location.hash, facts), (setUp) => this.tidy(setUp));
    this.listeners = [];
  }

  /* Called once the panels stand. */
  start(tabs, panels) {
    this.tabs = tabs;
    this.setUpPanel = new SetUpPanel(this, byId("set-up-fields"));
    this.layers = new LayersPanel(this, byId("layers"));
    this.place = new PlacePanel(this, byId("panel-place"));
    this.panels = panels;
    this.maps = new Maps(this);
    say(byId("readout"), POINT_HINT);
    this.apply();
    this.maps.panes.a.view.goTo(viewIn(location.hash));
    this.store.subscribe((now, before, settled) => this.changed(now, before, settled));
    addEventListener("hashchange", () => this.travelled());
    this.changed(this.store.now, null, true);
  }

  /* Facts onto the screen: at the start, and when the job file is another. */
  apply() {
    const { facts } = this;
    document.title = `${facts.name} - linkplan`;
    byId("job-name").textContent = facts.name;
    byId("prediction").textContent = facts.prediction;
    byId("cautions").replaceChildren(...[...facts.warnings, ...facts.cautions].map((words) => make("li", {}, words)));
    this.maps.show();
    this.setUpPanel.show(facts);
    this.layers.show(facts);
    this.place.show(facts);
    this.panels.forEach((panel) => panel.show && panel.show(facts));
    if (this.tabs) this.tabs.open(this.tabs.current);
  }

  changed(now, before, settled) {
    // a difference can be shown only while there are two set-ups; undo may have taken one away
    if (now.b === null && this.facts.compare_layers.some((one) => one.key === now.layer)) {
      this.store.look({ layer: this.facts.layers[0].key });
      return;
    }
    this.place.aged(now.to && !settled);
    this.maps.update(now, before, settled);
    this.setUpPanel.update(now[now.side], this.standing(now.side));
    this.layers.update();
    this.listeners.forEach((listener) => listener(now));
    const seen = before && now.to === before.to && now.toSide === before.toSide;
    if (now.to && settled && !(seen && alike(now[now.toSide], this.asked))) this.askNow(now);
    if (settled) this.writeAddress();
  }

  askNow(now) {
    const side = now[now.toSide] ? now.toSide : "a";
    this.asked = now[side];
    this.place.want(now[side], now.to, side);
  }

  /* A number as in the job file, or a base on the job's own point, is no difference. */
  tidy(setUp) {
    const job = this.facts.set_up;
    const found = { ...setUp };
    for (const { key } of this.facts.set_up_keys) {
      if (found[key] !== undefined && Math.abs(found[key] - job[key]) <= 1e-6 * Math.max(1, Math.abs(job[key]))) delete found[key];
    }
    if (found.base && job.base.point && found.base.point === job.base.point) delete found.base;
    return found;
  }

  moveBase(which, place, settled, by) {
    const side = which && this.store.now[which] ? which : this.store.now.side;
    const setUp = merged(this.store.now[side], { base: place });
    this.store.edit({ side, [side]: setUp }, { settled, tag: by === "keys" ? "base by keys" : "" });
  }

  adjust(side, keys) {
    this.store.edit({ side, [side]: merged(this.store.now[side], keys) });
  }

  askAt(side, longitude, latitude) {
    const seven = (degrees) => Math.round(degrees * 1e7) / 1e7;
    this.askAbout({ longitude: seven(longitude), latitude: seven(latitude) }, side);
  }

  askAbout(to, side = this.store.now.side) {
    const { now } = this.store;
    this.tabs.open("place");
    this.store.look({ to, toSide: this.maps.mode(now) === "two" ? side : now.side });
  }

  showTo(place, side) {
    this.maps.setTo(place, side);
  }

  placeTyped(words) {
    const name = words.trim();
    if (this.facts.control_points.some((one) => one.name === name)) return { point: name };
    if (this.facts.places.some((one) => one.name === name)) return { place: name };
    const pair = name.match(/^[EN]?\s*(-?\d+(?:\.\d+)?)\s*[,;\s]\s*[EN]?\s*(-?\d+(?:\.\d+)?)$/i);
    return pair ? { easting: Number(pair[1]), northing: Number(pair[2]) } : null;
  }

  baseName(side) {
    const base = (this.store.now[side] || {}).base || this.facts.set_up.base;
    return base.point || base.place || base.name || "base";
  }

  standing(side) {
    const base = (this.store.now[side] || {}).base || this.facts.set_up.base;
    const told = this.maps.stands[side];
    if (base.easting !== undefined) return base;
    if (told && alike(told.asked, base)) return told;
    return [...this.facts.control_points, ...this.facts.places].find((one) => one.name === (base.point ?? base.place));
  }

  /* An answer is on screen: legend, coordinates of the base, and for ears the line when the hand rests. */
  drawn(side, picture, line, answer) {
    const { now } = this.store;
    if (this.maps.shownMode !== "two" || side === now.side) this.layers.describe(picture);
    if (answer.base) this.setUpPanel.update(now[now.side], this.standing(now.side));
    if (line && byId("spoken").textContent !== line) byId("spoken").textContent = line;
  }

  /* No map any more: the legend gives no shares either. */
  undrawn(side, line) {
    if (this.maps.shownMode !== "two" || side === this.store.now.side) this.layers.describe(this.layers.current());
    byId("spoken").textContent = line;
  }

  /* Every answer says which job file it is of; true when that is not the one on screen. */
  heard(answer) {
    const other = (answer.job_hash && answer.job_hash !== this.facts.job_hash)
      || (answer.terrain_stamp && answer.terrain_stamp !== this.facts.terrain_stamp);
    if (other && !this.reading) this.refresh("The job's files changed on disk: read again.");
    return Boolean(other);
  }

  async refresh(words) {
    this.reading = true;
    const facts = await get(jobPath(this.job, ""));
    this.reading = false;
    if (facts.error) {
      await openDialog("The job file cannot be read", [make("p", {}, facts.error.line),
        make("ul", { class: "faults" }, (facts.error.faults || []).map((fault) => make("li", {}, fault.line)))]);
      return;
    }
    this.facts = facts;
    this.show = new Formats(facts.units);
    this.apply();
    if (words) this.tell(words);
    this.changed(this.store.now, null, true);
  }

  /* The file says now what the set-up said: what was a difference is none, and undo still goes back. */
  async saved() {
    const old = this.facts.set_up;
    const written = this.store.setUp.base;
    await this.refresh("");
    const keys = this.facts.set_up_keys.map(({ key }) => key);
    const base = old.base.point ? { point: old.base.point } : { easting: old.base.easting, northing: old.base.northing };
    const whole = Object.fromEntries(keys.map((key) => [key, old[key]]));
    const same = (place) => this.facts.set_up.base.easting === place.easting && this.facts.set_up.base.northing === place.northing;
    this.store.rebase((setUp) => {
      const found = this.tidy({ base, ...whole, ...setUp });
      if (found.base && (same(found.base) || (written && alike(found.base, written)))) delete found.base;
      return merged(found, {});
    });
  }

  setOpacity(value) {
    this.maps.setOpacity(value);
  }

  signGroups() {
    return Object.keys(this.maps.panes.a.view.groups);
  }

  showSigns(key, shown) {
    this.maps.showSigns(key, shown);
  }

  setMarks(places) {
    this.maps.setMarks(places);
  }

  openTab(key) {
    this.tabs.open(key);
  }

  readout(view, where) {
    byId("readout").textContent = where ? readoutOf(this.facts, this.show, view, where) : POINT_HINT;
  }

  tell(words) {
    say(byId("told-words"), words);
    byId("told").hidden = !words;
    clearTimeout(this.telling);
    this.telling = setTimeout(() => { byId("told").hidden = true; }, 8000);
  }

  viewMoved() {
    clearTimeout(this.writing);
    this.writing = setTimeout(() => this.writeAddress(), 200);
  }

  writeAddress() {
    clearTimeout(this.writing);
    const { map } = this.maps.panes.a.view;
    const { lat, lng } = map.getCenter();
    this.address = addressOf(this.job, this.store.now, [lat, lng, map.getZoom()]);
    if (location.hash !== this.address) history.replaceState(null, "", this.address);
  }

  /* Somebody put another address in. */
  travelled() {
    if (location.hash === this.address) return;
    if (new URLSearchParams(location.hash.slice(1)).get("job") !== this.job) {
      location.reload();
      return;
    }
    const { a, b, side, layer, to, toSide } = stateIn(location.hash, this.facts);
    const view = viewIn(location.hash);
    if (view) this.maps.panes.a.view.goTo(view);
    this.store.edit({ a, b, side });
    this.store.look({ layer, to, toSide });
  }
}
