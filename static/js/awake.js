/** Keeps the screen, and with it the computer, from falling asleep while files travel, where browsers can. */

let lock = null;
let wanted = false;

/** Asked for again and again; the browser lets go by itself when the page is hidden. */
export async function stayAwake(isBusy) {
  wanted = isBusy;
  if (!isBusy) {
    await lock?.release();
    lock = null;
  } else if (!lock && document.visibilityState === "visible" && navigator.wakeLock) {
    lock = { release() {} }; // asked for, so that it is not asked for twice
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
    } catch {
      lock = null; // on battery, or not allowed: the page says to keep it open
    }
  }
}

document.addEventListener("visibilitychange", () => stayAwake(wanted));
