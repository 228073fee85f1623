/* The set-up as fields: where the base stands, and a slider with a number for each quantity. What differs from
   the job file is marked and can be taken back. */

import { button, byId, make, newId } from "./dom.js";

const FIRST = ["antenna_height_m", "power_w", "rover_height_m", "frequency_mhz", "chance"];

export class SetUpPanel {
  constructor(app, element) {
    Object.assign(this, { app, element });
    this.rows = {};
  }

  show(facts) {
    this.facts = facts;
    this.rows = {};
    const keys = facts.set_up_keys.map((one) => (one.key === "chance" && !one.unit ? { ...one, unit: "%", per_unit: 0.01 } : one));
    const [first, more] = [keys.filter(({ key }) => FIRST.includes(key)), keys.filter(({ key }) => !FIRST.includes(key))];
    const open = this.more ? this.more.open : false;
    this.more = more.length ? make("details", { open }, make("summary", {}, "More of the radio"), more.map((one) => this.row(one))) : null;
    this.element.replaceChildren(this.base(facts), ...first.map((one) => this.row(one)), ...(this.more ? [this.more] : []));
    this.back();
    this.update(this.app.store.setUp);
  }

  base(facts) {
    const id = newId("base");
    const group = (label, places, kind) => places.length
      ? [make("optgroup", { label }, places.map((one) => make("option", { value: `${kind}:${one.name}` }, one.name)))] : [];
    this.choice = make("select", { id, onchange: () => this.chosen() },
      make("option", { value: "free" }, "free place"),
      ...group("Control points", facts.control_points, "point"), ...group("Other places", facts.places, "place"));
    this.where = make("input", { type: "text", id: `${id}-at`, autocomplete: "off", spellcheck: false,
      "aria-label": `Coordinates of the base, ${facts.units.axis_names.join(" and ")}`, onchange: () => this.typed() });
    this.fault = make("p", { class: "fault", hidden: true, role: "alert" });
    return make("div", { class: "field" }, make("label", { htmlFor: id }, "Base on"), make("div", { class: "pair" }, this.choice, this.where), this.fault);
  }

  chosen() {
    const [kind, ...name] = this.choice.value.split(":");
    if (kind === "free") this.where.focus();
    else this.app.store.adjust({ base: { [kind]: name.join(":") } });
  }

  typed() {
    const place = this.app.placeTyped(this.where.value);
    this.fault.hidden = Boolean(place);
    this.fault.textContent = place ? "" : "Two coordinates, as 500200.0, 5300000.0, or a point's name.";
    if (place) this.app.store.adjust({ base: place });
  }

  row(about) {
    const id = newId("value");
    const { key, label, unit, per_unit: per, step } = about;
    const range = (low, high) => ({ min: tidy(low / per), max: tidy(high / per), step: tidy(step / per) });
    const slider = make("input", { type: "range", id, ...range(about.slider_low, about.slider_high),
      oninput: () => this.moved(key, slider.value * per, false), onchange: () => this.moved(key, slider.value * per, true),
      // a slider that was moved and put back tells of no change, but the hand rests
      onpointerup: () => this.app.store.before && this.moved(key, slider.value * per, true) });
    const typed = make("input", { type: "number", ...range(about.low, about.high), step: "any", "aria-label": `${label}, ${unit}`,
      onchange: () => this.entered(about, typed) });
    if (unit) slider.setAttribute("aria-describedby", `${id}-unit`);
    const fault = make("p", { class: "fault", hidden: true, role: "alert" });
    const undo = button("↺", () => this.app.store.adjust({ [key]: undefined }), { class: "small", title: "as in the job file", "aria-label": `${label}: as in the job file` });
    const choices = about.choices && about.choices.length
      ? make("datalist", { id: `${id}-list` }, about.choices.map((one) => make("option", { value: tidy(one / per) }))) : null;
    if (choices) slider.setAttribute("list", `${id}-list`);
    this.rows[key] = { about, slider, typed, fault, undo };
    return make("div", { class: "slider" }, make("label", { htmlFor: id }, label), undo,
      make("span", { class: "entry" }, typed, make("span", { class: "unit", id: `${id}-unit` }, unit)), slider, choices, fault);
  }

  moved(key, value, settled) {
    const { about } = this.rows[key];
    const within = Math.min(Math.max(Number(value.toPrecision(9)), about.low), about.high);
    this.app.store.adjust({ [key]: within }, { settled, tag: `slider ${key}` });
  }

  entered({ key, low, high, per_unit: per, unit }, typed) {
    const value = typed.value === "" ? NaN : Number(typed.value) * per;
    const good = Number.isFinite(value) && value >= low - 1e-9 && value <= high + 1e-9;
    const { fault } = this.rows[key];
    fault.hidden = good;
    fault.textContent = good ? "" : `From ${tidy(low / per)} to ${tidy(high / per)} ${unit}.`;
    typed.setAttribute("aria-invalid", String(!good));
    if (good) this.moved(key, value, true);
  }

  back() {
    if (this.reset) return;
    this.reset = button("As in the job file", () => this.app.store.edit({ [this.app.store.now.side]: Object.freeze({}) }), { class: "small" });
    byId("set-up-head").append(this.reset);
  }

  /* Show a set-up; `stands`: where its base stands, as far as the server has said. */
  update(setUp, stands) {
    if (!this.facts) return;
    Object.entries(this.rows).forEach(([key, row]) => {
      const value = (setUp[key] ?? this.facts.set_up[key]) / row.about.per_unit;
      row.slider.value = value;
      if (document.activeElement !== row.typed || row.fault.hidden) row.typed.value = tidy(value);
      row.slider.setAttribute("aria-valuetext", `${tidy(value)} ${row.about.unit}`);
      row.undo.hidden = setUp[key] === undefined;
    });
    const base = setUp.base || this.facts.set_up.base;
    const kind = base.point ? "point" : base.place ? "place" : "free";
    const value = kind === "free" ? "free" : `${kind}:${base[kind]}`;
    if ([...this.choice.options].some((one) => one.value === value)) this.choice.value = value;
    else this.choice.value = "free";
    this.reset.hidden = !Object.keys(setUp).length;
    if (stands && document.activeElement !== this.where) {
      this.where.value = `${this.app.show.coordinate(stands.easting)}, ${this.app.show.coordinate(stands.northing)}`;
    }
  }
}

const tidy = (value) => Number(Number(value).toPrecision(7));
