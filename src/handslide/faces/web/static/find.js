// A field that leaves only those of a long list whose words hold what is typed.

import { byId } from "./page.js";

/** @param {string | null} text */
const plain = (text) => (text ?? "").normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();

/** @type {NodeListOf<HTMLInputElement>} */
const fields = document.querySelectorAll("input[data-find]");
for (const field of fields) {
  /** @type {NodeListOf<HTMLElement>} */
  const found = document.querySelectorAll(field.dataset.find ?? "");
  const rows = [...found];
  const none = byId(field.dataset.none ?? "");
  /** @type {WeakMap<Element, string>} */
  const known = new WeakMap();
  /** @param {Element} row */
  const wordsOf = (row) => {
    const words = known.get(row) ?? plain(row.textContent);
    known.set(row, words);
    return words;
  };
  const find = () => {
    const wanted = plain(field.value).split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      row.hidden = !wanted.every((word) => wordsOf(row).includes(word));
      if (!row.hidden) shown += 1;
    }
    none.hidden = shown > 0;
  };
  field.addEventListener("input", find);
  // Enter opens the first that fits; it never sends the form around the list.
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    if (!field.value.trim()) return;
    const first = rows.find((row) => !row.hidden)?.querySelector("a, button");
    if (first instanceof HTMLElement) first.click();
  });
  field.closest("[hidden]")?.removeAttribute("hidden");
  // A browser that comes back fills the field again.
  window.addEventListener("pageshow", find);
}
