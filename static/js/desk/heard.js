/** What has been heard, kept on the server: sent every few seconds, at each pause, and when the page is left. */

import { account, csrfToken, postForm } from "requests";

const SEND_EVERY_MS = 10_000;
const GAP_SECONDS = 2.5; // between two looks at the time; more is a jump, not listening

export class Heard {
  #last = null;
  #unsent = new Map(); // part id -> [[from, to]]

  constructor(parts, kept, say) {
    this.parts = parts;
    this.say = say;
    this.kept = new Map(parts.map((part) => [part.id, kept[part.id] ?? []]));
    setInterval(() => this.flush(), SEND_EVERY_MS);
    document.addEventListener("visibilitychange", () => { if (document.hidden) this.#flushLeaving(); });
  }

  /** The playhead is at a moment of the whole recording. */
  at(seconds, isPlaying) {
    const step = this.#last === null ? 0 : seconds - this.#last;
    if (isPlaying && step > 0 && step < GAP_SECONDS) this.#add(this.#last, seconds);
    this.#last = isPlaying ? seconds : null;
  }

  /** All stretches on the common axis. */
  spans() {
    return this.parts.flatMap((part) => this.kept.get(part.id).map(([from, to]) => [part.start + from, part.start + to]));
  }

  get share() {
    const whole = this.parts.reduce((sum, part) => sum + part.seconds, 0);
    return Math.min(1, this.spans().reduce((sum, [from, to]) => sum + to - from, 0) / whole);
  }

  async flush() {
    for (const [id, spans] of this.#taken()) {
      try {
        await postForm(this.#url(id), { spans: JSON.stringify(spans) });
      } catch (error) {
        this.#unsent.set(id, joined([...spans, ...(this.#unsent.get(id) ?? [])]));
        this.say(error.message);
      }
    }
  }

  #flushLeaving() {
    for (const [id, spans] of this.#taken()) {
      fetch(this.#url(id), {
        method: "POST",
        keepalive: true,
        headers: { "X-CSRFToken": csrfToken(), "X-Account": account() },
        body: new URLSearchParams({ spans: JSON.stringify(spans) }),
      });
    }
  }

  #taken() {
    const taken = [...this.#unsent];
    this.#unsent = new Map();
    return taken;
  }

  #url(id) {
    return this.parts.find((part) => part.id === id).heard;
  }

  #add(from, to) {
    for (const part of this.parts) {
      const begins = Math.max(0, from - part.start);
      const ends = Math.min(part.seconds, to - part.start);
      if (begins >= ends) continue;
      this.kept.set(part.id, joined([...this.kept.get(part.id), [begins, ends]]));
      this.#unsent.set(part.id, joined([...(this.#unsent.get(part.id) ?? []), [begins, ends]]));
    }
  }
}

function joined(spans) {
  const found = [];
  for (const [from, to] of [...spans].sort((one, other) => one[0] - other[0])) {
    const last = found.at(-1);
    if (last && from <= last[1]) last[1] = Math.max(last[1], to);
    else found.push([from, to]);
  }
  return found;
}
