// Sends one file with tus-js-client as it comes from its package. Told by one argument of JSON:
// { path, endpoint, metadata, chunkSize, parallelUploads, uploadDataDuringCreation, remember, pauseAt, then }
// `remember` is a file in which the client itself keeps addresses of uploads, to go on with them.
// Once `pauseAt` bytes have been taken: `then` is "go on", "die" (without a word to anybody) or "give up".
const fs = require("node:fs");
const tus = require("tus-js-client");

const { path, pauseAt, then, remember, ...told } = JSON.parse(process.argv[2]);

function say(what) {
  fs.writeSync(1, JSON.stringify(what) + "\n");
}

async function main() {
  let paused = false;
  const upload = new tus.Upload(fs.createReadStream(path), {
    ...told,
    retryDelays: [100, 500, 1000, 2000, 4000, 8000],
    ...(remember ? { urlStorage: new tus.FileUrlStorage(remember) } : {}),
    onError: (error) => {
      say({ error: String(error) });
      process.exit(1);
    },
    onSuccess: () => say({ url: upload.url }),
    onChunkComplete: (size, taken) => {
      if (pauseAt === undefined || paused || taken < pauseAt) return;
      paused = true;
      say({ paused: taken, url: upload.url });
      if (then === "die") process.kill(process.pid, "SIGKILL");
      if (then === "give up") upload.abort(true).then(() => say({ stopped: true }));
      if (then === "go on") upload.abort().then(() => setTimeout(() => upload.start(), 300));
    },
  });
  if (remember) {
    const [earlier] = await upload.findPreviousUploads();
    if (earlier) {
      say({ resumes: earlier.uploadUrl });
      upload.resumeFromPreviousUpload(earlier);
    }
  }
  upload.start();
}

main();
