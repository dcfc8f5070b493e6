/** The sound picture of one part (audio_qc/picture.py says how it is built): fetches the tiles that are looked at, and keeps some. */

import { account } from "requests";

const MOST_TILES = 300; // kept; one is some 150 kB unpacked
const NONE = 0;

export class Picture {
  #tiles = new Map(); // "level/number" -> Tile, or null while it is on its way
  #index = null;

  /** `changed` is called whenever something more can be drawn. */
  constructor(part, changed) {
    this.part = part;
    this.changed = changed;
    if (part.picture) this.#open();
  }

  get isReady() {
    return this.#index !== null;
  }

  /** The coarsest level whose columns are not wider than a pixel. */
  levelFor(secondsPerPixel) {
    const { tile_seconds, columns, factor, levels } = this.#index;
    const wide = tile_seconds / columns;
    const level = Math.floor(Math.log(secondsPerPixel / wide) / Math.log(factor));
    return Math.min(Math.max(0, level), levels.length - 1);
  }

  /** The tiles of a level that show any of a stretch, those that are here; the others are asked for. Each has from, to. */
  tiles(level, from, to) {
    const seconds = this.tileSeconds(level);
    const first = Math.max(0, Math.floor(from / seconds));
    const last = Math.min(this.#index.levels[level] - 1, Math.floor(to / seconds));
    const found = [];
    for (let number = first; number <= last; number += 1) {
      const tile = this.#tile(level, number);
      if (tile) found.push(tile);
    }
    return found;
  }

  /** The one tile that holds the whole part. */
  get whole() {
    return this.#tile(this.#index.levels.length - 1, 0);
  }

  tileSeconds(level) {
    return this.#index.tile_seconds * this.#index.factor ** level;
  }

  async #open() {
    const answer = await fetch(this.part.picture, { headers: { "X-Account": account() } });
    if (!answer.ok) return; // not drawn, or not to be seen any more: it can be listened to all the same
    this.#index = await answer.json();
    this.changed();
  }

  #tile(level, number) {
    const key = `${level}/${number}`;
    if (!this.#tiles.has(key)) this.#fetch(key, level, number);
    const tile = this.#tiles.get(key);
    if (tile) {
      this.#tiles.delete(key); // the longest unused stands first
      this.#tiles.set(key, tile);
    }
    return tile;
  }

  async #fetch(key, level, number) {
    this.#tiles.set(key, null);
    const answer = await fetch(`${this.part.picture}${key}/`, { headers: { "X-Account": account() } }).catch(() => null);
    if (!answer?.ok) {
      this.#tiles.delete(key);
      return;
    }
    this.#tiles.set(key, new Tile(await answer.arrayBuffer(), this.#index, level, number));
    while (this.#tiles.size > MOST_TILES) this.#tiles.delete(this.#tiles.keys().next().value);
    this.changed();
  }
}

/** Some columns of one level, unpacked. Times are seconds of the part. */
class Tile {
  constructor(buffer, index, level, number) {
    const { channels, pairs, rows } = index;
    this.channels = channels;
    this.rows = rows;
    this.pairs = pairs;
    this.columns = buffer.byteLength / (channels * pairs * 2 + rows + 2);
    this.columnSeconds = (index.tile_seconds / index.columns) * index.factor ** level;
    this.from = number * index.tile_seconds * index.factor ** level;
    this.to = this.from + this.columns * this.columnSeconds;
    const spectrumAt = this.columns * channels * pairs * 2;
    this.outline = new Int8Array(buffer, 0, spectrumAt);
    this.spectrum = new Uint8Array(buffer, spectrumAt, this.columns * rows);
    this.loudness = new Uint8Array(buffer, spectrumAt + this.columns * rows);
  }

  /** Lowest and highest of one channel between two moments, -1 to 1; null where nothing of it lies here. */
  extremes(channel, from, to) {
    const pairSeconds = this.columnSeconds / this.pairs;
    const count = this.columns * this.pairs;
    const first = Math.max(0, Math.floor((from - this.from) / pairSeconds));
    const end = Math.min(count, Math.max(first + 1, Math.ceil((to - this.from) / pairSeconds)));
    if (first >= end) return null;
    let low = 127;
    let high = -127;
    for (let at = (channel * count + first) * 2; at < (channel * count + end) * 2; at += 2) {
      if (this.outline[at] < low) low = this.outline[at];
      if (this.outline[at + 1] > high) high = this.outline[at + 1];
    }
    return [low / 127, high / 127];
  }

  /** Momentary (0) or short-term (1) loudness of a column in LUFS; null where there is none. */
  lufs(kind, column) {
    const told = this.loudness[kind * this.columns + column];
    return told === NONE ? null : (told - 1) / 3 - 70;
  }

  /** The spectrum as a picture in one colour, low rows at the bottom; made once for each colour. */
  image([red, green, blue]) {
    const key = `${red},${green},${blue}`;
    if (this.imageKey === key) return this.drawn;
    const canvas = new OffscreenCanvas(this.columns, this.rows);
    const data = new ImageData(this.columns, this.rows);
    for (let column = 0; column < this.columns; column += 1) {
      for (let row = 0; row < this.rows; row += 1) {
        const at = ((this.rows - 1 - row) * this.columns + column) * 4;
        data.data[at] = red;
        data.data[at + 1] = green;
        data.data[at + 2] = blue;
        data.data[at + 3] = this.spectrum[column * this.rows + row];
      }
    }
    canvas.getContext("2d").putImageData(data, 0, 0);
    this.imageKey = key;
    this.drawn = canvas;
    return canvas;
  }
}
