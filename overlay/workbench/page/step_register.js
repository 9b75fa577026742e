// Register: control points put, dragged, nudged and judged. The server fits; the page only draws what comes back.

import { newest, post } from "./api.js";
import { $, el, fixed, say } from "./dom.js";
import { ringsOf } from "./geometry.js";
import { Finder } from "./register_find.js";
import { key } from "./register_keys.js";
import * as panel from "./register_panel.js";
import { nameOf, placeOf } from "./register_panel.js";
import * as rows from "./register_rows.js";
import * as targets from "./register_targets.js";

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
    targets.listen(this);
    rows.listen(this);
    this.finder = new Finder(this);
    $("#snap-all").addEventListener("click", () => this.edit({ do: "refine" }));
    $("#follow").addEventListener("click", () => this.edit({ do: "follow" }));
    $("#clear").addEventListener("click", () => this.edit({ do: "clear" }));
  }

  async chosen() {
    this.armed = this.pending = null;
    this.bench.frame.selected = null;
    this.bench.frame.layers.points = [];
    this.bench.frame.layers.rings = [];
    this.targets = targets.known(this.bench);
    if (this.bench.capture.shape) {
      this.take(await post("state", this.of()));
      await this.finder.chosen();
    } else $("#fit").replaceChildren(el("p", { class: "quiet" }, "No frame, nothing to register."));
  }

  enter() {
    const { layers } = this.bench.frame;
    layers.spots = [];
    layers.looks = new Map();
    this.bench.board.judge(null);
    this.bench.board.look("pointed", []);
    if (this.state) this.draw();
  }

  words() {
    const { state, finder } = this;
    if (finder.found) return `Click on ${finder.found.ask} in the frame: that confirms what was found, or refuses it`;
    if (!state?.fit) return "Let the frame say where the board lies, or tie places of the board to pixels by hand";
    return `“${this.bench.chosen}”: ${state.points.length} points, ${fixed(state.fit.rms_px, 2)} px rms`;
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

  arm(name, byKey) {
    targets.arm(this, name, byKey);
  }

  disarm() {
    this.armed = this.pending = null;
    this.bench.frame.layers.ghosts = [];
    this.bench.board.look("kept", []);
    this.bench.board.handle([]);
    this.bench.frame.draw();
  }

  // ---- pointer on the frame and on the board

  grab(pixel, point) {
    if (this.finder.found) return null;
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
    if (this.finder.found) {
      this.finder.confirm(pixel);
      return;
    }
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
    if (this.finder.found) return;
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
    this.bench.frame.layers.looks = new Map();
    if (this.finder.found) this.finder.drop(); // whoever edits has decided otherwise
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

  // outlines of the fit as it stands; null without one
  rings() {
    if (!this.state?.outlines) return null;
    const { sizes, refdes } = this.bench.model.sides[this.bench.capture.side];
    return ringsOf(sizes, refdes, this.state.outlines);
  }

  draw() {
    const { frame, board } = this.bench;
    const { state } = this;
    if (!state) return;
    if (this.finder.found) {
      this.finder.draw();
      return;
    }
    frame.layers.points = state.points.map((point) => ({ ...point, name: nameOf(point, this.targets) }));
    frame.arrows = this.arrows = state.fit ? panel.arrowScale(state.points) : 0;
    frame.layers.rings = this.rings() ?? frame.layers.rings;
    frame.layers.stale = !state.outlines;
    const ghosts = [];
    const expected = this.armed && targets.expected(this, this.armed);
    if (expected) ghosts.push({ name: `${this.armed.name}?`, pixel: expected });
    if (state.proposal && frame.selected === state.index) ghosts.push({ name: "S snaps here", pixel: state.proposal });
    if (this.pending) ghosts.push({ name: "which place?", pixel: this.pending });
    frame.layers.ghosts = ghosts;
    board.used(state.points.map((point) => point.board_mm));
    const kept = frame.selected === null ? this.armed?.name : nameOf(state.points[frame.selected], this.targets);
    board.look("kept", kept ? [kept] : []);
    frame.draw();
  }
}
