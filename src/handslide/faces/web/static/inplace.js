// Records a take in place: what was played goes into the form's own file field, so that the form is
// sent as with any other file. Without a script or a microphone the file field is there alone.

import { recordInto } from "/static/recorder.js";

let count = 0;

for (const place of document.querySelectorAll("[data-record]")) {
  const field = document.getElementById(place.dataset.record);
  recordInto(place, {
    onDone(blob) {
      const files = new DataTransfer();
      if (field.multiple) for (const file of field.files) files.items.add(file);
      count += 1;
      files.items.add(new File([blob], `take-${count}.wav`, { type: "audio/wav" }));
      field.files = files.files;
      field.dispatchEvent(new Event("change", { bubbles: true }));
    },
  });
  place.hidden = false;
}

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
