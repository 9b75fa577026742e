// Look closely: lines, boxes and circles over the frame and what they say, a span that stands out, captures beside and
// less each other, and the picture to take away.

import { newest } from "./api.js";
import { $, el, fixed, say } from "./dom.js";
import { Beside } from "./look_beside.js";
import { Differing } from "./look_difference.js";
import { Picture } from "./look_export.js";
import { measured, profile, shareWithin, under } from "./look_numbers.js";
import { plot } from "./look_plot.js";

const KINDS = { p: "point", l: "line", b: "box", o: "circle" };

export class LookStep {
  constructor(bench) {
    this.bench = bench;
    this.tool = "line";
    this.marks = [];
    this.chosenMark = null;
    this.begun = null; // the first end of a mark made by keys
    this.askPlaces = newest("places", (answer, wish, note) => this.placed(answer, note));
    this.beside = new Beside(this);
    this.differing = new Differing(this);
    this.picture = new Picture(this);
    $("#tools").addEventListener("change", (event) => this.take(event.target.value));
    $("#unmark").addEventListener("click", () => this.remove(null));
    for (const id of ["isotherm", "isotherm-low", "isotherm-high"]) $(`#${id}`).addEventListener("change", () => this.isotherm());
  }

  chosen() {
    this.beside.fresh();
    this.differing.fresh();
    if (this.bench.step === "look") this.tell();
  }

  enter() {
    const { frame, board } = this.bench;
    const { layers } = frame;
    Object.assign(layers, { points: [], ghosts: [], spots: [], looks: new Map() });
    frame.selected = null;
    board.judge(null);
    board.used([]);
    const outlines = this.bench.steps.register.rings();
    layers.rings = outlines ?? [];
    layers.stale = false;
    this.tell();
    this.beside.fresh();
  }

  words() {
    return this.bench.frame.layers.rings.length ? "Choose a tool and draw over the frame; a click with “point” chooses the part beside" : "Draw over the frame; register it to have places and parts named too";
  }

  leave() {
    this.bench.frame.layers.marks = [];
    this.bench.frame.layers.chosenMark = null;
    this.begun = null;
    this.bench.frame.isotherm = null;
    if (this.differing.on) this.differing.off();
    else if (this.bench.capture?.shape) this.bench.span.show();
  }

  take(tool) {
    this.tool = tool;
    this.begun = null;
    $(`#tools [value="${tool}"]`).checked = true;
    say(tool === "point" ? "Click a part to see it in all captures" : `Draw a ${tool}: press and drag; by keys, Enter at its ${tool === "circle" ? "middle and at its rim" : "two ends"}`);
  }

  // ---- drawing over the frame

  grab(pixel) {
    if (this.tool === "point") return null;
    const begun = this.add(pixel, pixel);
    return { mark: begun, plain: true };
  }

  drag({ mark }, pixel, moved) {
    if (moved) {
      mark.to = pixel;
      this.tell();
    }
    return false;
  }

  drop({ mark }, pixel, moved, cancelled) {
    if (!moved || cancelled) this.remove(mark); // a click alone draws nothing
    else {
      mark.to = pixel;
      this.tell();
    }
  }

  add(from, to) {
    const kind = this.tool;
    const number = 1 + Math.max(0, ...this.marks.filter((item) => item.kind === kind).map((item) => item.number));
    const made = { kind, number, name: `${kind} ${number}`, from, to };
    this.marks.push(made);
    this.chosenMark = made;
    return made;
  }

  remove(mark) {
    this.marks = mark ? this.marks.filter((item) => item !== mark) : [];
    if (!this.marks.includes(this.chosenMark)) this.chosenMark = this.marks.at(-1) ?? null;
    this.tell();
  }

  clickFrame(pixel) {
    this.bench.frame.crosshair = pixel;
    const name = this.bench.frame.ringAt(pixel);
    if (name) this.beside.choose(name);
  }

