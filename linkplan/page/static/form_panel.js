/* Air time, channels, safety: fields where the question has some, a button, the answer as text. */

import { get, jobPath } from "./api.js";
import { Aging, faultList, textAnswer } from "./answers.js";
import { button, make, say } from "./dom.js";
import { Form } from "./form.js";
import { save } from "./saving.js";
import { troubleOf, Work } from "./tasks.js";

export class FormPanel {
  /* `fields`: whether the server has a form of that name */
  constructor(app, element, { kind, title, intro, ask, fields, good }) {
    Object.assign(this, { app, element, kind, title, intro, ask, fields, good });
    this.work = new Work(app, kind, { done: (task) => this.done(task) });
    this.trouble = make("p", { class: "verdict no", hidden: true, role: "alert" });
    this.result = make("div", { class: "result" });
    this.edits = 0;
    this.holder = make("div", { oninput: () => {
      this.edits += 1;
      this.aging.look();
    } });
    this.shown = null;
    this.aging = new Aging(app, this.result, () => [app.store.setUp, app.facts.job_hash, app.facts.terrain_stamp, this.edits]);
    element.append(make("p", { class: "soft" }, intro), this.work.element, this.trouble, this.aging.element, this.result, this.holder);
  }

  /* Reads its fields when it comes into sight for the first time with these facts. */
  async open() {
    const { facts } = this.app;
    if (!facts || this.shown === facts.job_hash) return;
    this.shown = facts.job_hash;
    const about = facts.tasks[this.kind] || { available: false, why_not: "" };
    say(this.trouble, "");
    // another job file: what was entered here and not saved stays
    const entered = (this.form && this.form.values()) || {};
    this.form = null;
    if (!about.available) {
      this.holder.replaceChildren(make("p", { class: "verdict unknown" }, `Not for this job: ${about.why_not}`));
      if (!this.fields) return;
    }
    if (!this.fields) {
      this.holder.replaceChildren(button(this.ask, () => this.start({}), { class: "main" }));
      return;
    }
    const found = await get(jobPath(this.app.job, `form/${this.kind}`));
    if (found.error) {
      say(this.trouble, found.error.line);
      return;
    }
    if (!found.fields || !found.fields.length) return;
    this.form = new Form(found.fields, this.ask, (values) => this.start(values), (values) => save(this.app, values), entered);
    if (about.available) this.holder.replaceChildren();
    this.holder.append(this.form.element);
  }

  start(values) {
    say(this.trouble, "");
    this.result.replaceChildren();
    this.aging.begin();
    this.work.start({ set_up: this.app.store.setUp, ...(this.fields ? { values } : {}) });
  }

  done(task) {
    const faults = (task.error && task.error.faults) || [];
    const left = this.form ? this.form.showFaults(faults) : faults;
    if (task.result) this.result.replaceChildren(textAnswer(this.title, task.result, this.good));
    else {
      this.trouble.className = `verdict ${task.error ? "no" : "unknown"}`;
      say(this.trouble, faults.length && !left.length ? "Some fields need another value: see beside them." : troubleOf(task));
      this.result.replaceChildren(...(left.length ? [faultList(left)] : []));
    }
    this.aging.look();
    if (faults.length === left.length) this.element.scrollTop = 0;
  }
}
