/** The life of one file on its way to the library: pieces with checksums, pause, resume, whole-file digest. No page in it. */

import "tus-js-client";
import { account, csrfToken, postForm, refuseUnlessOurs, Refusal, sentenceFor, SIGNED_OUT, SignInNeeded } from "requests";

const { tus } = window; // the library is no ES module: it leaves its name here

const RETRY_DELAYS_MS = [500, 1000, 3000, 5000, 10000, 20000, 30000, 60000];
const DAMAGED = 460; // tus 1.0.0, checksum extension: the piece does not match its Upload-Checksum
const CONFLICT = 409; // the server holds more or less than we thought, or refuses: worth asking again, not for long
const NO_ROOM = 507;
const TRIES_IN_A_ROW = { [DAMAGED]: 5, [CONFLICT]: 3 };
const RETRIED_STATUS = new Set([DAMAGED, CONFLICT, 423, 429]);
const STALLED_MS = 90_000;

const SENTENCES = {
  waiting: "Waiting for its turn.",
  sending: "Sending. Please keep this page open.",
  retrying: "The connection was interrupted. Trying again by itself; what has arrived is kept.",
  paused: "Paused. What has arrived is kept.",
  offline: "You are offline. Sending goes on by itself when the connection is back.",
  comparing: "All of it has arrived. Comparing it with your own file.",
  done: "It has arrived.",
  stopped: "Stopped. Your own file stays as it is.",
};
const DAMAGED_AGAIN =
  "A piece of the file arrives damaged again and again. What arrived before it is kept. Please try another cable or network, then press Resume.";
const UNREACHABLE =
  "The library's computer cannot be reached just now. What has arrived is kept. Press Resume to try again.";

/** Settles never: what XMLHttpRequest also does when it is aborted, and what tus-js-client expects. */
const never = () => new Promise(() => {});

export class Sending {
  /**
   * file: File. settings: {createUrl, described, pieceBytes, done}; `described` says what the file is handed in as, in
   * Upload-Metadata's own words. said: more of them, typed beside the file. hasher: Hasher.
   * known: {upload_url, offset, digest_known} of an upload begun earlier, or null. changed(sending) is called after each change.
   */
  constructor(file, { settings, said, hasher, known, changed }) {
    this.file = file;
    this.state = "waiting";
    this.sentence = SENTENCES.waiting;
    this.arrived = known?.offset ?? 0;
    this.hashed = 0;
    this.samples = [];
    this.refusedInARow = 0;
    this.hasher = hasher;
    this.changed = changed;
    this.digest = known?.digest_known ? { promise: Promise.resolve(null), cancel() {} } : null;
    this.sentences = { ...SENTENCES, done: settings.done };
    this.upload = new tus.Upload(file, this.#options(settings, said));
    if (known) this.upload.resumeFromPreviousUpload({ uploadUrl: new URL(known.upload_url, document.baseURI).href });
  }

  /** The address of the upload on the library's computer, without its host; empty before it has one. */
  get path() {
    return this.upload.url ? new URL(this.upload.url).pathname : "";
  }

  get isUnderWay() {
    return ["waiting", "sending", "comparing", "offline"].includes(this.state);
  }

  /** Bytes a second over the last seconds, or null while nobody can tell. */
  get bytesPerSecond() {
    if (this.samples.length < 2) return null;
    const [first, last] = [this.samples[0], this.samples.at(-1)];
    const seconds = (last.at - first.at) / 1000;
    return seconds > 0.5 && last.bytes > first.bytes ? (last.bytes - first.bytes) / seconds : null;
  }

  wait() {
    this.#become("waiting");
  }

  async begin() {
    this.refusedInARow = 0;
    this.samples = [];
    this.movedAt = Date.now();
    this.#become("sending");
    this.#computeDigest();
    if (!this.upload.url) await this.#findEarlier();
    if (this.state === "sending") this.upload.start();
  }

  pause() {
    this.upload.abort();
    this.#become("paused");
  }

  goOffline() {
    this.upload.abort();
    this.#become("offline");
  }

  /** Forget the upload on the library's computer too. Raises Refusal when the server says no. */
  async stop() {
    this.digest?.cancel();
    this.digest = null;
    this.#become("stopped");
    try {
      await this.upload.abort(true);
    } catch (error) {
      this.#fail(error);
    }
  }

  /** A connection can die without a word: start afresh from what has arrived. */
  restartIfStalled() {
    if (this.state !== "sending" || Date.now() - this.movedAt < STALLED_MS) return;
    this.upload.abort();
    this.begin();
  }

  #options({ createUrl, described, pieceBytes }, said) {
    return {
      endpoint: new URL(createUrl, document.baseURI).href,
      chunkSize: pieceBytes,
      metadata: {
        filename: this.file.name.normalize(),
        filetype: this.file.type,
        ...described,
        ...said,
        lastmodified: String(this.file.lastModified),
        digest: "follows", // of the whole file, once this browser has read it
      },
      // What it is handed in as is part of it: the same file may be handed in for two interviews.
      fingerprint: (file) =>
        Promise.resolve(["intake", JSON.stringify(described), file.name, file.size, file.lastModified].join("|")),
      removeFingerprintOnSuccess: true,
      retryDelays: RETRY_DELAYS_MS,
      httpStack: this.#checkedStack(),
      onShouldRetry: (error) => this.#shouldRetry(error),
      onAfterResponse: refuseIfSignedOut,
      onProgress: (sent) => this.#moved(sent),
      onChunkComplete: () => { this.refusedInARow = 0; },
      onSuccess: () => this.#compare(),
      onError: (error) => this.#fail(error),
    };
  }

