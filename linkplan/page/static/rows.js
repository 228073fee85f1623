/* A list of tables of the job file (messages, channels) as rows to edit; anything else as JSON text. */

import { button, make } from "./dom.js";

const flat = (value) => Array.isArray(value) && value.length > 0
  && value.every((row) => row && typeof row === "object" && !Array.isArray(row));

/* value() throws Error with a line when what stands there cannot be read. */
export function jsonEditor(field, id) {
  return flat(field.value) ? new Rows(field) : new Text(field, id);
}

class Text {
  constructor(field, id) {
    const words = field.value === null || field.value === undefined ? "" : JSON.stringify(field.value);
    this.element = make("textarea", { id, rows: words.length > 60 ? 3 : 1, spellcheck: false }, words);
    this.input = this.element;
  }

  value() {
    const words = this.element.value.trim();
    if (!words) return null;
    try {
      return JSON.parse(words);
    } catch {
      throw new Error("Not readable: lists stand in [ ], texts in \" \", as [1, 2] or [\"a\", \"b\"].");
    }
  }

  mark() {}
}

class Rows {
  constructor(field) {
    this.columns = [...new Set(field.value.flatMap((row) => Object.keys(row)))];
    // columns of texts: one cell holds them all, with semicolons between
    this.lists = new Set(this.columns.filter((key) => field.value.some((row) => listed(row[key]))));
    this.name = field.label;
    this.body = make("tbody");
    field.value.forEach((row) => this.add(row));
    this.element = make("div", { class: "rows", role: "group", "aria-label": field.label },
      make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": `${field.label}, rows` },
        make("table", {}, make("thead", {}, make("tr", {}, this.columns.map((key) => make("th", { scope: "col" }, key.replaceAll("_", " "))),
          make("td"))), this.body)),
      button("Add a row", () => this.add({}), { class: "small" }));
    this.input = null;
  }

  add(row) {
    const number = this.body.children.length + 1;
    const cells = this.columns.map((key) => make("td", {}, make("input", { type: "text", value: wordsOf(row[key]),
      "data-key": key, "aria-label": `${this.name}, row ${number}, ${key.replaceAll("_", " ")}`, autocomplete: "off" })));
    const line = make("tr", {}, cells, make("td", {}, button("×", () => line.remove(), { class: "small", "aria-label": `Take row ${number} out` })));
    this.body.append(line);
  }

  value() {
    return [...this.body.children].map((line) => Object.fromEntries([...line.querySelectorAll("input")]
      .filter((input) => input.value.trim() !== "").map((input) => [input.dataset.key, valueOf(input.value.trim(), this.lists.has(input.dataset.key))])));
  }

  /* Mark the cell of a fault such as messages[2].number; rows count from 1. */
  mark(rest, words) {
    const [, row, key] = rest.match(/^\[(\d+)\]\.?(.*)$/) || [];
    const line = row === undefined ? null : this.body.children[Number(row) - 1];
    if (!line) return;
    const input = line.querySelector(`input[data-key="${CSS.escape(key)}"]`) || line.querySelector("input");
    input.setAttribute("aria-invalid", "true");
    input.title = words;
  }
}

const listed = (value) => Array.isArray(value) && value.length > 0 && value.every((one) => typeof one === "string" && !one.includes(";"));

function wordsOf(value) {
  if (value === undefined || value === null) return "";
  return typeof value === "string" ? value : listed(value) ? value.join("; ") : JSON.stringify(value);
}

function valueOf(words, list) {
  if (list) return words.split(";").map((one) => one.trim());
  try {
    return JSON.parse(words);
  } catch {
    return words;
  }
}
