// Shots: where the camera goes, before any frame exists; drawn to scale on the board, with what cannot be had.

import { post } from "./api.js";
import { $, el, say } from "./dom.js";
import { SectionForm } from "./section_form.js";

const POLL_MS = 300;

export class ShotsStep {
  constructor(bench) {
    this.bench = bench;
    this.plan = null;
    this.side = "top";
    this.forms = ["camera", "requirement"].map((name) => new SectionForm(bench, name));
    $("#plan-shots").addEventListener("click", () => this.start());
    $("#write-shots").addEventListener("click", () => this.write());
    $("#shots-side").addEventListener("change", (event) => this.turn(event.target.value));
  }

  enter() {
    const { board } = this.bench;
    board.judge(null);
    board.used([]);
    for (const form of this.forms) form.show();
    this.draw();
  }

  words() {
    return this.plan ? `${this.plan.shots.length} shots planned` : "Where the camera goes, before any frame is taken; those who have their frames can go on";
  }

  leave() {
    this.bench.board.fields([]);
    this.bench.board.board = null; // the capture's own side comes back with it
    if (this.bench.capture) this.bench.sideShown();
    else this.bench.board.show(this.bench.model, "top");
  }

  hoverBoard(name) {
    this.bench.board.look("pointed", name ? [name] : []);
  }

  outdated() {
    if (this.plan) $("#shots-words").textContent = "The values have changed: plan again.";
    this.old = true;
    this.bench.whatNext();
  }

  turn(side) {
    this.side = side;
    this.draw();
  }

  async start() {
    const button = $("#plan-shots");
    button.disabled = true;
    $("#shots-progress").hidden = false;
    try {
      for (const form of this.forms) if (form.changed() && !(await form.write())) return;
      let answer = await post("shots");
      while (answer.state === "running") {
        $("#shots-progress").value = answer.share;
        $("#shots-words").textContent = `${answer.what} …`;
        await new Promise((resolve) => setTimeout(resolve, POLL_MS));
        answer = await post("shooting");
      }
      if (answer.state === "failed") {
        $("#shots-words").textContent = answer.problems.join(" ");
        say(answer.problems.join(" "), true);
        $("#camera-form [name=pixels]").focus();
        return;
      }
      this.plan = answer.result;
      this.old = false;
      $("#shots-words").textContent = "";
      say(this.plan.shots.length ? `${this.plan.shots.length} shots planned` : "No shot can be planned: no part has a known size yet. Step 1 lists what is missing", !this.plan.shots.length);
      const sides = new Set(this.plan.shots.map((shot) => shot.side));
      if (sides.size && !sides.has(this.side)) this.side = [...sides][0];
      this.draw();
    } catch (error) {
      this.bench.failed(error);
    } finally {
      button.disabled = false;
      $("#shots-progress").hidden = true;
      this.bench.whatNext();
    }
  }

  async write() {
    try {
      const { folder, written } = await post("shots/write");
      say(`Written to ${folder}: ${written.join(", ")}`);
    } catch (error) {
      this.bench.failed(error);
    }
  }

  draw() {
    const { board, model } = this.bench;
    if (board.board !== model || board.side !== this.side) board.show(model, this.side);
    $("#board-title").textContent = this.side === "top" ? "Top side" : "Bottom side, seen from below";
    $("#shots-side").value = this.side;
    const { plan } = this;
    $("#write-shots").hidden = !plan;
    board.fields(plan ? plan.shots.filter((shot) => shot.side === this.side) : []);
    if (!plan) {
      $("#shots").replaceChildren(el("p", { class: "quiet" }, "The plan says from how far, over which place and how turned the camera takes each frame, so that every part covers enough pixels with as few frames as can be, and names what no frame will show."));
      return;
    }
    const heading = (words, title, number = true) => el("th", { scope: "col", class: number ? "number" : "", title }, words);
    const rows = plan.shots.map((shot) => {
      const line = el(
        "tr",
        { tabindex: 0, "data-shot": shot.number },
        el("th", { scope: "row" }, String(shot.number)),
        el("td", {}, shot.side),
        el("td", { class: "number" }, `${shot.distance_mm} mm`),
        el("td", { class: "number" }, shot.aim_mm.map((value) => value.toFixed(1)).join(", ")),
        el("td", {}, shot.along),
        el("td", { class: "number" }, shot.field_mm.join(" × ")),
        el("td", { class: "number" }, shot.mm_per_px.toFixed(3)),
        el("td", { class: "number" }, `${shot.enough} of ${shot.parts}`),
        el("td", { class: "number" }, String(shot.to_click)),
      );
      const take = () => this.turn(shot.side) ?? this.mark(shot.number);
      line.addEventListener("click", take);
      line.addEventListener("focus", () => this.mark(shot.number));
      line.addEventListener("pointerenter", () => this.mark(shot.number));
      return line;
    });
    const notes = plan.shots.flatMap((shot) => shot.notes.map((note) => `Shot ${shot.number}: ${note}`));
    $("#shots").replaceChildren(
      el("p", { class: "quiet" }, `${plan.camera}. Distances from the lens to the board, the camera straight above the cross.`),
      el(
        "table",
        {},
        el("caption", { class: "unseen-help" }, "Shots in the order in which to take them"),
        el("thead", {}, el("tr", {}, heading("shot", "", false), heading("side", "", false), heading("from", "from the lens to the board"), heading("over x, y mm", "the cross on the board"), heading("long", "the axis of the board along which the frame’s long side lies", false), heading("field mm", "what is in the frame"), heading("mm/px", ""), heading("large enough", "parts that cover the pixels wanted"), heading("to click", "places that can serve as control points"))),
        el("tbody", {}, ...rows),
      ),
      ...block("Mind", notes),
      ...block("Before the first shot", plan.preparations),
      ...block("What cannot be had", plan.shortfalls),
      ...block("Notes", plan.notes),
      el("p", { class: "note warn" }, "Boards under power burn and shock: no hand, paint, tape or tripod goes near live or hot parts; prepare the board unpowered. Local electrical codes, your site’s rules and licensed persons take precedence."),
    );
  }

  mark(number) {
    this.bench.board.look("kept", [`shot ${number}`]);
    for (const row of document.querySelectorAll("#shots tbody tr")) row.classList.toggle("kept", Number(row.dataset.shot) === number);
  }
}

function block(words, lines) {
  return lines.length ? [el("h2", {}, words), el("ul", {}, ...lines.map((line) => el("li", {}, line)))] : [];
}
