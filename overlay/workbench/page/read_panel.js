// Words about one part, and the hot spots of a capture.

import { $, el, fixed } from "./dom.js";

export function detail(step, name) {
  const row = name && step.rows.get(name);
  if (!row) {
    $("#detail").replaceChildren(el("p", { class: "quiet" }, "Point at a part, or choose a row. Click or Enter keeps it."));
    return;
  }
  const content = [
    el("h2", {}, row.refdes, " ", el("span", { class: `mark ${row.verdict}` }, row.verdict)),
    el("p", { class: "row" }, el("button", { type: "button", id: "probe", onclick: () => step.probe(row.refdes) }, `Where to glue a thermocouple on ${row.refdes}`)),
    el("p", { id: "probe-words", class: "note", hidden: true }),
    el("dl", {}, ...row.facts.flatMap(([term, text]) => [el("dt", {}, term), el("dd", {}, text)])),
  ];
  if (row.why.length) content.push(el("h2", {}, "Why"), el("ul", {}, ...row.why.map((text) => el("li", {}, text))));
  if (row.budget.length) {
    content.push(
      el("h2", {}, "Uncertainty, standard (k = 1)"),
      el("table", {}, el("tbody", {}, ...row.budget.map(([term, size]) => el("tr", {}, el("td", {}, term), el("td", { class: "number" }, `${size} K`))))),
    );
  }
  $("#detail").replaceChildren(...content);
}

export function spots(step, capture) {
  if (!capture?.hot_spots.length) {
    $("#spots").replaceChildren();
    return;
  }
  const lines = capture.hot_spots.map((spot) => {
    const [first] = spot.candidates;
    const words = spot.candidates.filter(([, share]) => share >= 0.005).map(([name, share]) => `${name ?? "bare board"} ${Math.round(100 * share)} %`);
    const line = el(
      "tr",
      { tabindex: 0, title: spot.why.join(" ") },
      el("td", { class: "number" }, String(spot.rank)),
      el("td", { class: "number" }, `${fixed(spot.temperature_c, 1)} ± ${fixed(spot.u_c, 1)}`),
      el("td", {}, words.join(", ")),
    );
    const take = () => {
      if (first?.[0]) step.keep(first[0]);
      step.bench.frame.crosshair = spot.pixel;
      step.bench.frame.reveal(spot.pixel);
    };
    line.addEventListener("click", take);
    line.addEventListener("keydown", (event) => event.key === "Enter" && take());
    line.addEventListener("pointerenter", () => step.light(spot, true));
    line.addEventListener("pointerleave", () => step.light(spot, false));
    return line;
  });
  $("#spots").replaceChildren(
    el("h2", {}, `Hot spots of “${step.bench.chosen}”`),
    el(
      "table",
      {},
      el("thead", {}, el("tr", {}, el("th", { scope: "col", class: "number" }, "rank"), el("th", { scope: "col", class: "number" }, "surface °C"), el("th", { scope: "col" }, "candidates"))),
      el("tbody", {}, ...lines),
    ),
  );
}
