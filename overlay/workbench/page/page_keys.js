// Buttons and keys that belong to no step.

import { $ } from "./dom.js";

const LOOK_MS = 2000; // soon enough to seem at once to who comes from an editor; a look costs a few file dates

export function listen(bench) {
  for (const button of document.querySelectorAll(".step")) button.addEventListener("click", () => bench.go(button.dataset.step));
  $("#help").addEventListener("click", () => $("#keys").showModal());
  $("#next").addEventListener("click", async () => {
    try {
      await bench.next()[1]();
    } catch (error) {
      bench.failed(error);
    }
    bench.whatNext();
  });
  $("#capture").addEventListener("change", (event) => bench.choose(event.target.value).catch((error) => bench.failed(error)));
  $("#mirror").addEventListener("change", () => {
    bench.sideShown();
    bench.now("enter");
  });
  for (const button of document.querySelectorAll("[data-zoom]")) {
    const by = { in: 1.4, out: 1 / 1.4 }[button.dataset.zoom];
    button.addEventListener("click", () => (by ? bench.frame.zoomMiddle(by) : bench.frame.fit()));
  }
  for (const button of document.querySelectorAll("[data-board-zoom]")) {
    const by = { in: 1.4, out: 1 / 1.4 }[button.dataset.boardZoom];
    button.addEventListener("click", () => bench.board.view && (by ? bench.board.zoomMiddle(by) : bench.board.fit()));
  }
  $("#save").addEventListener("click", () => bench.save());
  $("#undo").addEventListener("click", () => bench.steps.register.edit({ do: "undo" }));
  $("#redo").addEventListener("click", () => bench.steps.register.edit({ do: "redo" }));
  $("#frame").addEventListener("keydown", (event) => bench.now("key", event));
  document.addEventListener("keydown", (event) => pressed(bench, event));
  window.addEventListener("focus", () => bench.lookAgain());
  setInterval(() => bench.lookAgain(), LOOK_MS);
  window.addEventListener("beforeunload", (event) => {
    if (bench.unsaved.length) event.preventDefault();
  });
}

function pressed(bench, event) {
  const typing = event.target.closest?.("input:not([type=checkbox], [type=radio]), textarea, select, dialog");
  const steps = [...document.querySelectorAll(".step")].map((button) => button.dataset.step);
  if ((event.ctrlKey || event.metaKey) && !event.altKey) {
    const key = event.key.toLowerCase();
    if (key === "s") bench.save();
    else if (typing) return;
    else if (key === "z" && !event.shiftKey) bench.steps.register.edit({ do: "undo" });
    else if (key === "y" || key === "z") bench.steps.register.edit({ do: "redo" });
    else return;
  } else if (!event.altKey && "/?".includes(event.key) && !typing) {
    if (event.key === "?") $("#keys").showModal();
    else if (bench.step === "board") ($("#check .fill input") ?? $("#begin"))?.focus();
    else $({ shots: "#camera-form input", register: "#target", read: "#words", look: "#beside-part" }[bench.step])?.focus();
  } else if (event.altKey && event.key === "Enter") $("#next").click();
  else if (event.altKey && steps[event.key - 1]) bench.go(steps[event.key - 1]);
  else return;
  event.preventDefault();
}
