/* The answer of a question of the trade as the command line words it: verdict, text to scroll, a wider view. */

import { button, make, say } from "./dom.js";
import { openDialog } from "./dialogs.js";
import { alike } from "./state.js";

export const GOOD = { words: "In order as far as computed: verify on site", look: "yes" };

/* An answer that no longer is the one to what stands on the page: its verdict goes, the text stays to read. */
export class Aging {
  constructor(app, result, stateOf) {
    Object.assign(this, { result, stateOf, answered: null });
    this.element = make("p", { class: "verdict unknown", hidden: true, role: "status" });
    app.listeners.push(() => this.look());
  }

  /* Asked now. */
  begin() {
    this.answered = this.stateOf();
    this.look();
  }

  look() {
    const old = this.answered !== null && this.result.hasChildNodes() && !alike(this.answered, this.stateOf());
    this.result.classList.toggle("old", old);
    say(this.element, old ? "This answer is for what was asked then; something has changed since. Ask again." : "");
  }
}

export function textAnswer(title, result, good = GOOD) {
  const text = make("pre", { class: "text", tabindex: "0", role: "region", "aria-label": title }, result.text);
  const wide = button("Open wide", () => openDialog(title, [
    make("pre", { class: "text", tabindex: "0", role: "region", "aria-label": `${title}, wide` }, result.text)], { wide: true }), { class: "small" });
  return make("div", { class: "answer" },
    make("div", { class: "inline" }, make("p", { class: `verdict ${result.good ? good.look : "no"}` },
      result.good ? good.words : "Not in order: read on"), wide), text);
}

/* Faults that belong to no field. */
export function faultList(faults) {
  return make("ul", { class: "faults" }, faults.map((fault) =>
    make("li", {}, fault.line || [fault.key, fault.value, fault.problem, fault.cure].filter(Boolean).join(": "))));
}
