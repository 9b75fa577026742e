// Check the board: what was read, what is wrong, and what is missing, to be filled in right there.

import { post } from "./api.js";
import { $, el, say } from "./dom.js";
import { CaptureForm } from "./step_capture.js";

export class CheckStep {
  constructor(bench) {
    this.bench = bench;
    this.form = new CaptureForm(bench);
  }

  enter() {
    if (!this.bench.model) return;
    this.bench.board.judge(null);
    this.bench.board.used([]);
  }

  hoverBoard(name) {
    this.bench.board.look("pointed", name ? [name] : []);
  }

  show(check) {
    const typed = this.typed();
    this.bench.check = check;
    const slot = $("#capture-slot"); // a form that is open stays open
    const errors = check.problems.filter((item) => item.severity === "error");
    const rest = check.problems.filter((item) => item.severity !== "error");
    const { bodies, ratings } = check.missing;
    $("#check").replaceChildren(
      el(
        "div",
        {},
        this.captures(),
        slot ?? el("div", { id: "capture-slot" }),
        el("h2", {}, check.problems.length ? `Problems: ${count(errors.length, "error")}, ${count(rest.length, "warning")}` : bodies.length || ratings.length ? "No other problems than what is missing below" : "No problems"),
        el("ul", { class: "problems" }, ...[...errors, ...rest].map(problem)),
        el("h2", {}, bodies.length ? `Bodies not known: ${bodies.length}` : "All bodies are known"),
        bodies.length ? el("p", { class: "quiet" }, "Sizes go to the bodies table. Length lies along the package’s own x axis at rotation 0.") : null,
        ...bodies.map((item) => this.body(item)),
        el("h2", {}, ratings.length ? `Limits not known: ${ratings.length}` : "All limits are known"),
        ratings.length ? el("p", { class: "quiet" }, "Limits go to the parts table, one row for all parts named. A limit at the junction needs ψJT and the power as well.") : null,
        ...ratings.map((item) => this.rating(item)),
      ),
      el(
        "div",
        {},
        el("h2", {}, "What was read"),
        check.lines.length ? el("dl", { class: "facts" }, ...check.lines.flatMap(([term, words]) => [el("dt", {}, term), el("dd", {}, words)])) : el("p", {}, "Nothing could be read yet."),
      ),
    );
    for (const field of document.querySelectorAll("#check .fill input, #check .fill select")) {
      const former = typed.get(`${field.closest("form").getAttribute("aria-label")}/${field.name}`);
      if (former !== undefined) field.value = former;
    }
  }

  // what was typed in rows that are not filled in yet
  typed() {
    const kept = new Map();
    for (const field of document.querySelectorAll("#check .fill input, #check .fill select")) {
      if (field.value) kept.set(`${field.closest("form").getAttribute("aria-label")}/${field.name}`, field.value);
    }
    return kept;
  }

  captures() {
    const { captures } = this.bench;
    const rows = captures.map((item) =>
      el(
        "li",
        { class: item.problem ? "error" : "" },
        el("b", {}, item.name),
        ` ${item.frame}, ${item.side} side${item.problem ? "" : `, ${item.shape[1]} × ${item.shape[0]} pixels`} `,
        item.problem || item.points_file ? null : el("button", { type: "button", class: "strong", "aria-label": `Register capture ${item.name}`, onclick: () => this.bench.register(item.name) }, "Register it next"),
        el("button", { type: "button", "aria-label": `Edit capture ${item.name}`, onclick: () => this.form.open(item.name) }, "Edit"),
        item.problem ? el("span", { class: "remedy" }, item.problem) : null,
      ),
    );
    return el(
      "div",
      {},
      el("h2", {}, captures.length ? `Captures: ${captures.length}` : "No capture yet"),
      captures.length ? null : el("p", { class: "quiet" }, "A capture is a frame of the warm board, and what it was taken in."),
      el("ul", { class: "problems captures" }, ...rows),
      el("button", { type: "button", id: "begin", class: captures.length ? "" : "strong", disabled: !this.bench.check.form, onclick: () => this.form.open(null) }, captures.length ? "Begin another capture" : "Begin a capture"),
    );
  }

