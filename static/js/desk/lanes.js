/** Draws the lanes of the listening desk, one above the other on one time axis. */

import { timecode } from "plain";
import { keyEntry, spanClass } from "strip-key";

const QUIETEST_LUFS = -60;
const LOUDEST_LUFS = -5;
const LUFS_LINES = [-50, -35, -20];
const LEAST_WIDE = 3; // pixels of a finding that is shorter than one
const STEPS = [0.01, 0.05, 0.1, 0.5, 1, 5, 10, 30, 60, 300, 600, 1800, 3600];
const BETWEEN_TICKS = 90; // pixels at least

export class Lanes {
  #frame = 0;

  constructor(root, desk) {
    this.desk = desk;
    this.stage = root.querySelector("[data-desk-stage]");
    this.playhead = root.querySelector("[data-desk-playhead]");
    this.canvases = Object.fromEntries([...root.querySelectorAll("[data-desk-lane]")].map((one) => [one.dataset.deskLane, one]));
    this.#showKey(root.querySelector("[data-desk-key]"));
    this.recolour();
  }

  recolour() {
    const style = getComputedStyle(document.documentElement);
    const names = ["ink", "ink-soft", "rule", "sheet", "river", "moss", "ochre", "brick", "wave", "wave-played"];
    this.colours = Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
    this.hatches = null;
    this.draw();
  }

  resize() {
    const scale = devicePixelRatio || 1;
    for (const canvas of Object.values(this.canvases)) {
      const { width, height } = canvas.getBoundingClientRect();
      canvas.width = Math.max(1, Math.round(width * scale));
      canvas.height = Math.max(1, Math.round(height * scale));
    }
    this.scale = scale;
    this.draw();
    this.showPlayhead(this.desk.player.time);
  }

