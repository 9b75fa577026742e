// The camera's and the requirement's values, edited in the page; job.toml keeps its comments.

import { post } from "./api.js";
import { $, el, say } from "./dom.js";

const NAMES = {
  band_um: ["Wavelengths", "µm"], accuracy_c: ["Accuracy", "°C"], accuracy_percent: ["… or, if larger", "%"], netd_c: ["Noise", "K"], hfov_deg: ["Field of view", "° wide"],
  blur_px: ["Blur of the optics", "px"], pixels: ["Pixels", "columns, rows"], min_focus_m: ["Nearest focus", "m"], close_up_dpt: ["Close-up lens", "dpt"],
  size_of_source: ["Size of source", "file"], nonuniformity_c: ["Unevenness", "K"],
  ambient_max_c: ["Hottest ambient", "°C"], margin_c: ["Margin wanted", "K"], confidence: ["Confidence", "0.5 … 1"], derating: ["Derating", "policy or file"],
  enclosure_rise_k: ["Rise in the box", "K"], enclosure_rise_u_k: ["… its uncertainty", "K"], altitude_m: ["Altitude of use", "m"],
};
const FIRST = ["pixels", "hfov_deg", "min_focus_m", "close_up_dpt", "ambient_max_c", "margin_c", "confidence", "derating"];

export class SectionForm {
  constructor(bench, section) {
    this.bench = bench;
    this.section = section;
    this.form = $(`#${section}-form`);
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
    this.form.addEventListener("input", () => this.mark());
  }

  show() {
    const keys = this.bench.check.form?.sections[this.section];
    if (!keys || this.changed()) return; // what was typed stays
    this.keys = keys;
    const field = ({ key, value, default: usual, words }) => {
      const [name, unit] = NAMES[key] ?? [key.replaceAll("_", " "), ""];
      return el("label", { title: words }, el("span", {}, name), el("span", { class: "cell" }, el("input", { name: key, value, placeholder: usual || "not stated", autocomplete: "off", inputmode: "text" }), unit ? ` ${unit}` : ""));
    };
    const first = FIRST.map((key) => keys.find((item) => item.key === key)).filter(Boolean);
    const rest = keys.filter((item) => !FIRST.includes(item.key));
    const open = this.form.querySelector("details")?.open ?? false;
    this.form.replaceChildren(
      el("h2", {}, this.section === "camera" ? "Camera" : "Requirement"),
      el("div", { class: "cells" }, ...first.map(field)),
      el("details", { open }, el("summary", {}, "More"), el("div", { class: "cells" }, ...rest.map(field))),
      el("p", { class: "note bad", hidden: true }),
      el("div", { class: "row" }, el("button", { disabled: true }, "Save to job.toml"), el("span", { class: "quiet" }, "Left blank: the value in grey.")),
    );
  }

  // keys whose fields differ from what the job says
  cells() {
    const fields = [...this.form.querySelectorAll("input")];
    return Object.fromEntries(fields.filter((field) => field.value.trim() !== (this.keys.find((item) => item.key === field.name)?.value ?? "")).map((field) => [field.name, field.value]));
  }

  changed() {
    return Boolean(this.keys) && Object.keys(this.cells()).length > 0;
  }

  mark() {
    const button = this.form.querySelector("button");
    button.disabled = !this.changed();
    button.classList.toggle("strong", this.changed());
  }

  async write() {
    const wrong = this.form.querySelector(".note.bad");
    wrong.hidden = true;
    try {
      const answer = await post("section", { session: this.bench.session, section: this.section, cells: this.cells() });
      this.keys = null; // what was typed is in the file now
      this.bench.model = answer.board;
      this.bench.steps.board.show(answer.check);
      this.show();
      this.bench.steps.read.outdated();
      this.bench.steps.shots.outdated();
      say(`Written to ${answer.written}; the former file is kept as .bak`);
      return true;
    } catch (error) {
      if (!error.problems) throw error;
      wrong.textContent = error.problems.join(" ");
      wrong.hidden = false;
      say(wrong.textContent, true);
      return false;
    }
  }
}
