/** Small help on every page: errors are read first, a form is sent once, and Back shows what is true now. */

import "drafts";

document.querySelector("[data-error-summary]")?.focus();

// A double click would hand in, lend or invite twice.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
});

// A page that the browser kept for its Back button may tell what was true once: it is asked for again.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});
