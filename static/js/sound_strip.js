/** The sound strip: a waveform from stored peaks over the browser's own <audio>, which fetches by range; nothing is decoded whole. */

import WaveSurfer from "wavesurfer";
import { exactTimecode, timecode } from "plain";
import { keyEntry, spanClass } from "strip-key";

const STEP_SECONDS = 5;
const HEIGHT_PX = 96;
const PEAK_FULL_SCALE = 127;
const players = new Map(); // [data-strip-player] -> Strip

/** json_script content by id, or the fallback when there is no such element. */
function stored(id, fallback) {
  const element = id ? document.getElementById(id) : null;
  return element ? JSON.parse(element.textContent) : fallback;
}

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

class Strip {
  constructor(root) {
    this.root = root;
    this.title = root.querySelector(".strip-head").textContent;
    this.seconds = Number(root.dataset.seconds);
    this.audio = this.find("audio");
    this.flags = stored(root.dataset.flags, []);
    this.#draw(stored(root.dataset.peaks, null));
    this.#showFlags();
    this.#listen();
    this.#takeOver();
    this.#showTime();
  }

  find(name) {
    return this.root.querySelector(`[data-strip-${name}]`);
  }

  seek(seconds) {
    this.audio.currentTime = Math.min(Math.max(0, seconds), this.seconds);
    this.#showTime();
  }

  async playFrom(seconds) {
    for (const other of players.values()) if (other !== this) other.audio.pause();
    this.seek(seconds);
    await this.play();
  }

  async play() {
    try {
      await this.audio.play();
    } catch (error) {
      if (error.name !== "AbortError") this.#sayFailed(); // AbortError: paused before it began
    }
  }

  toggle() {
    if (this.audio.paused) this.play();
    else this.audio.pause();
  }

  #draw(stored) {
    this.find("stage").hidden = false; // it must have a width before it is drawn
    if (!stored) {
      this.#say("The waveform is not ready yet. You can listen already.");
      return;
    }
    this.wave = WaveSurfer.create({
      container: this.find("wave"),
      media: this.audio,
      peaks: stored.peaks.map((channel) => Float32Array.from(channel, (value) => value / PEAK_FULL_SCALE)),
      duration: this.seconds,
      height: HEIGHT_PX,
      cursorWidth: 2,
      interact: false, // clicks are handled here, so that they work without peaks too
      cspNonce: document.querySelector("script[nonce]").nonce,
      ...this.#colours(),
    });
    this.wave.on("error", () => this.#sayFailed());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.wave.setOptions(this.#colours()));
  }

  #colours() {
    return { waveColor: colour("--wave"), progressColor: colour("--wave-played"), cursorColor: colour("--ink") };
  }

  #showFlags() {
    const overlay = this.find("overlay");
    for (const flag of this.flags) {
      const shape = document.createElement("div");
      shape.className = flag.kind === "mark" ? "strip-flag" : spanClass(flag.standing);
      shape.style.left = this.#percent(flag.start_s);
      if (flag.kind !== "mark") shape.style.width = this.#percent((flag.end_s ?? flag.start_s) - flag.start_s);
      shape.title = flag.label;
      overlay.append(shape);
    }
    this.#showKey();
  }

  #showKey() {
    const standings = new Set(this.flags.filter((flag) => flag.kind !== "mark").map((flag) => flag.standing));
    const key = this.find("key");
    for (const standing of standings) key.append(keyEntry(spanClass(standing), standing));
    if (this.flags.some((flag) => flag.kind === "mark")) key.append(keyEntry("strip-flag", "mark"));
    key.hidden = key.childElementCount === 0;
  }

  #percent(seconds) {
    return `${(100 * Math.max(0, seconds)) / this.seconds}%`;
  }

  #takeOver() {
    this.audio.controls = false;
    this.audio.hidden = true;
    this.audio.volume = Number(this.find("volume").value);
    this.find("controls").hidden = false;
  }

  #listen() {
    const { audio } = this;
    const play = this.find("play");
    audio.addEventListener("play", () => { play.textContent = "Pause"; });
    audio.addEventListener("pause", () => { play.textContent = "Play"; });
    audio.addEventListener("timeupdate", () => this.#showTime());
    audio.addEventListener("error", () => this.#sayFailed());
    audio.addEventListener("playing", () => this.#say(""));
    audio.addEventListener("waiting", () => this.#say("Fetching the sound."));
    play.addEventListener("click", () => this.toggle());
    for (const button of this.root.querySelectorAll("[data-strip-skip]")) {
      button.addEventListener("click", () => this.seek(audio.currentTime + Number(button.dataset.stripSkip)));
    }
    this.find("volume").addEventListener("input", ({ target }) => { audio.volume = Number(target.value); });
    this.#listenOnStage();
  }

  #listenOnStage() {
    const stage = this.find("stage");
    stage.addEventListener("click", (event) => {
      const box = stage.getBoundingClientRect();
      this.seek((this.seconds * (event.clientX - box.left)) / box.width);
    });
    stage.addEventListener("keydown", (event) => {
      const action = this.#actionFor(event.key);
      if (!action || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      action();
    });
  }

  #actionFor(key) {
    const now = this.audio.currentTime;
    return {
      " ": () => this.toggle(),
      ArrowLeft: () => this.seek(now - STEP_SECONDS),
      ArrowDown: () => this.seek(now - STEP_SECONDS),
      ArrowRight: () => this.seek(now + STEP_SECONDS),
      ArrowUp: () => this.seek(now + STEP_SECONDS),
      PageDown: () => this.seek(now - 12 * STEP_SECONDS),
      PageUp: () => this.seek(now + 12 * STEP_SECONDS),
      Home: () => this.seek(0),
      End: () => this.seek(this.seconds),
    }[key];
  }

  #showTime() {
    const now = this.audio.currentTime;
    this.find("time").textContent = `${timecode(now)} of ${timecode(this.seconds)}`;
    const stage = this.find("stage");
    stage.setAttribute("aria-valuenow", Math.round(now));
    stage.setAttribute("aria-valuetext", `${timecode(now)} of ${timecode(this.seconds)}`);
  }

  #say(sentence) {
    this.find("status").textContent = sentence;
  }

  #sayFailed() {
    this.#say("The sound could not be fetched. Please check the connection and press Play again; if you were signed out, sign in again.");
  }
}

/** The player a [data-seek] button speaks to: the one of its own [data-strip], else the first of the page. */
function playerFor(button) {
  const near = button.closest("[data-strip]");
  const root = near?.matches("[data-strip-player]") ? near : near?.querySelector("[data-strip-player]");
  return players.get(root ?? document.querySelector("[data-strip-player]"));
}

function openAll() {
  for (const root of players.keys()) if (!root.isConnected) players.delete(root);
  for (const root of document.querySelectorAll("[data-strip-player]")) {
    if (!players.has(root)) players.set(root, new Strip(root));
  }
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-seek]");
  if (button) playerFor(button)?.playFrom(Number(button.dataset.seek));
});
/** Buttons that put the player's place into a field of the same page. */
function offerTimes() {
  for (const button of document.querySelectorAll("[data-take-time]")) {
    button.hidden = !playerFor(button);
    button.addEventListener("click", () => {
      document.getElementById(button.dataset.takeTime).value = exactTimecode(playerFor(button).audio.currentTime);
    });
  }
}

document.addEventListener("htmx:after:swap", openAll);
openAll();
offerTimes();
