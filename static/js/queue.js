/** Keys in the queue's list. They work only where the list has the focus, so that no letter typed elsewhere does anything. */

const form = document.querySelector("[data-queue]");
const links = [...(form?.querySelectorAll("tbody th a") ?? [])];

function go(from, step) {
  links[Math.min(Math.max(0, from + step), links.length - 1)].focus();
}

function tick(row) {
  const box = row.querySelector("input[type=checkbox]");
  box.checked = !box.checked;
}

form?.querySelector("tbody").addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const row = event.target.closest("tr");
  const here = links.findIndex((link) => row.contains(link));
  const action = {
    j: () => go(here, 1),
    ArrowDown: () => go(here, 1),
    k: () => go(here, -1),
    ArrowUp: () => go(here, -1),
    Home: () => go(0, 0),
    End: () => go(links.length - 1, 0),
    x: () => tick(row),
  }[event.key];
  if (!action) return;
  event.preventDefault();
  action();
});
