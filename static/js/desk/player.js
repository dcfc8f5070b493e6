/** Plays several parts as one recording: the browser's own <audio> for each, which fetches by range and keeps the pitch.
    Tells "time" some times a second while it plays, also in a tab that nobody looks at. */

const NEXT_SECONDS = 20; // before its turn, the next part is fetched

export class Player extends EventTarget {
  #audios;
  #current = 0;
  #rate = 1;
  #volume = 1;
  #channel = "both";
  #context = null;
  #routes = new Map();

  constructor(parts) {
    super();
    this.parts = parts;
    this.loop = null; // {from, to}, seconds; `to` is null until it is chosen
    this.#audios = parts.map((part, place) => this.#audioFor(part, place));
    this.#audios[0].preload = "metadata";
  }

  get time() {
    return Math.min(this.parts[this.#current].start + this.#audio.currentTime, this.#end);
  }

  get isPlaying() {
    return !this.#audio.paused;
  }

  get rate() {
    return this.#rate;
  }

  set rate(rate) {
    this.#rate = rate;
    for (const audio of this.#audios) audio.playbackRate = rate;
  }

  set volume(volume) {
    this.#volume = volume;
    for (const audio of this.#audios) audio.volume = volume;
  }

  get channel() {
    return this.#channel;
  }

  /** One channel alone goes to both ears. */
  set channel(channel) {
    this.#channel = channel;
    this.#context ??= new AudioContext();
    this.#audios.forEach((audio, place) => { if (this.parts[place].channels === 2) this.#route(audio); });
  }

  partAt(seconds) {
    return this.parts.findLast((part) => part.start <= seconds) ?? this.parts[0];
  }

  seek(seconds) {
    const at = Math.min(Math.max(0, seconds), this.#end);
    const place = this.parts.indexOf(this.partAt(at));
    const wasPlaying = this.isPlaying;
    if (place !== this.#current) {
      this.#audio.pause();
      this.#current = place;
    }
    this.#audio.currentTime = Math.min(at - this.parts[place].start, this.parts[place].seconds);
    if (wasPlaying) this.play();
  }

  async play() {
    try {
      await this.#context?.resume();
      await this.#audio.play();
    } catch (error) {
      if (error.name !== "AbortError") this.#tell("failed"); // AbortError: paused before it began
    }
  }

  toggle() {
    if (this.isPlaying) this.#audio.pause();
    else this.play();
  }

  get #audio() {
    return this.#audios[this.#current];
  }

  get #end() {
    const last = this.parts.at(-1);
    return last.start + last.seconds;
  }

  #audioFor(part, place) {
    const audio = new Audio();
    audio.preload = "none";
    audio.src = part.audio;
    audio.preservesPitch = true;
    for (const name of ["play", "pause", "waiting", "playing"]) {
      audio.addEventListener(name, () => { if (place === this.#current) this.#tell(name); });
    }
    audio.addEventListener("error", () => this.#tell("failed"));
    audio.addEventListener("ended", () => this.#goOn(place));
    audio.addEventListener("timeupdate", () => this.#onTime(place));
    return audio;
  }

  #goOn(place) {
    if (place !== this.#current || place + 1 >= this.parts.length) return;
    this.#current = place + 1;
    this.#audio.currentTime = 0;
    this.play();
  }

  #onTime(place) {
    if (place === this.#current) this.#tell("time");
    if (this.loop?.to != null && this.isPlaying && this.time >= this.loop.to) this.seek(this.loop.from);
    const left = this.parts[place].seconds - this.#audios[place].currentTime;
    if (left < NEXT_SECONDS && place + 1 < this.#audios.length) this.#audios[place + 1].preload = "auto";
  }

  #route(audio) {
    if (!this.#routes.has(audio)) {
      const source = this.#context.createMediaElementSource(audio);
      const splitter = this.#context.createChannelSplitter(2);
      source.connect(splitter);
      this.#routes.set(audio, { splitter, merger: null });
    }
    const route = this.#routes.get(audio);
    route.merger?.disconnect();
    route.splitter.disconnect();
    route.merger = this.#context.createChannelMerger(2);
    const [left, right] = { both: [0, 1], left: [0, 0], right: [1, 1] }[this.#channel];
    route.splitter.connect(route.merger, left, 0);
    route.splitter.connect(route.merger, right, 1);
    route.merger.connect(this.#context.destination);
  }

  #tell(name) {
    this.dispatchEvent(new Event(name));
  }
}
