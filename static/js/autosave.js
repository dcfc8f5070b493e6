/** Forms with data-autosave are kept as soon as something in them was changed; without JavaScript they have a button.
    What the page says because of them (elements with data-follows and an id) is fetched anew. */

import { postForm } from "requests";

async function keep(form) {
  const status = form.querySelector("[data-autosave-status]");
  if (!form.checkValidity()) return;
  const fields = Object.fromEntries(new FormData(form));
  if (form.dataset.kept === JSON.stringify(fields)) return;
  status.textContent = "Keeping…";
  try {
    await postForm(form.action, fields);
    form.dataset.kept = JSON.stringify(fields);
    status.textContent = "Kept.";
    await follow();
  } catch (error) {
    status.textContent = error.message;
  }
}

async function follow() {
  const answer = await fetch(location.href);
  if (!answer.ok) return; // kept all the same; the page says so when it is loaded next
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const old of document.querySelectorAll("[data-follows]")) {
    const now = fresh.getElementById(old.id);
    if (now) old.replaceWith(document.adoptNode(now));
  }
}

for (const form of document.querySelectorAll("form[data-autosave]")) {
  form.querySelector("[data-autosave-button]")?.setAttribute("hidden", "");
  form.addEventListener("change", () => keep(form));
  form.addEventListener("submit", (event) => { event.preventDefault(); keep(form); });
}
