// A capture less another one, in the place of the frame until it is taken away again.

import { post } from "./api.js";
import { $, el } from "./dom.js";

export class Differing {
  constructor(step) {
    this.step = step;
    this.on = false;
    $("#difference-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.show().catch((error) => this.step.bench.failed(error));
    });
    $("#difference-off").addEventListener("click", () => this.off());
  }

  fresh() {
    const { captures, capture } = this.step.bench;
    if (!capture) return;
    const others = captures.filter((item) => item.shape && item.side === capture.side && item.name !== capture.name);
    $("#difference-other").replaceChildren(...others.map((item) => el("option", {}, item.name)));
    $("#difference-form").hidden = !others.length;
    $("#difference-words").textContent = others.length ? `“${capture.name}” less the capture chosen here, shown in its place.` : "There is no other capture of this side.";
    this.on = false; // choosing a capture shows its own frame
    $("#difference-off").hidden = true;
  }

  async show() {
    const { bench } = this.step;
    const chosen = bench.chosen;
    const answer = await post("difference", this.step.bench.steps.register.of({ other: $("#difference-other").value, rises: $("#difference-rises").checked }));
    if (bench.chosen !== chosen || bench.step !== "look") return;
    const bytes = Uint8Array.from(atob(answer.values), (letter) => letter.charCodeAt(0));
    this.on = true;
    bench.frame.show(new Float32Array(bytes.buffer), ...bench.capture.shape);
    bench.span.differ({ ...answer });
    bench.span.show();
    $("#difference-words").textContent = `Shown: ${answer.words}. Blue is colder, orange warmer; grey was not seen by both.`;
    $("#difference-off").hidden = false;
    this.step.tell();
  }

  off() {
    this.on = false;
    this.step.bench.choose(this.step.bench.chosen).catch((error) => this.step.bench.failed(error));
  }
}
