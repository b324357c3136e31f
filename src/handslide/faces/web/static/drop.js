// A part dropped anywhere in the studio is taken in: on a student's page it goes on their stand.

import { complain } from "./shell.js";

const SCORES = /\.(musicxml|xml|mxl|krn|mei|abc|midi?|pdf)$/i;
// Whose page it is stands in its address.
const STUDENTS = /^\/(?:students|progress|practice|tuning|fitting)\/(\d+)/;
const MOST_BYTES = 20e6;
const MANY = 20;

/** @param {DragEvent} event */
const holdsFiles = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");

/** A field for a file of its own takes what is dropped onto it. @param {Event} event */
const forField = (event) => event.target instanceof Element && event.target.matches("input[type=file]");

/** Whose page this is, if it is a student's. */
function student() {
  const asked = new URLSearchParams(location.search).get("student");
  return asked ?? STUDENTS.exec(location.pathname)?.[1] ?? null;
}

/** @param {boolean} over */
const show = (over) => document.body.classList.toggle("is-dropping", over);

/**
 * Send scores on, as a form does.
 * @param {FileList | null | undefined} files
 */
export function takeIn(files) {
  const all = [...(files ?? [])];
  if (!all.length) return;
  if (all.some((file) => file.size > MOST_BYTES)) {
    complain(document.body.dataset.large);
    return;
  }
  const form = document.createElement("form");
  form.hidden = true;
  form.method = "post";
  form.action = "/parts";
  form.enctype = "multipart/form-data";
  const input = document.createElement("input");
  Object.assign(input, { type: "file", name: "files", multiple: true, files });
  form.append(input);
  const whose = student();
  for (const [name, value] of [["then", "go"], ...(whose ? [["student", whose]] : [])]) {
    form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
  }
  document.body.append(form);
  document.body.classList.add("is-taking-in");
  form.requestSubmit();
}

document.addEventListener("dragover", (event) => {
  if (!holdsFiles(event) || forField(event)) return;
  event.preventDefault();
  show(true);
});

document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) show(false);
});

document.addEventListener("drop", (event) => {
  show(false);
  if (event.defaultPrevented || !holdsFiles(event) || forField(event)) return;
  event.preventDefault();
  const files = event.dataTransfer?.files;
  const entries = [...(event.dataTransfer?.items ?? [])].map((item) => item.webkitGetAsEntry());
  const there = entries.filter((entry) => entry !== null);
  // A folder, or more files than a form takes at once, goes a few at a time.
  if (there.some((entry) => entry.isDirectory) || there.length > MANY) {
    import("./folder.js").then((folder) => folder.sendDropped(there)).catch(() => {
      // What went wrong is said already.
      document.body.classList.remove("is-taking-in");
    });
    return;
  }
  // A recording or an archive has its own field on its own page.
  if ([...(files ?? [])].every((file) => SCORES.test(file.name))) takeIn(files);
  else complain(document.body.dataset.noScore);
});
