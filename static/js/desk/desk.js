/** The listening desk: ties the player, the drawing, the notes and what was heard to the page and its keys. */

import { exactTimecode, timecode } from "plain";
import { Cues } from "desk-cues";
import { Heard } from "desk-heard";
import { Lanes } from "desk-lanes";
import { Notes } from "desk-notes";
import { Picture } from "desk-picture";
import { Player } from "desk-player";
import { View } from "desk-view";

const RATES = [0.5, 0.75, 1, 1.25, 1.5, 2];
const CHANNELS = ["both", "left", "right"];
const STEP_SECONDS = 5;
const FINE_SECONDS = 1;
const PAGE_SECONDS = 60;
const CLOSER = 2;
// A finding begins here for the ear: the word before it tells where one is.
const LEAD_SECONDS = 1;
const NEAR_SECONDS = 0.01; // a player may stop a little beside where it was sent

class Desk {
  constructor(root) {
    this.root = root;
    const told = JSON.parse(document.getElementById("desk-told").textContent);
    this.parts = placed(told.parts);
    this.seconds = this.parts.reduce((sum, part) => sum + part.seconds, 0);
    this.flags = told.flags.map((flag) => this.#onAxis(flag)).filter(Boolean);
    this.player = new Player(this.parts);
    this.view = new View(this.seconds);
    this.pictures = this.parts.map((part) => new Picture(part, () => this.lanes.draw()));
    this.heard = new Heard(this.parts, told.heard, (sentence) => this.#say(sentence));
    this.notes = new Notes(root, this, told.marks);
    this.lanes = new Lanes(root, this);
    const words = document.querySelector("[data-cues]");
    this.cues = words ? new Cues(words, this) : null;
    this.#connect();
    for (const name of ["stage", "controls"]) this.find(name).hidden = false;
    this.lanes.resize();
    this.#showTime();
  }

  find(name) {
    return this.root.querySelector(`[data-desk-${name}]`);
  }

  /** A moment of one part as seconds of the whole recording; null for a part that is not on the axis. */
  onAxis(part, seconds) {
    const found = this.parts.find((one) => one.id === part);
    return found ? found.start + seconds : null;
  }

  /** Where a moment of the whole recording lies: the part, and the seconds in it. */
  placeOf(seconds) {
    const part = this.player.partAt(seconds);
    return { part, seconds: seconds - part.start };
  }

  seek(seconds) {
    this.player.seek(seconds);
    this.view.show(this.player.time);
    this.#showTime();
    this.lanes.draw();
  }

  /** What can be done, by the name that buttons and keys give it. */
  do(name) {
    const now = this.player.time;
    const what = {
      toggle: () => this.player.toggle(),
      back: () => this.seek(now - STEP_SECONDS),
      forward: () => this.seek(now + STEP_SECONDS),
      fineBack: () => this.seek(now - FINE_SECONDS),
      fineForward: () => this.seek(now + FINE_SECONDS),
      pageBack: () => this.seek(now - PAGE_SECONDS),
      pageForward: () => this.seek(now + PAGE_SECONDS),
      start: () => this.seek(0),
      end: () => this.seek(this.seconds),
      next: () => this.#goToFlag(1),
      previous: () => this.#goToFlag(-1),
      mark: () => this.notes.begin(now),
      write: () => this.cues?.begin(now),
      loop: () => this.#loop(),
      in: () => this.#zoom(1 / CLOSER),
      out: () => this.#zoom(CLOSER),
      all: () => this.#zoom(Infinity),
      slower: () => this.#rate(-1),
      faster: () => this.#rate(1),
      channel: () => this.#nextChannel(),
    }[name];
    what();
  }

  #onAxis(flag) {
    const start = this.onAxis(flag.part, flag.start_s);
    return start === null ? null : { ...flag, start, end: this.onAxis(flag.part, flag.end_s ?? flag.start_s) };
  }

  #connect() {
    const { player } = this;
    const play = this.root.querySelector('[data-desk-do="toggle"]');
    player.addEventListener("play", () => { play.textContent = "Pause"; this.#glide(); });
    player.addEventListener("time", () => this.#follow());
    player.addEventListener("pause", () => { play.textContent = "Play"; this.heard.flush(); });
    player.addEventListener("waiting", () => this.#say("Fetching the sound."));
    player.addEventListener("playing", () => this.#say(""));
    player.addEventListener("failed", () => this.#say("The sound could not be fetched. Please check the connection and press Play again; if you were signed out, sign in again."));
    this.root.addEventListener("click", (event) => {
      const button = event.target.closest("[data-desk-do]");
      if (button) this.do(button.dataset.deskDo);
    });
    document.addEventListener("click", (event) => this.#onSeekButton(event));
    this.find("rate").addEventListener("change", ({ target }) => { player.rate = Number(target.value); });
    this.find("volume").addEventListener("input", ({ target }) => { player.volume = Number(target.value); });
    this.find("channel").addEventListener("change", ({ target }) => { player.channel = target.value; });
    this.find("channels").hidden = !this.parts.some((part) => part.channels === 2);
    player.volume = Number(this.find("volume").value);
    this.find("stage").addEventListener("keydown", (event) => this.#onKey(event));
    this.#connectPointer();
    new ResizeObserver(() => this.lanes.resize()).observe(this.find("stage"));
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.lanes.recolour());
  }

  #connectPointer() {
    const stage = this.find("stage");
    stage.addEventListener("click", (event) => {
      const box = stage.getBoundingClientRect();
      const share = (event.clientX - box.left) / box.width;
      const isOverview = event.target.dataset.deskLane === "overview";
      this.seek(isOverview ? share * this.seconds : this.view.from + share * this.view.span);
    });
    stage.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !event.shiftKey) return; // the page itself scrolls
      event.preventDefault();
      const box = stage.getBoundingClientRect();
      if (event.ctrlKey) this.view.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.view.from + ((event.clientX - box.left) / box.width) * this.view.span);
      else this.view.move((event.deltaX || event.deltaY) / box.width);
      this.lanes.draw();
    }, { passive: false });
  }

  #onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== this.find("stage")) return;
    const keys = {
      " ": "toggle", ArrowLeft: "back", ArrowDown: "back", ArrowRight: "forward", ArrowUp: "forward",
      PageDown: "pageBack", PageUp: "pageForward", Home: "start", End: "end", n: "next", p: "previous", m: "mark",
      w: "write", l: "loop", "+": "in", "=": "in", "-": "out", 0: "all", ",": "slower", ".": "faster", c: "channel",
    };
    const fine = { ArrowLeft: "fineBack", ArrowRight: "fineForward" };
    const name = (event.shiftKey && fine[event.key]) || keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!name) return;
    event.preventDefault();
    this.do(name);
  }

