/** Words beside the sound: written at the playhead with one key, kept one by one, shown as the sound reaches them. */

import { postForm, Refusal } from "requests";

const MS = 1000;
const KEYS = { " ": "toggle", b: "back" };

export class Cues {
  #editing = null; // the item whose words are being changed; null for new ones
  #part = null;

  constructor(root, desk) {
    this.desk = desk;
    this.list = root.querySelector("[data-cue-list]");
    this.form = root.querySelector("[data-cue-form]");
    this.status = root.querySelector("[data-cue-status]");
    this.none = root.querySelector("[data-cue-none]");
    if (!this.form) return; // may be read, and not changed
    this.urls = JSON.parse(root.dataset.urls);
    this.row = document.createElement("li"); // the form stands among the words
    this.row.append(this.form);
    for (const plain of root.querySelectorAll("[data-cue-plain]")) plain.hidden = true;
    const fresh = root.querySelector("[data-cue-new]");
    fresh.hidden = false;
    fresh.addEventListener("click", () => this.begin(desk.player.time));
    this.list.addEventListener("click", (event) => this.#onChange(event));
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.#keep(); });
    this.form.addEventListener("keydown", (event) => this.#onKey(event));
    this.form.addEventListener("click", ({ target }) => this.#onButton(target));
  }

  /** New words at a moment of the whole recording. */
  begin(seconds) {
    if (!this.form) return;
    const { part, seconds: at } = this.desk.placeOf(seconds);
    const last = this.#before(part.id, at * MS);
    this.#open(null, part.id, { from_seconds: typed(at * MS), to_seconds: "", voice: last?.dataset.voice ?? "", words: "" });
    if (last) last.after(this.row);
    else this.list.prepend(this.row);
    this.form.elements.words.focus();
  }

  /** Show which words belong to a moment of the whole recording. */
  at(seconds) {
    const { part, seconds: here } = this.desk.placeOf(seconds);
    const now = this.#before(part.id, here * MS);
    if (now === this.now) return;
    this.now?.removeAttribute("aria-current");
    now?.setAttribute("aria-current", "true");
    this.now = now;
    if (now && this.desk.player.isPlaying && !this.row?.isConnected) this.list.scrollTop = now.offsetTop - this.list.clientHeight / 3;
  }

  #open(item, part, fields) {
    this.#editing = item;
    this.#part = part;
    for (const [name, value] of Object.entries(fields)) this.form.elements[name].value = value;
    this.began = fields.words;
    this.form.hidden = false;
    this.form.querySelector("[data-cue-remove]").hidden = item === null;
  }

  #close() {
    this.row.remove();
    this.desk.find("stage").focus();
  }

  #onChange(event) {
    const link = event.target.closest("[data-cue-change]");
    if (!link) return;
    event.preventDefault();
    const item = link.closest("[data-cue]");
    const { part, start, end, voice } = item.dataset;
    const words = item.querySelector("[data-cue-words]").textContent;
    this.#open(item, Number(part), { from_seconds: typed(Number(start)), to_seconds: end ? typed(Number(end)) : "", voice, words });
    item.after(this.row);
    this.form.elements.words.focus();
  }

  #onKey(event) {
    if (event.key === "Escape") {
      event.preventDefault();
      this.#close();
    } else if (event.ctrlKey && event.key === "Enter") {
      event.preventDefault();
      this.#keep({ goOn: true });
    } else if (event.ctrlKey && KEYS[event.key.toLowerCase()]) {
      event.preventDefault();
      this.desk.do(KEYS[event.key.toLowerCase()]);
    }
  }

  #onButton(target) {
    const { cueNow } = target.dataset;
    if (cueNow) this.form.elements[cueNow].value = typed(this.desk.placeOf(this.desk.player.time).seconds * MS);
    if ("cueNext" in target.dataset) this.#keep({ goOn: true });
    if ("cueLeave" in target.dataset) this.#close();
    if ("cueRemove" in target.dataset) this.#remove();
  }

  async #keep({ goOn = false } = {}) {
    const item = this.#editing;
    const url = item ? item.querySelector("[data-cue-change]").href : this.urls[this.#part];
    const fields = { part: this.#part, began: this.began, ...Object.fromEntries(new FormData(this.form)) };
    try {
      const kept = await this.#told(url, fields);
      item?.remove();
      this.#place(kept);
      this.status.textContent = "Kept.";
      if (goOn) this.#goOn(kept);
      else this.#close();
    } catch (error) {
      this.status.textContent = error instanceof Refusal ? error.message : "It could not be kept. What you wrote stays here; please try again.";
    }
  }

  /** The next words, where these end. */
  #goOn(kept) {
    const { part, end } = kept.dataset;
    const start = this.desk.onAxis(Number(part), (end ? Number(end) : 0) / MS);
    this.begin(end ? start : this.desk.player.time);
  }

  async #remove() {
    const item = this.#editing;
    try {
      await postForm(new URL("take-away/", item.querySelector("[data-cue-change]").href), {});
      this.#close();
      item.remove();
      this.status.textContent = "Taken away.";
    } catch (error) {
      this.status.textContent = error instanceof Refusal ? error.message : "It could not be taken away; please try again.";
    }
  }

  /** Our server answers with the item as the page would have it. */
  async #told(url, fields) {
    const answer = await postForm(url, fields);
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    return document.adoptNode(fresh.querySelector("[data-cue]"));
  }

  #place(item) {
    const before = this.#before(Number(item.dataset.part), Number(item.dataset.start));
    if (before) before.after(item);
    else this.list.prepend(item);
    this.none?.setAttribute("hidden", "");
  }

  /** The last words that begin at a moment of a part, or before it. */
  #before(part, ms) {
    const at = this.desk.onAxis(part, ms / MS);
    return [...this.list.querySelectorAll("[data-cue]")].findLast((one) => this.desk.onAxis(Number(one.dataset.part), Number(one.dataset.start) / MS) <= at);
  }
}

/** Milliseconds as the field takes them: "2:33.512", or "1:02:33.512" after an hour. */
function typed(ms) {
  const whole = Math.max(0, Math.round(ms));
  const [hours, minutes] = [Math.floor(whole / 3_600_000), Math.floor(whole / 60_000) % 60];
  const seconds = ((whole % 60_000) / MS).toFixed(3).padStart(6, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${seconds}` : `${minutes}:${seconds}`;
}
