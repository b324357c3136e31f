// The list of all parts: a choice above it is followed at once.

/** @type {HTMLFormElement | null} */
const seek = document.querySelector("form.seek");
seek?.addEventListener("change", (event) => {
  const at = event.target;
  if (at instanceof HTMLSelectElement || (at instanceof HTMLInputElement && at.type === "checkbox")) seek.requestSubmit();
});

export {};
