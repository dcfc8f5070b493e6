/** Numbers as people read them. */

const UNITS = ["bytes", "kB", "MB", "GB"];

/** A size in bytes, for example "1.4 GB" (powers of 1000, one decimal, as the pages write it). */
export function size(bytes) {
  let value = bytes;
  let unit = 0;
  while (value >= 1000 && unit < UNITS.length - 1) {
    value /= 1000;
    unit += 1;
  }
  return `${value.toFixed(unit === 0 ? 0 : 1)} ${UNITS[unit]}`;
}

/** A number of things: "1 recording", "12 recordings". */
export function count(number, thing) {
  return `${number} ${thing}${number === 1 ? "" : "s"}`;
}

/** Seconds as a timecode: "1:02:33", or "2:33" below an hour. */
export function timecode(seconds) {
  const whole = Math.max(0, Math.floor(seconds));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const rest = String(whole % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
}

/** How long something still takes, roughly: "less than a minute", "about 4 min", "about 2 h 10 min". */
export function roughly(seconds) {
  if (seconds < 50) return "less than a minute";
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `about ${minutes} min`;
  return `about ${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** Seconds to the tenth, as the pages read them in again: "2:33.5", or "1:02:33.5" after an hour. */
export function exactTimecode(seconds) {
  const tenths = Math.round(Math.max(0, seconds) * 10);
  return `${timecode(tenths / 10)}.${tenths % 10}`;
}
