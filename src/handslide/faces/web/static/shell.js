// What all pages share: waiting is shown, errors are said, texts for scripts are found.

/** The texts that a page hands to its scripts, or {}. */
export function texts(id = "texts") {
  const block = document.getElementById(id);
  return block ? JSON.parse(block.textContent) : {};
}

/** Put values into a text: fill("{n} notes", {n: 3}). */
export function fill(text, values) {
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

/** Show one sentence at the foot of the window until it is closed. */
export function complain(sentence) {
  const place = document.getElementById("complaint");
  const notice = document.createElement("div");
  notice.className = "notice bad";
  const words = document.createElement("p");
  words.textContent = sentence;
  notice.append(words);
  place.replaceChildren(notice);
  closable(place);
}

/** Take a shown sentence away. */
export function calm() {
  document.getElementById("complaint").replaceChildren();
}

/** fetch that gives the JSON of the answer; shows the sentence of an error and throws it. */
export async function ask(url, options = {}) {
  let answer;
  try {
    answer = await fetch(url, { ...options, headers: { Accept: "application/json", ...options.headers } });
  } catch (error) {
    if (error.name !== "AbortError") complain(document.body.dataset.lost);
    throw error;
  }
  const isJson = (answer.headers.get("Content-Type") || "").startsWith("application/json");
  const data = isJson ? await answer.json() : null;
  if (!answer.ok) {
    const sentence = data && data.error ? data.error : document.body.dataset.lost;
    complain(sentence);
    throw new Error(sentence);
  }
  return data;
}

function closable(place) {
  const notice = place.querySelector(".notice");
  if (!notice || notice.querySelector("button")) return;
  const close = document.createElement("button");
  close.type = "button";
  close.className = "button quiet";
  close.textContent = document.body.dataset.close;
  close.addEventListener("click", calm);
  notice.append(close);
}

/** True if a file is larger than its field takes (data-most-mb). */
function tooLarge(form) {
  return [...form.querySelectorAll("input[type=file][data-most-mb]")].some((field) =>
    [...field.files].some((file) => file.size > Number(field.dataset.mostMb) * 1e6),
  );
}

// Before other scripts see it: a connection that breaks off while it sends shows no sentence.
document.addEventListener(
  "submit",
  (event) => {
    if (!tooLarge(event.target)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    complain(document.body.dataset.large);
  },
  true,
);

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method === "dialog" || form.target) return;
  // A second press must not send the form twice.
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  // A download leaves the page where it is, so nothing would end the waiting.
  if (form.hasAttribute("data-download")) return;
  form.dataset.sent = "yes";
  form.setAttribute("aria-busy", "true");
  (event.submitter || form.querySelector("[type=submit], button"))?.classList.add("busy");
});

// A page that comes back from the browser's memory waits for nothing.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  }
  for (const button of document.querySelectorAll(".busy")) button.classList.remove("busy");
});

document.addEventListener("htmx:sendError", () => complain(document.body.dataset.lost));
document.addEventListener("htmx:timeout", () => complain(document.body.dataset.lost));
document.addEventListener("htmx:beforeRequest", (event) => {
  event.target.classList.add("waits");
});
document.addEventListener("htmx:afterRequest", (event) => {
  event.target.classList.remove("waits");
  if (event.detail.successful) calm();
});
document.addEventListener("htmx:afterSwap", () => closable(document.getElementById("complaint")));

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") calm();
});
