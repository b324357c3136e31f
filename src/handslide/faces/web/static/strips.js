// Lines of music that come when they are looked at.

import { twice } from "./page.js";
import { complain } from "./shell.js";

const NARROW_PX = 620;
const MEDIUM_PX = 760;

/** How much stands on the line: less where it would be too small to read. @param {HTMLElement} strip */
function room(strip) {
  if (window.innerWidth < NARROW_PX) return "narrow";
  if (strip.dataset.room) return strip.dataset.room;
  return strip.clientWidth < MEDIUM_PX && "fits" in strip.dataset ? "medium" : "wide";
}

/** @param {HTMLElement} strip */
async function load(strip) {
  const url = new URL(strip.dataset.strip ?? "", location.href);
  url.searchParams.set("width", room(strip));
  let answer;
  try {
    answer = await twice(() => fetch(url, { headers: { Accept: "image/svg+xml" } }));
  } catch {
    answer = null;
  }
  strip.setAttribute("aria-busy", "false");
  if (!answer) {
    strip.dataset.again = "";
    complain();
    return;
  }
  strip.classList.remove("is-missing");
  if (answer.ok) {
    // Our own engraver drew it; what others wrote is not in it.
    strip.innerHTML = await answer.text();
    // Lines below each other begin at one edge.
    strip.firstElementChild?.setAttribute("preserveAspectRatio", "xMinYMid");
  } else {
    strip.textContent = strip.dataset.missing ?? "";
    strip.classList.add("is-missing");
  }
}

// What couldn't be had while the studio was down.
document.addEventListener("hs:back", () => {
  /** @type {NodeListOf<HTMLElement>} */
  const waiting = document.querySelectorAll("[data-strip][data-again]");
  for (const strip of waiting) {
    delete strip.dataset.again;
    load(strip);
  }
});

// Who only passes through a list shall not wait on the next page for lines drawn on this one.
const REST_MS = 800;

const seen = new IntersectionObserver(
  (entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting || !(target instanceof HTMLElement)) continue;
      seen.unobserve(target);
      setTimeout(() => load(target), "later" in target.dataset ? REST_MS : 0);
    }
  },
  { rootMargin: "300px" },
);
/** @param {ParentNode} within */
function watch(within) {
  for (const strip of within.querySelectorAll("[data-strip]")) {
    strip.setAttribute("aria-busy", "true");
    seen.observe(strip);
  }
}
watch(document);
// A piece of the page that was fetched anew may bring lines with it.
document.addEventListener("htmx:afterSwap", ({ target }) => target instanceof Element && watch(target));
