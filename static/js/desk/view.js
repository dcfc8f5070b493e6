/** Which stretch of the recording is shown: from the whole down to a fraction of a second. */

const SHORTEST_SECONDS = 0.25;
// Where the playhead comes to stand when the view turns a page after it.
const AHEAD = 0.1;

export class View {
  constructor(seconds) {
    this.seconds = seconds;
    this.from = 0;
    this.span = seconds;
  }

  get to() {
    return this.from + this.span;
  }

  /** Show `factor` times as much, the moment `at` staying where it is. */
  zoom(factor, at) {
    const share = Math.min(Math.max(0, (at - this.from) / this.span), 1);
    this.span = Math.min(this.seconds, Math.max(Math.min(SHORTEST_SECONDS, this.seconds), this.span * factor));
    this.#begin(at - share * this.span);
  }

  /** Move by a share of what is shown. */
  move(share) {
    this.#begin(this.from + share * this.span);
  }

  /** Bring a moment into view, if it is outside. */
  show(at) {
    if (at < this.from || at > this.to) this.#begin(at - this.span / 2);
  }

  /** Turn the page when the playhead leaves it; returns whether it did. */
  follow(at) {
    if (at >= this.from && at <= this.to) return false;
    this.#begin(at - AHEAD * this.span);
    return true;
  }

  #begin(from) {
    this.from = Math.min(Math.max(0, from), this.seconds - this.span);
  }
}
