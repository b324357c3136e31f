// What is wrong in a form is said at its field, and what was typed comes back with it.
//
// The server says which values it refused (body[data-wrong], the header X-Handslide-Wrong); the
// field is the one in which such a value stands. A form whose refusal is a page of its own is shown
// again, as it was filled in.

import { around } from "./page.js";
import { complain } from "./shell.js";

const KEPT = "handslide.typed";
const TYPED = "input:not([type=hidden], [type=file], [type=password], [type=submit]), select, textarea";

/** @typedef {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} Field */
/** @typedef {{ page: string, action: string, values: [boolean, string][], sentence?: string, wrong?: (string | number)[] }} Kept */

/**
 * @param {ParentNode} form
 * @returns {Field[]}
 */
const fieldsOf = (form) => [...form.querySelectorAll(TYPED)].map((one) => /** @type {Field} */ (one));

const here = () => location.pathname + location.search;

/** @param {HTMLFormElement} form */
const actionOf = (form) => form.getAttribute("action") ?? "";

/** @param {Field} field */
const isChecked = (field) => field instanceof HTMLInputElement && field.checked;

/** @returns {Kept | null} */
function taken() {
  const text = sessionStorage.getItem(KEPT);
  sessionStorage.removeItem(KEPT);
  return text ? JSON.parse(text) : null;
}

/** @param {Kept} kept */
function keep(kept) {
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(kept));
  } catch {
    // No room for it: the browser's own way back may still have what was typed.
  }
}

/**
 * Whether a value that was refused stands in a field.
 * @param {Field} field
 * @param {string | number} value
 */
function holds(field, value) {
  const typed = field.value.trim();
  if (typeof value === "string") return typed !== "" && (typed === value.trim() || typed.slice(0, 20) === value);
  const read = typed === "" ? NaN : Number(typed.replace(",", "."));
  return Math.abs(read - value) <= 1e-9 * Math.abs(value);
}

/**
 * The one field that a refusal is about, if that is certain.
 * @param {Field[]} fields
 * @param {(string | number)[]} wrong
 */
function fieldOf(fields, wrong) {
  const shown = fields.filter((field) => field.type !== "checkbox" && field.type !== "radio");
  for (const value of wrong) {
    if (value === "") continue;
    const found = shown.filter((field) => holds(field, value));
    if (found.length === 1) return found[0];
  }
  const empty = shown.filter((field) => field.required && !field.value.trim());
  return empty.length === 1 ? empty[0] : null;
}

/** @param {ParentNode} within */
function clear(within) {
  for (const said of within.querySelectorAll(".field-wrong")) {
    const field = document.querySelector(`[aria-describedby~="${said.id}"]`);
    field?.removeAttribute("aria-invalid");
    const others = (field?.getAttribute("aria-describedby") ?? "").split(" ").filter((id) => id !== said.id);
    if (others.length) field?.setAttribute("aria-describedby", others.join(" "));
    else field?.removeAttribute("aria-describedby");
    said.remove();
  }
}

/**
 * Say it at the field; false if it isn't certain which.
 * @param {ParentNode} within
 * @param {(string | number)[]} wrong
 * @param {string} sentence
 */
function pointOut(within, wrong, sentence) {
  clear(within);
  const field = fieldOf(fieldsOf(within), wrong);
  if (!field || !sentence) return null;
  const said = document.createElement("p");
  said.className = "hint bad field-wrong";
  said.id = `${field.id || field.name}-wrong`;
  said.textContent = sentence;
  field.setAttribute("aria-invalid", "true");
  const others = field.getAttribute("aria-describedby");
  field.setAttribute("aria-describedby", others ? `${others} ${said.id}` : said.id);
  field.after(said);
  field.addEventListener("input", () => clear(within), { once: true });
  const over = field.closest("dialog");
  if (over && !over.open) over.showModal();
  for (let around = field.closest("details"); around; around = around.parentElement?.closest("details") ?? null) {
    around.open = true;
  }
  return field;
}

/**
 * The next thing typed takes the place of what was wrong.
 * @param {Field | null} field
 */
function goTo(field) {
  field?.focus();
  if (field instanceof HTMLInputElement) field.select();
  return field !== null;
}

/** @param {Kept} kept */
function comeBack(kept) {
  const form = [...document.forms].find((one) => actionOf(one) === kept.action);
  const fields = form ? fieldsOf(form) : [];
  const sentence = kept.sentence ?? "";
  if (!form || fields.length !== kept.values.length) {
    complain(sentence);
    return;
  }
  fields.forEach((field, k) => {
    const [checked, value] = kept.values[k];
    if (field instanceof HTMLInputElement && ["checkbox", "radio"].includes(field.type)) field.checked = checked;
    else field.value = value;
  });
  if (!goTo(pointOut(form, kept.wrong ?? [], sentence))) complain(sentence);
}

function begin() {
  const kept = taken();
  const { wrong } = document.body.dataset;
  const failed = document.getElementById("failed");
  /** @type {(string | number)[]} */
  const values = wrong ? JSON.parse(wrong) : [];
  if (failed && kept && !kept.sentence) {
    keep({ ...kept, sentence: failed.textContent ?? "", wrong: values });
    location.replace(kept.page);
  } else if (kept?.sentence && kept.page === here()) {
    comeBack(kept);
  } else if (!failed && wrong) {
    const notice = document.querySelector("main .notice.bad[role=alert]");
    const said = notice?.querySelector("strong")?.nextSibling ?? notice;
    const within = [...document.forms].find((form) => kept && actionOf(form) === kept.action) ?? document.querySelector("main");
    if (within) goTo(pointOut(within, values, said?.textContent?.trim() ?? ""));
  }
}

document.addEventListener("hs:sending", ({ detail: form }) => {
  keep({
    page: here(),
    action: actionOf(form),
    values: fieldsOf(form).map((field) => [isChecked(field), field.value]),
  });
});

document.addEventListener("htmx:afterRequest", (event) => {
  const form = around(event, "form");
  if (!form) return;
  const wrong = event.detail.xhr?.getResponseHeader("X-Handslide-Wrong");
  if (!wrong) {
    clear(form);
    return;
  }
  const answer = new DOMParser().parseFromString(event.detail.xhr?.responseText ?? "", "text/html");
  pointOut(form, JSON.parse(wrong), answer.querySelector(".notice.bad")?.textContent?.trim() ?? "");
});

begin();
