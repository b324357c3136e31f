// What scrolls sideways can be reached by keys; the headings of the side bar say their level.
addEventListener("DOMContentLoaded", () => {
  for (const box of document.querySelectorAll("pre, .table-wrapper")) box.tabIndex = 0;
  for (const head of document.querySelectorAll(".caption[role=heading]")) head.setAttribute("aria-level", "2");
});
