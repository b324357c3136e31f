// Lines of music that come when they are looked at.

const NARROW_PX = 620;

/** @param {HTMLElement} strip */
async function load(strip) {
  const url = new URL(strip.dataset.strip ?? "", location.href);
  url.searchParams.set("width", window.innerWidth < NARROW_PX ? "narrow" : (strip.dataset.room ?? "wide"));
  let answer;
  try {
    answer = await fetch(url, { headers: { Accept: "image/svg+xml" } });
  } catch {
    answer = null;
  }
  strip.setAttribute("aria-busy", "false");
  if (answer?.ok) {
    // Our own engraver drew it; what others wrote is not in it.
    strip.innerHTML = await answer.text();
  } else {
    strip.textContent = strip.dataset.missing ?? "";
    strip.classList.add("is-missing");
  }
}

const seen = new IntersectionObserver(
  (entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting || !(target instanceof HTMLElement)) continue;
      seen.unobserve(target);
      load(target);
    }
  },
  { rootMargin: "300px" },
);
for (const strip of document.querySelectorAll("[data-strip]")) {
  strip.setAttribute("aria-busy", "true");
  seen.observe(strip);
}
