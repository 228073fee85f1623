/* Two set-ups: begin with a copy, say which of them is being changed, swap them, end with one of them. */

import { button, make } from "./dom.js";

export class CompareBar {
  constructor(app, element) {
    Object.assign(this, { app, element });
    this.button = button("Compare", () => this.toggle(), { id: "compare", "aria-pressed": "false" });
    this.choices = ["a", "b"].map((side) => make("input", { type: "radio", name: "side", id: `side-${side}`, value: side,
      "aria-label": `Set-up ${side.toUpperCase()}`, onchange: () => app.store.look({ side }) }));
    element.append(
      make("fieldset", { class: "choices beside" }, make("legend", {}, "You change"), this.choices.map((input) =>
        make("label", {}, input, make("span", {}, input.value.toUpperCase())))),
      make("div", { class: "inline" }, button("Swap", () => this.swap(), { class: "small" }),
        button("Keep A", () => this.end("a"), { class: "small" }), button("Keep B", () => this.end("b"), { class: "small" })));
  }

  toggle() {
    const { store } = this.app;
    if (store.now.b === null) store.edit({ b: store.now.a, side: "b" });
    else this.end(store.now.side);
  }

  swap() {
    const { store } = this.app;
    store.edit({ a: store.now.b, b: store.now.a });
  }

  end(side) {
    const { store } = this.app;
    const { layer } = store.now;
    const layers = this.app.facts.layers;
    if (!layers.some((one) => one.key === layer)) store.look({ layer: layers[0].key });
    store.edit({ a: store.now[side], b: null, side: "a" });
    store.look({ toSide: "a" });
  }

  update(now) {
    const both = now.b !== null;
    this.element.hidden = !both;
    this.button.setAttribute("aria-pressed", String(both));
    this.choices.forEach((input) => { input.checked = input.value === now.side; });
  }
}
