/** What a file is by its first bytes, told before gigabytes travel. Only what is surely no sound is named: recorders write odd formats. */

const READ_BYTES = 512;
const ascii = (text) => [...text].map((sign) => sign.charCodeAt(0));

/** [name in words, offset, bytes]; from the formats' own specifications, from memory. */
const NOT_SOUND = [
  ["a photograph", 0, [0xff, 0xd8, 0xff]],
  ["a picture", 0, [0x89, ...ascii("PNG\r\n")]],
  ["a picture", 0, ascii("GIF8")],
  ["a picture", 0, ascii("BM")],
  ["a picture", 8, ascii("WEBP")],
  ["a photograph", 0, [...ascii("II"), 42, 0]],
  ["a photograph", 0, [...ascii("MM"), 0, 42]],
  ["a photograph", 4, ascii("ftyphei")],
  ["a photograph", 4, ascii("ftypmif1")],
  ["a document", 0, ascii("%PDF-")],
  ["a document", 0, ascii("{\\rtf")],
  ["a document", 0, [0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1]],
  ["a packed folder or a document (ZIP)", 0, [...ascii("PK"), 3, 4]],
  ["a packed folder or a document (ZIP)", 0, [...ascii("PK"), 5, 6]],
  ["a packed folder", 0, [...ascii("7z"), 0xbc, 0xaf]],
  ["a packed folder", 0, ascii("Rar!")],
  ["a packed folder", 0, [0x1f, 0x8b, 8]],
  ["a program", 0, [0x7f, ...ascii("ELF")]],
];

/** "a photograph", "a document", ... for a file that is surely not a recording; null for all else. */
export async function notSound(file) {
  const bytes = new Uint8Array(await file.slice(0, READ_BYTES).arrayBuffer());
  const known = NOT_SOUND.find(([, offset, mark]) => mark.every((byte, place) => bytes[offset + place] === byte));
  if (known) return known[0];
  return isText(bytes) ? "a text" : null;
}

/** Printable UTF-8 from the first byte on: no sound file begins so without a sign below the space. */
function isText(bytes) {
  if (bytes.length < 4 || bytes.some((byte) => byte < 32 && ![9, 10, 13].includes(byte))) return false;
  try {
    // A sign may be cut in two at the end of what was read.
    new TextDecoder("utf-8", { fatal: true }).decode(bytes, { stream: true });
    return true;
  } catch {
    return false;
  }
}
