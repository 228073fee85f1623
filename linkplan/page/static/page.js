/* Starts the page: which job, then tools, tabs and keys around it. */

import { App } from "./app.js";
import { jobIn } from "./address.js";
import { get, jobPath, leave, post } from "./api.js";
import { faultList } from "./answers.js";
import { CompareBar } from "./compare.js";
import { button, byId, make, say } from "./dom.js";
import { openDialog, showKeys } from "./dialogs.js";
import { FilesPanel } from "./files_panel.js";
import { FormPanel } from "./form_panel.js";
import { exportAll, save } from "./saving.js";
import { SearchPanel } from "./search_panel.js";
import { Tabs } from "./tabs.js";

const FORMS = [
  { kind: "airtime", title: "Air time", ask: "Does it fit?", fields: true,
    intro: "Does the correction stream fit the radio, and for how long is there power? Change what you like: the job file stays as it is." },
  { kind: "channels", title: "Channels", ask: "Which channel?", fields: true,
    intro: "Channel, turn, ID and power of every base, within the licence, against unwanted signals." },
  { kind: "safety", title: "Site safety", ask: "Work it out", fields: false,
    good: { words: "The job's own rules are kept as far as computed. That is all it says.", look: "" },
    intro: "Distances from the antenna, mast and overhead lines, gaps where machines or people rely on corrections. Local codes, the licence and a qualified person's judgement come first." },
];

async function begin() {
  const late = setTimeout(() => {
    showStart();
    byId("start").replaceChildren(make("p", { role: "status" }, "Reading the job and its terrain…"), make("progress", { "aria-label": "Reading" }));
  }, 500);
  const found = await get("api/jobs");
  if (found.error) {
    clearTimeout(late);
    return failed(found.error);
  }
  const asked = jobIn(location.hash);
  const known = found.jobs.find((one) => one.job === asked);
  const job = known ? known.job : found.opened || (found.jobs.length === 1 ? found.jobs[0].job : null);
  const facts = job ? await get(jobPath(job, "")) : null;
  clearTimeout(late);
  if (!job) return choose(found);
  if (facts.error) return failed(facts.error, found);
  return open(job, facts, found);
}

function failed(error, found) {
  const start = byId("start");
  const many = error.faults && error.faults.length > 1;
  showStart();
  start.replaceChildren(make("h2", {}, "The job cannot be opened"), make("p", { class: "verdict no" },
    many ? `${error.faults.length} faults. Change the file, then try again.` : error.line),
    ...(many ? [faultList(error.faults)] : []),
    make("div", { class: "inline" }, button("Try again", () => location.reload(), { class: "main" }),
      found ? button("Another job", () => choose(found)) : null));
}

function showStart(is = true) {
  ["set-up", "maps", "answers"].forEach((id) => { byId(id).hidden = is; });
  byId("start").hidden = !is;
}

function choose(found) {
  showStart();
  byId("start").replaceChildren(make("h2", {}, `Jobs in ${found.folder}`), jobList(found));
}

function jobList(found) {
  const name = make("input", { type: "text", id: "new-job", autocomplete: "off" });
  const trouble = make("p", { class: "fault", role: "alert", hidden: true });
  const made = async (event) => {
    event.preventDefault();
    const answer = await post("api/jobs", { name: name.value.trim() });
    if (answer.error) say(trouble, answer.error.line);
    else go(answer.job);
  };
  return make("div", {},
    make("ul", { class: "files" }, found.jobs.map((one) => make("li", {},
      button(one.job, () => go(one.job)), make("span", {}, ` ${one.name}`), one.readable ? null : make("p", { class: "fault" }, one.line)))),
    make("form", { class: "inline", onsubmit: made }, make("label", { htmlFor: "new-job" }, "New job"), name,
      make("button", { type: "submit" }, "Write a commented job file to start from")), trouble);
}

function go(job) {
  history.replaceState(null, "", `#${new URLSearchParams({ job })}`);
  location.reload();
}

function open(job, facts, found) {
  showStart(false);
  const app = new App(job, facts);
  const panels = [];
  const later = (kind) => () => panels.find((panel) => panel.kind === kind)?.open();
  const tabs = new Tabs(byId("tabs"), byId("panels"), [["place", "Place"], ["search", "Search"],
    ...FORMS.slice(0, 2).map(({ kind, title }) => [kind, title, later(kind)]), ["agreement", "Agreement"], ["safety", "Safety", later("safety")]]);
  const safety = byId("panel-safety");
  panels.push(new SearchPanel(app, byId("panel-search")), new FilesPanel(app, byId("panel-agreement")),
    ...FORMS.map((form) => new FormPanel(app, byId(`panel-${form.kind}`), form)));
  safety.append(make("h3", {}, "Cautions"), make("ul", { id: "cautions" }));
  app.start(tabs, panels);
  tools(app, found);
  keys(app);
  addEventListener("pagehide", () => ["", "a", "b"].forEach((side) => leave(app.tab + side)));
}

function tools(app, found) {
  const { store } = app;
  const undo = button("Undo", () => store.undo(), { id: "undo", title: "Ctrl + Z" });
  const redo = button("Redo", () => store.redo(), { id: "redo", title: "Ctrl + Shift + Z" });
  const compare = new CompareBar(app, byId("compare-bar"));
  const keep = button("Save…", () => save(app), { id: "save", title: app.facts.writable ? "Ctrl + S" : "The job file cannot be written", disabled: !app.facts.writable });
  byId("tools").append(undo, redo, compare.button, keep, button("Export…", () => exportAll(app), { id: "export" }),
    ...(found.jobs.length > 1 ? [button("Jobs…", () => openDialog("Jobs", [jobList(found)]), { id: "jobs" })] : []),
    button("Keys", showKeys, { id: "keys" }));
  const update = () => {
    undo.disabled = !store.past.length;
    redo.disabled = !store.future.length;
    compare.update(store.now);
    const changed = Object.keys(store.setUp).length > 0;
    keep.classList.toggle("main", changed && app.facts.writable);
    byId("not-saved").hidden = !changed;
  };
  app.listeners.push(update);
  update();
}

function keys(app) {
  addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || document.querySelector("dialog[open]")) return;
    const typing = event.target.matches?.("input[type=text], input[type=number], textarea");
    const key = event.key.toLowerCase();
    const act = key === "s" ? () => app.facts.writable && save(app)
      : typing ? null : key === "z" ? () => (event.shiftKey ? app.store.redo() : app.store.undo()) : key === "y" ? () => app.store.redo() : null;
    if (!act) return;
    event.preventDefault();
    act();
  });
}

begin();
