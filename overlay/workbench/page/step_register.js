// Register: control points put, dragged, nudged and judged. The server fits; the page only draws what comes back.

import { newest, post } from "./api.js";
import { $, fixed, say } from "./dom.js";
import { middleOf, ringsOf } from "./geometry.js";
import { key } from "./register_keys.js";
import * as panel from "./register_panel.js";
import { nameOf, placeOf } from "./register_panel.js";

const REST_MS = 1500; // a hand that rests lets the frame be asked

export class RegisterStep {
  constructor(bench) {
    this.bench = bench;
    this.state = null;
    this.latencies = window.benchLatencies = []; // ms from drag events to their outlines
    this.armed = null; // the place of the board that waits for its pixel
    this.pending = null; // the pixel that waits for its place
    this.nudged = null;
    this.option = 0;
    this.askDrag = newest("drag", (answer, _, began) => this.dragged(answer, began));
    const input = $("#target");
    input.addEventListener("input", () => panel.list(this, 0));
    input.addEventListener("focus", () => this.unfold(true));
    input.addEventListener("blur", () => this.unfold(false));
    input.addEventListener("keydown", (event) => this.typed(event));
    $("#targets").addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
    $("#targets").addEventListener("click", (event) => {
      const item = event.target.closest("li");
      if (item) this.arm(item.dataset.target, true);
    });
    $("#snap-all").addEventListener("click", () => this.edit({ do: "refine" }));
    $("#follow").addEventListener("click", () => this.edit({ do: "follow" }));
    $("#clear").addEventListener("click", () => this.edit({ do: "clear" }));
    const body = $("#points tbody");
    body.addEventListener("click", (event) => this.rowClicked(event));
    body.addEventListener("keydown", (event) => this.rowKey(event));
  }

  async chosen() {
    this.armed = this.pending = null;
    this.bench.frame.selected = null;
    this.bench.frame.layers.points = [];
    this.bench.frame.layers.rings = [];
    this.targets = this.known();
    if (this.bench.capture.shape) this.take(await post("state", this.of()));
    else $("#fit").replaceChildren(el("p", { class: "quiet" }, "No frame, nothing to register."));
  }

  enter() {
    const { layers } = this.bench.frame;
    layers.spots = [];
    layers.looks = new Map();
    this.bench.board.judge(null);
    this.bench.board.look("pointed", []);
    if (this.state) this.draw();
  }

  leave() {
    this.flush();
    this.disarm();
    this.bench.frame.layers.points = [];
    this.bench.frame.layers.ghosts = [];
  }

  of(more = {}) {
    return { session: this.bench.session, capture: this.bench.chosen, ...more };
  }

  // ---- what can be pointed at

  known() {
    const { side } = this.bench.capture;
    const parts = this.bench.model.parts.filter((part) => part.side === side);
    return [
      ...this.bench.model.landmarks.map((mark) => ({ name: mark.name, words: "", board_mm: mark.center })),
      ...parts.map((part) => ({ name: part.refdes, words: [part.kind, part.package].filter(Boolean).join(", "), at: part.refdes, board_mm: part.center })),
    ];
  }

  unfold(open) {
    $("#targets").hidden = !open;
    $("#target").setAttribute("aria-expanded", String(open));
    if (open) panel.list(this, this.option);
  }

  typed(event) {
    const by = { ArrowDown: 1, ArrowUp: -1, PageDown: 6, PageUp: -6 }[event.key];
    if (by) panel.list(this, this.option + by);
    else if (event.key === "Enter" && this.listed?.length) this.arm(this.listed[this.option].name, true);
    else if (event.key === "Escape") $("#frame").focus();
    else return;
    event.preventDefault();
  }

  arm(name, byKey) {
    const target = this.targets.find((item) => item.name === name);
    if (!target) return;
    $("#target").value = "";
    this.bench.frame.selected = null;
    if (this.pending) {
      const pixel = this.pending;
      this.pending = null;
      this.put(target, pixel);
      if (byKey) $("#frame").focus();
      return;
    }
    this.armed = target;
    const pixel = this.expected(target);
    if (byKey) {
      const { frame } = this.bench;
      frame.crosshair = pixel ?? frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
      frame.reveal(frame.crosshair);
      $("#frame").focus();
      this.bench.readout(frame.crosshair);
    }
    say(pixel ? `${name}: expected at the dashed square. Click its place in the frame, or Enter at the crosshair` : `${name}: click its place in the frame, or Enter at the crosshair`);
    this.draw();
  }

