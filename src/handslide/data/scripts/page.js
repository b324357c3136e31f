// What a page hands to its scripts, and what an event of it is about.

/**
 * The texts that a page hands to its scripts, or {}.
 * @returns {Texts}
 */
export function texts(id = "texts") {
  return handed(id) ?? {};
}

/**
 * The JSON that a page hands to its scripts, or null.
 * @param {string} id
 */
export function handed(id) {
  const block = document.getElementById(id);
  return block ? JSON.parse(block.textContent ?? "") : null;
}

/**
 * The element with this id, which the page must have.
 * @template {HTMLElement} [T=HTMLElement]
 * @param {string} id
 * @param {new () => T} [kind] what it must be, such as HTMLInputElement
 * @returns {T}
 */
export function byId(id, kind) {
  const found = document.getElementById(id);
  if (!(found instanceof (kind ?? HTMLElement))) throw new Error(`this page has no such #${id}`);
  return /** @type {T} */ (found);
}

/**
 * What a selector means at the place of an event or around it, if there is such an element.
 * @template {HTMLElement} [T=HTMLElement]
 * @param {Event} event
 * @param {string} selector
 * @returns {T | null}
 */
export function around(event, selector) {
  return event.target instanceof Element ? event.target.closest(selector) : null;
}

/**
 * Whether a request ended because this page ended it.
 * @param {unknown} error
 */
export function isAbort(error) {
  return error instanceof DOMException && error.name === "AbortError";
}

const AGAIN_MS = 1000;

/**
 * What ``get`` gives; where the connection tore, once more after a while. A page that is being left
 * is gone by then: Firefox tears at once what is still on its way, and nothing is wrong.
 * @template T
 * @param {() => Promise<T>} get must change nothing where it asks
 */
export async function twice(get) {
  try {
    return await get();
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
  }
  await new Promise((go) => setTimeout(go, AGAIN_MS));
  return get();
}

/**
 * Whether an answer is what scripts read, not a page.
 * @param {Response} answer
 */
export const isJson = (answer) => (answer.headers.get("Content-Type") ?? "").startsWith("application/json");

/**
 * Whether a key is for what is written, not for the page.
 * @param {Event} event
 */
export const isTyping = (event) => around(event, "input, select, textarea, [contenteditable]") !== null;
