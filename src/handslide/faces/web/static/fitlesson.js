// A horn measured note by note: it listens, sends what it heard, shows the next note by itself, and
// the bands of the map narrow. Without a script the form does the same with typed notes.

import { detailOf } from "./liveview.js";
import { NoteEar } from "./onenote.js";
import { byId, handed, isTyping, texts as textsOf } from "./page.js";
import { calm, complain } from "./shell.js";
import { Slide } from "./slide.js";

const MOVE_MS = 600;
// The word "heard: next" stands for so long before the next note.
const NEXT_MS = 500;

// What is taken from the answer as it stands there.
const RENEWED = ["fit-carried", "fit-staff", "fit-asked", "fit-state"];

class FitLesson {
  /** @param {HTMLFormElement} form */
  constructor(form) {
    this.form = form;
    this.slide = new Slide(byId("slide"), handed("fit-horn"), textsOf("slide-texts"));
    this.go = byId("fit-go", HTMLButtonElement);
    this.typed = byId("fit-typed", HTMLDetailsElement);
    this.busy = false;
    this.ear = new NoteEar(byId("tones"), {
      student: Number(form.dataset.student), a4Hz: Number(form.dataset.a4),
    });
    this.ear.texts = { ...this.ear.texts, none: textsOf("fit-texts").wanted };
    this.ear.show(null);
    this.ear.addEventListener("tone", (event) => {
      const { tones } = detailOf(/** @type {CustomEvent<import("./onenote.js").NoteMessage>} */ (event));
      void this.heard(tones[0]);
    });
    this.ear.addEventListener("state", (event) => this.earState(detailOf(event)));
    this.go.hidden = false;
    this.go.addEventListener("click", () => this.listen());
    form.addEventListener("submit", (event) => this.submit(event));
    document.addEventListener("keydown", (event) => this.key(event));
    this.show();
  }

  /** @returns {DOMStringMap} */
  get asked() {
    return byId("fit-asked").dataset;
  }

  /** @returns {import("./onenote.js").AimedNote | null} */
  get note() {
    const { hz, within, place } = this.asked;
    return place ? { hz: Number(hz), within_cents: Number(within) } : null;
  }

  // The slide goes to where the hand is held.
  show() {
    const { place } = this.asked;
    if (place) this.slide.show(JSON.parse(place), { ms: MOVE_MS });
    this.go.disabled = this.note === null;
  }

  listen() {
    if (this.ear.listening) this.ear.stop();
    else if (this.note) void this.ear.listen(this.note);
  }

  /** @param {import("./onenote.js").EarState} state */
  earState(state) {
    const on = state === "listening" || state === "opening" || state === "lost";
    this.go.setAttribute("aria-pressed", String(on));
    // Without a microphone the other ways lie open.
    if (state === "nomic") this.typed.open = true;
  }

  /** @param {import("./onenote.js").HeardTone} tone */
  async heard(tone) {
    if (this.busy) return;
    const data = new FormData(this.form);
    data.set("do", "heard");
    data.set("hz", String(tone.hz));
    data.set("se", String(tone.se_cents));
    const shown = new Promise((done) => setTimeout(done, NEXT_MS));
    await this.send(data, shown);
  }

  /** @param {SubmitEvent} event */
  submit(event) {
    const data = new FormData(this.form, event.submitter);
    // What changes is a page of its own.
    if (data.get("do") === "enough") {
      this.ear.stop();
      return;
    }
    event.preventDefault();
    if (!this.busy) void this.send(data);
  }

