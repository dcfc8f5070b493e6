/** What is typed into a long form is kept in this tab until it has been saved: a sign-in that ended loses nothing.
    Only for the account that typed it, only in this tab, and gone at sign-out and when the device is handed over. */

import { account } from "requests";

const PREFIX = "draft|";
const NEVER_KEPT = new Set(["password", "file", "submit", "button"]);
const KEPT_THOUGH_HIDDEN = new Set(["began"]); // what the form began with goes with what was typed over it

function drafts() {
  return Object.keys(sessionStorage).filter((key) => key.startsWith(PREFIX));
}

function read(key) {
  return JSON.parse(sessionStorage.getItem(key));
}

function fieldsOf(form) {
  return [...form.elements].filter(
    ({ name, type }) => name && !NEVER_KEPT.has(type) && (type !== "hidden" || KEPT_THOUGH_HIDDEN.has(name)),
  );
}

function isChosen({ type }) {
  return type === "checkbox" || type === "radio";
}

function valuesOf(form) {
  return fieldsOf(form).map((field) => [field.name, isChosen(field) ? field.checked : field.value]);
}

function keep(form, key) {
  const draft = { formKey: form.elements.form_key.value, values: valuesOf(form) };
  try {
    sessionStorage.setItem(key, JSON.stringify(draft));
  } catch {
    // The tab's storage is full or switched off: typing goes on without a net.
  }
}

/** Put back what was typed; false if nothing differs from what the page shows. */
function putBack(form, { values }) {
  const fields = fieldsOf(form);
  if (JSON.stringify(values.map(([name]) => name)) !== JSON.stringify(fields.map(({ name }) => name))) return false;
  if (JSON.stringify(values) === JSON.stringify(valuesOf(form))) return false;
  fields.forEach((field, place) => {
    field[isChosen(field) ? "checked" : "value"] = values[place][1];
  });
  return true;
}

function tell(form, key) {
  const line = document.createElement("p");
  line.className = "message message-info";
  line.setAttribute("role", "status");
  const leave = document.createElement("button");
  leave.type = "button";
  leave.className = "button quiet";
  leave.textContent = "Leave it out";
  leave.addEventListener("click", () => {
    sessionStorage.removeItem(key);
    form.reset();
    line.remove();
  });
  line.append("What you had typed here is back. It is not saved yet. ", leave);
  form.prepend(line);
}

function care(form) {
  const key = `${PREFIX}${account()}|${window.location.pathname}`;
  const shownAgain = form.querySelector("[data-error-summary]");
  const draft = sessionStorage.getItem(key) && read(key);
  if (shownAgain) keep(form, key); // the server has given back what was typed
  else if (draft && putBack(form, draft)) {
    keep(form, key);
    tell(form, key);
  } else sessionStorage.removeItem(key);
  form.addEventListener("input", () => keep(form, key));
}

/** The server names the form that went through in a cookie. */
function forgetSaved() {
  const sent = document.cookie.split("; ").find((pair) => pair.startsWith("sent_form="))?.slice("sent_form=".length);
  for (const key of drafts()) if (sent && read(key).formKey === sent) sessionStorage.removeItem(key);
}

function forgetOthers() {
  const mine = `${PREFIX}${account()}|`;
  for (const key of drafts()) if (account() && !key.startsWith(mine)) sessionStorage.removeItem(key);
}

forgetSaved();
forgetOthers();
if (account()) document.querySelectorAll("form[data-draft]").forEach(care);
document.addEventListener("submit", ({ target }) => {
  if ("endsSession" in target.dataset) drafts().forEach((key) => sessionStorage.removeItem(key));
});
