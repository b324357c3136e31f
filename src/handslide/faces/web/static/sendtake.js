// A recorded take goes to the studio, and its report comes back once it is heard.

import { ask } from "./shell.js";

const POLL_MS = 700;
const pause = () => new Promise((go) => setTimeout(go, POLL_MS));

/** @typedef {import("./stage.js").Report} Report */

/**
 * From a page of the studio.
 * @param {FormData} form
 * @param {(percent: number) => void} tell
 * @returns {Promise<Report>}
 */
export async function heardByStudio(form, tell) {
  const answer = await fetch("/takes", {
    method: "POST", body: form, headers: { Accept: "application/json" },
  });
  if (!answer.ok) {
    const data = await answer.json().catch(() => null);
    throw new Error(data?.error ?? "");
  }
  return ask(`${await addressOf(answer.url, tell)}/heard`);
}

/**
 * The address of the take, once it is heard.
 * @param {string} url where it was sent on to
 * @param {(percent: number) => void} tell
 * @returns {Promise<string>}
 */
async function addressOf(url, tell) {
  for (;;) {
    if (!url.includes("/waiting/")) return new URL(url, location.href).pathname;
    const answer = await fetch(url, { headers: { "HX-Request": "true" } });
    const there = answer.headers.get("HX-Redirect");
    if (there) return there;
    const piece = new DOMParser().parseFromString(await answer.text(), "text/html");
    const wrong = piece.querySelector(".notice.bad");
    if (wrong || !answer.ok) throw new Error(wrong?.textContent?.trim() ?? "");
    tell(piece.querySelector("progress")?.value ?? 0);
    await pause();
  }
}

/**
 * From a tablet that has a link: its address has no number, the link knows which take is meant.
 * @param {FormData} form
 * @param {(percent: number) => void} tell
 * @returns {Promise<Report>}
 */
export async function heardByLink(form, tell) {
  let state = await ask("/take", { method: "POST", body: form });
  while (!state.done) {
    tell(100 * state.share);
    await pause();
    state = await ask("/take");
  }
  if (state.error) throw new Error(state.error);
  return state.report;
}
