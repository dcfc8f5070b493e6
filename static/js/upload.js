/** The upload panel: which files are taken, one travelling at a time. The travelling is in sending.js, a file's row in upload_row.js. */

import { Hasher } from "hasher";
import { lookAt } from "headers";
import { notSound } from "kinds";
import { count, size } from "plain";
import { getJson, Refusal } from "requests";
import { Sending } from "sending";
import { Row } from "upload-row";
import { stayAwake } from "awake";

const ENDED = new Set(["failed", "done", "stopped"]);

class Panel {
  constructor(root) {
    this.root = root;
    this.settings = {
      createUrl: root.dataset.createUrl,
      described: JSON.parse(root.dataset.metadata),
      done: root.dataset.done,
      pieceBytes: Number(root.dataset.pieceBytes),
      maxBytes: Number(root.dataset.maxBytes),
      beforeUrl: root.dataset.beforeUrl,
      contact: root.dataset.contact,
    };
    this.known = JSON.parse(document.getElementById(root.dataset.known)?.textContent ?? "[]");
    this.sendings = [];
    this.facts = new WeakMap(); // what the header of a chosen file says
    this.hasher = new Hasher(root.dataset.workerUrl, root.dataset.hashUrl);
    this.#listen();
    this.#showKnown();
    this.find("ready").hidden = false;
    setInterval(() => this.sendings.forEach((sending) => sending.restartIfStalled()), 5000);
  }

  find(name) {
    return this.root.querySelector(`[data-upload-${name}]`);
  }

  /** Files that somebody chose: what cannot be is refused in words, what looks odd is asked about, the rest is sent. */
  async take(files) {
    this.#sayProblem("");
    const possible = files.filter((file) => {
      const reason = this.#reasonAgainst(file);
      if (reason) this.#showRefused(file, reason);
      return !reason;
    });
    if (possible.length === 0) return;
    try {
      const now = await this.#askLibrary();
      if (this.#fits(possible, now)) for (const file of possible) await this.#consider(file, now);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      this.#sayProblem(error.message);
    }
    this.#startNext();
  }

  /** What the library's computer has room for and knows of this interview's recordings; null while it cannot be reached. */
  async #askLibrary() {
    if (!this.settings.beforeUrl) return null; // scans and attachments are small, and each is asked about when it begins
    try {
      const now = await getJson(this.settings.beforeUrl);
      const mine = new Set(this.sendings.filter(({ state }) => state !== "failed").map(({ path }) => path));
      this.known = now.unfinished.filter((entry) => !mine.has(entry.upload_url));
      this.#showKnown();
      return now;
    } catch (error) {
      if (error instanceof Refusal) throw error;
      return null; // offline: each file is asked about when it begins
    }
  }