  /** Draw once before the next frame, however often it is asked for. */
  draw() {
    if (this.#frame) return;
    this.#frame = requestAnimationFrame(() => {
      this.#frame = 0;
      this.#drawAll();
    });
  }

  showPlayhead(seconds) {
    const share = (seconds - this.desk.view.from) / this.desk.view.span;
    this.playhead.hidden = share < 0 || share > 1;
    this.playhead.style.left = `${share * 100}%`;
  }

  #drawAll() {
    this.hatches ??= this.#hatches();
    this.#overview();
    for (const name of ["outline", "loudness", "spectrum"]) this.#lane(name);
    this.#flags();
    this.showPlayhead(this.desk.player.time);
  }

  #lane(name) {
    const { context, width, height } = this.#clean(name);
    const { view } = this.desk;
    const axis = { x: (seconds) => ((seconds - view.from) / view.span) * width, width, height, perPixel: view.span / width };
    if (name === "loudness") this.#lufsLines(context, axis);
    for (const picture of this.desk.pictures) {
      const { start, seconds } = picture.part;
      if (start > view.to || start + seconds < view.from) continue;
      if (picture.isReady) this[`_${name}`](context, axis, picture);
      if (start > view.from) this.#line(context, axis.x(start), height, this.colours["ink-soft"]);
    }
    if (name === "outline") this.#ticks(context, axis);
  }

  #clean(name) {
    const canvas = this.canvases[name];
    const context = canvas.getContext("2d");
    context.clearRect(0, 0, canvas.width, canvas.height);
    return { context, width: canvas.width, height: canvas.height };
  }

  #tilesOf(axis, picture) {
    const { start, seconds } = picture.part;
    const from = Math.max(0, this.desk.view.from - start);
    const to = Math.min(seconds, this.desk.view.to - start);
    const level = picture.levelFor(axis.perPixel);
    const found = picture.tiles(level, from, to);
    // Until the finer ones are here, the whole is better than nothing.
    return found.length ? found : [picture.whole].filter(Boolean);
  }

  _outline(context, axis, picture) {
    context.fillStyle = this.colours.wave;
    for (const tile of this.#tilesOf(axis, picture)) {
      const { start } = picture.part;
      const first = Math.max(0, Math.floor(axis.x(start + tile.from)));
      const last = Math.min(axis.width, Math.ceil(axis.x(start + tile.to)));
      const lane = axis.height / tile.channels;
      for (let channel = 0; channel < tile.channels; channel += 1) {
        const middle = lane * (channel + 0.5);
        for (let x = first; x < last; x += 1) {
          const from = this.desk.view.from + x * axis.perPixel - start;
          const pair = tile.extremes(channel, from, from + axis.perPixel);
          if (!pair) continue;
          const top = middle - (pair[1] * lane) / 2;
          context.fillRect(x, top, 1, Math.max(1, ((pair[1] - pair[0]) * lane) / 2));
        }
      }
    }
  }

  _spectrum(context, axis, picture) {
    for (const tile of this.#tilesOf(axis, picture)) {
      const from = axis.x(picture.part.start + tile.from);
      const to = axis.x(picture.part.start + tile.to);
      context.drawImage(tile.image(rgb(this.colours.ink)), from, 0, to - from, axis.height);
    }
  }

  _loudness(context, axis, picture) {
    for (const tile of this.#tilesOf(axis, picture)) {
      this.#curve(context, axis, picture, tile, 0, this.colours.wave, 1);
      this.#curve(context, axis, picture, tile, 1, this.colours.river, 2);
    }
  }

  #curve(context, axis, picture, tile, kind, colour, wide) {
    context.strokeStyle = colour;
    context.lineWidth = wide * this.scale;
    context.beginPath();
    let isDown = false;
    for (let column = 0; column < tile.columns; column += 1) {
      const lufs = tile.lufs(kind, column);
      if (lufs === null) {
        isDown = false;
        continue;
      }
      const x = axis.x(picture.part.start + tile.from + (column + 0.5) * tile.columnSeconds);
      const y = this.#lufsAt(lufs, axis.height);
      if (isDown) context.lineTo(x, y);
      else context.moveTo(x, y);
      isDown = true;
    }
    context.stroke();
  }

  #lufsAt(lufs, height) {
    const share = (lufs - QUIETEST_LUFS) / (LOUDEST_LUFS - QUIETEST_LUFS);
    return height * (1 - Math.min(Math.max(0, share), 1));
  }

  #lufsLines(context, axis) {
    context.font = `${10 * this.scale}px system-ui`;
    for (const lufs of LUFS_LINES) {
      const y = this.#lufsAt(lufs, axis.height);
      context.fillStyle = this.colours.rule;
      context.fillRect(0, y, axis.width, 1);
      context.fillStyle = this.colours["ink-soft"];
      context.fillText(`${lufs} LUFS`, 4 * this.scale, y - 2 * this.scale);
    }
  }

  #ticks(context, axis) {
    const step = STEPS.find((one) => one / axis.perPixel >= BETWEEN_TICKS * this.scale) ?? STEPS.at(-1);
    context.font = `${10 * this.scale}px system-ui`;
    for (let at = Math.ceil(this.desk.view.from / step) * step; at <= this.desk.view.to; at += step) {
      const x = axis.x(at);
      this.#line(context, x, axis.height, this.colours.rule);
      context.fillStyle = this.colours["ink-soft"];
      context.fillText(step < 1 ? at.toFixed(2) : timecode(at + 1e-6), x + 3 * this.scale, axis.height - 3 * this.scale);
    }
  }

  #line(context, x, height, colour) {
    context.fillStyle = colour;
    context.fillRect(Math.round(x), 0, 1, height);
  }

  #flags() {
    const { view } = this.desk;
    const canvas = this.canvases.outline;
    const context = canvas.getContext("2d");
    const x = (seconds) => ((seconds - view.from) / view.span) * canvas.width;
    for (const flag of this.desk.flags) {
      if (flag.end < view.from || flag.start > view.to) continue;
      if (flag.kind === "mark") this.#pole(context, x(flag.start), canvas.height, this.colours.ink);
      else this.#span(context, x(flag.start), x(flag.end), 0, canvas.height, flag.standing);
    }
    for (const flag of this.desk.notes.flags()) this.#pole(context, x(flag.start), canvas.height, this.colours.river);
    const { loop } = this.desk.player;
    if (loop) this.#span(context, x(loop.from), x(loop.to ?? loop.from), canvas.height - 6 * this.scale, 6 * this.scale, "repeat");
  }

  #span(context, from, to, top, height, standing) {
    const wide = Math.max(LEAST_WIDE * this.scale, to - from);
    context.fillStyle = this.hatches[standing] ?? this.hatches.note;
    context.fillRect(from, top, wide, height);
  }

  #pole(context, x, height, colour) {
    context.fillStyle = colour;
    context.fillRect(x, 0, 2 * this.scale, height);
    context.beginPath();
    context.moveTo(x, 0);
    context.lineTo(x + 9 * this.scale, 5 * this.scale);
    context.lineTo(x, 10 * this.scale);
    context.fill();
  }

  #overview() {
    const { context, width, height } = this.#clean("overview");
    const { seconds, view } = this.desk;
    const axis = { x: (at) => (at / seconds) * width, width, height, perPixel: seconds / width };
    context.fillStyle = this.colours.wave;
    for (const picture of this.desk.pictures) if (picture.isReady) this.#overviewOf(context, axis, picture);
    for (const flag of this.desk.flags) {
      if (flag.kind !== "mark") this.#span(context, axis.x(flag.start), axis.x(flag.end), 0, height * 0.3, flag.standing);
    }
    context.fillStyle = this.colours.moss;
    for (const [from, to] of this.desk.heard.spans()) {
      context.fillRect(axis.x(from), height - 4 * this.scale, Math.max(1, axis.x(to) - axis.x(from)), 4 * this.scale);
    }
    context.strokeStyle = this.colours.ink;
    context.lineWidth = 2 * this.scale;
    context.strokeRect(axis.x(view.from) + 1, 1, Math.max(4 * this.scale, axis.x(view.to) - axis.x(view.from)) - 2, height - 2);
    this.#line(context, axis.x(this.desk.player.time), height, this.colours.river);
  }

  #overviewOf(context, axis, picture) {
    const tile = picture.whole;
    if (!tile) return;
    const { start, seconds } = picture.part;
    for (let x = Math.floor(axis.x(start)); x < axis.x(start + seconds); x += 1) {
      let loudest = 0;
      for (let channel = 0; channel < tile.channels; channel += 1) {
        const from = x * axis.perPixel - start;
        const pair = tile.extremes(channel, from, from + axis.perPixel);
        if (pair) loudest = Math.max(loudest, pair[1], -pair[0]);
      }
      context.fillRect(x, (axis.height * (1 - loudest)) / 2, 1, Math.max(1, axis.height * loudest));
    }
  }

  /** Hatching differs by standing in direction and density, so that it is told apart without colour. */
  #hatches() {
    const made = {
      problem: ["brick", [[0, 0, 8, 8], [8, 0, 0, 8]]],
      "look closer": ["ochre", [[0, 8, 8, 0]]],
      note: ["river", [[0, 4, 8, 4]]],
      closed: ["ink", [[2, 0, 2, 8], [6, 0, 6, 8]]],
      repeat: ["moss", [[0, 2, 8, 2], [0, 6, 8, 6]]],
    };
    return Object.fromEntries(Object.entries(made).map(([name, [colour, lines]]) => [name, this.#hatch(this.colours[colour], lines)]));
  }

  #hatch(colour, lines) {
    const canvas = new OffscreenCanvas(8, 8);
    const context = canvas.getContext("2d");
    context.strokeStyle = colour;
    context.lineWidth = 1.2;
    for (const [fromX, fromY, toX, toY] of lines) {
      context.beginPath();
      context.moveTo(fromX, fromY);
      context.lineTo(toX, toY);
      context.stroke();
    }
    return context.createPattern(canvas, "repeat");
  }

  #showKey(key) {
    const standings = new Set(this.desk.flags.filter((flag) => flag.kind !== "mark").map((flag) => flag.standing));
    for (const standing of standings) key.append(keyEntry(spanClass(standing), standing));
    key.hidden = standings.size === 0;
  }
}

/** Red, green and blue of a colour written as #rrggbb. */
function rgb(hex) {
  return [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
}
