// Links and buttons that lead to a file which takes its time (data-making): what is done is shown
// beside them, then the file opens, or is offered where the browser opens nothing by itself.

import { around } from "./page.js";

/** @typedef {{ text?: string, share?: number, ready?: string, open?: string, made?: string, error?: string }} Line */

document.addEventListener("click", (event) => {
  const press = around(event, "[data-making]");
  const otherwise = event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey;
  if (!press || otherwise || event.defaultPrevented) return;
  const url = addressOf(press);
  if (!url) return;
  event.preventDefault();
  if (press.getAttribute("aria-busy") !== "true") make(press, url);
});

/**
 * Where a link leads, or a button of a form that is filled in well.
 * @param {HTMLElement} press
 */
function addressOf(press) {
  if (press instanceof HTMLAnchorElement) return new URL(press.href);
  if (!(press instanceof HTMLButtonElement) || !press.form?.reportValidity()) return null;
  // Without an address of its own a button has its page's.
  const url = new URL(press.hasAttribute("formaction") ? press.formAction : press.form.action);
  for (const [name, value] of new FormData(press.form, press)) url.searchParams.append(name, String(value));
  return url;
}

/**
 * @param {HTMLElement} press
 * @param {URL} url
 */
async function make(press, url) {
  const told = placeBeside(press);
  const bar = document.createElement("progress");
  bar.setAttribute("aria-label", press.textContent?.trim() || press.querySelector("img")?.alt || "");
  const words = document.createElement("span");
  told.replaceChildren(bar, words);
  press.setAttribute("aria-busy", "true");
  press.classList.add("busy");
  try {
    for await (const line of lines(url)) {
      if (line.error) throw new Error(line.error);
      if (line.share !== undefined) bar.value = line.share;
      // Said once for each stage: who hears the page needn't hear every step.
      if (line.text && line.text !== words.textContent) words.textContent = line.text;
      if (line.made) url.searchParams.set("made", line.made);
      if (line.ready) show(press, url, told, line);
    }
  } catch (error) {
    told.replaceChildren(/** @type {Error} */ (error).message);
    told.classList.add("bad");
  } finally {
    press.removeAttribute("aria-busy");
    press.classList.remove("busy");
  }
}

/**
 * @param {URL} url
 * @returns {AsyncGenerator<Line>}
 */
async function* lines(url) {
  const lost = document.body.dataset.lost;
  let rest = "";
  let ended = false;
  try {
    const answer = await fetch(url, { headers: { Accept: "application/x-ndjson, application/json" } });
    if (!answer.ok || !answer.body) throw new Refused((await answer.json()).error);
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (let piece = await reader.read(); !piece.done; piece = await reader.read()) {
      const found = (rest + piece.value).split("\n");
      rest = found.pop() ?? "";
      for (const text of found) {
        const line = /** @type {Line} */ (JSON.parse(text));
        ended ||= Boolean(line.ready ?? line.error);
        yield line;
      }
    }
  } catch (error) {
    if (error instanceof Refused) throw error;
    throw new Error(lost);
  }
  if (!ended) throw new Error(lost);
}

class Refused extends Error {}

/**
 * @param {HTMLElement} press
 * @param {URL} url
 * @param {HTMLElement} told
 * @param {Line} line
 */
function show(press, url, told, line) {
  if (press.hasAttribute("download") || url.searchParams.has("save")) {
    location.assign(url);
    told.replaceChildren(line.ready ?? "");
    return;
  }
  const link = document.createElement("a");
  link.href = url.href;
  link.target = "_blank";
  link.textContent = line.open ?? "";
  told.replaceChildren(`${line.ready} `, link);
  // Long after the press a browser opens nothing by itself.
  if (!window.open(url, "_blank") && document.activeElement === press) link.focus();
}

/** @param {HTMLElement} press */
function placeBeside(press) {
  const next = press.nextElementSibling;
  if (next instanceof HTMLElement && next.classList.contains("making")) {
    next.classList.remove("bad");
    return next;
  }
  const told = document.createElement("span");
  told.className = "making";
  told.setAttribute("role", "status");
  press.after(told);
  return told;
}
