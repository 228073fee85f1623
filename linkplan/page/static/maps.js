/* The map, or two of them side by side: what is wanted from the state, what is on screen from the answers.

   One set-up: one map. Two set-ups and a layer of either: two maps that move together. Two set-ups and a layer of
   their difference: one map with both bases. */

import { framed, get, jobPath, nextSerial } from "./api.js";
import { button, byId, make } from "./dom.js";
import { Follower } from "./follow.js";
import { MapView } from "./map.js";
import { Bar } from "./tasks.js";
import { alike } from "./state.js";

const LATE_MS = 500;
const ASK_MS = 400;

export class Maps {
  constructor(app) {
    this.app = app;
    this.panes = {};
    this.stands = {};
    this.opacity = 0.8;
    this.marks = [];
    this.pane("a");
  }

  get facts() {
    return this.app.facts;
  }

  /* A pane is made when it is first wanted and stays; Leaflet learns its size when it comes into sight. */
  pane(side) {
    if (this.panes[side]) return this.panes[side];
    const frame = byId(`pane-${side}`);
    const verdict = make("p", { class: "caption-words" });
    const bar = new Bar(() => this.cancel(side));
    const again = button("Compute", () => this.resume(side), { hidden: true, class: "small" });
    frame.prepend(make("div", { class: "caption" }, verdict, again));
    frame.append(bar.element);
    const view = new MapView(frame.querySelector(".map"), side, {
      base: (which, place, settled, by) => this.app.moveBase(which, place, settled, by),
      ask: (which, { lat, lng }) => this.app.askAt(which, lng, lat),
      askPoint: (which, place) => this.app.askAbout(place, which),
      moved: (moved) => this.moved(moved),
      point: (over, where) => this.app.readout(over, where),
    });
    const pane = { side, frame, verdict, bar, again, view, answer: null };
    pane.follower = new Follower({
      ask: (wish, scale, signal) => this.ask(pane, wish, scale, signal),
      ready: (answer, wish) => this.ready(pane, answer, wish),
      busy: (is) => this.busy(pane, is),
    });
    view.opacity = this.opacity;
    if (this.facts) view.show(this.facts);
    this.panes[side] = pane;
    return pane;
  }

  show() {
    Object.values(this.panes).forEach(({ view }) => view.show(this.facts));
    this.stands = {};
  }

  mode(now) {
    if (now.b === null) return "one";
    return this.facts.compare_layers.some((one) => one.key === now.layer) ? "difference" : "two";
  }

  /* After a change of the state. */
  update(now, before, settled) {
    const mode = this.mode(now);
    if (mode !== this.shownMode) this.arrange(mode);
    for (const side of mode === "two" ? ["a", "b"] : ["a"]) {
      const touched = mode === "difference" || !before || now[side] !== before[side] || now.layer !== before.layer
        || settled || !this.panes[side].wish;
      if (touched) this.want(side, settled);
    }
    this.bases(now, mode);
  }

  arrange(mode) {
    const two = mode === "two";
    const { map } = this.panes.a.view;
    const seen = this.shownMode && two ? map.getBounds() : null;
    const narrow = this.shownMode === "two" && !two;
    byId("maps").classList.toggle("two", two);
    byId("pane-b").hidden = !two;
    if (two) this.pane("b");
    Object.values(this.panes).forEach(({ view, side }) => {
      view.map.invalidateSize({ animate: false });
      if (side === "b" && !two) this.panes.b.follower.stop();
    });
    this.shownMode = mode;
    // half as wide: what was in sight stays so; and back
    if (seen) {
      this.wideZoom = map.getZoom();
      if (seen.contains(this.facts.boundary_bounds)) this.panes.a.view.goTo(null);
      else map.fitBounds(seen, { animate: false });
    } else if (narrow && this.wideZoom) map.setZoom(this.wideZoom, { animate: false });
    Object.values(this.panes).forEach((pane) => this.caption(pane));
    if (two) {
      this.panes.b.view.map.setView(map.getCenter(), map.getZoom(), { animate: false });
      this.panes.b.view.setMarks(this.marks);
    }
  }

  bases(now, mode) {
    const label = (side) => (mode === "one" ? this.app.baseName(side) : `${side.toUpperCase()} ${this.app.baseName(side)}`);
    const set = (view, side) => {
      const place = now[side] && this.where(side, now[side]);
      if (place) view.setBase(side, place, label(side), mode === "one" || now.side === side);
    };
    const { a, b } = this.panes;
    set(a.view, "a");
    if (mode === "difference") set(a.view, "b");
    else a.view.setBase("b", null);
    if (mode === "two") set(b.view, "b");
  }

  /* Where a set-up's base stands: known at once, or told by the last answer for the same base. */
  where(side, setUp) {
    const base = setUp.base || this.facts.set_up.base;
    if (base.longitude !== undefined) return base;
    const known = base.point !== undefined ? this.facts.control_points.find((one) => one.name === base.point)
      : base.place !== undefined ? this.facts.places.find((one) => one.name === base.place) : null;
    const told = this.stands[side];
    return known || (told && alike(told.asked, base) ? told : null);
  }

  want(side, settled) {
    const { now } = this.app.store;
    const pane = this.pane(side);
    const mode = this.mode(now);
    const layer = this.layer(now.layer);
    const wish = mode === "difference" ? { a: now.a, b: now.b, layer: now.layer } : { setUp: now[side], layer: now.layer };
    const fresh = settled && pane.drawn && alike(pane.drawn, { wish, hash: this.facts.job_hash });
    pane.wish = wish;
    if (fresh || (pane.stopped && alike(pane.stopped, wish))) return;
    pane.stopped = null;
    pane.again.hidden = true;
    pane.view.element.classList.toggle("late", Boolean(layer.slow));
    pane.follower.want(wish, { settled, slow: Boolean(layer.slow) });
  }