  /** Requests that carry the digest of exactly the bytes they send. */
  #checkedStack() {
    const stack = new tus.DefaultHttpStack({});
    return {
      getName: () => "checked",
      createRequest: (method, url) => this.#checkedRequest(stack.createRequest(method, url)),
    };
  }

  #checkedRequest(request) {
    const send = request.send.bind(request);
    const abort = request.abort.bind(request);
    let aborted = false;
    request.abort = () => {
      aborted = true;
      return abort();
    };
    request.send = async (body = null) => {
      if (body) request.setHeader("Upload-Checksum", `sha256 ${await this.hasher.piece(body)}`);
      if (aborted || (this.#isHeld() && request.getMethod() !== "DELETE")) return never();
      request.setHeader("X-CSRFToken", csrfToken());
      request.setHeader("X-Account", account());
      return send(body);
    };
    return request;
  }

  #isHeld() {
    return ["paused", "offline", "stopped"].includes(this.state);
  }

  #computeDigest() {
    if (this.digest) return;
    this.digest = this.hasher.file(this.file, (bytes) => {
      this.hashed = bytes;
      this.changed(this);
    });
    this.digest.promise.catch((refusal) => {
      this.digest = null;
      this.upload.abort();
      this.#fail(refusal);
    });
  }

  async #findEarlier() {
    const [earlier] = await this.upload.findPreviousUploads();
    if (earlier) this.upload.resumeFromPreviousUpload(earlier);
  }

  #moved(sent) {
    const at = Date.now();
    if (sent !== this.arrived) this.movedAt = at;
    this.arrived = sent;
    this.samples = [...this.samples.filter((sample) => at - sample.at < 8000), { at, bytes: sent }];
    if (this.state === "sending") this.sentence = SENTENCES.sending;
    this.changed(this);
  }

  async #compare() {
    this.arrived = this.file.size;
    this.#become("comparing");
    try {
      const sha256 = await this.digest.promise;
      const url = this.upload.url.replace(/\/?$/, "/digest/");
      if (sha256) await postForm(url, { sha256 });
      this.#become("done");
    } catch (error) {
      this.#fail(error);
    }
  }

  #shouldRetry(error) {
    if (error.causingError instanceof Refusal || !navigator.onLine) return false;
    const status = error.originalResponse?.getStatus() ?? 0;
    if (status in TRIES_IN_A_ROW && ++this.refusedInARow >= TRIES_IN_A_ROW[status]) return false;
    const again = status < 400 || (status >= 500 && status !== NO_ROOM) || RETRIED_STATUS.has(status);
    if (again) {
      this.sentence = SENTENCES.retrying;
      this.changed(this);
    }
    return again;
  }

  #fail(error) {
    if (this.#isHeld() && this.state !== "stopped") return;
    if (!navigator.onLine) {
      this.#become("offline");
      return;
    }
    const refusal = [error, error.causingError].find((cause) => cause instanceof Refusal);
    if (refusal instanceof SignInNeeded) this.#become("signed-out", refusal.message);
    else this.#become("failed", refusal?.message ?? sentenceOf(error));
  }

  #become(state, sentence = this.sentences[state]) {
    this.state = state;
    this.sentence = sentence;
    this.changed(this);
  }
}

/** XMLHttpRequest follows a redirect to the sign-in page in silence; the address of the answer gives it away. */
function refuseIfSignedOut(request, response) {
  const { responseURL, status } = response.getUnderlyingObject();
  const elsewhere = responseURL && new URL(responseURL).pathname !== new URL(request.getURL()).pathname;
  if (elsewhere) throw new SignInNeeded(SIGNED_OUT);
  refuseUnlessOurs(status, (name) => response.getHeader(name));
}

function sentenceOf(error) {
  const response = error.originalResponse;
  if (!response) return UNREACHABLE;
  if (response.getStatus() === DAMAGED) return DAMAGED_AGAIN;
  return sentenceFor(response.getStatus(), response.getHeader("Content-Type"), response.getBody());
}
