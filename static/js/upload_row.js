/** One file in hand, as the upload panel shows it: how far it is, what can be done, and what is wrong. */

import { roughly, size } from "plain";

const ANNOUNCE_EVERY_PERCENT = 10;

export class Row {
  constructor(template, list, file) {
    this.item = template.content.firstElementChild.cloneNode(true);
    list.append(this.item);
    this.state = "waiting";
    this.percent = 0;
    this.announced = 0;
    this.part("name").textContent = file.name;
    this.part("size").textContent = size(file.size);
    this.part("bar").setAttribute("aria-label", `${file.name}, arrived`);
    for (const name of ["pause", "resume", "stop", "leave", "anyway"]) {
      this.part(name).setAttribute("aria-label", `${this.part(name).textContent} ${file.name}`);
    }
  }

  part(name) {
    return this.item.querySelector(`[data-row-${name}]`);
  }

  on(name, action) {
    this.part(name).addEventListener("click", action);
  }

  focus(name) {
    if (!this.part(name).hidden) this.part(name).focus();
  }

  show(sending) {
    this.state = sending.state;
    this.percent = Math.floor((100 * sending.arrived) / sending.file.size);
    this.part("bar").value = this.percent;
    this.part("figures").textContent = this.#figures(sending);
    this.#say(sending.sentence, sending.state);
    this.#offer(sending.state);
  }

  /** What the file's own header says of it. */
  tell(facts) {
    this.part("facts").textContent = facts;
    this.part("facts").hidden = !facts;
  }

  refuse(reason) {
    this.state = "failed";
    for (const name of ["bar", "pause", "resume", "stop", "figures"]) this.part(name).hidden = true;
    if (this.part("size").textContent === size(0)) this.part("size").hidden = true;
    this.#say(reason, "failed");
  }

  /** Leave it out, or send it anyway: the person decides. */
  ask(question) {
    this.refuse(question);
    for (const name of ["leave", "anyway"]) this.part(name).hidden = false;
  }

  /** True at most once for every ten percent. */
  crossedAnnouncement() {
    const step = Math.floor(this.percent / ANNOUNCE_EVERY_PERCENT);
    if (step <= this.announced) return false;
    this.announced = step;
    return true;
  }

  #say(sentence, state) {
    const line = this.part("state");
    if (line.textContent !== sentence) line.textContent = sentence;
    line.classList.toggle("is-problem", ["failed", "signed-out"].includes(state));
    line.classList.toggle("is-good", state === "done");
  }

  #offer(state) {
    const focused = document.activeElement;
    this.part("pause").hidden = !["waiting", "sending", "offline"].includes(state);
    this.part("resume").hidden = !["paused", "failed", "signed-out"].includes(state);
    this.part("sign-in").hidden = state !== "signed-out";
    this.part("stop").hidden = ["done", "stopped", "comparing"].includes(state);
    if (focused.hidden && this.item.contains(focused)) this.focus(this.part("resume").hidden ? "pause" : "resume");
  }

  #figures(sending) {
    if (sending.state === "comparing" && sending.hashed < sending.file.size) {
      return `Your own file: ${Math.floor((100 * sending.hashed) / sending.file.size)} % read`;
    }
    if (sending.state !== "sending") return `${this.percent} %`;
    const speed = sending.bytesPerSecond;
    if (!speed) return `${this.percent} %`;
    const left = roughly((sending.file.size - sending.arrived) / speed);
    return `${this.percent} %, ${(speed / 1e6).toFixed(1)} MB/s, ${left} left`;
  }
}