  // what the first step has to say, in a sentence
  words() {
    const { problems, missing } = this.bench.check;
    const errors = problems.filter((item) => item.severity === "error").length;
    const said = [];
    if (errors) said.push(count(errors, "error"));
    if (missing.bodies.length) said.push(`${count(missing.bodies.length, "package")} without a body`);
    if (missing.ratings.length) said.push(`${count(missing.ratings.length, "limit")} missing`);
    return said.length ? `Board: ${said.join(", ")}` : "The board reads well: every body and limit is known";
  }

  body(item) {
    const shape = el("select", { name: "shape", "aria-label": "Shape" }, el("option", {}, "box"), el("option", {}, "round"));
    const fields = [number("length_mm", "length", "mm"), number("width_mm", "width", "mm"), number("height_mm", "height", "mm")];
    for (const field of fields) {
      const input = field.querySelector("input");
      input.value = item.proposed?.[input.name] ?? "";
    }
    if (item.proposed?.shape) shape.value = item.proposed.shape;
    shape.addEventListener("change", () => {
      const [length, width] = fields.map((field) => field.querySelector("input"));
      if (shape.value === "round" && length.value && !width.value) width.value = length.value;
    });
    const proposed = Object.keys(item.proposed ?? {}).length ? "; size proposed from the name, please confirm" : "";
    return this.filling(item.package, listed(item.parts) + proposed, [...fields, shape], (cells) =>
      post("fill/body", { package: item.package, cells }),
    );
  }

  rating(item) {
    const at = el("select", { name: "limit_at", "aria-label": "Where the limit holds" }, ...["surface", "junction", "ambient"].map((text) => el("option", {}, text)));
    const junction = [number("psi_jt_k_per_w", "ψJT", "K/W"), number("power_w", "power", "W")];
    const sift = () => junction.forEach((field) => (field.hidden = at.value !== "junction"));
    at.addEventListener("change", sift);
    sift();
    const name = item.parts.length > 1 || !item.part_number ? listed(item.parts) : item.refdes;
    const words = [item.part_number, item.kind, item.line ? `row ${item.line}` : ""].filter(Boolean).join(", ");
    return this.filling(name, words, [number("limit_c", "limit", "°C"), at, ...junction], (cells) =>
      post("fill/rating", { refdes: item.refdes, cells }),
    );
  }

  filling(name, words, fields, write) {
    const form = el("form", { "aria-label": name }, ...fields, el("button", {}, "Fill in"));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const cells = {};
      for (const field of form.querySelectorAll("input, select")) {
        if (field.value && !field.closest("[hidden]")) cells[field.name] = field.value;
      }
      try {
        const answer = await write(cells);
        this.bench.model = answer.board;
        form.setAttribute("aria-label", ""); // what was typed here is in the file now
        this.show(answer.check);
        await this.bench.redrawn();
        this.bench.steps.read.outdated();
        say(`${name}: written to ${answer.written}`);
        ($("#check form input") ?? $("#check")).focus();
      } catch (error) {
        this.bench.failed(error);
      }
    });
    return el("div", { class: "fill" }, el("div", {}, el("b", {}, name), el("small", {}, words)), form);
  }
}

function problem(item) {
  const place = item.line === null ? item.file : `${item.file}, line ${item.line}`;
  return el(
    "li",
    { class: item.severity },
    el("span", { class: "severity" }, item.severity),
    el("span", { class: "place" }, place),
    `: ${item.what}`,
    el("span", { class: "remedy" }, item.remedy),
  );
}

function number(name, words, unit) {
  const field = el("label", {}, `${words} `);
  field.append(el("input", { name, type: "text", inputmode: "decimal", autocomplete: "off" }), ` ${unit}`);
  return field;
}

function listed(names) {
  return names.slice(0, 8).join(", ") + (names.length > 8 ? ` and ${names.length - 8} more` : "");
}

function count(value, word) {
  return `${value} ${word}${value === 1 ? "" : "s"}`;
}
