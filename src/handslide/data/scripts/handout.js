// The page of a hand-out: sets up each of its blocks by the script of its kind.

import { setUp as setUpChart } from "./chartblock.js";
import { Dock } from "./dock.js";
import { handed, texts } from "./page.js";
import { setUp as setUpPart } from "./partblock.js";
import { setUp as setUpTake } from "./takeblock.js";
import { setUpTicks } from "./ticks.js";

/** @type {Record<string, (el: HTMLElement, data: any, dock: Dock) => void>} */
const KINDS = { part: setUpPart, chart: setUpChart, take: setUpTake, words: () => {} };

const dock = new Dock(texts(), handed("page-data"));
dock.page.append(...setUpTicks(dock.texts));
/** @type {NodeListOf<HTMLElement>} */
const blocks = document.querySelectorAll(".block");
for (const el of blocks) KINDS[el.dataset.kind ?? ""](el, handed(`${el.id}-data`), dock);
document.body.classList.add("is-set-up");
