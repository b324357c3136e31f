// Engraved music as it comes: piece after piece, the first while the others are still engraved.

/**
 * The pieces of the music at an address, each as an element to stand below the one before.
 * @param {string} url
 * @param {string} width narrow, medium, wide
 * @param {AbortSignal} signal
 * @returns {AsyncGenerator<SVGSVGElement>}
 */
export async function* pieces(url, width, signal) {
  /** @type {URL | null} */
  let next = new URL(url, location.href);
  next.searchParams.set("width", width);
  next.searchParams.set("piece", "0");
  while (next) {
    const answer = await fetch(next, { signal, headers: { Accept: "image/svg+xml, application/json" } });
    if (!answer.ok) throw new Error((await answer.json()).error);
    const drawing = await answer.text();
    next = following(answer);
    yield read(drawing);
  }
}

/** @param {Response} answer */
function following(answer) {
  const link = /<([^>]*)>; rel="next"/.exec(answer.headers.get("Link") ?? "");
  return link ? new URL(link[1], answer.url) : null;
}

/** @param {string} drawing */
function read(drawing) {
  const parsed = new DOMParser().parseFromString(drawing, "image/svg+xml");
  const root = document.importNode(parsed.documentElement, true);
  if (!(root instanceof SVGSVGElement)) throw new Error("no drawing");
  return root;
}
