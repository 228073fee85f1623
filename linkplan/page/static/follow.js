/* The map follows the hand: one request in flight, the newest wish waits, older wishes are forgotten.

   While the hand moves a coarse map comes first, unless the whole one takes less than SOON_MS anyway; the whole
   one follows when the hand rests. When the hand lets go, the whole one comes at once if it takes less than
   STRAIGHT_MS. One that is no longer wanted is broken off. An answer is drawn only if it is newer than the one on
   screen. */

const SOON_MS = 100;
const STRAIGHT_MS = 800;
const REST_MS = 40;
const FRAME_MS = 16; // moves come faster than frames: the newest of a frame is asked about

const pause = (ms, signal) => new Promise((done) => {
  setTimeout(done, ms);
  signal.addEventListener("abort", done, { once: true });
});

export class Follower {
  /* ask(wish, scale, signal) -> answer; ready(answer, wish) -> a function that draws it; busy(yes or no) */
  constructor({ ask, ready, busy }) {
    Object.assign(this, { ask, ready, busy });
    this.next = null;
    this.flight = null;
    this.seen = { key: "", scale: "" };
    this.drawn = 0;
    this.wholeMs = Infinity;
    this.resting = 0;
  }

  /* A wish says what to show. A `slow` one has no coarse form and waits until the hand rests. */
  want(wish, { settled = true, slow = false } = {}) {
    clearTimeout(this.resting);
    this.wanted = performance.now();
    const key = JSON.stringify(wish);
    const flight = this.flight;
    if (slow && !settled) {
      this.stop();
      return;
    }
    const begun = this.seen.key === key && this.seen.scale === "coarse";
    const straight = settled && this.wholeMs <= STRAIGHT_MS;
    const scale = slow || begun || straight || this.wholeMs <= SOON_MS ? "full" : "coarse";
    const overtaken = straight && flight && flight.scale === "coarse";
    if (flight && flight.key === key && !flight.control.signal.aborted && !overtaken) {
      flight.settled = flight.settled || settled;
      this.next = null;
      return;
    }
    this.next = { wish, key, scale, settled, slow };
    if (!flight) this.run();
    else if (overtaken || (flight.scale === "full" && (flight.slow || this.wholeMs > SOON_MS))) flight.control.abort();
  }

  stop() {
    clearTimeout(this.resting);
    this.next = null;
    if (this.flight) this.flight.control.abort();
  }

  async run() {
    this.busy(true);
    while (this.next) {
      let flight = this.take();
      if (flight.scale === "coarse" && !flight.settled) {
        await pause(FRAME_MS, flight.control.signal);
        if (this.next) flight = this.take();
        else if (flight.control.signal.aborted) continue;
      }
      const began = performance.now();
      const answer = await this.ask(flight.wish, flight.scale, flight.control.signal);
      if (flight.control.signal.aborted || answer.stale) continue;
      const show = await this.ready(answer, flight.wish);
      // one may have been broken off, or a newer one drawn, while its picture was decoded
      if (flight.control.signal.aborted || answer.serial <= this.drawn) continue;
      show();
      this.drawn = answer.serial || this.drawn;
      this.seen = answer.error ? { key: "", scale: "" } : flight;
      if (answer.error) continue;
      if (flight.scale === "full" && !flight.slow) this.wholeMs = performance.now() - began;
      if (flight.scale === "coarse" && !this.next) this.follow(flight);
    }
    this.flight = null;
    this.busy(false);
  }

  take() {
    this.flight = { ...this.next, control: new AbortController() };
    this.next = null;
    return this.flight;
  }

  /* The whole map after the coarse one: at once, or when the hand rests. */
  follow({ wish, key, settled }) {
    const whole = { wish, key, scale: "full", settled: true, slow: false };
    if (settled) {
      this.next = whole;
      return;
    }
    this.resting = setTimeout(() => {
      this.next = this.next || whole;
      if (!this.flight) this.run();
    }, REST_MS - (performance.now() - this.wanted));
  }
}

/* Only the newest question counts: one in flight, the next one after it. */
export class Newest {
  constructor(work) {
    this.work = work;
    this.next = null;
    this.control = null;
  }

  async want(question) {
    this.next = { question };
    if (this.control) {
      this.control.abort();
      return;
    }
    while (this.next) {
      const { question: now } = this.next;
      this.next = null;
      this.control = new AbortController();
      await this.work(now, this.control.signal);
    }
    this.control = null;
  }

  stop() {
    this.next = null;
    if (this.control) this.control.abort();
  }
}
