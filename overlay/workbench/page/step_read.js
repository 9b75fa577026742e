// Read: the job read in place; table, board, frame and hot spots answer each other.

import { newest, post } from "./api.js";
import { $, ask, el, fixed, say } from "./dom.js";
import { ringsOf } from "./geometry.js";
import { detail, spots } from "./read_panel.js";
import * as table from "./read_table.js";
import { Trying } from "./read_try.js";

export class ReadStep {
  constructor(bench) {
    this.bench = bench;
    this.result = null;
    this.kept = null;
    this.old = false;
    this.trying = new Trying(this);
    this.askWho = newest("who", (answer) => this.named(answer));
    $("#read").addEventListener("click", () => this.start());
    $("#reports").addEventListener("click", () => this.write());
    $("#filter").addEventListener("input", () => this.sift());
    $("#verdicts").addEventListener("input", () => this.sift());
    $("#filter").addEventListener("submit", (event) => event.preventDefault());
    const body = $("#parts tbody");
    body.addEventListener("pointerover", (event) => this.point(event.target.closest("tr")?.dataset.part ?? null));
    body.addEventListener("pointerleave", () => this.point(null));
    body.addEventListener("click", (event) => this.keep(event.target.closest("tr")?.dataset.part ?? null));
    body.addEventListener("focusin", (event) => this.point(event.target.closest("tr")?.dataset.part ?? null));
    body.addEventListener("keydown", (event) => this.rowKey(event));
  }

  async chosen() {
    this.kept = null;
  }

  enter() {
    this.bench.frame.layers.ghosts = [];
    this.bench.frame.layers.points = [];
    this.bench.frame.selected = null;
    this.bench.board.used([]);
    this.bench.board.landmarks.setAttribute("visibility", "hidden");
    if (this.result) this.draw();
    else {
      this.bench.frame.draw();
      $("#detail").replaceChildren(el("p", { class: "quiet" }, "Reading takes some seconds. Then point at a glow for its name, or at a name for its glow."));
    }
  }

  leave() {
    this.bench.board.landmarks?.removeAttribute("visibility");
    this.bench.frame.layers.spots = [];
  }

  // what was read before this page was opened
  async last() {
    const answer = await post("read/last");
    if (answer.state !== "done") return;
    this.take(answer.result);
    if (!answer.fresh) this.outdated();
  }

  outdated() {
    this.old = Boolean(this.result);
    if (this.old) $("#progress-words").textContent = "What is shown is older than the files: read again.";
    this.bench.whatNext();
  }

  // ---- reading

  async start() {
    if (this.bench.unsaved.length) {
      const answer = await ask("The reading starts from the files. Save the control points first?", [
        ["save", "Save and read"],
        ["", "Not now"],
      ]);
      if (answer !== "save" || !(await this.bench.save())) return;
    }
    const open = this.bench.unregistered();
    if (open) {
      $("#failed").replaceChildren(el("li", {}, `“${open.name}” is not registered yet: nothing says where the board lies in its frame. `, el("button", { type: "button", class: "strong", onclick: () => this.bench.register(open.name) }, "Register it next")));
      $("#failed").hidden = false;
      say(`“${open.name}” is not registered yet`);
      return;
    }
    $("#read").disabled = true;
    $("#failed").hidden = true;
    if (this.trying.before) this.trying.end();
    try {
      let answer = await post("read");
      while (answer.state === "running") {
        $("#progress").hidden = false;
        $("#progress").value = answer.share;
        $("#progress-words").textContent = answer.what;
        await new Promise((resolve) => setTimeout(resolve, 250));
        answer = await post("reading");
      }
      if (answer.state === "done") this.take(answer.result);
      else {
        say("The job cannot be read yet", true);
        $("#failed").replaceChildren(...answer.problems.map((text) => el("li", { class: "error" }, text)));
        $("#failed").hidden = false;
        $("#progress-words").textContent = "";
      }
    } catch (error) {
      this.bench.failed(error);
    } finally {
      $("#read").disabled = false;
      $("#progress").hidden = true;
    }
  }

