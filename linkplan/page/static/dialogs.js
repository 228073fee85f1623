/* Dialogs that the page opens; Escape closes them, focus goes back to where it was. */

import { button, make, newId } from "./dom.js";

/* Resolves to the word of the button that closed it, or "" for none. */
export function openDialog(title, content, { buttons = [], wide = false } = {}) {
  const id = newId("dialog");
  const dialog = make("dialog", { class: wide ? "wide-dialog" : "", "aria-labelledby": id });
  const shut = [...buttons.map(([word, kind]) => button(word, () => dialog.close(word), { class: kind || "" })),
    button(buttons.length ? "Leave it" : "Close", () => dialog.close(""), { class: buttons.length ? "" : "main" })];
  dialog.append(make("h2", { id }, title), make("div", { class: "dialog-body" }, content), make("div", { class: "dialog-buttons" }, shut));
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((answer) => {
    dialog.addEventListener("close", () => {
      answer(dialog.returnValue);
      dialog.remove();
    });
  });
}

const KEYS = [
  ["Tab, Shift + Tab", "from one thing to the next"],
  ["arrow keys on the base", "move the base by a cell of the map; with Shift by ten"],
  ["arrow keys on the map", "move the map; + and - bring it nearer or farther"],
  ["Home on the map", "show the whole job"],
  ["Enter on the map", "ask about its middle"],
  ["arrow keys on a slider", "a step up or down"],
  ["Ctrl + Z", "undo"],
  ["Ctrl + Shift + Z, Ctrl + Y", "redo"],
  ["Ctrl + S", "save to the job file (shows what changes and asks)"],
  ["Escape", "close a dialog"],
];

export function showKeys() {
  return openDialog("Keys", [make("table", { class: "keys" }, make("tbody", {}, KEYS.map(([key, what]) =>
    make("tr", {}, make("th", { scope: "row" }, key), make("td", {}, what)))))]);
}
