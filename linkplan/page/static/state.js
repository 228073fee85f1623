/* What the page is about: two set-ups at most, the layer, the place asked about. One frozen object that is
   replaced, never changed; the set-ups have a history for undo and redo, what one looks at has none.

   a, b: the set-up's differences from the job file ({} is the job; b is null unless two are compared)
   side: the set-up that is being changed; layer: key; to, toSide: the place asked about, seen from which */

const KEPT = ["a", "b", "side"];
const SAME_GESTURE_MS = 1000;
const LONGEST_HISTORY = 200;

export class Store {
  /* `tidy` takes out of a set-up what is as in the job file */
  constructor(state, tidy = (setUp) => setUp) {
    this.tidy = tidy;
    const whole = { a: {}, b: null, side: "a", layer: "chance", to: null, toSide: "a", ...state };
    this.now = Object.freeze({ ...whole, a: merged(tidy(whole.a), {}), b: whole.b && merged(tidy(whole.b), {}) });
    this.past = [];
    this.future = [];
    this.before = null;
    this.last = { tag: "", at: 0 };
    this.listeners = [];
  }

  /* listener(now, before, settled) */
  subscribe(listener) {
    this.listeners.push(listener);
  }

  get setUp() {
    return this.now[this.now.side];
  }

  /* Looks: nothing to undo. */
  look(change) {
    this.become(change, true);
  }

  /* Change set-ups. Until `settled` the hand is still moving; a gesture is undone as a whole, and so are changes
     with the same tag shortly after one another (arrow keys). */
  edit(change, { settled = true, tag = "" } = {}) {
    const clean = { ...change };
    ["a", "b"].filter((side) => clean[side]).forEach((side) => { clean[side] = merged(this.tidy(clean[side]), {}); });
    this.before = this.before || this.kept();
    if (settled) this.record(this.before, tag, { ...this.now, ...clean });
    this.become(clean, settled);
  }

  /* Change the set-up at hand by some keys; undefined takes one back to the job's. */
  adjust(keys, how = {}) {
    this.edit({ [this.now.side]: merged(this.setUp, keys) }, how);
  }

  undo() {
    this.travel(this.past, this.future);
  }

  redo() {
    this.travel(this.future, this.past);
  }

  /* The job file is another now: say every set-up, those to go back to as well, by its difference from that. */
  rebase(anew) {
    const turn = (kept) => ({ ...kept, a: anew(kept.a), b: kept.b && anew(kept.b) });
    this.past = this.past.map(turn);
    this.future = this.future.map(turn);
    this.become(turn(this.kept()), true);
  }

  kept() {
    return Object.fromEntries(KEPT.map((key) => [key, this.now[key]]));
  }

  record(before, tag, after) {
    this.before = null;
    if (KEPT.every((key) => alike(before[key], after[key]))) return;
    const soon = tag && tag === this.last.tag && Date.now() - this.last.at < SAME_GESTURE_MS;
    this.last = { tag, at: Date.now() };
    if (!soon) this.past.push(before);
    if (this.past.length > LONGEST_HISTORY) this.past.shift();
    this.future = [];
  }

  travel(from, to) {
    if (!from.length || this.before) return;
    to.push(this.kept());
    this.last = { tag: "", at: 0 };
    this.become(from.pop(), true);
  }

  become(change, settled) {
    const before = this.now;
    this.now = Object.freeze({ ...before, ...change });
    this.listeners.forEach((listener) => listener(this.now, before, settled));
  }
}

export function merged(setUp, keys) {
  const found = { ...setUp, ...keys };
  Object.keys(found).forEach((key) => found[key] === undefined && delete found[key]);
  return Object.freeze(found);
}

export const alike = (one, other) => one === other || JSON.stringify(one) === JSON.stringify(other);
