// What all pages of the studio share: waiting is shown, errors are said.

import { around, byId, isAbort, isJson, isTyping, twice } from "./page.js";

/**
 * Show one sentence at the foot of the window until it is closed.
 * @param {string} [sentence] default: that the studio can't be reached
 */
export function complain(sentence = document.body.dataset.lost ?? "") {
  const place = byId("complaint");
  const notice = document.createElement("div");
  notice.className = "notice bad";
  const words = document.createElement("p");
  words.textContent = sentence;
  notice.append(words);
  place.replaceChildren(notice);
  closable(place);
  const { lost, kept } = document.body.dataset;
  if (document.body.dataset.back && (sentence === lost || sentence === kept)) sayWhenBack(notice);
}

const LOOK_MS = 1500;
const BACK_MS = 8000;

/** Whether anything answers at the studio's address. */
async function answers() {
  try {
    await fetch("/static/icon.svg", { method: "HEAD", cache: "no-store" });
  } catch {
    return false;
  }
  return true;
}

/**
 * That the studio doesn't answer is true only until it does: then that is said instead, and what
 * couldn't be had is asked for again (event `hs:back`).
 * @param {Element} notice
 */
async function sayWhenBack(notice) {
  do await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
  while (notice.isConnected && !(await answers()));
  if (!notice.isConnected) return;
  notice.className = "notice good";
  const words = notice.querySelector("p");
  if (words) words.textContent = document.body.dataset.back ?? "";
  document.dispatchEvent(new CustomEvent("hs:back"));
  setTimeout(() => notice.remove(), BACK_MS);
}

/** Take a shown sentence away. */
export function calm() {
  byId("complaint").replaceChildren();
}

/**
 * fetch that gives the JSON of the answer; shows the sentence of an error and throws it.
 * @param {string} url
 * @param {RequestInit & { headers?: Record<string, string> }} options
 */
export async function ask(url, options = {}) {
  const send = () => fetch(url, { ...options, headers: { Accept: "application/json", ...options.headers } });
  let answer;
  try {
    answer = await (options.method ? send() : twice(send));
    // The page had it fetched ahead, where an error is a page: as it is asked for here, it is a sentence.
    if (!answer.ok && !isJson(answer) && !options.method) answer = await send();
  } catch (error) {
    if (!isAbort(error)) complain();
    throw error;
  }
  const data = isJson(answer) ? await answer.json() : null;
  if (!answer.ok) {
    const sentence = data?.error ?? document.body.dataset.lost;
    complain(sentence);
    throw new Error(sentence);
  }
  return data;
}

/** @param {Element} place */
function closable(place) {
  const notice = place.querySelector(".notice");
  if (!notice || notice.querySelector("button")) return;
  const close = document.createElement("button");
  close.type = "button";
  close.className = "button quiet";
  close.textContent = document.body.dataset.close ?? "";
  close.addEventListener("click", calm);
  notice.append(close);
}

/**
 * True if a file is larger than its field takes (data-most-mb).
 * @param {EventTarget | null} form
 */
function tooLarge(form) {
  if (!(form instanceof HTMLFormElement)) return false;
  /** @type {NodeListOf<HTMLInputElement>} */
  const fields = form.querySelectorAll("input[type=file][data-most-mb]");
  return [...fields].some((field) =>
    [...(field.files ?? [])].some((file) => file.size > Number(field.dataset.mostMb) * 1e6),
  );
}

// Before other scripts see it: a connection that breaks off while it sends shows no sentence.
document.addEventListener(
  "submit",
  (event) => {
    if (!tooLarge(event.target)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    complain(document.body.dataset.large);
  },
  true,
);

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  const { submitter } = event;
  const target = submitter?.getAttribute("formtarget") ?? form.target;
  if (event.defaultPrevented || form.method === "dialog" || target) return;
  // The studio has answered: now it goes the browser's own way.
  if (form.dataset.sent === "now") return;
  // A second press must not send the form twice.
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  // A download leaves the page where it is, so nothing would end the waiting.
  if (form.hasAttribute("data-download")) return;
  form.dataset.sent = "yes";
  form.setAttribute("aria-busy", "true");
  (submitter || form.querySelector("[type=submit], button"))?.classList.add("busy");
  const method = submitter?.getAttribute("formmethod") ?? form.method;
  if (method.toLowerCase() !== "post") return;
  event.preventDefault();
  sendIfThere(form, submitter);
});

