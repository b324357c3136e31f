// The library of parts: files dropped anywhere on the page are taken in.

import { byId } from "/static/shell.js";

const form = byId("drop", HTMLFormElement);
const input = byId("files", HTMLInputElement);
/** @param {DragEvent} event */
const holdsFiles = (event) => [...(event.dataTransfer?.types ?? [])].includes("Files");

document.addEventListener("dragover", (event) => {
  if (!holdsFiles(event)) return;
  event.preventDefault();
  form.classList.add("is-over");
});

document.addEventListener("dragleave", (event) => {
  if (!event.relatedTarget) form.classList.remove("is-over");
});

document.addEventListener("drop", (event) => {
  if (!holdsFiles(event)) return;
  event.preventDefault();
  form.classList.remove("is-over");
  input.files = event.dataTransfer?.files ?? null;
  if (input.files?.length) form.requestSubmit();
});
