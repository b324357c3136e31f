// A sound begins at a moderate volume, whatever the page before had.

const MODERATE = 0.4;

function calm(root) {
  for (const audio of root.querySelectorAll("audio.calm")) {
    if (audio.dataset.calmed) continue;
    audio.dataset.calmed = "yes";
    audio.volume = MODERATE;
  }
}

calm(document);
document.addEventListener("htmx:afterSwap", (event) => calm(event.target));
