// Small help for the scripts that build what they show.

/**
 * A number as the page's language writes it, with a true minus.
 * @param {number} value
 */
export function number(value, digits = 0) {
  const shown = Math.abs(value) < 0.5 * 10 ** -digits ? 0 : value;
  const text = shown.toFixed(digits).replace("-", "−");
  return text.replace(".", document.documentElement.dataset.decimal ?? ".");
}

/**
 * Put values into a text: fill("{n} notes", {n: 3}).
 * @param {string} text
 * @param {Record<string, string | number>} values
 */
export function fill(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/**
 * An element with attributes, listeners (onclick: ...) and children in one go.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, string | number | boolean | null | undefined | EventListener>} attributes
 * @param {(Node | string)[]} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (typeof value === "function") element.addEventListener(key.slice(2), value);
    else if (key === "class") element.className = String(value);
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  element.append(...children);
  return element;
}
