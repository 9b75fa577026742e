// The table of parts: filled with a result, and sifted.

import { $, el } from "./dom.js";

const COLUMNS = ["part", "verdict", "margin K", "± K", "projected °C", "limit °C", "peak °C", "state", "side", "kind"];

export function fill(result, verdicts) {
  const headings = result.columns.map((column) => column.heading);
  const shown = COLUMNS.map((name) => headings.indexOf(name)).filter((index) => index >= 0);
  const classOf = (index) => (result.columns[index].number ? "number" : ["side", "kind"].includes(headings[index]) ? "roomy" : "");
  $("#parts thead").replaceChildren(el("tr", {}, ...shown.map((index) => el("th", { scope: "col", class: classOf(index) }, headings[index]))));
  $("#parts tbody").replaceChildren(
    ...result.rows.map((row) =>
      el(
        "tr",
        { tabindex: 0, "data-part": row.refdes },
        ...shown.map((index) => {
          const text = row.cells[index];
          if (headings[index] === "part") return el("th", { scope: "row" }, text);
          if (headings[index] === "verdict") return el("td", {}, el("span", { class: `mark ${row.verdict}` }, text));
          return el("td", { class: classOf(index) }, text);
        }),
      ),
    ),
  );
  const kinds = [...new Set(result.rows.map((row) => row.kind).filter(Boolean))].sort();
  const kind = $("#kind").value;
  $("#kind").replaceChildren(el("option", { value: "" }, "all kinds"), ...kinds.map((name) => el("option", {}, name)));
  if (kinds.includes(kind)) $("#kind").value = kind;
  const off = new Set([...document.querySelectorAll("#verdicts input:not(:checked)")].map((box) => box.value));
  $("#verdicts").replaceChildren(
    ...Object.entries(result.summary).map(([verdict, number]) =>
      el("label", { title: verdicts[verdict] }, el("input", { type: "checkbox", name: "verdict", value: verdict, checked: !off.has(verdict) }), el("span", { class: `mark ${verdict}` }, `${number} ${verdict}`)),
    ),
  );
}

export function sift(rows) {
  const wanted = $("#words").value.trim().toLowerCase();
  const verdicts = new Set([...document.querySelectorAll("#verdicts input:checked")].map((box) => box.value));
  let count = 0;
  for (const line of $("#parts tbody").rows) {
    const row = rows.get(line.dataset.part);
    const fits =
      verdicts.has(row.verdict) &&
      (!$("#side").value || row.side === $("#side").value) &&
      (!$("#kind").value || row.kind === $("#kind").value) &&
      (!wanted || row.cells.join(" ").toLowerCase().includes(wanted));
    line.hidden = !fits;
    count += fits ? 1 : 0;
  }
  $("#shown").textContent = `${count} of ${rows.size}`;
}
