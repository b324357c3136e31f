// The seat of a tablet: when its link ends, the part goes ("hs:ended" is said).

import { byId } from "./page.js";

const ENDED = [4403, 1012]; // the link has ended; the studio was closed, and its links with it
const AGAIN_MS = 4000;

let over = false;
/** @type {WebSocket | null} */
let staying = null;

function end() {
  over = true;
  staying?.close();
  document.dispatchEvent(new CustomEvent("hs:ended"));
  for (const each of document.querySelectorAll("header, main, audio, .skip")) each.remove();
  document.title = "handslide";
  byId("ended").hidden = false;
}

function stay() {
  if (over) return;
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  staying = new WebSocket(`${scheme}://${location.host}/here`);
  staying.addEventListener("close", ({ code }) => {
    if (over) return;
    if (ENDED.includes(code)) end();
    else setTimeout(stay, AGAIN_MS);
  });
}

const left = Date.parse(document.body.dataset.ends ?? "") - Date.now();
if (left > 0) setTimeout(end, left);
stay();
