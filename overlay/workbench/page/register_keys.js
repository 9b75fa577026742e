// Keys on the frame while control points are placed.

import { $, fixed, say } from "./dom.js";

const IDLE_MS = 350; // nudges closer together than this become one edit

export function key(step, event) {
  if (event.ctrlKey || event.metaKey) return;
  const { frame } = step.bench;
  if (!frame.values || !step.state) return;
  const width = event.shiftKey ? 0.1 : event.altKey ? 10 : 1;
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  const index = frame.selected;
  const letter = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  if (way) nudge(step, [(frame.mirrored ? -1 : 1) * way[0] * width, way[1] * width]);
  else if (event.key === "Enter") enterKey(step);
  else if (event.key === "Escape") {
    if (step.finder.found) step.finder.leave();
    step.disarm();
    step.select(null);
  } else if ((event.key === "Delete" || event.key === "Backspace") && index !== null) step.edit({ do: "remove", index });
  else if (letter === "n" || letter === "p") next(step, letter === "n" ? 1 : -1);
  else if (letter === "s" && index !== null) step.edit({ do: "snap", index });
  else if (letter === "c" && index !== null) step.edit({ do: "unsnap", index });
  else if (letter === "f") step.finder.start();
  else if (letter === "r") step.edit({ do: "refine" });
  else if (letter === "/") $("#target").focus();
  else if (letter === "0") frame.fit();
  else if (letter === "+" || letter === "=") frame.zoomMiddle(1.4);
  else if (letter === "-") frame.zoomMiddle(1 / 1.4);
  else return;
  event.preventDefault();
}

function nudge(step, by) {
  const { frame } = step.bench;
  const index = frame.selected;
  const from = index !== null ? frame.layers.points[index].pixel : frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
  const pixel = frame.kept([from[0] + by[0], from[1] + by[1]].map((value) => Math.round(value * 1000) / 1000));
  if (index === null) frame.crosshair = pixel;
  else {
    frame.layers.points[index] = { ...frame.layers.points[index], pixel, clicked_px: null };
    step.nudged = { index, pixel };
    step.askDrag(step.of({ index, pixel }), performance.now());
    clearTimeout(step.timer);
    step.timer = setTimeout(() => step.flush(), IDLE_MS);
  }
  frame.reveal(pixel);
  step.bench.readout(pixel);
}

function enterKey(step) {
  const { frame } = step.bench;
  if (!frame.crosshair) return;
  if (step.finder.found) {
    step.finder.confirm(frame.crosshair);
    return;
  }
  if (step.armed) step.put(step.armed, frame.crosshair);
  else if (frame.selected === null) step.wait(frame.crosshair);
}

function next(step, by) {
  const { length } = step.state.points;
  if (!length) return;
  const at = step.bench.frame.selected;
  step.select(at === null ? (by > 0 ? 0 : length - 1) : (at + by + length) % length);
  step.bench.frame.reveal(step.state.points[step.bench.frame.selected].pixel);
  const point = step.state.points[step.bench.frame.selected];
  say(`${point.name}${point.residual_px === null ? "" : `, ${fixed(point.residual_px, 2)} px off`}`);
}