  clickBoard(name) {
    if (this.bench.model.parts.some((part) => part.refdes === name)) this.beside.choose(name);
  }

  hoverBoard(name) {
    this.bench.board.look("pointed", name ? [name] : []);
  }

  hoverFrame(pixel) {
    const name = pixel && this.bench.frame.ringAt(pixel);
    this.bench.board.look("pointed", name ? [name] : []);
    if (name) this.bench.extra = name;
  }

  key(event) {
    const { frame } = this.bench;
    if (event.ctrlKey || event.metaKey || !frame.values) return;
    const step = event.shiftKey ? 0.1 : event.altKey ? 10 : 1;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const letter = event.key.toLowerCase();
    if (way) {
      const from = frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
      frame.crosshair = frame.kept([from[0] + (frame.mirrored ? -1 : 1) * way[0] * step, from[1] + way[1] * step]);
      frame.reveal(frame.crosshair);
      this.bench.hoverFrame(frame.crosshair);
      if (this.begun) {
        this.begun.to = frame.crosshair;
        this.tell();
      }
    } else if (event.key === "Enter" && frame.crosshair) this.enterKey(frame.crosshair);
    else if (event.key === "Escape") {
      if (this.begun) this.remove(this.begun);
      this.begun = null;
    } else if (event.key === "Delete" && this.chosenMark) this.remove(this.chosenMark);
    else if (letter === "n" && this.marks.length) this.choose(this.marks[(this.marks.indexOf(this.chosenMark) + 1) % this.marks.length]);
    else if (KINDS[letter]) this.take(KINDS[letter]);
    else if (event.key === "0") frame.fit();
    else if (event.key === "+" || event.key === "=") frame.zoomMiddle(1.4);
    else if (event.key === "-") frame.zoomMiddle(1 / 1.4);
    else return;
    event.preventDefault();
  }

  enterKey(pixel) {
    if (this.tool === "point") this.clickFrame(pixel);
    else if (this.begun) {
      this.begun.to = pixel;
      this.begun = null;
      this.tell();
    } else {
      this.begun = this.add(pixel, pixel);
      this.tell();
    }
  }

  choose(mark) {
    this.chosenMark = mark;
    this.tell();
  }

  // ---- what the marks say

  tell() {
    const { frame } = this.bench;
    frame.layers.marks = this.marks;
    frame.layers.chosenMark = this.chosenMark;
    if (!frame.values) {
      $("#marks").replaceChildren();
      $("#profile").replaceChildren();
      return;
    }
    for (const mark of this.marks) {
      mark.told = measured(frame, mark);
      mark.max_px = mark.told?.max_px ?? null;
    }
    this.isotherm(false);
    this.table();
    this.profile();
    const pixels = this.marks.flatMap((mark) => [mark.max_px ?? mark.from, mark.from, mark.to]);
    if (pixels.length) this.askPlaces(this.bench.steps.register.of({ pixels }), [...this.marks]);
    frame.draw();
  }

  placed(answer, marks) {
    marks.forEach((mark, index) => {
      [mark.max_mm, mark.from_mm, mark.to_mm] = answer.board_mm.slice(3 * index, 3 * index + 3);
    });
    this.table();
    this.profile();
  }

