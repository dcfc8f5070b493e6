/** The drawn signature. It is written into the form on submit and at no other moment; typing the name is always possible. */

import SignaturePad from "signature_pad";

const MAX_WIDTH_PX = 1200;
const MAX_HEIGHT_PX = 400;

class Signature {
  constructor(root) {
    this.root = root;
    this.canvas = this.find("canvas");
    this.pad = new SignaturePad(this.canvas, { penColor: "#101820", backgroundColor: "rgba(255,255,255,1)", minWidth: 0.8, maxWidth: 2.6 });
    this.find("choice").hidden = false;
    this.#listen();
    this.#showMethod();
  }

  find(name) {
    return this.root.querySelector(`[data-signature-${name}]`);
  }

  get #isDrawn() {
    return this.root.querySelector('[name="method"]:checked')?.value === "drawn";
  }

  #listen() {
    for (const radio of this.root.querySelectorAll('[name="method"]')) {
      radio.addEventListener("change", () => this.#showMethod());
    }
    this.pad.addEventListener("endStroke", () => this.#showState());
    this.find("clear").addEventListener("click", () => this.#redraw([]));
    this.find("undo").addEventListener("click", () => this.#redraw(this.pad.toData().slice(0, -1)));
    new ResizeObserver(() => this.#fit()).observe(this.canvas);
    this.root.closest("form").addEventListener("submit", () => this.#write());
  }

  #showMethod() {
    this.find("typed").hidden = this.#isDrawn;
    this.find("drawn").hidden = !this.#isDrawn;
    this.#fit();
  }

  /** Match the canvas to its box and the screen's density; strokes are kept and scaled with the box. */
  #fit() {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (!width || (width === this.width && height === this.height)) return;
    const scale = this.width ? Math.min(width / this.width, height / this.height) : 1;
    const strokes = this.pad.toData().map((stroke) => scaled(stroke, scale));
    const density = Math.max(1, window.devicePixelRatio);
    this.canvas.width = width * density;
    this.canvas.height = height * density;
    this.canvas.getContext("2d").scale(density, density);
    [this.width, this.height] = [width, height];
    this.#redraw(strokes);
  }

  #redraw(strokes) {
    this.pad.clear();
    if (strokes.length) this.pad.fromData(strokes, { clear: false });
    this.#showState();
  }

  #showState() {
    const strokes = this.pad.toData().length;
    const words = strokes === 1 ? "1 stroke" : `${strokes} strokes`;
    this.find("state").textContent = strokes ? `Your signature is drawn (${words}).` : "The drawing area is empty.";
    this.find("undo").disabled = strokes === 0;
    this.find("clear").disabled = strokes === 0;
  }

  #write() {
    this.find("png").value = this.#isDrawn && !this.pad.isEmpty() ? this.#picture() : "";
  }

  /** The drawing as a PNG data URL of at most 1200 x 400 px. */
  #picture() {
    const { width, height } = this.canvas;
    const scale = Math.min(1, MAX_WIDTH_PX / width, MAX_HEIGHT_PX / height);
    const small = document.createElement("canvas");
    small.width = Math.round(width * scale);
    small.height = Math.round(height * scale);
    small.getContext("2d").drawImage(this.canvas, 0, 0, small.width, small.height);
    return small.toDataURL("image/png");
  }
}

function scaled(stroke, scale) {
  return { ...stroke, points: stroke.points.map((point) => ({ ...point, x: point.x * scale, y: point.y * scale })) };
}

for (const root of document.querySelectorAll("[data-signature]")) new Signature(root);
