// Records a take in place: what was played goes into the form's own file field, so that the form is
// sent as with any other file. Without a script or a microphone the file field is there alone.

import { byId } from "./page.js";
import { recordInto } from "./recorder.js";

let count = 0;

/** @type {NodeListOf<HTMLElement>} */
const places = document.querySelectorAll("[data-record]");
for (const place of places) {
  const field = byId(place.dataset.record ?? "", HTMLInputElement);
  recordInto(place, {
    onDone(blob) {
      const files = new DataTransfer();
      if (field.multiple) for (const file of field.files ?? []) files.items.add(file);
      count += 1;
      files.items.add(new File([blob], `take-${count}.wav`, { type: "audio/wav" }));
      field.files = files.files;
      field.dispatchEvent(new Event("change", { bubbles: true }));
    },
  });
  place.hidden = false;
}

/** @type {NodeListOf<HTMLElement>} */
const printers = document.querySelectorAll("[data-print]");
for (const button of printers) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// What is folded on the screen and wanted on paper.
/** @type {NodeListOf<HTMLDetailsElement>} */
const folded = document.querySelectorAll("details[data-printed]");
for (const one of folded) {
  let was = one.open;
  window.addEventListener("beforeprint", () => {
    was = one.open;
    one.open = true;
  });
  window.addEventListener("afterprint", () => (one.open = was));
}
