/* A search for the base's place: candidates rank as they finish; pick one to try it on the map. */

import { Aging, textAnswer } from "./answers.js";
import { button, make, say } from "./dom.js";
import { troubleOf, Work } from "./tasks.js";
import { decibels, number, percent } from "./units.js";

const MOST_MARKS = 60;

export class SearchPanel {
  constructor(app, element) {
    Object.assign(this, { app, element });
    this.work = new Work(app, "siting", {
      news: (task) => this.list(soFar(task.items), true),
      done: (task) => this.done(task),
    });
    this.intro = make("p", { class: "soft" });
    this.begin = button("Start the search", () => this.start(), { class: "main" });
    this.trouble = make("p", { class: "verdict no", hidden: true, role: "alert" });
    this.head = make("p", { class: "soft", role: "status" });
    this.off = button("Take the marks off the map", () => this.app.setMarks([]), { class: "small", hidden: true });
    this.rows = make("ol", { class: "candidates" });
    this.after = make("div", { class: "result" });
    this.aging = new Aging(app, this.rows, () => {
      // what the search itself changes does not make it old
      const { base, antenna_height_m, power_w, antenna_gain_dbi, ...rest } = app.store.setUp;
      return [rest, app.facts.job_hash, app.facts.terrain_stamp];
    });
    element.append(this.intro, this.begin, this.work.element, this.trouble, this.aging.element, this.head, this.off, this.rows, this.after);
  }

  show(facts) {
    const about = facts.tasks.siting || { available: false, why_not: "" };
    this.begin.disabled = !about.available;
    say(this.intro, about.available
      ? `Where does the base go? ${about.places || "All"} places of the job are compared over the whole job, with each mast, antenna and power that the job lists.`
      : `Not for this job: ${about.why_not}`);
  }

  start() {
    say(this.trouble, "");
    this.rows.replaceChildren();
    this.after.replaceChildren();
    this.begin.disabled = true;
    this.aging.begin();
    this.work.start({ set_up: this.app.store.setUp });
  }

  done(task) {
    this.begin.disabled = false;
    const { result } = task;
    say(this.trouble, task.error ? troubleOf(task) : "");
    this.list(result && result.ranking ? bestOfPlaces(result.ranking) : soFar(task.items), !result);
    if (task.state === "cancelled") say(this.head, `Cancelled after ${task.items.length} places.`);
    this.aging.look();
    if (result && result.text) this.after.replaceChildren(...ruledOut(result), textAnswer("Search for the base's place", result));
  }

  list(candidates, preliminary) {
    say(this.head, candidates.length === 0 ? "" : preliminary
      ? `${candidates.length} places so far, the best first; the order can still change.` : `${candidates.length} places, best first.`);
    this.off.hidden = preliminary || !candidates.length;
    this.rows.replaceChildren(...candidates.map((one, i) => this.row(one, i + 1)));
    this.app.setMarks(candidates.slice(0, MOST_MARKS).filter((one) => Number.isFinite(one.longitude)).map((one, i) => ({
      words: String(i + 1), first: i === 0, longitude: one.longitude, latitude: one.latitude,
      title: `${i + 1}. ${one.place}, ${percent(one.weighted_share)}`, pick: () => this.pick(one),
    })));
  }

  row(one, rank) {
    const share = one.unknown ? "unknown" : percent(one.weighted_share);
    const out = one.accepted === false;
    const pick = button("", () => this.pick(one), { class: "candidate", "aria-label": `Try place ${rank}, ${one.place}` });
    pick.append(make("b", {}, String(rank)),
      make("span", { class: "name" }, one.place, make("small", {}, kit(one, this.app.show)),
        one.unknown ? make("small", {}, one.unknown) : null,
        out ? make("small", { class: "bad" }, (one.broken || []).join("; ") || "ruled out") : null),
      make("span", { class: "number" }, share, make("small", {}, one.unknown ? "" : `worst ${decibels(one.worst_margin_db, true)}`)));
    return make("li", {}, pick);
  }

  pick(one) {
    const known = this.app.facts.control_points.some((point) => point.name === one.place);
    const base = known ? { point: one.place } : { easting: one.easting, northing: one.northing };
    this.app.adjust(this.app.store.now.side, one.set_up || { base, antenna_height_m: one.antenna_height_m, power_w: one.power_w });
    this.app.tell(`${one.place} is on the map now. Undo takes it back.`);
  }
}

function kit(one, show) {
  return [`mast ${show.height(one.antenna_height_m)}`, `${number(one.power_w, one.power_w % 1 ? 1 : 0)} W`, one.antenna].filter(Boolean).join(", ");
}

const value = (one) => (one.unknown || !Number.isFinite(one.weighted_share) ? -1 : one.weighted_share);

const soFar = (items) => items.slice().sort((a, b) => value(b) - value(a) || (b.worst_margin_db ?? -999) - (a.worst_margin_db ?? -999));

/* A place stands once, with the equipment that ranks best. */
function bestOfPlaces(ranking) {
  const seen = new Set();
  return ranking.filter((one) => !seen.has(one.place) && seen.add(one.place));
}

function ruledOut({ ruled_out: list }) {
  if (!list || !list.length) return [];
  return [make("details", {}, make("summary", {}, `${list.length} ruled out`), make("ul", {}, list.map((one) =>
    make("li", {}, typeof one === "string" ? one : [one.place, (one.broken || one.why || []).toString()].filter(Boolean).join(": ")))))];
}
