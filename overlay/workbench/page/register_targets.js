// Places of the board that can be pointed at: the list to choose from, and where the fit so far expects each.

import { $, say } from "./dom.js";
import { middleOf } from "./geometry.js";
import * as panel from "./register_panel.js";

export function listen(step) {
  const input = $("#target");
  input.addEventListener("input", () => panel.list(step, 0));
  input.addEventListener("focus", () => unfold(step, true));
  input.addEventListener("blur", () => unfold(step, false));
  input.addEventListener("keydown", (event) => typed(step, event));
  $("#targets").addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
  $("#targets").addEventListener("click", (event) => {
    const item = event.target.closest("li");
    if (item) arm(step, item.dataset.target, true);
  });
}

export function known(bench) {
  const { side } = bench.capture;
  const parts = bench.model.parts.filter((part) => part.side === side);
  return [
    ...bench.model.landmarks.map((mark) => ({ name: mark.name, words: "", board_mm: mark.center })),
    ...parts.map((part) => ({ name: part.refdes, words: [part.kind, part.package].filter(Boolean).join(", "), at: part.refdes, board_mm: part.center })),
  ];
}

function unfold(step, open) {
  $("#targets").hidden = !open;
  $("#target").setAttribute("aria-expanded", String(open));
  if (open) panel.list(step, step.option);
}

function typed(step, event) {
  const by = { ArrowDown: 1, ArrowUp: -1, PageDown: 6, PageUp: -6 }[event.key];
  if (by) panel.list(step, step.option + by);
  else if (event.key === "Enter" && step.listed?.length) arm(step, step.listed[step.option].name, true);
  else if (event.key === "Escape") $("#frame").focus();
  else return;
  event.preventDefault();
}

// a chosen place waits for its pixel, or takes the pixel that waits for it
export function arm(step, name, byKey) {
  const target = step.targets.find((item) => item.name === name);
  if (!target) return;
  $("#target").value = "";
  const { frame } = step.bench;
  frame.selected = null;
  if (step.pending) {
    const pixel = step.pending;
    step.pending = null;
    step.put(target, pixel);
    if (byKey) $("#frame").focus();
    return;
  }
  step.armed = target;
  const pixel = expected(step, target);
  if (byKey) {
    frame.crosshair = pixel ?? frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
    frame.reveal(frame.crosshair);
    $("#frame").focus();
    step.bench.readout(frame.crosshair);
  }
  say(pixel ? `${name}: expected at the dashed square. Click its place in the frame, or Enter at the crosshair` : `${name}: click its place in the frame, or Enter at the crosshair`);
  step.draw();
}

// where the fit so far has a place; null where it has none in the frame
export function expected(step, target) {
  if (!step.state?.outlines) return null;
  if (!target.at) {
    const index = step.bench.model.landmarks.findIndex((mark) => mark.name === target.name);
    return step.state.landmarks_px?.[index] ?? null;
  }
  const ring = step.bench.frame.layers.rings.find((item) => item.name === target.at);
  const pixel = ring && middleOf(ring.points);
  return pixel && step.bench.frame.inside(pixel) ? pixel : null;
}
