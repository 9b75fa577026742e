// One part in all captures of its side, beside each other in one span of temperatures.

import { post, temperatures } from "./api.js";
import { $, el, fixed, say } from "./dom.js";
import { contains, middleOf, ringsOf } from "./geometry.js";

const AROUND = 2.2; // of a part's own size is shown, so that its surroundings can be seen
const LEAST_PX = 10; // half the side of the smallest cutting
const SIDE = 150; // of each picture on the screen, CSS pixels

export class Beside {
  constructor(step) {
    this.step = step;
    this.part = null;
    $("#beside-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.choose($("#beside-part").value.trim().toUpperCase());
    });
    $("#beside-part").addEventListener("change", () => this.choose($("#beside-part").value.trim().toUpperCase()));
  }

  fresh() {
    const { model, capture } = this.step.bench;
    if (!model || !capture) return;
    $("#beside-parts").replaceChildren(...model.parts.filter((part) => part.known).map((part) => el("option", { value: part.refdes })));
    if (this.part) this.show().catch((error) => this.step.bench.failed(error));
  }

  choose(name) {
    const part = this.step.bench.model.parts.find((item) => item.refdes.toUpperCase() === name.toUpperCase());
    if (!part) {
      if (name) say(`The board has no part ${name}`, true);
      return;
    }
    this.part = part;
    $("#beside-part").value = part.refdes;
    this.step.bench.board.look("kept", [part.refdes]);
    this.step.bench.frame.layers.looks = new Map([[part.refdes, "kept"]]);
    this.step.bench.frame.draw();
    this.show().catch((error) => this.step.bench.failed(error));
  }

  async show() {
    const { bench } = this.step;
    const { part } = this;
    const captures = bench.captures.filter((item) => item.shape && item.side === part.side);
    const cuttings = [];
    for (const capture of captures) {
      const state = await post("state", { session: bench.session, capture: capture.name });
      const { sizes, refdes } = bench.model.sides[capture.side];
      const ring = state.outlines && ringsOf(sizes, refdes, state.outlines).find((item) => item.name === part.refdes);
      cuttings.push({ capture, ring, cutting: ring && cut(await temperatures(capture.name), capture.shape, ring.points) });
    }
    if (this.part !== part) return;
    const whole = cuttings.filter((item) => item.cutting);
    const low = Math.min(...whole.map((item) => item.cutting.low));
    const high = Math.max(...whole.map((item) => item.cutting.high));
    const figures = cuttings.map(({ capture, ring, cutting }) => {
      const reading = bench.steps.read.readingOf(capture.name, part.refdes);
      const words = cutting
        ? [el("b", {}, capture.name), el("span", {}, `max ${fixed(cutting.max, 1)}, mean ${fixed(cutting.mean, 1)} °C apparent`), el("span", {}, `ambient ${fixed(capture.ambient_c, 1)} °C, rise ${fixed(cutting.max - capture.ambient_c, 1)} K`)]
        : [el("b", {}, capture.name), el("span", {}, ring ? "outside this frame" : "not registered yet")];
      if (reading) words.push(el("span", {}, reading));
      return el("figure", {}, cutting ? drawn(cutting, ring.points, bench.span.plainColors, low, high) : el("div", { class: "nothing" }), el("figcaption", {}, ...words));
    });
    $("#beside").replaceChildren(
      ...(whole.length ? [el("p", { class: "quiet" }, `${part.refdes}, all in the span ${fixed(low, 1)} … ${fixed(high, 1)} °C.`)] : []),
      el("div", { class: "figures" }, ...figures),
    );
  }
}

// the square around a part, and what its own pixels say
function cut(values, [rows, cols], points) {
  const [cx, cy] = middleOf(points);
  const reach = Math.max(LEAST_PX, (AROUND / 2) * Math.max(...points.map(([x, y]) => Math.max(Math.abs(x - cx), Math.abs(y - cy)))) * Math.SQRT2);
  const [left, right] = [Math.max(0, Math.round(cx - reach)), Math.min(cols - 1, Math.round(cx + reach))];
  const [top, bottom] = [Math.max(0, Math.round(cy - reach)), Math.min(rows - 1, Math.round(cy + reach))];
  if (left >= right || top >= bottom || cx < 0 || cy < 0 || cx > cols - 1 || cy > rows - 1) return null;
  const made = { left, top, cols: right - left + 1, rows: bottom - top + 1, values: [], low: Infinity, high: -Infinity, max: -Infinity };
  let [sum, count] = [0, 0];
  for (let y = top; y <= bottom; y += 1) {
    for (let x = left; x <= right; x += 1) {
      const value = values[y * cols + x];
      made.values.push(value);
      if (!Number.isFinite(value)) continue;
      made.low = Math.min(made.low, value);
      made.high = Math.max(made.high, value);
      // the middle counts even where the body is smaller than a pixel
      if (contains(points, [x, y]) || (x === Math.round(cx) && y === Math.round(cy))) {
        made.max = Math.max(made.max, value);
        sum += value;
        count += 1;
      }
    }
  }
  return { ...made, mean: sum / count };
}

function drawn(cutting, points, colors, low, high) {
  const by = Math.max(1, Math.floor((2 * SIDE) / Math.max(cutting.cols, cutting.rows)));
  const canvas = el("canvas", { width: cutting.cols * by, height: cutting.rows * by, role: "img", "aria-label": `max ${fixed(cutting.max, 1)} °C` });
  const context = canvas.getContext("2d");
  cutting.values.forEach((value, index) => {
    const at = Math.min(255, Math.max(0, Math.round(((value - low) / Math.max(high - low, 1e-6)) * 255)));
    context.fillStyle = `rgb(${colors[Number.isNaN(at) ? 0 : at].join(" ")})`;
    context.fillRect((index % cutting.cols) * by, Math.floor(index / cutting.cols) * by, by, by);
  });
  const path = new Path2D();
  points.forEach(([x, y], index) => path[index ? "lineTo" : "moveTo"]((x - cutting.left + 0.5) * by, (y - cutting.top + 0.5) * by));
  path.closePath();
  for (const [color, width] of [["rgb(0 0 0 / 0.6)", 4], ["#ffffff", 2]]) {
    context.strokeStyle = color;
    context.lineWidth = width;
    context.stroke(path);
  }
  return canvas;
}
