// The page of a hand-out: sets up each of its blocks by the script of its kind.

import { setUp as setUpChart } from "/static/chartblock.js";
import { Dock } from "/static/dock.js";
import { handed, texts } from "/static/page.js";
import { setUp as setUpPart } from "/static/partblock.js";
import { setUp as setUpTake } from "/static/takeblock.js";
import { setUpTicks } from "/static/ticks.js";

/** @type {Record<string, (el: HTMLElement, data: any, dock: Dock) => void>} */
const KINDS = { part: setUpPart, chart: setUpChart, take: setUpTake, words: () => {} };

const dock = new Dock(texts(), handed("page-data"));
dock.page.append(...setUpTicks(dock.texts));
/** @type {NodeListOf<HTMLElement>} */
const blocks = document.querySelectorAll(".block");
for (const el of blocks) KINDS[el.dataset.kind ?? ""](el, handed(`${el.id}-data`), dock);
document.body.classList.add("is-set-up");
