/** The page's side of hash_worker.js: promises instead of messages. */

import { Refusal } from "requests";

const UNREADABLE =
  "The file can no longer be read. Please check that the card or disk is still connected, then choose the file again.";
const NO_WORKER =
  "This browser cannot compute the checksums that keep a file safe. Please try another browser, or bring the file to the library.";
const READ_ERRORS = new Set(["NotReadableError", "NotFoundError", "SecurityError"]);

export class Hasher {
  #worker;
  #waiting = new Map();
  #nextId = 1;

  constructor(workerUrl, libraryUrl) {
    this.#worker = new Worker(workerUrl);
    this.#worker.onmessage = ({ data }) => this.#answer(data);
    this.#worker.onerror = () => this.#refuseAll(new Refusal(NO_WORKER));
    this.#worker.postMessage({ open: new URL(libraryUrl, document.baseURI).href });
  }

  /** SHA-256 of exactly these bytes, as base64 (the form of the header Upload-Checksum). */
  piece(blob) {
    return this.#ask({ piece: blob }, () => {}).promise;
  }

  /** SHA-256 of a whole file: {promise of hex, cancel()}. onProgress gets the bytes hashed so far. */
  file(file, onProgress) {
    return this.#ask({ file }, onProgress);
  }

  #ask(message, onProgress) {
    const id = this.#nextId++;
    const promise = new Promise((resolve, reject) => this.#waiting.set(id, { resolve, reject, onProgress }));
    this.#worker.postMessage({ id, ...message });
    const cancel = () => {
      this.#waiting.delete(id);
      this.#worker.postMessage({ cancel: id });
    };
    return { promise, cancel };
  }

  #answer({ id, digest, done, error }) {
    const asked = this.#waiting.get(id);
    if (!asked) return;
    if (done !== undefined) {
      asked.onProgress(done);
      return;
    }
    this.#waiting.delete(id);
    if (error) asked.reject(new Refusal(READ_ERRORS.has(error) ? UNREADABLE : NO_WORKER));
    else asked.resolve(digest);
  }

  #refuseAll(refusal) {
    for (const { reject } of this.#waiting.values()) reject(refusal);
    this.#waiting.clear();
  }
}