  /**
   * @param {FormData} data
   * @param {Promise<unknown>} [shown] what the answer waits for
   */
  async send(data, shown = Promise.resolve()) {
    this.busy = true;
    try {
      const [answer] = await Promise.all([fetch(this.form.action, { method: "POST", body: data }), shown]);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!page.getElementById("fit")) throw new Error(answer.statusText);
      calm();
      this.renew(page);
    } catch {
      complain();
    } finally {
      this.busy = false;
    }
  }

  /** @param {Document} page */
  renew(page) {
    const held = document.activeElement instanceof HTMLButtonElement ? document.activeElement.value : "";
    for (const id of RENEWED) {
      const [own, fresh] = [byId(id), page.getElementById(id)];
      if (!fresh) continue;
      // The element itself stays: a screen reader says what changes in it.
      for (const [name, value] of Object.entries(fresh.dataset)) own.dataset[name] = value;
      // A list that was unfolded stays so.
      const open = own.querySelector("details[open]") !== null;
      own.replaceChildren(...fresh.childNodes);
      own.querySelector("details")?.toggleAttribute("open", open);
    }
    for (const wish of ["back", "skip"]) this.renewButton(page, wish);
    const problem = document.querySelector("#fit-asked [role=alert]");
    if (!problem) byId("hz", HTMLInputElement).value = "";
    renewMap(page);
    this.show();
    if (this.note) this.ear.next(this.note);
    else this.ear.stop();
    if (document.activeElement === document.body && held) {
      /** @type {HTMLElement | null} */
      const button = this.form.querySelector(`button[value="${held}"]:not(:disabled, [hidden])`);
      button?.focus();
    }
  }

  /**
   * @param {Document} page
   * @param {string} wish
   */
  renewButton(page, wish) {
    const [own, fresh] = [this.form, page].map((root) => root.querySelector(`button[value="${wish}"]`));
    if (own instanceof HTMLButtonElement) own.disabled = fresh?.hasAttribute("disabled") ?? false;
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    const plain = !(event.ctrlKey || event.metaKey || event.altKey || event.shiftKey);
    if (!plain || isTyping(event) || document.querySelector("dialog[open]")) return;
    if (event.key === " ") {
      // A button or a fold that has the focus takes the key itself.
      if (event.target instanceof Element && event.target.closest("button, summary, a")) return;
      event.preventDefault();
      this.listen();
      return;
    }
    const wish = { ArrowLeft: "back", ArrowRight: "skip" }[event.key];
    if (!wish) return;
    event.preventDefault();
    const button = this.form.querySelector(`button[value="${wish}"]`);
    if (button instanceof HTMLButtonElement && !button.disabled) this.form.requestSubmit(button);
  }
}

/**
 * The bands go to where they are now: the same elements, so that they are seen to narrow. Where
 * there are other places than before, the map is drawn anew.
 * @param {Document} page
 */
function renewMap(page) {
  const fresh = page.getElementById("fit-map");
  if (!fresh) return;
  const map = byId("fit-map");
  const [old, now] = [map, fresh].map((root) => [...root.querySelectorAll(".fitmap :is(g, rect, line, text)")]);
  const key = (/** @type {Element} */ one) => `${one.tagName} ${one.getAttribute("data-key") ?? ""}`;
  const same = old.length === now.length && old.every((one, k) => key(one) === key(now[k]));
  if (!same) {
    map.replaceWith(document.adoptNode(fresh));
    return;
  }
  old.forEach((one, k) => {
    for (const { name, value } of now[k].attributes) {
      if (one.getAttribute(name) !== value) one.setAttribute(name, value);
    }
    if (one.tagName === "text") one.textContent = now[k].textContent;
  });
  const lists = fresh.querySelectorAll("ul");
  map.querySelectorAll("ul").forEach((list, k) => list.replaceWith(document.adoptNode(lists[k])));
}

const form = byId("fit", HTMLFormElement);
// The share of the slide's drawing that the map lies under, where there is one.
const page = document.documentElement.style;
if (form.dataset.map) {
  page.setProperty("--fit-map", `${form.dataset.map}%`);
  page.setProperty("--fit-share", String(Number(form.dataset.map) / 100));
}
if (document.getElementById("fit-go")) new FitLesson(form);
