/* Saving to the job file, and everything that `linkplan plan` makes. Both show first and ask before they overwrite. */

import { jobPath, post } from "./api.js";
import { button, make, newId, say } from "./dom.js";
import { openDialog } from "./dialogs.js";
import { troubleOf, Work } from "./tasks.js";

const line = (className, sign, words) => make("div", { class: className }, make("span", { "aria-hidden": "true" }, sign), words);

function changesOf(changes) {
  return make("div", { class: "changes", tabindex: "0", role: "region", "aria-label": "Lines that change" }, changes.map(({ was, now }) => [
    was ? line("was", "−", was) : null, now ? line("now", "+", now) : null]).flat());
}

/* `values`: fields of a form that are saved with the set-up. */
export async function save(app, values = {}) {
  const path = jobPath(app.job, "save");
  const body = { set_up: app.store.setUp, job_hash: app.facts.job_hash, values, confirmed: false };
  const found = await post(path, body);
  if (found.error) return trouble(app, found);
  if (!found.changes.length) {
    app.tell(`${found.file} says this already: nothing to save.`);
    return null;
  }
  const left = found.not_written.length
    ? [make("h3", {}, "Not written"), make("ul", {}, found.not_written.map((one) => make("li", {}, one.line)))] : [];
  const word = await openDialog(`Save ${app.store.now.b ? `set-up ${app.store.now.side.toUpperCase()} ` : ""}to ${found.file}`, [
    make("p", {}, "These lines of the job file change; the rest, comments too, stays as it is."), changesOf(found.changes), ...left],
  { buttons: [["Overwrite the job file", "main"]] });
  if (!word) return null;
  const written = await post(path, { ...body, confirmed: true });
  if (written.error) return trouble(app, written);
  await app.saved();
  app.tell(`Saved to ${written.file}.`);
  return null;
}

async function trouble(app, found) {
  const changed = found.error.kind === "changed";
  const word = await openDialog(changed ? "The job file changed on disk" : "Not saved",
    [make("p", {}, found.error.line), found.error.changes && found.error.changes.length ? changesOf(found.error.changes) : null,
      ...(found.error.faults || []).map((fault) => make("p", { class: "fault" }, fault.line))],
    { buttons: changed ? [["Read the job file again", "main"]] : [] });
  if (word) await app.refresh();
}

export function exportAll(app) {
  const status = make("p", { role: "status" });
  const list = make("div");
  const id = newId("folder");
  const folder = make("input", { type: "text", id, value: `${app.job.replace(/\.toml$/, "")}-plan`, autocomplete: "off" });
  const work = new Work(app, "export", { done: (task) => done(task) });
  let asked = {};
  const start = (body) => {
    say(status, "");
    list.replaceChildren();
    asked = body;
    work.start({ set_up: app.store.setUp, ...body });
  };
  const done = (task) => {
    if (task.error && task.error.kind === "exists") {
      list.replaceChildren(make("p", {}, task.error.line), button("Overwrite it", () => start({ ...asked, overwrite: true }), { class: "main" }));
      return;
    }
    say(status, task.result ? "" : troubleOf(task));
    if (!task.result) return;
    const { result } = task;
    say(status, result.file ? "Ready." : `Written to the folder ${result.folder || asked.folder}.`);
    list.replaceChildren(...(result.file ? [make("p", {}, make("a", { href: result.file, download: result.name, class: "download" }, `Download ${result.name}`))] : []),
      make("ul", { class: "files" }, (result.files || []).map((file) => make("li", {}, make("b", {}, file.name), make("span", { class: "soft" }, ` ${file.what}`)))));
  };
  const closed = openDialog("Export everything", [
    make("p", {}, "All that the command “linkplan plan” makes, for the set-up at hand: pages, maps, profiles, files for GIS, CAD and phones, the summary."),
    make("div", { class: "inline" }, button("Into one file to download", () => start({ to: "zip" }), { class: "main" })),
    make("div", { class: "inline" }, make("label", { htmlFor: id }, "Folder beside the job file"), folder,
      button("Write it there", () => start({ to: "folder", folder: folder.value.trim(), overwrite: false }))),
    work.element, status, list]);
  return closed.then(() => work.cancel());
}