  table() {
    const unit = this.bench.span.difference ? "K" : "°C";
    const rows = this.marks.map((mark) => {
      const { told } = mark;
      const place = mark.max_px && `${fixed(mark.max_px[0], 0)}, ${fixed(mark.max_px[1], 0)} px${mark.max_mm ? `; ${fixed(mark.max_mm[0], 1)}, ${fixed(mark.max_mm[1], 1)} mm` : ""}`;
      const number = (value) => el("td", { class: "number" }, fixed(told?.[value], value === "spread" ? 2 : 1));
      const line = el("tr", { tabindex: 0, class: mark === this.chosenMark ? "kept" : "" }, el("th", { scope: "row" }, mark.name), number("min"), number("max"), number("mean"), number("spread"), el("td", {}, place ?? "outside the frame"), el("td", { class: "acts" }, el("button", { type: "button", "aria-label": `Remove ${mark.name}`, onclick: (event) => { event.stopPropagation(); this.remove(mark); } }, "✕")));
      line.addEventListener("click", () => this.choose(mark));
      line.addEventListener("keydown", (event) => event.key === "Enter" && event.target === line && this.choose(mark));
      return line;
    });
    const heading = (words, title) => el("th", { scope: "col", class: "number", title }, words);
    $("#unmark").disabled = !rows.length;
    $("#marks").replaceChildren(
      rows.length
        ? el("table", {}, el("caption", { class: "unseen-help" }, "Lines, boxes and circles"), el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "mark"), heading("min"), heading("max"), heading("mean"), heading("spread", "standard deviation of its pixels"), el("th", { scope: "col" }, "hottest at"), el("th", { scope: "col" }, el("span", { class: "unseen-help" }, "Actions")))), el("tbody", {}, ...rows))
        : el("p", { class: "quiet" }, "Nothing drawn yet."),
    );
    if (rows.length) $("#marks").append(el("p", { class: "quiet" }, `All in ${unit}${unit === "°C" ? " apparent, as the readout shows it; no part’s emissivity is in it" : ", of the difference shown"}.`));
  }

  profile() {
    const mark = this.chosenMark?.kind === "line" ? this.chosenMark : null;
    if (!mark) {
      $("#profile").replaceChildren();
      return;
    }
    const { frame } = this.bench;
    const samples = profile(frame, mark);
    const runs = under(samples, (pixel) => frame.ringAt(pixel));
    const known = mark.from_mm && mark.to_mm;
    const length = known ? Math.hypot(mark.to_mm[0] - mark.from_mm[0], mark.to_mm[1] - mark.from_mm[1]) : Math.hypot(mark.to[0] - mark.from[0], mark.to[1] - mark.from[1]);
    const unit = known ? "mm" : "px";
    const show = (sample) => {
      frame.crosshair = sample.pixel;
      this.bench.readout(sample.pixel);
      frame.draw();
    };
    const list = runs.map((run) => el("tr", {}, el("th", { scope: "row" }, run.name), el("td", { class: "number" }, `${fixed(run.from * length, 1)} … ${fixed(run.to * length, 1)} ${unit}`), el("td", { class: "number" }, `${fixed(run.max, 1)} ${this.bench.span.difference ? "K" : "°C"}`)));
    $("#profile").replaceChildren(
      plot(samples, runs, length, unit, this.bench.span.difference ? "K" : "°C", show),
      runs.length ? el("table", {}, el("caption", { class: "quiet" }, `Parts under ${mark.name}: from … to, and the most there`), el("tbody", {}, ...list)) : el("p", { class: "quiet" }, "No known part lies under it."),
    );
  }

  // ---- a span that stands out

  isotherm(paint = true) {
    const { frame } = this.bench;
    const fields = [$("#isotherm-low"), $("#isotherm-high")];
    const on = $("#isotherm").checked && this.bench.step === "look";
    if (on && !Number.isFinite(fields[0].valueAsNumber)) {
      const [low, high] = this.bench.span.wanted;
      fields[0].value = (low + 0.75 * (high - low)).toFixed(1);
      fields[1].value = high.toFixed(1);
    }
    const span = fields.map((field) => field.valueAsNumber);
    const good = on && span.every(Number.isFinite) && span[0] <= span[1];
    const before = JSON.stringify(frame.isotherm);
    frame.isotherm = good ? span : null;
    $("#isotherm-share").textContent = good ? `${fixed(100 * shareWithin(frame.values, ...span), 1)} % of the frame` : on ? "from must lie below to" : "";
    if (paint || before !== JSON.stringify(frame.isotherm)) this.bench.span.show();
  }
}
