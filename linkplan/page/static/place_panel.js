/* One place: does it work, the path as a drawing, why it fails, what would cure it, the budget line by line. */

import { jobPath, nextSerial, post } from "./api.js";
import { button, make } from "./dom.js";
import { Newest } from "./follow.js";
import { profileOf } from "./profile.js";
import { Bar } from "./tasks.js";
import { number } from "./units.js";

export class PlacePanel {
  constructor(app, element) {
    Object.assign(this, { app, element });
    this.body = make("div", { class: "place" });
    this.points = make("datalist", { id: "points" });
    this.where = make("input", { type: "text", id: "where", autocomplete: "off", placeholder: "point, or E, N" });
    this.where.setAttribute("list", "points");
    this.bar = new Bar(() => this.cancel());
    this.fault = make("p", { class: "fault", hidden: true, role: "alert" });
    element.append(
      make("form", { class: "inline", onsubmit: (event) => this.typed(event) },
        make("label", { htmlFor: "where" }, "Place"), this.where, make("button", { type: "submit" }, "Ask")),
      this.fault, this.points, this.bar.element, this.body);
    this.newest = new Newest((question, signal) => this.ask(question, signal));
    this.found = null;
    new ResizeObserver(() => this.found && this.drawProfile()).observe(this.body);
    this.clear();
  }

  show(facts) {
    this.points.replaceChildren(...[...facts.control_points, ...facts.places].map((one) => make("option", { value: one.name })));
  }

  /* What stands there is of a set-up that is being changed. */
  aged(is) {
    if (is) this.body.classList.add("aged");
  }

  clear() {
    this.found = null;
    this.body.replaceChildren(make("p", { class: "soft" },
      "Click the map, or press Enter on it for its middle: profile, budget, why it fails there and what would cure it."));
  }

  cancel() {
    this.newest.stop();
    this.bar.end();
    this.body.removeAttribute("aria-busy");
    this.clear();
    this.app.showTo(null);
  }

  typed(event) {
    event.preventDefault();
    const place = this.app.placeTyped(this.where.value);
    this.fault.hidden = Boolean(place);
    this.fault.textContent = place ? "" : "Name a point of the job, or give two coordinates: 500200.0, 5300000.0.";
    if (place) this.app.askAbout(place);
  }

  want(setUp, to, side) {
    this.newest.want({ setUp, to, side });
  }

  async ask({ setUp, to, side }, signal) {
    const { app } = this;
    this.body.setAttribute("aria-busy", "true");
    this.bar.begin("computing the path");
    const found = await post(jobPath(app.job, "point"), { tab: app.tab, serial: nextSerial(), set_up: setUp, to }, signal);
    if (signal.aborted || found.stale) return;
    this.bar.end();
    this.body.removeAttribute("aria-busy");
    this.body.classList.remove("aged");
    app.heard(found);
    if (found.error) {
      this.found = null;
      app.showTo(null);
      this.body.replaceChildren(make("p", { class: "verdict no" }, found.error.line));
      return;
    }
    app.showTo(found.to, side);
    this.fill(found, side);
  }

  fill(found, side) {
    const { app } = this;
    const both = app.store.now.b !== null;
    const from = app.baseName(side);
    this.ends = [from, found.to.name];
    this.found = found;
    this.holder = make("div", { class: "profile-holder" });
    this.body.replaceChildren(
      make("h3", {}, `${both ? `${side.toUpperCase()}: ` : ""}${from} to ${found.to.name}`),
      make("p", { class: `verdict ${found.works ? "yes" : "no"}` }, found.line),
      make("p", { class: "soft" }, `${found.distance} at azimuth ${found.azimuth}. ${found.to.positions.join("; ")}`),
      this.holder,
      make("p", {}, found.obstacle),
      ...listed("Why it fails", found.why),
      ...this.cures(found.cures, side),
      make("h3", {}, "Budget, line by line"), budget(found.budget),
      ...listed("To know", found.warnings),
      make("p", { class: "soft" }, `Loss by ${found.model}.`));
    this.drawProfile();
  }

  drawProfile() {
    if (!this.holder) return;
    const width = this.body.clientWidth;
    if (!width || (this.holder.width === width && this.holder.of === this.found)) return;
    Object.assign(this.holder, { width, of: this.found });
    this.holder.replaceChildren(profileOf(this.found, this.ends, this.app.show, width));
  }

  cures(cures, side) {
    if (!cures.length) return [];
    const items = cures.map((cure) => make("li", { class: cure.possible ? "possible" : "soft" },
      make("span", {}, cure.line),
      cure.possible && cure.set_up && Object.keys(cure.set_up).length
        ? button("Try it", () => this.app.adjust(side, cure.set_up), { "aria-label": `Try it: ${cure.line}` }) : null));
    return [make("h3", {}, "What would cure it"), make("ul", { class: "cures" }, items)];
  }
}

function listed(title, lines) {
  return lines && lines.length ? [make("h3", {}, title), make("ul", {}, lines.map((line) => make("li", {}, line)))] : [];
}

function budget(lines) {
  const signed = new Set(["gain", "loss", "margin"]);
  return make("table", { class: "budget" },
    make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "line"), make("th", { scope: "col", class: "number" }, "value"),
      make("th", { scope: "col" }, "unit"))),
    make("tbody", {}, lines.map((line) => make("tr", { class: line.kind },
      make("th", { scope: "row" }, line.label, line.note ? make("small", {}, line.note) : null),
      make("td", { class: "number" }, number(line.value, 1, signed.has(line.kind))), make("td", {}, line.unit)))));
}