  disarm() {
    this.armed = this.pending = null;
    this.bench.frame.layers.ghosts = [];
    this.bench.board.look("kept", []);
    this.bench.frame.draw();
  }

  // where the fit so far has a place
  expected(target) {
    if (!this.state?.outlines) return null;
    if (!target.at) {
      const index = this.bench.model.landmarks.findIndex((mark) => mark.name === target.name);
      return this.state.landmarks_px?.[index] ?? null;
    }
    const ring = this.bench.frame.layers.rings.find((item) => item.name === target.at);
    const pixel = ring && middleOf(ring.points);
    return pixel && this.bench.frame.inside(pixel) ? pixel : null;
  }

  // ---- pointer on the frame and on the board

  grab(pixel, point) {
    if (point !== null && !(this.armed && this.state.points[point].at !== this.armed.at && this.isArmedElsewhere(point))) {
      this.select(point);
      return { index: point, from: this.state.points[point].pixel };
    }
    if (this.armed) return { target: this.armed };
    return null;
  }

  isArmedElsewhere(point) {
    return nameOf(this.state.points[point], this.targets) !== this.armed.name;
  }

  drag(wish, pixel, moved) {
    if (!moved && wish.index !== undefined) return false;
    const { frame } = this.bench;
    if (wish.index !== undefined) frame.layers.points[wish.index] = { ...frame.layers.points[wish.index], pixel, residual_xy_px: null, clicked_px: null };
    else {
      wish.shown ??= frame.layers.points.push({ name: wish.target.name, pixel }) - 1;
      frame.layers.points[wish.shown] = { name: wish.target.name, pixel };
      frame.selected = wish.shown;
      frame.layers.ghosts = [];
    }
    $("#readout").textContent = this.bench.words(pixel, null, ""); // the board's place can wait: outlines come first
    const place = wish.index !== undefined ? { index: wish.index } : placeOf(wish.target);
    this.askDrag(this.of({ pixel, ...place }), performance.now());
    return Boolean(this.state.fit);
  }

  dragged(answer, began) {
    const { frame } = this.bench;
    if (!frame.pressed && !this.nudged) return;
    if (!answer.outlines) {
      frame.draw();
      return;
    }
    answer.residuals_xy_px.forEach((off, index) => {
      const point = frame.layers.points[index];
      if (point) point.residual_xy_px = off;
    });
    const largest = Math.max(...answer.residuals_xy_px.map((off) => Math.hypot(...off)));
    frame.arrows = Math.min(this.arrows, largest > 14 ? 1 : 14 / Math.max(largest, 1e-6));
    const rms = $("#rms");
    if (rms) rms.textContent = fixed(answer.rms_px, 2);
    const { sizes, refdes } = this.bench.model.sides[this.bench.capture.side];
    frame.follow(sizes, refdes, answer.outlines);
    // for whoever measures how long outlines lag behind the hand
    this.latencies.push(performance.now() - began);
    if (this.latencies.length > 1000) this.latencies.shift();
  }

  drop(wish, pixel, moved, cancelled) {
    this.askDrag.drop();
    if (wish.index !== undefined) {
      if (moved && !cancelled) this.edit({ do: "move", index: wish.index, pixel });
      else this.draw();
    } else if (cancelled) this.draw();
    else this.put(wish.target, pixel);
  }

  clickFrame(pixel) {
    const { frame } = this.bench;
    frame.selected = null;
    frame.crosshair = pixel;
    this.wait(pixel);
  }

  wait(pixel) {
    this.pending = pixel;
    const guess = this.bench.frame.ringAt(pixel);
    say(guess ? `Which place of the board is this? It looks like ${guess}` : "Which place of the board is this? Choose it on the board or in the list");
    if (guess) {
      $("#target").value = guess;
      this.option = 0;
    }
    this.draw();
    $("#target").focus();
    $("#target").select();
  }

  clickBoard(name) {
    if (name) this.arm(name, false);
    else this.disarm();
  }

  hoverBoard(name) {
    this.bench.board.look("pointed", name ? [name] : []);
    this.bench.frame.layers.looks = name ? new Map([[name, "pointed"]]) : new Map();
    this.bench.frame.draw();
  }

  hoverFrame(pixel) {
    const name = pixel && this.bench.frame.ringAt(pixel);
    this.bench.board.look("pointed", name ? [name] : []);
    if (name) this.bench.extra = name;
  }

