// The page: what all steps share, and which step is shown.

import { Refusal, newest, post, postAside, temperatures } from "./api.js";
import { BoardView } from "./board_view.js";
import { $, ask, el, fixed, say } from "./dom.js";
import { Span } from "./frame_span.js";
import { FrameView } from "./frame_view.js";
import { barred, next, unregistered } from "./next_step.js";
import { listen } from "./page_keys.js";
import { CheckStep } from "./step_check.js";
import { LookStep } from "./step_look.js";
import { ReadStep } from "./step_read.js";
import { RegisterStep } from "./step_register.js";
import { ShotsStep } from "./step_shots.js";

class Bench {
  constructor() {
    this.step = "board";
    this.unsaved = [];
    this.frame = new FrameView($("#frame"), {
      grab: (pixel, point) => this.now("grab", pixel, point) ?? null,
      drag: (wish, pixel, moved) => this.now("drag", wish, pixel, moved),
      drop: (wish, pixel, moved, cancelled) => this.now("drop", wish, pixel, moved, cancelled),
      click: (pixel) => this.now("clickFrame", pixel),
      hover: (pixel) => this.hoverFrame(pixel),
      leave: () => this.hoverFrame(null),
    });
    this.board = new BoardView($("#board"), {
      click: (target) => this.now("clickBoard", target),
      hover: (target) => this.now("hoverBoard", target),
    });
    this.span = new Span(this);
    this.steps = { board: new CheckStep(this), shots: new ShotsStep(this), register: new RegisterStep(this), read: new ReadStep(this), look: new LookStep(this) };
    this.askWhere = newest("where", (answer, wish) => this.told(wish.pixel, answer.board_mm));
  }

  now(name, ...values) {
    return this.steps[this.step][name]?.(...values);
  }

  async open() {
    const opened = await post("open");
    if (opened.start) {
      this.steps.board.form.start(opened.start);
      return;
    }
    Object.assign(this, { session: opened.session, job: opened.job, verdicts: opened.verdicts });
    this.captures = opened.captures;
    this.model = opened.board;
    this.peopled();
    this.check = opened.check;
    $("#job-name").textContent = opened.board?.name || opened.job.folder;
    document.title = `${opened.board?.name || opened.job.folder} · Workbench`;
    this.span.begin(opened.scales);
    this.steps.board.show(opened.check);
    await this.shown();
    if (this.model && this.captures.length) await this.steps.read.last();
    say(this.steps.board.words());
  }

  // nothing is drawn where there is no board
  peopled() {
    document.body.toggleAttribute("data-empty", !this.model);
  }

  // board and captures as they are now known
  async shown(wanted) {
    $("#capture").replaceChildren(...this.captures.map((item) => el("option", { value: item.name }, item.name)));
    if (this.model && !this.captures.length) {
      this.board.show(this.model, "top");
      $("#board-title").textContent = "Top side";
    }
    const first = this.captures.find((item) => item.name === wanted) ?? this.captures.find((item) => item.shape) ?? this.captures[0];
    if (this.model && first) await this.choose(first.name);
    this.whatNext();
  }

  // the board is another one: parts have sizes that they had not
  async redrawn() {
    this.board.board = null;
    if (this.capture) await this.choose(this.chosen);
    else this.board.show(this.model, "top");
  }

  // a capture was begun or edited
  async captured(answer) {
    this.captures = answer.captures;
    this.model = answer.board;
    this.peopled();
    this.steps.board.show(answer.check);
    this.steps.read.outdated();
    this.board.board = null;
    await this.shown(answer.capture);
  }

  // the job's files may be mended by another hand, in an editor: the page sees it by itself
  async lookAgain() {
    if (!this.session || this.looking || document.hidden) return;
    this.looking = true;
    try {
      const { version } = this.check;
      const answer = await postAside("look", { session: this.session, version });
      if (!answer?.check || this.check.version !== version) return; // nothing new, or the page has just been told
      const { chosen } = this;
      if (answer.captures) await this.captured({ ...answer, capture: chosen });
      else this.steps.board.show(answer.check);
      say(answer.captures ? `The job’s files were changed and are read anew. ${this.steps.board.words()}` : this.steps.board.words(), !answer.captures);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error; // where the workbench has ended, the next click says so
    } finally {
      this.looking = false;
    }
  }

  // ---- what to do next is one button

  unregistered() {
    return unregistered(this);
  }

  next() {
    return next(this);
  }

  whatNext() {
    const [words] = this.next();
    $("#next").textContent = `Next: ${words[0].toLowerCase()}${words.slice(1)}`;
  }

  async register(name) {
    await this.choose(name);
    this.go("register");
  }

  begin() {
    this.go("board");
    this.steps.board.form.open(null);
  }

