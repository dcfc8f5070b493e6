/** Notes at a time of the recording: begun with one key, kept with Enter, listed in the order of the recording. */

import { csrfToken, postForm, Refusal } from "requests";
import { exactTimecode } from "plain";

export class Notes {
  constructor(root, desk, marks) {
    this.desk = desk;
    this.marks = marks;
    this.form = root.querySelector("[data-desk-note]");
    this.list = root.querySelector("[data-desk-notes]");
    this.none = root.querySelector("[data-desk-no-notes]");
    this.status = root.querySelector("[data-desk-status]");
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.#keep(); });
    this.form.addEventListener("keydown", (event) => { if (event.key === "Escape") this.#close(); });
    root.querySelector("[data-desk-note-cancel]").addEventListener("click", () => this.#close());
  }

  /** Notes as flags on the common axis. */
  flags() {
    return this.marks
      .map((mark) => ({ label: [mark.label, mark.note].filter(Boolean).join(": "), start: this.desk.onAxis(mark.part, mark.at) }))
      .filter((flag) => flag.start !== null);
  }

  begin(seconds) {
    this.at = seconds;
    this.form.querySelector("[data-desk-note-time]").textContent = exactTimecode(seconds);
    this.form.hidden = false;
    this.form.elements.note.focus();
  }

  #close() {
    this.form.hidden = true;
    this.form.elements.note.value = "";
    this.desk.find("stage").focus();
  }

  async #keep() {
    const { part, seconds } = this.desk.placeOf(this.at);
    const fields = { kind: this.form.elements.kind.value, at_seconds: seconds.toFixed(3), note: this.form.elements.note.value };
    try {
      const mark = await (await postForm(part.marks, fields)).json();
      this.marks.push(mark);
      this.#show(mark);
      this.status.textContent = `Kept at ${exactTimecode(this.at)}.`;
      this.#close();
      this.desk.lanes.draw();
    } catch (error) {
      this.status.textContent = error instanceof Refusal ? error.message : "The note could not be kept. It stays here; please try again.";
    }
  }

  #show(mark) {
    const item = document.createElement("li");
    const seek = document.createElement("button");
    seek.type = "button";
    seek.className = "button seek";
    seek.dataset.seek = mark.at;
    seek.dataset.part = mark.part;
    seek.textContent = mark.time;
    const words = document.createElement("span");
    words.textContent = [mark.label, mark.note].filter(Boolean).join(": ");
    item.append(seek, words, this.#takeAway(mark));
    const after = [...this.list.children].find((other) => this.#startOf(other) > this.desk.onAxis(mark.part, mark.at));
    this.list.insertBefore(item, after ?? null);
    this.none.hidden = true;
  }

  #startOf(item) {
    const { part, seek } = item.querySelector("[data-seek]").dataset;
    return this.desk.onAxis(Number(part), Number(seek));
  }

  #takeAway(mark) {
    const form = document.createElement("form");
    form.method = "post";
    form.action = mark.url;
    const token = document.createElement("input");
    token.type = "hidden";
    token.name = "csrfmiddlewaretoken";
    token.value = csrfToken();
    const button = document.createElement("button");
    button.className = "button quiet seek";
    button.textContent = "Take away";
    const which = document.createElement("span");
    which.className = "visually-hidden";
    which.textContent = ` the note at ${mark.time}`;
    button.append(which);
    form.append(token, button);
    return form;
  }
}
