/* Agreement: settings sheets of base and rovers against each other and the job; logs and recordings as well.
   Files are chosen here or dropped anywhere on the page. */

import { faultList, textAnswer } from "./answers.js";
import { jobPath, upload } from "./api.js";
import { button, byId, make, newId, say } from "./dom.js";
import { troubleOf, Work } from "./tasks.js";

const LARGEST = 64e6;
const WHAT = { sheet: "settings sheet", log: "rover's log (NMEA 0183)", capture: "recording of the base's stream (RTCM 3)", unknown: "not known" };

export class FilesPanel {
  constructor(app, element) {
    Object.assign(this, { app, element, files: [] });
    this.works = Object.fromEntries(["agree", "log", "capture"].map((kind) => [kind, new Work(app, kind, { done: (task) => this.done(kind, task) })]));
    this.input = make("input", { type: "file", multiple: true, id: newId("files"), onchange: () => this.add([...this.input.files]) });
    this.list = make("ul", { class: "files" });
    this.trouble = make("p", { class: "verdict no", hidden: true, role: "alert" });
    this.result = make("div", { class: "result" });
    this.withJob = make("input", { type: "checkbox", checked: true });
    this.compare = button("Compare the sheets", () => this.agree(), { class: "main", disabled: true });
    element.append(
      make("p", { class: "soft" }, "Is every set, base or rover, set as the others are and as the job wants it? Drop settings sheets, rovers' logs or recordings of the base's stream anywhere on the page, or choose them here."),
      make("div", { class: "field" }, make("label", { htmlFor: this.input.id }, "Files"), this.input),
      this.list, make("label", { class: "check" }, this.withJob, make("span", {}, "compare with the job file too")), this.compare,
      ...Object.values(this.works).map((work) => work.element), this.trouble, this.result);
    this.listen();
  }

  listen() {
    let depth = 0;
    const veil = byId("drop-veil");
    const carries = (event) => event.dataTransfer && [...event.dataTransfer.types].includes("Files");
    const over = (by) => {
      depth = Math.max(depth + by, 0);
      veil.hidden = depth === 0;
    };
    addEventListener("dragenter", (event) => carries(event) && over(1));
    addEventListener("dragleave", (event) => carries(event) && over(-1));
    addEventListener("dragover", (event) => carries(event) && event.preventDefault());
    addEventListener("drop", (event) => {
      if (!carries(event)) return;
      event.preventDefault();
      over(-depth);
      this.add([...event.dataTransfer.files]);
    });
  }

  async add(files) {
    if (!this.app.facts) return;
    this.app.openTab("agreement");
    for (const file of files) {
      const query = new URLSearchParams({ tab: this.app.tab, name: file.name });
      const found = file.size > LARGEST
        ? { error: { line: `${file.name} is larger than 64 MB.` } }
        : await upload(jobPath(this.app.job, `drop?${query}`), file);
      this.files.push(found.error ? { name: file.name, kind: "unknown", line: found.error.line, faults: found.error.faults || [] } : found);
      this.redraw();
    }
    this.input.value = "";
  }

  redraw() {
    this.list.replaceChildren(...this.files.map((file) => this.row(file)));
    this.compare.disabled = !this.sheets().length;
  }

  sheets() {
    return this.files.filter((file) => file.kind === "sheet" && !(file.faults || []).length);
  }

  row(file) {
    const faults = file.faults || [];
    const act = { log: ["Read this log", () => this.works.log.start({ file: file.file })],
      capture: ["Read this recording", () => this.works.capture.start({ file: file.file })] }[file.kind];
    const role = file.kind === "sheet" && !faults.length ? this.role(file) : null;
    return make("li", { class: faults.length || file.kind === "unknown" ? "with-faults" : "" },
      make("b", {}, file.name), make("span", { class: "soft" }, ` ${WHAT[file.kind]}${file.set_names && file.set_names.length ? `: ${file.set_names.join(", ")}` : ""}`),
      make("div", { class: "row-tools" }, role, act ? button(...act, { class: "small" }) : null,
        button("Take off", () => this.drop(file), { class: "small", "aria-label": `Take ${file.name} off the list` })),
      file.line ? make("p", { class: "fault" }, file.line) : null, faults.length ? faultList(faults) : null);
  }

  role(file) {
    file.as = file.as || (file.role === "base" ? "base" : "rover");
    const select = make("select", { "aria-label": `${file.name} is the sheet of`, onchange: () => { file.as = select.value; } },
      make("option", { value: "base" }, "base"), make("option", { value: "rover" }, "rovers"));
    select.value = file.as;
    return select;
  }

  drop(file) {
    this.files = this.files.filter((one) => one !== file);
    this.redraw();
  }

  agree() {
    const sheets = this.sheets();
    const bases = sheets.filter((file) => file.as === "base");
    say(this.trouble, bases.length > 1 ? "Only one sheet can be the base's." : "");
    if (bases.length > 1) return;
    this.works.agree.start({ base: bases.length ? bases[0].file : null,
      rovers: sheets.filter((file) => file.as !== "base").map((file) => file.file), with_job: this.withJob.checked, job_base: null });
  }

  done(kind, task) {
    const faults = (task.error && task.error.faults) || [];
    say(this.trouble, task.result ? "" : troubleOf(task));
    const title = { agree: "Agreement", log: "Rover's log", capture: "Base's stream" }[kind];
    this.result.replaceChildren(...(faults.length ? [faultList(faults)] : []), ...(task.result ? [textAnswer(title, task.result)] : []));
    this.result.scrollIntoView({ block: "nearest" });
  }
}