  take(result) {
    this.result = result;
    this.old = false;
    this.rows = new Map(result.rows.map((row) => [row.refdes, row]));
    table.fill(result, this.bench.verdicts);
    for (const id of ["filter", "sifting", "parts", "reports"]) $(`#${id}`).hidden = false;
    $("#read").textContent = "Read again";
    $("#read").classList.remove("strong");
    $("#progress-words").textContent = "";
    $("#cautions").replaceChildren(el("h2", {}, "Cautions"), el("ul", {}, ...result.cautions.map((text) => el("li", {}, text))));
    this.trying.about(this.kept && this.rows.get(this.kept));
    this.sift();
    if (this.bench.step === "read") this.draw();
    if (this.kept) detail(this, this.kept);
    this.bench.whatNext();
    say(this.words());
  }

  words() {
    if (!this.result) return "Reading takes some seconds; nothing is written";
    const summary = Object.entries(this.result.summary).filter(([, number]) => number).map(([verdict, number]) => `${number} ${verdict}`);
    return `Read: ${summary.join(", ")}`;
  }

  draw() {
    const { frame, board } = this.bench;
    const capture = this.result.captures[this.bench.chosen];
    board.judge(new Map(this.result.rows.map((row) => [row.refdes, row.verdict])));
    const sizes = capture ? capture.outlines.map((cells) => cells.length / 2) : [];
    frame.layers.rings = capture ? ringsOf(sizes, capture.parts, capture.outlines.flat()) : [];
    frame.layers.stale = false;
    frame.layers.spots = capture ? capture.hot_spots : [];
    spots(this, capture);
    this.looks();
    if (!this.kept) detail(this, null);
  }

  sift() {
    table.sift(this.rows);
  }

  async write() {
    try {
      const { folder, written } = await post("reports");
      say(`Wrote ${written.join(", ")} to ${this.bench.job.folder}/${folder}`);
    } catch (error) {
      this.bench.failed(error);
    }
  }

  async probe(name) {
    try {
      const place = await post("probe", { refdes: name });
      const expected = place.expected_c === null ? "" : `, about ${fixed(place.expected_c, 1)} °C there`;
      $("#probe-words").replaceChildren(
        el("b", {}, `${place.refdes}, ${place.on}`),
        `: board ${fixed(place.board_mm[0], 2)}, ${fixed(place.board_mm[1], 2)} mm; ${place.words.join("; ")}${expected}. ${place.cautions.join(" ")} Written to ${place.written.join(" and ")}.`,
      );
      $("#probe-words").hidden = false;
    } catch (error) {
      this.bench.failed(error);
    }
  }

  // what was read of a part in a capture, in words; empty where nothing was
  readingOf(capture, refdes) {
    const cells = this.result?.captures[capture]?.readings[refdes];
    return cells ? `read: peak ${cells}` : "";
  }

  // ---- pointing and keeping

  point(name) {
    if (name === this.pointed) return;
    this.pointed = name;
    this.looks();
    if (this.result) detail(this, name ?? this.kept);
  }

  keep(name) {
    this.kept = name && name !== this.kept ? name : null;
    this.looks();
    if (!this.result) return;
    detail(this, this.kept ?? this.pointed);
    const row = this.kept && this.rows.get(this.kept);
    this.trying.about(row);
    if (!row) return;
    if (row.side !== this.bench.capture.side) {
      // the part is on the other side: show it there
      const other = this.bench.captures.find((item) => item.name === row.capture) ?? this.bench.captures.find((item) => item.side === row.side);
      if (other?.side === row.side) {
        const kept = this.kept;
        this.bench.choose(other.name).then(() => this.keep(kept));
      }
    }
  }

