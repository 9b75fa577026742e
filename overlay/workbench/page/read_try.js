// What if: another ambient, margin, limit or emissivity, tried on what was read. Nothing is written until it is kept.

import { post } from "./api.js";
import { $, el, say } from "./dom.js";

const POLL_MS = 250;

export class Trying {
  constructor(step) {
    this.step = step;
    this.before = null; // what the files say, while something else is shown
    this.form = $("#try-form");
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.start().catch((error) => this.step.bench.failed(error));
    });
  }

  // the fields are for whatever part is kept
  about(row) {
    $("#what-if").hidden = false;
    $("#try-part").hidden = !row;
    if (!row) return;
    $("#try-part b").textContent = row.refdes;
    for (const name of ["limit_c", "emissivity"]) if (this.name !== row.refdes) this.form.elements[name].value = "";
    this.name = row.refdes;
  }

  async start() {
    const cells = Object.fromEntries([...this.form.elements].filter((field) => field.name && !field.closest("[hidden]")).map((field) => [field.name, field.value]));
    const button = this.form.querySelector("button");
    button.disabled = true;
    try {
      let answer = await post("try", { refdes: this.step.kept, cells });
      while (answer.state === "running") {
        $("#progress").hidden = false;
        $("#progress").value = answer.share;
        $("#progress-words").textContent = `trying: ${answer.what}`;
        await new Promise((resolve) => setTimeout(resolve, POLL_MS));
        answer = await post("trying");
      }
      if (answer.state === "done") this.show(answer.result);
      else say(answer.problems.join(" "), true);
    } finally {
      button.disabled = false;
      $("#progress").hidden = true;
      $("#progress-words").textContent = "";
    }
  }

  show(trial) {
    this.before ??= this.step.result;
    document.body.dataset.trial = "";
    this.step.take(trial.result);
    const changed = Object.entries(trial.changes);
    for (const [name, [was]] of changed) {
      const cell = document.querySelector(`#parts tr[data-part="${CSS.escape(name)}"] .mark`);
      cell?.parentElement.append(el("small", { class: "quiet was" }, `was ${was}`));
    }
    const words = changed.slice(0, 4).map(([name, [was, is]]) => `${name} ${was} → ${is}`).join(", ");
    $("#trial").replaceChildren(
      el("p", {}, el("b", {}, "Only tried, nothing is written: "), `${trial.words}.`),
      el("p", {}, changed.length ? `${changed.length} ${changed.length === 1 ? "verdict changes" : "verdicts change"}: ${words}${changed.length > 4 ? ` and ${changed.length - 4} more` : ""}.` : "No verdict changes."),
      el("div", { class: "row" }, el("button", { type: "button", class: "strong", id: "try-keep", onclick: () => this.keep() }, `Keep it: write ${trial.files.join(" and ")}`), el("button", { type: "button", id: "try-back", onclick: () => this.back() }, "Back to what the files say")),
    );
    $("#trial").hidden = false;
    $("#reports").hidden = true;
    this.step.bench.whatNext();
    say(`Only tried: ${trial.words}`);
  }

  end() {
    this.before = null;
    delete document.body.dataset.trial;
    $("#trial").hidden = true;
    for (const field of this.form.elements) if (field.name) field.value = "";
  }

  back() {
    const { before } = this;
    if (!before) return;
    this.end();
    this.step.take(before);
    say("Back to what the files say");
  }

  async keep() {
    try {
      const answer = await post("try/keep");
      this.end();
      this.step.take(answer.result);
      const checked = await post("check");
      this.step.bench.model = checked.board;
      this.step.bench.steps.board.show(checked.check);
      say(`Kept: written to ${answer.written.join(" and ")}; the former file is kept as .bak`);
    } catch (error) {
      this.step.bench.failed(error);
    }
  }
}
