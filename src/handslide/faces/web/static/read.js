// The pages of a PDF: one tab stop for all notes of a page, arrow keys from note to note. Without a
// script every note is a link of its own.

/** @type {NodeListOf<SVGSVGElement>} */
const sheets = document.querySelectorAll(".read-sheet svg");

/** @type {SVGAElement[]} */
const all = [];
for (const sheet of sheets) {
  const spots = [...sheet.querySelectorAll("a")].filter((spot) => spot instanceof SVGAElement);
  all.push(...spots);
  const first = spots.find((spot) => spot.hasAttribute("aria-current")) ?? spots[0];
  for (const spot of spots) spot.setAttribute("tabindex", spot === first ? "0" : "-1");
  sheet.addEventListener("focusin", (event) => {
    const target = event.target;
    for (const spot of spots) {
      const here = target instanceof Node && spot.contains(target);
      spot.setAttribute("tabindex", here ? "0" : "-1");
    }
  });
}

/** @param {SVGAElement | undefined} spot */
const goTo = (spot) => {
  spot?.focus();
  spot?.scrollIntoView({ block: "center", inline: "center" });
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  const at = all.findIndex((spot) => spot === document.activeElement);
  if (at < 0) return;
  const moves = {
    ArrowRight: () => all[at + 1],
    ArrowLeft: () => all[at - 1],
    Home: () => all[0],
    End: () => all[all.length - 1],
    n: () =>
      all.slice(at + 1).find((spot) => spot.classList.contains("is-doubtful")) ??
      all.find((spot) => spot.classList.contains("is-doubtful")),
  };
  const key = event.key === "N" ? "n" : event.key;
  if (!(key in moves)) return;
  event.preventDefault();
  goTo(moves[/** @type {keyof typeof moves} */ (key)]());
});

// After something was put right, the keys go on from the note that it was said of, unless they are
// somewhere else already.
const current = all.find((spot) => spot.hasAttribute("aria-current"));
if (current && location.hash === `#${current.id}`) {
  const goOn = () => {
    const at = document.activeElement;
    if (at === current || at === document.body) goTo(current);
  };
  goOn();
  // When all is there the browser goes to the place in the address, which puts it at the very top.
  window.addEventListener("load", () => requestAnimationFrame(goOn));
}
