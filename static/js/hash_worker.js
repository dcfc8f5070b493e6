/* SHA-256 away from the page, so that it stays responsive. A classic worker: import maps do not reach workers.
   Messages in:  {open: URL of hash-wasm's sha256} once; {id, piece: Blob}; {id, file: File}; {cancel: id}.
   Messages out: {id, digest} (base64 of a piece, hex of a file); {id, done: bytes hashed}; {id, error: name, message}.
   crypto.subtle is not used: it has no streaming, and is absent where the site is served over plain HTTP. */
"use strict";

const SLICE_BYTES = 4 * 1024 * 1024;
const cancelled = new Set();

function base64(bytes) {
  return btoa(String.fromCharCode(...bytes));
}

async function hashBlob(blob, onProgress) {
  const hasher = await self.hashwasm.createSHA256();
  hasher.init();
  for (let start = 0; start < blob.size; start += SLICE_BYTES) {
    const slice = await blob.slice(start, start + SLICE_BYTES).arrayBuffer();
    hasher.update(new Uint8Array(slice));
    if (!onProgress(Math.min(start + SLICE_BYTES, blob.size))) return null;
  }
  return hasher;
}

async function hashPiece({ id, piece }) {
  const hasher = await hashBlob(piece, () => true);
  self.postMessage({ id, digest: base64(hasher.digest("binary")) });
}

async function hashFile({ id, file }) {
  const hasher = await hashBlob(file, (done) => {
    self.postMessage({ id, done });
    return !cancelled.has(id);
  });
  if (hasher) self.postMessage({ id, digest: hasher.digest("hex") });
}

self.onmessage = async ({ data }) => {
  if (data.open) {
    importScripts(data.open);
    return;
  }
  if (data.cancel) {
    cancelled.add(data.cancel);
    return;
  }
  try {
    await (data.piece ? hashPiece(data) : hashFile(data));
  } catch (error) {
    self.postMessage({ id: data.id, error: error.name, message: error.message });
  }
};
