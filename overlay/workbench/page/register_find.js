// The board found in the frame without clicks: a proposal, drawn over the frame, that counts once a person has clicked
// the one part it asks for.

import { post } from "./api.js";
import { $, el, say } from "./dom.js";
import { ringsOf } from "./geometry.js";

const POLL_MS = 300;

export class Finder {
  constructor(step) {
    this.step = step;
    this.found = null; // what waits for its click
    this.refused = new Set(); // captures for which nothing could be proposed
    $("#find").addEventListener("click", () => this.start());
  }

  // another capture is shown: a search of its own may be under way, or have ended meanwhile
  async chosen() {
    this.drop();
    const answer = await post("finding", this.step.of()).catch(() => null);
    if (answer?.state === "running") this.follow(answer).catch((error) => this.step.bench.failed(error));
    else if (answer?.state === "done" && answer.result.found && !this.step.state?.points.length && !this.refused.has(this.step.bench.chosen)) this.tell(answer.result);
  }

  drop() {
    this.found = null;
    $("#fit").hidden = false;
    $("#found").replaceChildren();
    $("#find").disabled = !this.step.bench.capture?.shape;
  }

  async start() {
    try {
      await this.follow(await post("find", this.step.of()));
    } catch (error) {
      this.step.bench.failed(error);
      this.drop();
    }
  }

  async follow(answer) {
    const capture = this.step.bench.chosen;
    const mine = () => this.step.bench.chosen === capture;
    $("#find").disabled = true;
    const words = el("span", {});
    $("#found").replaceChildren(el("p", { class: "note" }, words, " ", el("progress", { "aria-label": "Looking for the board" }), " Everything else can be used meanwhile."));
    while (answer.state === "running") {
      words.textContent = `Looking for the board in “${capture}”: ${answer.seconds} s.`;
      await new Promise((resolve) => setTimeout(resolve, POLL_MS));
      if (!mine()) return;
      answer = await post("finding", this.step.of());
    }
    if (!mine()) return;
    this.drop();
    if (answer.state === "done") this.tell(answer.result);
    else if (answer.state === "failed") this.refuse(answer.problems.join(" "), "");
  }

  tell(result) {
    if (!result.found) {
      this.refuse(result.reason, result.remedy);
      return;
    }
    this.found = result;
    $("#fit").hidden = true; // one thing at a time
    const { differing, ask } = result;
    const part = this.step.bench.model.parts.find((item) => item.refdes === ask);
    const kind = [part?.kind, part?.package].filter(Boolean).join(", ");
    $("#found").replaceChildren(
      el(
        "div",
        { class: "note found" },
        el("p", {}, el("b", {}, `Is this the board? Click on ${ask} in the frame`), kind ? ` (${kind}).` : "."),
        el("p", {}, `${result.reason[0].toUpperCase()}${result.reason.slice(1)}. Find ${ask} by your own eye: it is marked on the board beside and left out of the frame. A click within 3 pixels of its place confirms.`),
        el("p", { class: "legend" }, el("span", { class: "agrees" }, `${result.agreeing.length} agree`), el("span", { class: "differs" }, `${differing.length} do not${differing.length ? `: ${listed(differing)}` : ""}`), el("span", { class: "faint" }, "the rest is too faint to tell")),
        el("div", { class: "row" }, el("button", { type: "button", onclick: () => this.leave() }, "No, place points by hand")),
      ),
    );
    this.step.bench.whatNext();
    if (this.step.bench.step !== "register") return; // it is drawn once that step is entered
    this.step.disarm();
    this.step.draw();
    $("#frame").focus();
    say(`Click on ${ask} in the frame: that confirms what was found, or refuses it`);
  }

  refuse(reason, remedy) {
    this.refused.add(this.step.bench.chosen);
    $("#found").replaceChildren(el("p", { class: "note warn" }, el("b", {}, "Nothing proposed: "), `${reason}.`, remedy ? el("span", { class: "remedy" }, `What would help: ${remedy}.`) : null));
    say("The board was not found without clicks: place points by hand", true);
    this.step.bench.whatNext();
  }

  leave() {
    this.refused.add(this.step.bench.chosen);
    this.drop();
    this.step.draw();
    this.step.bench.whatNext();
    $("#target").focus();
  }

  async confirm(pixel) {
    const { ask } = this.found;
    try {
      const state = await post("confirm", { ...this.step.of(), pixel });
      this.drop();
      this.step.bench.frame.crosshair = null;
      this.step.take(state);
      say(`Confirmed at ${ask}: ${state.points.length} control points. Save them, or drag what you know better`);
    } catch (error) {
      if (!error.problems) throw error;
      $("#found").querySelector(".refusal")?.remove();
      $("#found .note").append(el("p", { class: "refusal bad" }, `Not confirmed: ${error.problems.join(" ")}`));
      say(`Not confirmed: ${error.problems.join(" ")}`, true);
    }
  }

  // outlines of the proposal in the place of the fit's
  draw() {
    const { frame, model, capture } = this.step.bench;
    const { sizes, refdes } = model.sides[capture.side];
    const { ask, agreeing, differing } = this.found;
    frame.layers.rings = ringsOf(sizes, refdes, this.found.outlines).filter((ring) => ring.name !== ask);
    frame.layers.stale = false;
    frame.layers.points = [];
    frame.layers.looks = new Map([...agreeing.map((name) => [name, "agrees"]), ...differing.map((name) => [name, "differs"])]);
    this.step.bench.board.look("kept", [ask]);
    frame.draw();
  }
}

function listed(names) {
  return names.slice(0, 6).join(", ") + (names.length > 6 ? ` and ${names.length - 6} more` : "");
}
