/** Small help on every page: errors are read first, a form is sent once, and Back shows what is true now. */

import "drafts";

document.querySelector("[data-error-summary]")?.focus();

// A double click would hand in, lend or invite twice. A download leaves the page as it is, and may be asked for again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || "download" in form.dataset) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
});

// A page that the browser kept for its Back button may tell what was true once: it is asked for again.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});

// The device has been handed over: other tabs of this browser still show what belongs to whoever had it before. Loaded
// anew, they ask for a sign-in.
const tabs = new BroadcastChannel("handed-over");
tabs.addEventListener("message", () => {
  if ("handedOver" in document.body.dataset) return;
  document.body.replaceChildren(); // an upload under way may ask before its page is left
  location.replace(location.pathname + location.search);
});
if ("handedOver" in document.body.dataset) tabs.postMessage("handed-over");
