/* What the map shows: one layer with its legend, how strong its colours are, and which signs are drawn. */

import { make, newId } from "./dom.js";

export class LayersPanel {
  constructor(app, element) {
    Object.assign(this, { app, element });
    this.legend = make("div", { class: "legend" });
    this.hidden = new Set();
    this.opacity = null;
  }

  show(facts) {
    this.facts = facts;
    if (this.opacity === null) this.opacity = facts.opacity;
    this.rebuild();
  }

  rebuild() {
    const both = this.app.store.now.b !== null;
    const layers = [...this.facts.layers, ...(both ? this.facts.compare_layers : [])];
    this.key = JSON.stringify([both, this.facts.job_hash]);
    const focus = document.activeElement && document.activeElement.id;
    this.element.replaceChildren(
      make("fieldset", { class: "choices" }, make("legend", {}, "Show"), layers.map((layer) => this.choice(layer))),
      this.legend, this.strength(), this.signs());
    if (focus && document.getElementById(focus)) document.getElementById(focus).focus();
    this.describe(this.current());
    this.app.setOpacity(this.opacity);
  }

  update() {
    if (!this.facts) return;
    if (this.key !== JSON.stringify([this.app.store.now.b !== null, this.facts.job_hash])) this.rebuild();
    this.element.querySelectorAll("input[name=layer]").forEach((input) => {
      input.checked = input.value === this.app.store.now.layer;
    });
  }

  current() {
    const key = this.app.store.now.layer;
    return [...this.facts.layers, ...this.facts.compare_layers].find((one) => one.key === key) || this.facts.layers[0];
  }

  choice(layer) {
    const able = layer.available !== false;
    const input = make("input", { type: "radio", name: "layer", id: `layer-${layer.key}`, value: layer.key, disabled: !able,
      checked: layer.key === this.app.store.now.layer, onchange: () => this.app.store.look({ layer: layer.key }) });
    return make("label", { class: able ? "" : "off" }, input,
      make("span", {}, layer.name, able ? null : make("small", {}, layer.why_not)));
  }

  /* The legend of what is on screen: `layer` has legend, ramp and ticks. */
  describe(layer) {
    const parts = [];
    if (layer.legend.some((entry) => entry.share)) parts.push(make("div", { class: "of soft" }, "of the job"));
    if (layer.ramp && layer.ramp.length) {
      const spans = layer.ramp.map((colour) => {
        const part = make("span");
        part.style.background = colour;
        return part;
      });
      parts.push(make("div", { class: "ramp" }, spans), make("div", { class: "ticks" }, layer.ticks.map((tick) => make("span", {}, tick))));
    }
    const long = layer.legend.filter((entry) => (entry.note || "") !== first(entry.note));
    const open = Boolean(this.legend.querySelector("details[open]"));
    this.legend.replaceChildren(...parts, ...layer.legend.map(legendRow), ...(long.length ? [make("details", { open },
      make("summary", {}, "What to expect"), make("dl", {}, long.map((entry) => [make("dt", {}, entry.name), make("dd", {}, entry.note)]).flat()))] : []));
  }

  strength() {
    const id = newId("strength");
    const slider = make("input", { type: "range", id, min: 0, max: 100, value: Math.round(100 * this.opacity), oninput: () => {
      this.opacity = slider.value / 100;
      this.app.setOpacity(this.opacity);
    } });
    return make("div", { class: "slider" }, make("label", { htmlFor: id }, "Strength of the colours"), slider);
  }

  signs() {
    const groups = [["boundary", "Boundary of the job"], ["controls", "Control points"], ["zones", "Zones"], ["lines", "Overhead lines"],
      ["keep-out", "Ground where no mast may stand"], ["corridor", "Line of the corridor"]];
    const there = this.app.signGroups();
    return make("fieldset", { class: "choices" }, make("legend", {}, "Signs"),
      groups.filter(([key]) => there.includes(key)).map(([key, name]) => {
        const input = make("input", { type: "checkbox", id: `sign-of-${key}`, checked: !this.hidden.has(key), onchange: () => {
          if (input.checked) this.hidden.delete(key);
          else this.hidden.add(key);
          this.app.showSigns(key, input.checked);
        } });
        return make("label", {}, input, make("span", {}, name));
      }));
  }
}

const first = (note) => (note || "").split(/(?<=\.)\s/)[0];

function legendRow(entry) {
  const chip = make("span", { class: entry.colour ? "chip" : "chip unknown", "aria-hidden": "true" }, entry.number || "");
  if (entry.colour) {
    chip.style.background = entry.colour;
    chip.style.color = entry.ink;
  }
  return make("div", { class: "row" }, chip,
    make("span", { class: "name" }, entry.name, entry.note ? make("small", {}, first(entry.note)) : null),
    entry.share ? make("span", { class: "number" }, entry.share) : null);
}
