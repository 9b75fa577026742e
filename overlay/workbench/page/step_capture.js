// A capture begun or edited: the frame with its picture at once, and the values that turn it into temperatures.

import { post } from "./api.js";
import { $, el, fixed, say } from "./dom.js";
import { ScaleBar } from "./scale_bar.js";

const REST_MS = 300; // after the last key the frame is looked at again

// name, words, unit, why it is asked for
const FIELDS = [
  ["ambient_c", "Ambient", "°C", "Air around the board when the frame was taken. Needed."],
  ["reflected_c", "Reflected", "°C", "Apparent temperature of what the board mirrors; left out: the ambient."],
  ["distance_m", "Distance", "m", "From the lens to the board."],
  ["rise_scale", "Rise scale", "", "Rise at the required load ÷ rise in this capture; left out: 1."],
];
const MORE = [
  ["frame_emissivity", "Instrument’s emissivity", "", "What the instrument was set to; left out: 1, apparent temperature."],
  ["frame_reflected_c", "Instrument’s reflected", "°C", "Likewise; needed where that emissivity is below 1."],
  ["window_transmittance", "Window or close-up lens", "", "Its transmittance, such as 0.92; left out: none."],
  ["window_c", "Window’s temperature", "°C", "Left out: the ambient."],
  ["humidity_percent", "Humidity", "%", "Left out: 50."],
  ["frame_scale", "Frame: °C = value ×", "", "For images of whole numbers, such as 0.01."],
  ["frame_offset", "… +", "°C", "Likewise, such as −273.15."],
  ["scale_bar", "Scale bar of a picture", "px", "Middles of the bar’s two ends: x0, y0, x1, y1."],
  ["scale_c", "… its ends", "°C", "The temperatures written at them, in the same order."],
];
const RECORD = ["date", "place", "operator", "sample", "serial", "supply", "load", "duration", "orientation", "airflow", "instrument", "instrument_serial", "lens", "calibration_due", "notes"];

export class CaptureForm {
  constructor(bench) {
    this.bench = bench;
  }

