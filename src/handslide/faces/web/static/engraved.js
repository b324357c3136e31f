// Engraved music as it comes: piece after piece, the first while the others are still engraved.

import { isJson, twice } from "./page.js";

/**
 * The music at an address, for `Music`.
 * @param {string} url
 * @returns {import("./music.js").Pieces}
 */
export const piecesAt = (url) => (width, signal) => pieces(url, width, signal);

/**
 * @param {string} url
 * @param {string} width
 * @param {AbortSignal} signal
 * @returns {AsyncGenerator<SVGSVGElement>}
 */
async function* pieces(url, width, signal) {
  const first = new URL(url, location.href);
  first.searchParams.set("width", width);
  first.searchParams.set("piece", "0");
  /** @param {URL} address */
  const ask = (address) =>
    twice(async () => {
      const answer = await fetch(address, { signal, headers: { Accept: "image/svg+xml, application/json" } });
      return { answer, text: await answer.text() };
    });
  let coming = ask(first);
  for (;;) {
    let { answer, text } = await coming;
    // The page had it fetched ahead, where an error is a page: as it is asked for here, it is a sentence.
    if (!answer.ok && !isJson(answer)) ({ answer, text } = await ask(new URL(answer.url)));
    if (!answer.ok) throw new Error(JSON.parse(text).error);
    // While one is drawn the next is on its way; what becomes of that is seen when it is wanted.
    const next = following(answer);
    if (next) (coming = ask(next)).catch(() => {});
    yield read(text);
    if (!next) return;
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
