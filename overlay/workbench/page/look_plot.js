// The profile along a line as a drawing: temperature over distance, with the parts under the line named.

import { el, fixed, svg } from "./dom.js";
import { ticks } from "./look_numbers.js";

const [WIDTH, HEIGHT, LEFT, BOTTOM, TOP] = [460, 210, 44, 34, 36];
const LETTER = 6.6; // width of one, in the drawing's units

export function plot(samples, runs, length, unit, valueUnit, onHover) {
  const whole = samples.filter((item) => Number.isFinite(item.value));
  if (whole.length < 2) return el("p", { class: "quiet" }, "The line lies outside the frame.");
  const values = whole.map((item) => item.value);
  let [low, high] = [Math.min(...values), Math.max(...values)];
  const air = Math.max(0.5, 0.06 * (high - low));
  [low, high] = [low - air, high + air];
  const x = (share) => LEFT + share * (WIDTH - LEFT - 10);
  const y = (value) => HEIGHT - BOTTOM - ((value - low) / (high - low)) * (HEIGHT - BOTTOM - TOP);
  const drawing = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "plot", role: "img", "aria-label": `Profile: ${fixed(Math.min(...values), 1)} to ${fixed(Math.max(...values), 1)} ${valueUnit} over ${fixed(length, 1)} ${unit}` });
  const text = (words, at, attributes) => {
    const made = svg("text", { x: at[0], y: at[1], ...attributes });
    made.textContent = words;
    drawing.append(made);
  };
  const ends = [-Infinity, -Infinity]; // of the names in the two rows
  for (const run of runs) {
    drawing.append(svg("rect", { x: x(run.from), y: TOP, width: Math.max(1.5, x(run.to) - x(run.from)), height: HEIGHT - BOTTOM - TOP, class: "span" }));
    const half = (run.name.length * LETTER) / 2;
    const middle = Math.min(Math.max((x(run.from) + x(run.to)) / 2, LEFT + half), WIDTH - half);
    const row = ends.findIndex((end) => middle - half > end + 3);
    if (row < 0) continue; // named in the table below
    ends[row] = middle + half;
    text(run.name, [middle, row ? 13 : 29], { class: "name" });
  }
  for (const at of ticks(low, high, 5)) {
    drawing.append(svg("path", { d: `M${LEFT} ${y(at)}H${WIDTH - 10}`, class: "grid" }));
    text(fixed(at, at % 1 ? 1 : 0), [LEFT - 5, y(at) + 4], { class: "tick", "text-anchor": "end" });
  }
  for (const at of ticks(0, length, 7)) text(fixed(at, at % 1 ? 1 : 0), [x(at / length), HEIGHT - BOTTOM + 15], { class: "tick", "text-anchor": "middle" });
  text(unit, [WIDTH - 10, HEIGHT - 4], { class: "tick", "text-anchor": "end" });
  text(valueUnit, [4, TOP - 8], { class: "tick" });
  drawing.append(svg("path", { d: `M${whole.map((item) => `${x(item.share).toFixed(1)} ${y(item.value).toFixed(1)}`).join("L")}`, class: "curve" }));
  const marker = svg("path", { class: "marker", d: "" });
  drawing.append(marker);
  drawing.addEventListener("pointermove", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(drawing.getScreenCTM().inverse());
    const share = Math.min(1, Math.max(0, (at.x - LEFT) / (WIDTH - LEFT - 10)));
    marker.setAttribute("d", `M${x(share)} ${TOP}V${HEIGHT - BOTTOM}`);
    onHover(samples[Math.round(share * (samples.length - 1))]);
  });
  return drawing;
}
