// The desk: Enter begins the lesson where nothing else has the focus.

import { byId } from "./page.js";

if (document.getElementById("begin")) {
  document.addEventListener("keydown", (event) => {
    const nowhere = event.target === document.body || event.target === byId("main");
    if (event.key === "Enter" && nowhere && !event.defaultPrevented) byId("begin").click();
  });
}