  go(step) {
    const why = barred(this, step);
    if (why) {
      if (this.model) this.begin();
      say(why, true);
      return;
    }
    this.now("leave");
    this.step = document.body.dataset.step = step;
    for (const button of document.querySelectorAll(".step")) {
      if (button.dataset.step === step) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    }
    this.now("enter");
    this.frame.resize();
    this.whatNext();
    say(this.now("words") ?? "");
  }

  // ---- captures and their frames

  get capture() {
    return this.captures.find((item) => item.name === this.chosen);
  }

  async choose(name) {
    this.chosen = name;
    $("#capture").value = name;
    const capture = this.capture;
    $("#no-frame").hidden = !capture.problem;
    $("#no-frame").textContent = capture.problem ?? "";
    $("#mirror-label").hidden = capture.side !== "bottom";
    this.shownPixel = null;
    this.readout(null);
    this.sideShown();
    $("#frame").setAttribute("aria-label", `Frame ${name}, ${capture.side} side`);
    if (capture.shape) {
      const values = await temperatures(name);
      if (this.chosen !== name) return;
      this.frame.show(values, ...capture.shape);
      capture.wanted ??= [...capture.range];
      this.span.differ(null);
      this.span.show();
    } else {
      this.frame.clear();
    }
    await Promise.all([this.steps.register.chosen(), this.steps.read.chosen()]);
    this.steps.look.chosen();
    this.now("enter");
  }

  sideShown() {
    const { side } = this.capture;
    const mirrored = side === "bottom" && $("#mirror").checked;
    this.frame.mirror(mirrored);
    const { board } = this;
    if (board.board !== this.model || board.side !== side || board.through !== mirrored) board.show(this.model, side, mirrored);
    $("#board-title").textContent = side === "top" ? "Top side" : mirrored ? "Bottom side, seen through the top" : "Bottom side, seen from below";
  }

  // ---- the readout under the frame

  hoverFrame(pixel) {
    this.hovered = pixel;
    this.readout(pixel);
    this.now("hoverFrame", pixel);
  }

  readout(pixel, extra = "") {
    if (!pixel || !this.frame.values) {
      this.askWhere.drop();
      this.board.spot(null);
      $("#readout").textContent = this.frame.crosshair ? this.words(this.frame.crosshair, null, "") : "Point at the frame";
      return;
    }
    this.extra = extra;
    this.shownPixel = pixel;
    $("#readout").textContent = this.words(pixel, this.lastPlace, extra);
    this.askWhere({ session: this.session, capture: this.chosen, pixel });
  }

  told(pixel, place) {
    if (this.shownPixel?.[0] !== pixel[0] || this.shownPixel?.[1] !== pixel[1]) return;
    this.lastPlace = place;
    $("#readout").textContent = this.words(pixel, place, this.extra);
    this.board.spot(place);
  }

  words(pixel, place, extra) {
    const parts = [`pixel ${fixed(pixel[0], 1)}, ${fixed(pixel[1], 1)}`, `${fixed(this.frame.temperature(pixel), 1)} ${this.span.unit}`];
    if (place) parts.push(`board ${fixed(place[0], 2)}, ${fixed(place[1], 2)} mm`);
    if (extra) parts.push(extra);
    return parts.join("   ·   ");
  }

  // ---- work that is not saved yet

  stands(state) {
    this.unsaved = state.unsaved;
    this.whatNext();
    if ("can_undo" in state) {
      $("#undo").disabled = !state.can_undo;
      $("#redo").disabled = !state.can_redo;
    }
    $("#save").disabled = !state.unsaved.length;
    $("#save").title = state.unsaved.length ? `Not saved: ${state.unsaved.join(", ")} (Ctrl+S)` : "Ctrl+S";
  }

  async save(anyway = false) {
    await this.steps.register.flush();
    try {
      const saved = await post("save", { session: this.session, anyway });
      for (const item of this.captures) item.points_file = saved.points_files[item.name] ?? item.points_file;
      this.check.version = saved.version;
      this.stands(saved);
      this.steps.read.outdated();
      say(saved.written.length ? `Saved ${saved.written.join(", ")}; the former file is kept as .bak` : "Nothing to save");
      return true;
    } catch (error) {
      if (!(error instanceof Refusal) || error.status !== 409) {
        this.failed(error);
        return false;
      }
      say(error.message, true);
      const answer = await ask(`${error.message}. Somebody else, or another page, saved it. Your points are still here.`, [
        ["", "Keep working"],
        ["anyway", "Save mine over it (theirs is kept as .bak)"],
        ["reload", "Drop mine and load theirs"],
      ]);
      if (answer === "anyway") return this.save(true);
      if (answer === "reload") {
        this.unsaved = [];
        location.reload();
      }
      return false;
    }
  }

  failed(error) {
    if (!(error instanceof Refusal)) throw error;
    say(error.problems.join("; "), true);
  }
}

const bench = new Bench();

listen(bench);
bench.open().catch((error) => {
  bench.failed(error);
  $("#check").replaceChildren(el("p", { class: "note bad" }, error.message));
});