  layer(key) {
    return [...this.facts.layers, ...this.facts.compare_layers].find((one) => one.key === key);
  }

  async ask(pane, wish, scale, signal) {
    const common = { tab: this.app.tab + pane.side, serial: nextSerial(), layers: [wish.layer], scale };
    const answer = wish.a === undefined
      ? await framed(jobPath(this.app.job, "cover"), { ...common, set_up: wish.setUp }, signal)
      : await framed(jobPath(this.app.job, "compare"), { ...common, a: wish.a, b: wish.b }, signal);
    if (answer.error && answer.error.kind === "stopped") return { stale: true };
    return answer;
  }

  async ready(pane, answer, wish) {
    if (answer.error) return () => this.failed(pane, answer);
    const picture = answer.pictures.find((one) => one.layer === wish.layer);
    const bitmap = await createImageBitmap(picture.blob, { colorSpaceConversion: "none" }).catch(() => null);
    if (!bitmap) return () => this.failed(pane, { error: { line: "The map's picture could not be read." } });
    return () => this.draw(pane, answer, wish, picture, bitmap);
  }

  draw(pane, answer, wish, picture, bitmap) {
    const { view } = pane;
    if (this.app.heard(answer)) return bitmap.close();
    pane.answer = answer;
    pane.drawn = answer.scale === "full" ? { wish, hash: answer.job_hash } : null;
    view.setOpacity(this.opacity);
    view.paint(bitmap, picture);
    const coarse = answer.scale === "coarse";
    const said = answer.difference || answer.answer;
    const good = answer.answer ? answer.answer.reached : null;
    this.caption(pane, said.line, good === null ? "unknown" : good ? "yes" : "no");
    view.element.dataset.scale = answer.scale;
    view.element.dataset.drawn = `${answer.serial}`;
    if (answer.base) {
      const base = wish.setUp.base || this.facts.set_up.base;
      this.stands[pane.side] = { ...answer.base, asked: base };
      if (coarse || !alike(pane.wish, wish)) return null;
      this.bases(this.app.store.now, this.shownMode);
    }
    this.app.drawn(pane.side, picture, coarse ? "" : pane.verdict.textContent, answer);
    return null;
  }

  /* No map is better than the last one: it would be another set-up's. */
  failed(pane, answer) {
    this.app.heard(answer);
    pane.drawn = null;
    pane.answer = null;
    pane.view.paint(null);
    this.caption(pane, answer.error.line, "no");
    this.app.undrawn(pane.side, pane.verdict.textContent);
  }

  caption(pane, line = pane.line || "", kind = pane.kind || "unknown") {
    Object.assign(pane, { line, kind });
    const words = this.shownMode === "two" && line ? `${pane.side.toUpperCase()}: ${line}` : line;
    pane.verdict.className = `caption-words verdict ${kind}`;
    if (pane.verdict.textContent !== words) pane.verdict.textContent = words;
  }

  cancel(side) {
    const pane = this.panes[side];
    pane.follower.stop();
    pane.view.paint(null);
    pane.drawn = null;
    pane.stopped = pane.wish;
    this.caption(pane, "Stopped: nothing is claimed.", "unknown");
    this.app.undrawn(side, pane.verdict.textContent);
    pane.again.hidden = false;
  }

  resume(side) {
    this.panes[side].stopped = null;
    this.want(side, true);
  }

  /* Progress for what takes long: the server is asked only while an answer is late. */
  busy(pane, is) {
    clearInterval(pane.late);
    pane.view.element.setAttribute("aria-busy", String(is));
    if (!is) {
      pane.bar.end();
      pane.view.element.classList.remove("late");
      return;
    }
    pane.bar.begin("computing");
    const began = performance.now();
    pane.late = setInterval(async () => {
      if (performance.now() - began < LATE_MS) return;
      pane.view.element.classList.add("late");
      const found = await get(`api/tabs/${this.app.tab}${pane.side}`);
      const mine = (found.running || []).find((one) => one.kind === "cover" || one.kind === "compare");
      if (mine && pane.follower.flight) pane.bar.tell(mine.stage || "computing", mine.share);
    }, ASK_MS);
  }

  /* Both maps move together. */
  moved(view) {
    this.app.viewMoved();
    if (this.shownMode !== "two" || this.following) return;
    const other = this.panes[view.side === "a" ? "b" : "a"].view;
    this.following = true;
    other.map.setView(view.map.getCenter(), view.map.getZoom(), { animate: false });
    this.following = false;
  }

  setOpacity(value) {
    this.opacity = value;
    Object.values(this.panes).forEach(({ view }) => view.setOpacity(value));
  }

  setMarks(places) {
    this.marks = places;
    Object.values(this.panes).forEach(({ view }) => view.setMarks(places));
  }

  setTo(place, side) {
    Object.values(this.panes).forEach(({ view }) => view.setTo(null));
    const mode = this.shownMode;
    if (place) this.panes[mode === "two" ? side : "a"].view.setTo(place, place.name);
  }

  showSigns(key, shown) {
    Object.values(this.panes).forEach(({ view }) => {
      if (!view.groups[key]) return;
      if (shown) view.drawn.addLayer(view.groups[key]);
      else view.drawn.removeLayer(view.groups[key]);
      view.arrange();
    });
  }
}

