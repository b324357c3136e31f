// Boxes to tick, which the device remembers under the name of the page; today's are shown as such.

import { recall, remember } from "./kept.js";
import { make } from "./words.js";

const key = () => `ticks.${document.documentElement.dataset.page}`;
const ticked = () => new Set((recall(key()) ?? "").split(" ").filter(Boolean));

/** @param {HTMLElement} box */
const nameOf = (box) => `${box.closest(".block")?.id}.${box.dataset.tick}`;

/**
 * @param {Texts} texts
 * @returns {HTMLElement[]} what the page can be asked of them
 */
export function setUpTicks(texts) {
  /** @type {HTMLInputElement[]} */
  const boxes = [...document.querySelectorAll("input[data-tick]")].map((box) => /** @type {HTMLInputElement} */ (box));
  if (!boxes.length) return [];
  const before = ticked();
  for (const box of boxes) {
    box.checked = before.has(nameOf(box));
    box.addEventListener("change", () => {
      const now = ticked();
      if (box.checked) now.add(nameOf(box));
      else now.delete(nameOf(box));
      remember(key(), [...now].join(" "));
    });
  }
  const showToday = () => {
    const today = `d${(new Date().getDay() + 6) % 7}`;
    for (const box of boxes) {
      const shown = box.dataset.tick === today;
      box.closest(".box")?.classList.toggle("is-today", shown);
      if (shown) box.setAttribute("aria-current", "date");
      else box.removeAttribute("aria-current");
    }
  };
  showToday();
  document.addEventListener("visibilitychange", showToday);
  const clear = () => {
    if (!window.confirm(texts.clear_sure)) return;
    for (const box of boxes) box.checked = false;
    remember(key(), "");
  };
  return [make("button", { type: "button", class: "key", onclick: clear }, texts.clear)];
}
