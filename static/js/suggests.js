/** Fields with data-suggests offer names while somebody types; several in one field are parted by commas. */

import { getJson } from "requests";

const PAUSE_MS = 150;

function connect(field) {
  const list = document.createElement("datalist");
  list.id = `${field.id}-suggests`;
  field.setAttribute("list", list.id);
  field.after(list);
  const hasSeveral = field.dataset.suggests === "languages";
  let waits = 0;
  field.addEventListener("input", () => {
    clearTimeout(waits);
    waits = setTimeout(() => offer(field, list, hasSeveral), PAUSE_MS);
  });
}

async function offer(field, list, hasSeveral) {
  const before = hasSeveral ? field.value.slice(0, field.value.lastIndexOf(",") + 1) : "";
  const typed = field.value.slice(before.length).trim();
  if (!typed) return;
  try {
    const { found } = await getJson(`/desk/suggestions/${field.dataset.suggests}/?typed=${encodeURIComponent(typed)}`);
    list.replaceChildren(...found.map(({ name, told }) => new Option(`${name} (${told})`, `${before}${before ? " " : ""}${name}`)));
  } catch {
    list.replaceChildren(); // typing goes on without suggestions
  }
}

for (const field of document.querySelectorAll("[data-suggests]")) connect(field);