  async flush() {
    clearTimeout(this.timer);
    const nudged = this.nudged;
    this.nudged = null;
    if (nudged) await this.edit({ do: "move", ...nudged });
  }

  select(index) {
    if (this.nudged && this.nudged.index !== index) this.flush();
    this.bench.frame.selected = index;
    for (const row of document.querySelectorAll("#points tbody tr")) row.classList.toggle("kept", Number(row.dataset.index) === index);
    const point = index === null ? null : this.state.points[index];
    this.bench.board.look("kept", point ? [nameOf(point, this.targets)] : this.armed ? [this.armed.name] : []);
    this.bench.frame.draw();
  }

  key(event) {
    key(this, event);
  }

  // ---- edits

  put(target, pixel) {
    this.armed = null;
    this.bench.frame.crosshair = null;
    return this.edit({ do: "place", pixel, ...placeOf(target) }, `${target.name} placed. Arrow keys nudge it, slash chooses the next`);
  }

  async edit(wish, words = "") {
    if (!this.bench.chosen) return;
    if (wish.do !== "move") await this.flush();
    try {
      if (wish.do === "refine") say("Asking the frame …");
      const answer = await post("edit", { edit: this.of(wish) });
      if (answer.changed && answer.changed !== this.bench.chosen) {
        await this.bench.choose(answer.changed);
        say(`${wish.do === "undo" ? "Undone" : "Redone"} in “${answer.changed}”`);
        return;
      }
      this.take(answer);
      if (answer.index !== null && answer.index !== undefined) {
        this.select(answer.index);
        this.draw();
      }
      if (answer.note || words) say(answer.note || words);
    } catch (error) {
      this.bench.failed(error);
      this.draw();
    }
  }

  take(state) {
    if (state.capture !== this.bench.chosen) return;
    this.state = state;
    const { frame } = this.bench;
    if (frame.selected !== null && frame.selected >= state.points.length) frame.selected = null;
    this.bench.stands(state);
    this.opinion = "";
    panel.tell(this);
    this.askFrame();
    if (this.bench.step === "register") this.draw();
  }

  // what the frame itself says, once the hand rests
  askFrame() {
    clearTimeout(this.asking);
    const { state } = this;
    if (!state.fit) return;
    this.asking = setTimeout(async () => {
      const answer = await post("opinion", this.of()).catch(() => null);
      if (!answer || this.state !== state) return;
      this.opinion = answer.words;
      panel.tell(this);
    }, REST_MS);
  }

  draw() {
    const { frame, board } = this.bench;
    const { state } = this;
    if (!state) return;
    frame.layers.points = state.points.map((point) => ({ ...point, name: nameOf(point, this.targets) }));
    frame.arrows = this.arrows = state.fit ? panel.arrowScale(state.points) : 0;
    if (state.outlines) {
      const { sizes, refdes } = this.bench.model.sides[this.bench.capture.side];
      frame.layers.rings = ringsOf(sizes, refdes, state.outlines);
    }
    frame.layers.stale = !state.outlines;
    const ghosts = [];
    const expected = this.armed && this.expected(this.armed);
    if (expected) ghosts.push({ name: `${this.armed.name}?`, pixel: expected });
    if (state.proposal && frame.selected === state.index) ghosts.push({ name: "S snaps here", pixel: state.proposal });
    if (this.pending) ghosts.push({ name: "which place?", pixel: this.pending });
    frame.layers.ghosts = ghosts;
    board.used(state.points.map((point) => point.board_mm));
    const kept = frame.selected === null ? this.armed?.name : nameOf(state.points[frame.selected], this.targets);
    board.look("kept", kept ? [kept] : []);
    frame.draw();
  }

  // ---- rows of the table

  rowClicked(event) {
    const row = event.target.closest("tr");
    if (!row) return;
    const index = Number(row.dataset.index);
    const wish = event.target.dataset.do;
    if (wish) this.edit({ do: wish, index });
    else {
      this.select(index);
      this.bench.frame.reveal(this.state.points[index].pixel);
    }
  }

  rowKey(event) {
    const row = event.target.closest("tr");
    if (!row || event.target !== row) return;
    const index = Number(row.dataset.index);
    if (event.key === "Enter" || event.key === " ") {
      this.select(index);
      $("#frame").focus();
    } else if (event.key === "ArrowDown") row.nextElementSibling?.focus();
    else if (event.key === "ArrowUp") row.previousElementSibling?.focus();
    else if (event.key === "Delete") this.edit({ do: "remove", index });
    else return;
    event.preventDefault();
  }
}
