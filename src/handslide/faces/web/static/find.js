// A field that leaves only those of a long list whose words hold what is typed.

const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();

for (const field of document.querySelectorAll("input[data-find]")) {
  const rows = [...document.querySelectorAll(field.dataset.find)];
  const none = document.getElementById(field.dataset.none);
  const find = () => {
    const wanted = plain(field.value).split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of rows) {
      const words = plain(row.textContent);
      row.hidden = !wanted.every((word) => words.includes(word));
      if (!row.hidden) shown += 1;
    }
    none.hidden = shown > 0;
  };
  field.addEventListener("input", find);
  field.closest("[hidden]").hidden = false;
  // A browser that comes back fills the field again.
  window.addEventListener("pageshow", find);
}
