/* A form made from the fields that the server names; faults stand beside the field they belong to. What is
   entered is used for the answer and never reaches the job file unless it is saved. */

import { make, newId } from "./dom.js";
import { jsonEditor } from "./rows.js";
import { alike } from "./state.js";

export class Form {
  /* `entered`: values that stand in the fields in place of the job's */
  constructor(fields, submitWords, submit, keep, entered = {}) {
    this.fields = fields.map((field) => new Field(field, field.key in entered ? entered[field.key] : field.value));
    const tables = [...new Set(fields.map((field) => field.table))];
    this.element = make("form", { class: "fields", novalidate: "", onsubmit: (event) => {
      event.preventDefault();
      const values = this.values();
      if (values) submit(values);
    } }, tables.map((table) => this.table(table)), make("div", { class: "inline" },
      make("button", { type: "submit", class: "main" }, submitWords),
      make("button", { type: "button", onclick: () => {
        const values = this.values();
        if (values) keep(values);
      } }, "Save these values…")));
  }

  /* Fields that the job states are in sight, the rest opens. */
  table(table) {
    const mine = this.fields.filter(({ about }) => about.table === table);
    const shown = mine.filter(({ about }) => about.stated || about.required);
    const rest = mine.filter((field) => !shown.includes(field));
    return make("fieldset", {}, make("legend", {}, table.replaceAll("_", " ")), shown.map((one) => one.element),
      rest.length ? make("details", {}, make("summary", {}, `${rest.length} more, as the defaults say`), rest.map((one) => one.element)) : null);
  }

  /* Changed values by key, or null when one cannot be read. */
  values() {
    const found = {};
    let good = true;
    this.fields.forEach((field) => {
      field.clear();
      try {
        const value = field.value();
        if (!alike(value, field.about.value ?? null)) found[field.about.key] = value;
      } catch (error) {
        field.fault(error.message);
        good = false;
      }
    });
    if (!good) this.goToFault();
    return good ? found : null;
  }

  /* Puts faults beside their fields; returns those that belong to none. */
  showFaults(faults) {
    this.fields.forEach((field) => field.clear());
    const left = faults.filter((fault) => {
      const key = fault.key || "";
      const field = this.fields.find(({ about }) => key === about.key || (key.startsWith(about.key) && "[.".includes(key[about.key.length])));
      if (!field) return true;
      const place = key.slice(field.about.key.length);
      const row = place.match(/^\[(\d+)\]/);
      const words = [row ? `row ${row[1]}${place.slice(row[0].length).replace(".", ", ")}` : "", fault.problem, fault.cure]
        .filter(Boolean).join(": ");
      field.fault(words, place);
      return false;
    });
    this.goToFault();
    return left;
  }

  goToFault() {
    const first = this.element.querySelector(".fault:not([hidden])");
    if (!first) return;
    const shut = first.closest("details");
    if (shut) shut.open = true;
    first.scrollIntoView({ block: "nearest" });
  }
}

/* "frequency mhz" in "MHz" reads "Frequency (MHz)". */
function labelOf({ label, unit }) {
  const plain = (words) => words.toLowerCase().replace(/[^a-z0-9]+/g, " ").trim();
  const end = unit ? ` ${plain(unit)}` : "";
  const words = end.trim() && plain(label).endsWith(end) ? label.slice(0, label.length - end.length) : label;
  return `${words[0].toUpperCase()}${words.slice(1)}${unit ? ` (${unit})` : ""}`;
}

class Field {
  constructor(about, shown) {
    this.about = about;
    this.shown = shown;
    const id = newId("field");
    this.words = make("p", { class: "fault", id: `${id}-fault`, hidden: true });
    this.make(id);
    if (this.input) this.input.setAttribute("aria-describedby", `${id}-fault`);
    const hint = about.hint ? make("small", {}, about.hint) : null;
    const label = make(this.input ? "label" : "span", { class: "label" }, labelOf(about));
    if (this.input) label.htmlFor = id;
    this.element = make("div", { class: `field kind-${about.kind}` }, label, this.holder, hint, this.words);
  }

  make(id) {
    const { about, shown } = this;
    const words = shown ?? "";
    if (about.kind === "json") {
      this.editor = jsonEditor({ ...about, value: shown }, id);
      this.holder = this.editor.element;
      this.input = this.editor.input;
      return;
    }
    if (about.kind === "choice" || about.kind === "yes") {
      const choices = about.kind === "yes" ? [["true", "yes"], ["false", "no"]] : about.choices.map((one) => [String(one), String(one)]);
      const left = make("option", { value: "" }, about.default === null || about.default === undefined ? "not stated" : `as by default: ${about.default}`);
      this.input = make("select", { id }, left, choices.map(([value, name]) => make("option", { value }, name)));
      this.input.value = String(words);
    } else {
      this.input = make("input", { id, type: "text", value: String(words), autocomplete: "off", spellcheck: false,
        inputMode: about.kind === "text" ? "text" : "decimal", placeholder: about.example ? `as ${about.example}` : "" });
    }
    this.holder = this.input;
  }

  value() {
    const { about } = this;
    if (this.editor) return this.editor.value();
    const words = this.input.value.trim();
    if (words === "") return null;
    if (about.kind === "yes") return words === "true";
    if (about.kind === "choice") return about.choices.find((one) => String(one) === words);
    if (about.kind === "text") return words;
    const value = Number(words.replace(",", "."));
    if (!Number.isFinite(value) || (about.kind === "whole" && !Number.isInteger(value))) {
      throw new Error(about.kind === "whole" ? "A whole number is wanted." : "A number is wanted.");
    }
    return value;
  }

  fault(words, place = "") {
    this.words.textContent = this.words.hidden ? words : `${this.words.textContent} ${words}`;
    this.words.hidden = false;
    if (this.input) this.input.setAttribute("aria-invalid", "true");
    if (this.editor && place) this.editor.mark(place, words);
  }

  clear() {
    this.words.hidden = true;
    this.words.textContent = "";
    this.element.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
  }
}

