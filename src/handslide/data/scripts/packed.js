// Texts that a page has packed, such as engravings for other windows: gzip, written as base64.

/**
 * A packed text, or null where there is none or the browser can't unpack it.
 * @param {ParentNode} within
 * @param {string} name
 * @returns {Promise<string | null>}
 */
export async function textIn(within, name) {
  const packed = within.querySelector(`script[data-packed="${name}"]`)?.textContent;
  if (!packed || !("DecompressionStream" in window)) return null;
  const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).text();
}

/**
 * The drawings of a packed text, or null where there is none or the browser can't unpack it.
 * @param {ParentNode} within
 * @param {string} name
 * @returns {Promise<SVGSVGElement[] | null>}
 */
export async function drawingsIn(within, name) {
  const text = await textIn(within, name);
  if (text === null) return null;
  const parsed = new DOMParser().parseFromString(`<body>${text}`, "text/html");
  return [...parsed.body.children].flatMap((svg) =>
    svg instanceof SVGSVGElement ? [document.importNode(svg, true)] : [],
  );
}
