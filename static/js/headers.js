/** What a recording is by its header, read on the volunteer's own computer before a byte travels. */

import { roughly, timecode } from "plain";

const HEAD_BYTES = 64;
const MOST_CHUNKS = 64; // of a WAV file before its sound
/** Hz by MPEG version, and kbit/s of layer III by MPEG version 1, and 2 with 2.5 (ISO/IEC 11172-3 and 13818-3). */
const MP3_RATES = { 3: [44100, 48000, 32000], 2: [22050, 24000, 16000], 0: [11025, 12000, 8000] };
const MP3_KBITS = {
  3: [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
  2: [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
};
const COMPRESSED = { "ftyp": [4, "an M4A, MP4 or 3GP"], "OggS": [0, "an Ogg"], "#!AMR": [0, "an AMR"] };
/** A usual line at home sends so much (common practice, no source); the true speed is shown as soon as bytes travel. */
const USUAL_BITS_A_SECOND = 5_000_000;

/**
 * {words, question}: what the file is in a line, and what is asked about it ("" for nothing). null for a file whose
 * header says nothing that is read here.
 */
export async function lookAt(file) {
  const head = await bytesOf(file, 0, HEAD_BYTES);
  const mark = text(head, 0, 4);
  if (["RIFF", "RF64", "BW64"].includes(mark) && text(head, 8, 4) === "WAVE") return told(await wav(file), file);
  if (mark === "fLaC") return told(flac(head), file);
  if (mark.startsWith("ID3") || isMp3Frame(head, 0)) return told(await mp3(file, head), file);
  for (const [sign, [offset, name]] of Object.entries(COMPRESSED)) {
    if (text(head, offset, sign.length) === sign) return { words: `${capital(name)} file, compressed. ${travels(file)}`, question: "" };
  }
  return null;
}

function told(facts, file) {
  if (!facts) return null;
  const { kind, rate, bits, channels, seconds, kbits } = facts;
  const words = [
    kind,
    rate && `${rate / 1000} kHz`,
    bits && `${bits} bit`,
    kbits && `${kbits} kbit/s`,
    channels && ({ 1: "mono", 2: "stereo" }[channels] ?? `${channels} channels`),
    seconds && timecode(seconds),
  ].filter(Boolean);
  const lost = facts.isUnfinished ? " The recorder did not write its length, as after a loss of power." : "";
  return { words: `${words.join(", ")}.${lost} ${travels(file)}`, question: questionAbout(facts) };
}

/** No recorder for interviews is set to less than 16 kHz or to 8 bit on purpose (common practice, no source). */
function questionAbout({ kind, kbits, rate, bits }) {
  if (kind === "MP3") {
    return `This is an MP3${kbits ? ` at ${kbits} kbit/s` : ""}: was the recorder set to WAV? If the recorder has a WAV of it, send that.`;
  }
  if (rate && rate < 16000) return `This recording has ${rate / 1000} kHz, as a telephone line has. Is it the one you meant?`;
  if (bits === 8) return "This recording has 8 bit, which hisses. Is it the one you meant?";
  return "";
}

function travels(file) {
  return `Sending it takes ${roughly((file.size * 8) / USUAL_BITS_A_SECOND)} at 5 Mbit/s.`;
}

/** Chunk by chunk, as RIFF and EBU Tech 3306 have them, up to the sound. */
async function wav(file) {
  let offset = 12;
  let format = null;
  let large = null;
  for (let number = 0; number < MOST_CHUNKS && offset + 8 <= file.size; number += 1) {
    const chunk = view(await bytesOf(file, offset, HEAD_BYTES));
    const name = text(chunk, 0, 4);
    const size = chunk.getUint32(4, true);
    if (name === "ds64" && chunk.byteLength >= 24) large = Number(chunk.getBigUint64(16, true));
    if (name === "fmt " && chunk.byteLength >= 24) {
      format = { channels: chunk.getUint16(10, true), rate: chunk.getUint32(12, true), bytes: chunk.getUint32(16, true), bits: chunk.getUint16(22, true) };
    }
    if (name === "data") return format && wavFacts(format, size === 0xffffffff && large ? large : size, file.size - offset - 8);
    offset += 8 + size + (size % 2);
  }
  return null;
}

function wavFacts({ channels, rate, bytes, bits }, claimed, held) {
  const isUnfinished = (claimed === 0 || claimed === 0xffffffff) && held > 0;
  const seconds = bytes ? Math.min(isUnfinished ? held : claimed, held) / bytes : null;
  return { kind: "WAV", channels, rate, bits, seconds, isUnfinished };
}

/** STREAMINFO, RFC 9639, section 8.2. */
function flac(head) {
  const bytes = view(head);
  if (bytes.byteLength < 26) return null;
  const packed = bytes.getBigUint64(18);
  const rate = Number(packed >> 44n);
  const frames = Number(packed & 0xfffffffffn);
  return {
    kind: "FLAC",
    rate,
    channels: Number((packed >> 41n) & 7n) + 1,
    bits: Number((packed >> 36n) & 31n) + 1,
    seconds: rate && frames ? frames / rate : null,
  };
}

async function mp3(file, head) {
  const start = text(head, 0, 3) === "ID3" ? 10 + ((head[6] << 21) | (head[7] << 14) | (head[8] << 7) | head[9]) : 0;
  const frame = await bytesOf(file, start, 4);
  if (!isMp3Frame(frame, 0)) return { kind: "MP3", seconds: null };
  const version = (frame[1] >> 3) & 3;
  const kbits = MP3_KBITS[version === 3 ? 3 : 2][frame[2] >> 4] || null;
  const rate = MP3_RATES[version]?.[(frame[2] >> 2) & 3] ?? null;
  const channels = frame[3] >> 6 === 3 ? 1 : 2;
  return { kind: "MP3", rate, channels, kbits, seconds: kbits ? ((file.size - start) * 8) / (kbits * 1000) : null };
}

/** Eleven bits set, and layer III. */
function isMp3Frame(bytes, offset) {
  return bytes[offset] === 0xff && (bytes[offset + 1] & 0xe6) === 0xe2;
}

async function bytesOf(file, offset, count) {
  return new Uint8Array(await file.slice(offset, offset + count).arrayBuffer());
}

function view(bytes) {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

function text(bytes, offset, count) {
  const held = new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.byteLength).slice(offset, offset + count);
  return String.fromCharCode(...held);
}

function capital(words) {
  return words[0].toUpperCase() + words.slice(1);
}