/**
 * Send a form once the studio has answered something: a browser that gets no answer to a form shows
 * a page of its own, and what was typed is gone.
 * @param {HTMLFormElement} form
 * @param {HTMLElement | null} submitter
 */
async function sendIfThere(form, submitter) {
  if (!(await answers())) {
    unsent();
    complain(document.body.dataset.kept);
    return;
  }
  document.dispatchEvent(new CustomEvent("hs:sending", { detail: form }));
  form.dataset.sent = "now";
  form.requestSubmit(submitter);
}

function unsent() {
  /** @type {NodeListOf<HTMLFormElement>} */
  const sent = document.querySelectorAll("form[data-sent]");
  for (const form of sent) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  }
  for (const button of document.querySelectorAll(".busy")) button.classList.remove("busy");
}

// A page that comes back from the browser's memory waits for nothing.
window.addEventListener("pageshow", unsent);

document.addEventListener("htmx:sendError", () => complain());
document.addEventListener("htmx:timeout", () => complain());
document.addEventListener("htmx:beforeRequest", (event) => {
  around(event, "*")?.classList.add("waits");
});
document.addEventListener("htmx:afterRequest", (event) => {
  around(event, "*")?.classList.remove("waits");
  // That the studio is back may be read in peace.
  if (event.detail.successful && !document.querySelector("#complaint .notice.good")) calm();
});
document.addEventListener("htmx:afterSwap", () => closable(byId("complaint")));

const help = document.getElementById("help");
document.getElementById("help-key")?.addEventListener("click", () => {
  if (help instanceof HTMLDialogElement) help.showModal();
});

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") calm();
  if (event.key !== "?" || isTyping(event) || document.querySelector("dialog[open]")) return;
  event.preventDefault();
  document.getElementById("help-key")?.click();
});

// A menu of the bar closes by a press elsewhere and by Escape.
/** @param {Event} event */
function closeMenus(event) {
  for (const menu of document.querySelectorAll("details.bar-more[open]")) {
    const inside = event.target instanceof Node && menu.contains(event.target);
    if (event.type === "pointerdown" && inside) continue;
    menu.removeAttribute("open");
    if (inside) menu.querySelector("summary")?.focus();
  }
}
document.addEventListener("pointerdown", closeMenus);
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") closeMenus(event);
});

// A button that can't be pressed says why: data-why, while it is disabled.
/** @param {Element} button */
function sayWhy(button) {
  const why = button.getAttribute("data-why") ?? "";
  if (button.hasAttribute("disabled")) button.setAttribute("title", why);
  else if (button.getAttribute("title") === why) button.setAttribute("title", button.ariaLabel ?? "");
}
for (const button of document.querySelectorAll("[data-why]")) sayWhy(button);
new MutationObserver((changes) => {
  for (const { target } of changes) {
    if (target instanceof Element && target.matches("[data-why]")) sayWhy(target);
  }
}).observe(document.body, { subtree: true, attributeFilter: ["disabled"] });

// A list that has no room for its whole text says it under the mouse.
document.addEventListener("pointerover", ({ target }) => {
  if (target instanceof HTMLSelectElement) target.title = target.selectedOptions[0]?.text ?? "";
});

// On a narrow window the line of a lesson begins at the present step.
const step = document.querySelector(".lesson-line [aria-current]");
const steps = step?.closest("ol");
if (step && steps) {
  steps.scrollLeft += step.getBoundingClientRect().left - steps.getBoundingClientRect().left;
}
