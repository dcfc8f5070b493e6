/** The key under a picture of sound: a sample of each shape, and its word. */

export function keyEntry(className, word) {
  const entry = document.createElement("span");
  const sample = document.createElement("i");
  const shape = document.createElement("span");
  shape.className = className;
  if (className !== "strip-flag") shape.style.width = "100%";
  sample.append(shape);
  sample.setAttribute("aria-hidden", "true");
  entry.append(sample, word);
  return entry;
}

/** The class of a finding's or a passage's hatching. */
export function spanClass(standing) {
  return `strip-span strip-span-${standing.replaceAll(" ", "-")}`;
}