  #onSeekButton(event) {
    const button = event.target.closest("[data-seek]");
    const part = Number(button?.dataset.part ?? button?.closest("[data-desk-part]")?.dataset.deskPart);
    const seconds = button ? this.onAxis(part, Number(button.dataset.seek)) : null;
    if (seconds === null) return;
    this.seek(seconds);
    this.player.play();
  }

  #goToFlag(direction) {
    const now = this.player.time + LEAD_SECONDS;
    const places = [...this.flags, ...this.notes.flags()].sort((one, other) => one.start - other.start);
    const found = direction > 0 ? places.find((flag) => flag.start > now + NEAR_SECONDS) : places.findLast((flag) => flag.start < now - NEAR_SECONDS);
    if (!found) {
      this.#say(direction > 0 ? "There is no finding after this." : "There is no finding before this.");
      return;
    }
    this.seek(Math.max(0, found.start - LEAD_SECONDS));
    this.#say(`${found.label}, at ${exactTimecode(found.start)}`);
  }

  #loop() {
    const { player } = this;
    const button = this.root.querySelector('[data-desk-do="loop"]');
    if (!player.loop) player.loop = { from: player.time, to: null };
    else if (player.loop.to === null && player.time > player.loop.from) player.loop = { ...player.loop, to: player.time };
    else player.loop = null;
    const isWhole = player.loop?.to != null;
    button.setAttribute("aria-pressed", String(isWhole));
    button.textContent = !player.loop ? "Repeat from here" : isWhole ? "Stop repeating" : "Repeat to here";
    if (isWhole) player.seek(player.loop.from);
    this.lanes.draw();
  }

  #zoom(factor) {
    this.view.zoom(factor, this.player.time);
    this.lanes.draw();
    this.#say(`Shown: ${exactTimecode(this.view.from)} to ${exactTimecode(this.view.to)}`);
  }

  #rate(direction) {
    const at = RATES.indexOf(this.player.rate) + direction;
    const rate = RATES[Math.min(Math.max(0, at), RATES.length - 1)];
    this.player.rate = rate;
    this.find("rate").value = String(rate);
    this.#say(`Speed ${rate}`);
  }

  #nextChannel() {
    if (this.find("channels").hidden) return;
    this.player.channel = CHANNELS[(CHANNELS.indexOf(this.player.channel) + 1) % CHANNELS.length];
    const select = this.find("channel");
    select.value = this.player.channel;
    this.#say(`Heard: ${select.selectedOptions[0].textContent}`);
  }

  #follow() {
    const { time } = this.player;
    this.heard.at(time, this.player.isPlaying);
    this.cues?.at(time);
    if (this.view.follow(time)) this.lanes.draw();
    this.#showTime();
  }

  /** Between two looks at the time the playhead moves evenly. */
  #glide() {
    this.lanes.showPlayhead(this.player.time);
    if (this.player.isPlaying) requestAnimationFrame(() => this.#glide());
  }

  #showTime() {
    const now = this.player.time;
    const { part } = this.placeOf(now);
    const where = this.parts.length > 1 ? `, ${part.label.toLowerCase()}` : "";
    const told = `${timecode(now)} of ${timecode(this.seconds)}${where}`;
    if (told !== this.told) {
      this.told = told;
      this.find("time").textContent = told;
      const stage = this.find("stage");
      stage.setAttribute("aria-valuenow", Math.round(now));
      stage.setAttribute("aria-valuetext", told);
      this.find("heard").textContent = `You have heard ${Math.floor(this.heard.share * 100)} % of it.`;
    }
    this.lanes.showPlayhead(now);
  }

  #say(sentence) {
    this.find("status").textContent = sentence;
  }
}

/** Each part with the second at which it begins on the common axis. */
function placed(parts) {
  let start = 0;
  return parts.map((part) => {
    const here = { ...part, start };
    start += part.seconds;
    return here;
  });
}

const root = document.querySelector("[data-desk]");
if (root) new Desk(root);
