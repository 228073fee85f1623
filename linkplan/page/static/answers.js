/* The answer of a question of the trade as the command line words it: verdict, text to scroll, a wider view. */

import { button, make } from "./dom.js";
import { openDialog } from "./dialogs.js";

export function textAnswer(title, result) {
  const text = make("pre", { class: "text", tabindex: "0", role: "region", "aria-label": title }, result.text);
  const wide = button("Open wide", () => openDialog(title, [
    make("pre", { class: "text", tabindex: "0", role: "region", "aria-label": `${title}, wide` }, result.text)], { wide: true }), { class: "small" });
  return make("div", { class: "answer" },
    make("div", { class: "inline" }, make("p", { class: `verdict ${result.good ? "yes" : "no"}` },
      result.good ? "In order as far as computed: verify on site" : "Not in order: read on"), wide), text);
}

/* Faults that belong to no field. */
export function faultList(faults) {
  return make("ul", { class: "faults" }, faults.map((fault) =>
    make("li", {}, fault.line || [fault.key, fault.value, fault.problem, fault.cure].filter(Boolean).join(": "))));
}