  looks() {
    const names = [this.pointed, this.kept].filter(Boolean);
    this.bench.board.look("pointed", this.pointed ? [this.pointed] : []);
    this.bench.board.look("kept", this.kept ? [this.kept] : []);
    this.bench.frame.layers.looks = new Map(names.map((name) => [name, name === this.kept ? "kept" : "pointed"]));
    for (const line of $("#parts tbody").rows) {
      line.classList.toggle("pointed", line.dataset.part === this.pointed);
      line.classList.toggle("kept", line.dataset.part === this.kept);
    }
    this.bench.frame.draw();
  }

  reveal() {
    const line = [...$("#parts tbody").rows].find((item) => item.dataset.part === this.kept);
    line?.scrollIntoView({ block: "nearest" });
  }

  hoverFrame(pixel) {
    if (!this.result) return;
    const name = pixel && this.bench.frame.ringAt(pixel);
    this.point(name && this.rows.has(name) ? name : null);
    if (!pixel) {
      this.askWho.drop();
      return;
    }
    if (name) this.bench.extra = name;
    this.asked = pixel;
    this.askWho({ capture: this.bench.chosen, pixel });
  }

  named(answer) {
    const { hovered } = this.bench;
    if (!hovered || hovered[0] !== this.asked?.[0] || answer.capture !== this.bench.chosen) return;
    const likely = answer.candidates.filter((item) => item.probability >= 0.005).slice(0, 4);
    const words = likely.map((item) => `${item.refdes ?? "bare board"} ${Math.round(100 * item.probability)} %`).join(", ");
    this.bench.extra = words + (answer.surface_c === null ? "" : `, surface ${fixed(answer.surface_c, 1)} °C`);
    $("#readout").textContent = this.bench.words(hovered, this.bench.lastPlace, this.bench.extra);
  }

  clickFrame(pixel) {
    this.bench.frame.crosshair = pixel;
    const spot = (this.bench.frame.layers.spots ?? []).find((item) => {
      const [x, y] = this.bench.frame.toScreen(item.pixel);
      const [px, py] = this.bench.frame.toScreen(pixel);
      return Math.hypot(x - px, y - py) < 8;
    });
    const name = this.bench.frame.ringAt(pixel) ?? spot?.candidates[0]?.[0] ?? null;
    this.keep(name && this.rows?.has(name) ? name : null);
    this.reveal();
  }

  clickBoard(name) {
    this.keep(name && this.rows?.has(name) ? name : null);
    this.reveal();
  }

  hoverBoard(name) {
    this.point(name && this.rows?.has(name) ? name : null);
  }

  key(event) {
    const { frame } = this.bench;
    const step = event.shiftKey ? 0.1 : event.altKey ? 10 : 1;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.ctrlKey || event.metaKey || !frame.values) return;
    if (way) {
      const from = frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
      frame.crosshair = frame.kept([from[0] + (frame.mirrored ? -1 : 1) * way[0] * step, from[1] + way[1] * step]);
      frame.reveal(frame.crosshair);
      this.bench.hoverFrame(frame.crosshair);
    } else if (event.key === "Enter" && frame.crosshair) this.clickFrame(frame.crosshair);
    else if (event.key === "Escape") this.keep(null);
    else if (event.key === "0") frame.fit();
    else if (event.key === "+" || event.key === "=") frame.zoomMiddle(1.4);
    else if (event.key === "-") frame.zoomMiddle(1 / 1.4);
    else return;
    event.preventDefault();
  }

  rowKey(event) {
    const line = event.target.closest("tr");
    if (!line) return;
    const seen = [...$("#parts tbody").rows].filter((item) => !item.hidden);
    const at = seen.indexOf(line);
    if (event.key === "Enter" || event.key === " ") this.keep(line.dataset.part);
    else if (event.key === "ArrowDown") seen[at + 1]?.focus();
    else if (event.key === "ArrowUp") seen[at - 1]?.focus();
    else if (event.key === "Home") seen[0]?.focus();
    else if (event.key === "End") seen.at(-1)?.focus();
    else return;
    event.preventDefault();
  }

  light(spot, on) {
    spot.kept = on;
    this.bench.frame.draw();
  }
}
