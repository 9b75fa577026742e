// Rows of the table of control points.

import { $ } from "./dom.js";

export function listen(step) {
  const body = $("#points tbody");
  body.addEventListener("click", (event) => clicked(step, event));
  body.addEventListener("keydown", (event) => key(step, event));
}

function clicked(step, event) {
  const row = event.target.closest("tr");
  if (!row) return;
  const index = Number(row.dataset.index);
  const wish = event.target.dataset.do;
  if (wish) step.edit({ do: wish, index });
  else {
    step.select(index);
    step.bench.frame.reveal(step.state.points[index].pixel);
  }
}

function key(step, event) {
  const row = event.target.closest("tr");
  if (!row || event.target !== row) return;
  const index = Number(row.dataset.index);
  if (event.key === "Enter" || event.key === " ") {
    step.select(index);
    $("#frame").focus();
  } else if (event.key === "ArrowDown") row.nextElementSibling?.focus();
  else if (event.key === "ArrowUp") row.previousElementSibling?.focus();
  else if (event.key === "Delete") step.edit({ do: "remove", index });
  else return;
  event.preventDefault();
}