  /** All chosen files together, before the first byte travels. */
  #fits(files, now) {
    if (!now) return true;
    const begun = files.filter((file) => this.known.some((entry) => isSame(entry, file)));
    const waiting = this.sendings.filter((sending) => sending.isUnderWay && !sending.path).map(({ file }) => file);
    const needed = sum(files) - sum(begun) + sum(waiting);
    const together = `Together these files have ${size(needed)}`;
    const keep = `Nothing is lost and nothing has been sent: keep your recordings, and ask ${this.settings.contact}`;
    if (needed > now.room_bytes) {
      this.#sayProblem(`${together}, and the library's disk has room for ${size(now.room_bytes)} just now. ${keep}.`);
    } else if (now.own_bytes_left !== null && needed > now.own_bytes_left) {
      this.#sayProblem(`${together}, and you may hand in ${size(now.own_bytes_left)} more before the library has accepted some of it. ${keep}, or choose fewer.`);
    } else return true;
    return false;
  }

  async #consider(file, now) {
    const question = await this.#questionAbout(file, now);
    if (!question) this.#add(file);
    else this.#askAbout(file, question);
  }

  async #questionAbout(file, now) {
    if (!this.settings.beforeUrl) return null;
    const before = now?.recordings.find((entry) => isSame(entry, file));
    if (before) return `This file is in this interview already: part ${before.position} has the same name and size.`;
    try {
      const kind = await notSound(file);
      if (kind) return `This looks like ${kind}, not like a recording.`;
      const header = await lookAt(file);
      if (header) this.facts.set(file, header.words);
      return header?.question;
    } catch {
      return null; // a file that cannot be read says so when it begins
    }
  }

  #askAbout(file, question) {
    const row = new Row(this.find("row"), this.find("list"), file);
    row.ask(question);
    row.tell(this.facts.get(file));
    row.on("leave", () => {
      row.item.remove();
      this.find("files").focus();
    });
    row.on("anyway", () => {
      row.item.remove();
      this.#add(file).focus("pause");
      this.#startNext();
    });
    this.#announce(`${file.name}: ${question}`);
  }

  #sayProblem(sentence) {
    const line = this.find("problem");
    line.textContent = sentence;
    line.hidden = !sentence;
  }

  #listen() {
    const input = this.find("files");
    input.addEventListener("change", () => {
      this.take([...input.files]);
      input.value = ""; // so that the same file can be chosen again
    });
    this.#listenToFolder();
    this.#listenToDrops();
    window.addEventListener("offline", () => this.#active()?.goOffline());
    window.addEventListener("online", () => this.#resume("offline"));
    // Back from the tab in which somebody signed in again.
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") this.#resume("signed-out");
    });
    window.addEventListener("beforeunload", (event) => {
      if (this.sendings.some((sending) => sending.isUnderWay)) event.preventDefault();
    });
  }

  /** Not every panel takes a folder, and phones choose none; there the choice is not shown. */
  #listenToFolder() {
    const folder = this.find("folder");
    if (!folder) return;
    this.find("folder-choice").hidden = !("webkitdirectory" in folder);
    folder.addEventListener("change", () => {
      const files = [...folder.files];
      const recordings = files.filter((file) => this.#isRecording(file)).sort(byPath);
      const left = files.length - recordings.length;
      this.find("folder-told").textContent = `From the folder: ${count(recordings.length, "recording")} taken, ${count(left, "other file")} left out.`;
      this.take(recordings);
      folder.value = "";
    });
  }

  /** Judged like the file chooser judges, by what its `accept` lists; hidden files are the computer's own. */
  #isRecording(file) {
    const name = file.name.toLowerCase();
    const endings = this.find("files").accept.split(",").filter((kind) => kind.startsWith("."));
    return !name.startsWith(".") && (file.type.startsWith("audio/") || endings.some((ending) => name.endsWith(ending)));
  }

  #listenToDrops() {
    const zone = this.find("drop");
    for (const type of ["dragenter", "dragover"]) {
      zone.addEventListener(type, (event) => {
        event.preventDefault();
        zone.classList.add("is-over");
      });
    }
    zone.addEventListener("dragleave", () => zone.classList.remove("is-over"));
    zone.addEventListener("drop", (event) => {
      event.preventDefault();
      zone.classList.remove("is-over");
      const folders = foldersIn(event.dataTransfer);
      for (const folder of folders) this.#showRefused(folder, "This is a folder. Please open it and choose the recordings in it.");
      const names = new Set(folders.map(({ name }) => name));
      this.take([...event.dataTransfer.files].filter((file) => !names.has(file.name)));
    });
  }

  #reasonAgainst(file) {
    if (file.size === 0) {
      return "This file is empty. A recorder that was switched off before it finished writing leaves such files. Please choose another file, or ask the library.";
    }
    if (file.size > this.settings.maxBytes) {
      return `This file is larger than this page can take (${size(file.size)}; at most ${size(this.settings.maxBytes)}). Please bring it to the library.`;
    }
    if (this.sendings.some((other) => !ENDED.has(other.state) && isSameFile(other.file, file))) {
      return "This file is in the list already.";
    }
    return null;
  }

  /** What is said of the files chosen now, in the panel's own fields. */
  #said() {
    return Object.fromEntries([...this.root.querySelectorAll("[data-upload-field]")].map((field) => [field.name, field.value]));
  }

  #add(file) {
    const row = new Row(this.find("row"), this.find("list"), file);
    const sending = new Sending(file, {
      settings: this.settings,
      said: this.#said(),
      hasher: this.hasher,
      known: this.#takeKnown(file),
      changed: () => this.#changed(sending, row),
    });
    sending.row = row;
    row.tell(this.facts.get(file));
    this.sendings.push(sending);
    row.show(sending);
    row.on("pause", () => sending.pause());
    row.on("resume", () => {
      sending.wait();
      this.#startNext();
      row.focus("pause");
    });
    row.on("stop", () => this.#askToStop(sending, row));
    return row;
  }

  /** The same file by name and size, begun earlier: perhaps in another browser, perhaps before a power cut. */
  #takeKnown(file) {
    this.#dropFailed(file);
    const index = this.known.findIndex((entry) => isSame(entry, file));
    if (index < 0) return null;
    const [entry] = this.known.splice(index, 1);
    this.#showKnown();
    return entry;
  }

  /** A file chosen again takes the place of its row that failed, as after a card that was pulled out. */
  #dropFailed(file) {
    const failed = this.sendings.filter(
      (sending) => sending.state === "failed" && sending.file.name === file.name && sending.file.size === file.size,
    );
    for (const sending of failed) sending.row.item.remove();
    this.sendings = this.sendings.filter((sending) => !failed.includes(sending));
  }

  #showKnown() {
    const list = this.find("known");
    list.replaceChildren(
      ...this.known.map((entry) => {
        const item = document.createElement("li");
        const percent = Math.floor((100 * entry.offset) / entry.length);
        item.textContent = `${entry.name}: ${percent} % has arrived earlier and is kept. Choose the same file again to go on.`;
        return item;
      }),
    );
    list.hidden = this.known.length === 0;
  }

  #showRefused(file, reason) {
    const row = new Row(this.find("row"), this.find("list"), file);
    row.refuse(reason);
    this.#announce(`${file.name}: ${reason}`);
  }

  #active() {
    return this.sendings.find((sending) => ["sending", "comparing"].includes(sending.state));
  }

  #startNext() {
    if (this.#active()) return;
    this.sendings.find((sending) => sending.state === "waiting")?.begin();
  }

  #resume(state) {
    this.sendings.filter((sending) => sending.state === state).forEach((sending) => sending.wait());
    this.#startNext();
  }

  #changed(sending, row) {
    this.#showBusy();
    const before = row.state;
    row.show(sending);
    if (before !== sending.state) {
      this.#announce(`${sending.file.name}: ${sending.sentence}`);
      if (sending.state === "done") this.#refreshParts();
      queueMicrotask(() => this.#startNext());
    } else if (sending.state === "sending" && row.crossedAnnouncement()) {
      this.#announce(`${sending.file.name}: ${row.percent} percent`);
    }
  }

  /** Whether a chosen file has not come in: the page then tells nobody that the card may be cleared. */
  #showBusy() {
    stayAwake(this.sendings.some((sending) => sending.isUnderWay));
    this.root.toggleAttribute("data-upload-busy", this.sendings.some((sending) => !["done", "stopped"].includes(sending.state)));
  }

  #announce(sentence) {
    this.find("live").textContent = sentence;
  }

  #refreshParts() {
    window.htmx.ajax("GET", this.root.dataset.refreshUrl, { target: this.root.dataset.target, select: this.root.dataset.target, swap: "outerHTML" });
  }

  #askToStop(sending, row) {
    const dialog = this.find("dialog");
    dialog.querySelector("[data-dialog-name]").textContent = sending.file.name;
    dialog.returnValue = "keep";
    dialog.addEventListener(
      "close",
      () => {
        if (dialog.returnValue === "stop") sending.stop();
        else row.focus("stop");
      },
      { once: true },
    );
    dialog.showModal();
  }
}

/** Two cards may hold files of one name and size; in a folder their paths tell them apart. */
function isSameFile(one, other) {
  return one.name === other.name && one.size === other.size && one.webkitRelativePath === other.webkitRelativePath;
}

function byPath(one, other) {
  return one.webkitRelativePath.localeCompare(other.webkitRelativePath, undefined, { numeric: true });
}

/** Names arrive at the library in Unicode's composed form, whatever this computer's disk makes of them. */
function isSame(entry, file) {
  return entry.name === file.name.normalize() && entry.length === file.size;
}

function sum(files) {
  return files.reduce((bytes, file) => bytes + file.size, 0);
}

/** Folders among what was dropped, as {name, size}. */
function foldersIn(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter((entry) => entry?.isDirectory);
  return entries.map(({ name }) => ({ name, size: 0 }));
}

for (const root of document.querySelectorAll("[data-upload]")) new Panel(root);
