// A whole folder, or many files, sent a few at a time; then the studio looks into it.

import { byId } from "./page.js";
import { ask } from "./shell.js";

const SCORES = /\.(musicxml|xml|mxl|krn|mei|abc|midi?|pdf)$/i;
const MOST_BYTES = 20e6;
const TOGETHER = 20;
const TOGETHER_BYTES = 30e6;

/** @typedef {{ path: string, file: File }} Found */

/**
 * All files of what was dropped, folders opened.
 * @param {FileSystemEntry[]} entries
 * @returns {Promise<Found[]>}
 */
async function filesOf(entries) {
  /** @type {Found[]} */
  const found = [];
  for (const entry of entries) {
    if (entry.isFile) {
      const one = /** @type {FileSystemFileEntry} */ (entry);
      /** @type {File} */
      const file = await new Promise((resolve, reject) => one.file(resolve, reject));
      found.push({ path: entry.fullPath.replace(/^\//, ""), file });
    } else {
      const reader = /** @type {FileSystemDirectoryEntry} */ (entry).createReader();
      // A reader gives some entries at a time, and none at the end.
      for (;;) {
        /** @type {FileSystemEntry[]} */
        const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
        if (!some.length) break;
        found.push(...(await filesOf(some)));
      }
    }
  }
  return found;
}

/**
 * Send what was dropped.
 * @param {FileSystemEntry[]} entries
 */
export async function sendDropped(entries) {
  document.body.classList.add("is-taking-in");
  await sendAll(await filesOf(entries));
}

/**
 * @param {Found[]} all
 */
async function sendAll(all) {
  const found = all.filter(({ path }) => SCORES.test(path) && !/(^|\/)\./.test(path));
  const form = document.getElementById("send-folder");
  if (!found.length) {
    document.body.classList.remove("is-taking-in");
    say(form?.dataset.none ?? document.body.dataset.noScore ?? "");
    return;
  }
  const top = found[0].path.split("/")[0];
  const title = found.every(({ path }) => path.startsWith(`${top}/`)) ? top : form?.dataset.untitled ?? "-";
  const json = { "Content-Type": "application/json" };
  const { folder } = await ask("/parts/sent", { method: "POST", headers: json, body: JSON.stringify({ title }) });
  let done = 0;
  while (done < found.length) {
    const body = new FormData();
    let bytes = 0;
    let count = 0;
    for (const { path, file } of found.slice(done, done + TOGETHER)) {
      if (count && bytes + file.size > TOGETHER_BYTES) break;
      count += 1;
      // One that is too large would be refused with all that come with it; its name tells of it.
      const sent = file.size > MOST_BYTES ? file.slice(0, MOST_BYTES + 1) : file;
      bytes += sent.size;
      body.append("files", sent, title === top ? path.slice(top.length + 1) : path);
    }
    tell(done, found.length);
    await ask(`/parts/sent/${folder}`, { method: "POST", body });
    done += count;
  }
  tell(done, found.length);
  await fetch("/parts/folders/look", { method: "POST", redirect: "manual" });
  location.assign(`/parts/folders#folder-${folder}`);
  if (location.pathname === "/parts/folders") location.reload();
}

/**
 * @param {number} done
 * @param {number} total
 */
function tell(done, total) {
  const form = document.getElementById("send-folder");
  const line = form?.querySelector(".sending");
  if (!form || !(line instanceof HTMLElement)) return;
  line.hidden = false;
  const bar = line.querySelector("progress");
  if (bar) bar.value = done / total;
  say(`${form.dataset.sending} ${done} / ${total}`);
}

/** @param {string} words */
function say(words) {
  const line = document.querySelector("#send-folder .sending");
  if (!(line instanceof HTMLElement)) return;
  line.hidden = false;
  const place = line.querySelector("span");
  if (place) place.textContent = words;
}

const form = document.getElementById("send-folder");
if (form) {
  form.hidden = false;
  const field = byId("folder-files", HTMLInputElement);
  field.addEventListener("change", () => {
    const files = [...(field.files ?? [])];
    sendAll(files.map((file) => ({ path: file.webkitRelativePath || file.name, file })));
  });
}