  // `former`: the capture to edit; null begins one
  open(former) {
    const { form } = this.bench.check;
    if (!form) return;
    this.former = former;
    const values = former ? form.captures[former] : form.frames.length === 1 ? { frame: form.frames[0] } : {};
    const field = ([name, words, unit, title]) =>
      el("label", { title }, el("span", {}, words), el("span", { class: "cell" }, el("input", { name, value: values[name] ?? "", autocomplete: "off", inputmode: name.startsWith("scale") ? "text" : "decimal" }), unit ? ` ${unit}` : ""));
    const choice = (name, words, options, title) =>
      el("label", { title }, el("span", {}, words), el("select", { name }, ...options.map(([value, text]) => el("option", { value, selected: value === (values[name] ?? "") }, text))));
    const files = (names) => ["", ...new Set([...names, ...(former ? [values.frame, values.contact_readings, values.reflection_check].filter((file) => names.includes(file)) : [])])];
    this.form = el(
      "form",
      { id: "capture-form", "aria-label": former ? `Capture ${former}` : "New capture" },
      el("h2", {}, former ? `Capture “${former}”` : "Begin a capture"),
      el(
        "div",
        { class: "capture-grid" },
        el(
          "div",
          { class: "cells" },
          choice("frame", "Frame", files(form.frames).map((file) => [file, file || "choose a file of the job’s folder"]), "CSV, .npy, PNG, TIFF; a picture in false colour needs its scale bar below"),
          el("label", {}, el("span", {}, "Name"), el("input", { name: "name", value: former ?? "", placeholder: "such as full load", autocomplete: "off" })),
          choice("side", "Side", [["top", "top"], ["bottom", "bottom"]], "The side of the board that the frame shows"),
          ...FIELDS.map(field),
          choice("contact_readings", "Contact readings", files(form.tables).map((file) => [file, file || "none"]), "Thermocouple readings taken in this state, such as the filled plan"),
          choice("reflection_check", "Second frame", files(form.frames).map((file) => [file, file || "none"]), "The same scene with something else reflected: shows mirrors"),
        ),
        el("div", { class: "preview" }, el("canvas", { width: 1, height: 1, "aria-label": "The frame" }), el("p", { class: "quiet" }, "Choose the frame; its picture comes at once.")),
      ),
      el("div", { id: "bar-slot" }),
      el("details", { open: MORE.some(([name]) => values[name]) }, el("summary", {}, "Instrument, window, units"), el("div", { class: "cells" }, ...MORE.map(field))),
      el("details", {}, el("summary", {}, "Record (for the report)"), el("div", { class: "cells" }, ...RECORD.map((name) => el("label", {}, el("span", {}, name.replace("_", " ")), el("input", { name: `record.${name}`, value: form.record[name] ?? "", autocomplete: "off" }))))),
      el("p", { class: "note bad", hidden: true, id: "capture-wrong" }),
      el("div", { class: "row" }, el("button", { class: "strong" }, former ? "Save the values" : "Begin the capture"), el("button", { type: "button", onclick: () => this.close() }, "Cancel")),
    );
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write().catch((error) => this.bench.failed(error));
    });
    this.form.addEventListener("input", () => {
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.look(), REST_MS);
    });
    $("#capture-slot").replaceChildren(this.form);
    this.bar = new ScaleBar(this.form, () => this.look());
    this.form.querySelector("select").focus();
    this.form.scrollIntoView({ block: "start" });
    this.bench.whatNext();
    if (values.frame) this.look();
  }

  // a folder without a job: which of its files is what
  start(files) {
    const choice = (name, words, names, none) => el("label", {}, el("span", {}, words), el("select", { name }, el("option", { value: "" }, none), ...names.map((file) => el("option", { selected: file === files.chosen[name] }, file))));
    const form = el(
      "form",
      { id: "start-form", "aria-label": "Begin a job" },
      el("h2", {}, `No job in ${files.folder} yet`),
      el("p", { class: "quiet" }, "Which of its files is what? The job is written beside them, as job.toml; nothing else is changed."),
      el("div", { class: "cells" }, choice("placement", "Placement (centroid) file", files.placement, "choose a file"), choice("outline", "Outline: SVG, Gerber profile, DXF", files.outline, "none: the hull of the parts"), choice("parts", "Ratings or purchasing list", files.parts, "none yet: one is begun")),
      el("p", { class: "note bad", id: "start-wrong", hidden: true }),
      el("div", { class: "row" }, el("button", { class: "strong" }, "Begin the job")),
    );
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      try {
        await post("start", Object.fromEntries([...form.querySelectorAll("select")].map((field) => [field.name, field.value])));
        location.reload();
      } catch (error) {
        $("#start-wrong").textContent = error.message;
        $("#start-wrong").hidden = false;
      }
    });
    $("#check").replaceChildren(form);
    $("#job-name").textContent = files.folder;
    this.bench.whatNext();
    form.querySelector("select").focus();
    say("Begin a job from the files of this folder");
  }

  close() {
    $("#capture-slot").replaceChildren();
    this.form = null;
    $("#check").scrollTop = 0;
    this.bench.whatNext();
  }

  cells() {
    const cells = {};
    const record = {};
    for (const field of this.form.querySelectorAll("input, select")) {
      if (field.name.startsWith("record.")) record[field.name.slice(7)] = field.value;
      else cells[field.name] = field.value;
    }
    return { cells, record };
  }

  async look() {
    if (!this.form) return; // closed while a pause in typing was waited for
    const asked = (this.asked = {});
    const { cells } = this.cells();
    const shown = await post("preview", { cells }).catch(() => null);
    if (!shown || this.asked !== asked || !this.form) return;
    const words = this.form.querySelector(".preview p");
    const canvas = this.form.querySelector("canvas");
    canvas.hidden = !shown.picture;
    const untold = shown.problem && shown.colours && !cells.scale_bar; // nothing is wrong with a picture in colour
    if (untold) words.textContent = "A picture in false colour: its scale bar turns colours into temperatures. Tell it below.";
    else if (shown.problem) words.textContent = shown.problem.split("\n")[0]; // the first tells what kind of file it is
    else if (shown.picture) {
      words.textContent = [`${shown.shape[1]} × ${shown.shape[0]} pixels, ${fixed(shown.range[0], 1)} … ${fixed(shown.range[1], 1)} °C`, ...shown.notes].join(". ");
      this.paint(canvas, shown.picture);
    } else words.textContent = "Choose the frame; its picture comes at once.";
    if (!untold && /frame_scale|scale_bar/.test(shown.problem ?? "")) this.form.querySelector("details").open = true; // the remedy is there
    this.bar.show(cells.frame, shown);
    words.className = shown.problem && !untold ? "note bad" : "quiet";
  }

  paint(canvas, { shape: [rows, cols], levels }) {
    const colors = Object.values(this.bench.span.scales)[0];
    const bytes = Uint8Array.from(atob(levels), (letter) => letter.charCodeAt(0));
    [canvas.width, canvas.height] = [cols, rows];
    const context = canvas.getContext("2d");
    const image = context.createImageData(cols, rows);
    bytes.forEach((level, index) => image.data.set([...colors[level], 255], 4 * index));
    context.putImageData(image, 0, 0);
  }

  async write() {
    const wrong = this.form.querySelector("#capture-wrong");
    wrong.hidden = true;
    try {
      const answer = await post("capture", { session: this.bench.session, former: this.former, ...this.cells() });
      this.close();
      await this.bench.captured(answer);
      say(`“${answer.capture}” is in ${answer.written}; the former file is kept as .bak`);
    } catch (error) {
      if (!error.problems) throw error;
      wrong.textContent = error.problems.join(" ");
      wrong.hidden = false;
      wrong.scrollIntoView({ block: "nearest" });
    }
  }
}
