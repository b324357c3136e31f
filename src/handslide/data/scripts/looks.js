// How a page looks: light or dark, large or usual; what was chosen stays on the device.

import { recall, remember } from "./kept.js";
import { make } from "./words.js";

const LOOKS = ["auto", "light", "dark"];

/**
 * The choices, to be set among others.
 * @param {Texts} texts
 * @returns {HTMLElement[]}
 */
export function looks(texts) {
  const root = document.documentElement;
  const look = recall("look");
  if (look && LOOKS.includes(look)) root.dataset.theme = look;
  root.dataset.size = recall("size") ?? root.dataset.size;
  const theme = choice("look", texts.look, LOOKS.map((key) => [key, texts[key]]), root.dataset.theme ?? "auto", (key) => {
    root.dataset.theme = key;
    remember("look", key);
  });
  const large = check("large", texts.large, root.dataset.size === "large", (on) => {
    root.dataset.size = on ? "large" : "usual";
    remember("size", root.dataset.size);
    document.dispatchEvent(new CustomEvent("hs:size"));
  });
  return [theme, large];
}

/**
 * One of a few, as keys beside each other.
 * @param {string} name
 * @param {string} label
 * @param {string[][]} options value and text
 * @param {string} now
 * @param {(value: string) => void} change
 */
export function choice(name, label, options, now, change) {
  const row = make("div", { class: "choice-row" });
  for (const [value, text] of options) {
    const input = make("input", { type: "radio", name, value, checked: value === now, autocomplete: "off" });
    input.addEventListener("change", () => change(value));
    row.append(make("label", {}, input, make("span", {}, text)));
  }
  return make("fieldset", { class: "choice" }, make("legend", {}, label), row);
}

/**
 * @param {string} name
 * @param {string} text
 * @param {boolean} on
 * @param {(on: boolean) => void} change
 */
export function check(name, text, on, change) {
  const input = make("input", { type: "checkbox", name, checked: on, autocomplete: "off" });
  input.addEventListener("change", () => change(input.checked));
  return make("label", { class: "check" }, input, make("span", {}, text));
}

/**
 * @param {string} name
 * @param {string} label
 * @param {[min: number, max: number, step: number, value: number]} numbers
 * @param {(value: number) => string} change takes the value over and says it
 */
export function range(name, label, [min, max, step, value], change) {
  const input = make("input", { type: "range", id: name, min, max, step, value, autocomplete: "off" });
  const output = make("output", { for: name });
  const set = () => {
    output.textContent = change(Number(input.value));
    input.setAttribute("aria-valuetext", output.textContent);
  };
  input.addEventListener("input", set);
  set();
  return make("div", { class: "range" }, make("label", { for: name }, label), input, output);
}
