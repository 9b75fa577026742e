// The span of temperatures that the colours cover, and which colours: of the capture, or of a difference that is shown
// in its place.

import { $, el } from "./dom.js";

export class Span {
  constructor(bench) {
    this.bench = bench;
    this.difference = null; // { values, largest_k, words, wanted }
    for (const id of ["low", "high"]) $(`#${id}`).addEventListener("change", () => this.wish());
    $("#palette").addEventListener("change", () => {
      this.show();
      if (this.bench.step === "look") this.bench.steps.look.beside.fresh();
    });
    $("#auto").addEventListener("click", () => {
      if (!this.bench.capture?.shape) return;
      this.wanted = this.difference ? [-this.difference.largest_k, this.difference.largest_k] : [...this.bench.capture.range];
      this.show();
    });
  }

  begin(scales) {
    this.scales = scales;
    $("#palette").replaceChildren(...Object.keys(scales).map((name) => el("option", {}, name)));
  }

  get wanted() {
    return this.difference ? this.difference.wanted : this.bench.capture.wanted;
  }

  set wanted(span) {
    if (this.difference) this.difference.wanted = span;
    else this.bench.capture.wanted = span;
  }

  get unit() {
    return this.difference ? "K" : "°C apparent";
  }

  get colors() {
    return this.scales[$("#palette").value];
  }

  // of temperatures, also while a difference is shown in its own colours
  get plainColors() {
    return this.scales[this.before ?? $("#palette").value];
  }

  differ(difference) {
    const before = $("#palette").value;
    if (difference) {
      difference.wanted ??= [-difference.largest_k, difference.largest_k];
      this.before ??= before;
      $("#palette").value = "even, two-sided";
    } else if (this.before) {
      $("#palette").value = this.before;
      this.before = null;
    }
    this.difference = difference;
  }

  show() {
    if (!this.bench.capture?.shape) return;
    const [low, high] = this.wanted;
    $("#low").value = low.toFixed(1);
    $("#high").value = high.toFixed(1);
    const context = $("#scale").getContext("2d");
    this.colors.forEach(([r, g, b], index) => {
      context.fillStyle = `rgb(${r} ${g} ${b})`;
      context.fillRect(index, 0, 1, 1);
    });
    this.bench.frame.paint(this.colors, low, high);
  }

  wish() {
    const wanted = [$("#low").valueAsNumber, $("#high").valueAsNumber];
    if (!this.bench.capture?.shape || !wanted.every(Number.isFinite) || wanted[0] >= wanted[1]) return;
    this.wanted = wanted;
    this.show();
  }
}
