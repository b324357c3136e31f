// The page of a marked library: only rows with all words that are sought.
const rows = /** @type {HTMLElement[]} */ ([...document.querySelectorAll(".parts tbody tr")]);
const texts = rows.map((row) => (row.textContent ?? "").toLowerCase());
const field = /** @type {HTMLInputElement} */ (document.getElementById("find"));

field.addEventListener("input", () => {
  const sought = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  rows.forEach((row, at) => { row.hidden = !sought.every((word) => texts[at].includes(word)); });
});

export {};
