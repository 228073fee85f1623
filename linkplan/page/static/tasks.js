/* Long work on the server: started, asked about until it ends, cancelled when it is no longer wanted.
   The bar comes into sight after half a second. */

import { get, jobPath, post } from "./api.js";
import { button, make } from "./dom.js";
import { percent } from "./units.js";

const ASK_MS = 400;
const LATE_MS = 500;

export class Bar {
  constructor(cancel) {
    this.words = make("span", { class: "bar-words" });
    this.meter = make("progress", { max: 1, "aria-label": "How far the work is" });
    this.element = make("div", { class: "bar", hidden: true }, this.words, this.meter, button("Cancel", cancel, { class: "small" }));
    this.timer = 0;
  }

  begin(words) {
    this.tell(words, null);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => { this.element.hidden = false; }, LATE_MS);
  }

  tell(words, share) {
    const known = share !== null && share !== undefined && share > 0;
    this.words.textContent = known ? `${words}, ${percent(share, 0)}` : words;
    if (known) this.meter.value = share;
    else this.meter.removeAttribute("value");
  }

  end() {
    clearTimeout(this.timer);
    this.element.hidden = true;
  }
}

export class Work {
  /* news(task) while it runs, done(task) when it has ended in any way */
  constructor(app, kind, { news = () => {}, done }) {
    Object.assign(this, { app, kind, news, done });
    this.bar = new Bar(() => this.cancel());
    this.run = null;
  }

  get element() {
    return this.bar.element;
  }

  async start(body) {
    const run = { id: null, items: [] };
    this.run = run;
    this.bar.begin("starting");
    let task = await post(jobPath(this.app.job, "tasks"), { tab: this.app.tab, kind: this.kind, ...body });
    while (this.run === run) {
      run.id = task.task || run.id;
      run.items.push(...(task.items || []));
      if (task.state !== "running") break;
      this.bar.tell(task.waiting ? "waiting for other work" : task.stage || "at work", task.share);
      this.news({ ...task, items: run.items });
      await new Promise((wake) => setTimeout(wake, ASK_MS));
      if (this.run !== run) return;
      task = await get(`api/tasks/${encodeURIComponent(run.id)}?after=${run.items.length}`);
    }
    if (this.run !== run) return;
    this.run = null;
    this.bar.end();
    if (task.job_hash) this.app.heard(task);
    this.done({ ...task, items: run.items });
  }

  get running() {
    return this.run !== null;
  }

  cancel() {
    const { run } = this;
    if (!run) return;
    this.run = null;
    this.bar.end();
    if (run.id) post(`api/tasks/${encodeURIComponent(run.id)}/cancel`, {});
    this.done({ state: "cancelled", items: run.items, result: null, error: null });
  }
}

/* What a task says when it has no result. */
export function troubleOf(task) {
  if (task.error) return task.error.line;
  return task.state === "cancelled" ? "Cancelled." : "";
}
