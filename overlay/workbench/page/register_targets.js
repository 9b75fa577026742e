// Places of the board that can be pointed at: the list to choose from, and where the fit so far expects each.

import { $, say } from "./dom.js";
import { middleOf } from "./geometry.js";
import * as panel from "./register_panel.js";

export function listen(step) {
  const input = $("#target");
  input.addEventListener("input", () => panel.list(step, 0));
  input.addEventListener("focus", () => unfold(step, true));
  input.addEventListener("blur", () => unfold(step, false));
  input.addEventListener("keydown", (event) => typed(step, event));
  $("#targets").addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
  $("#targets").addEventListener("click", (event) => {
    const item = event.target.closest("li");
    if (item) arm(step, item.dataset.target, true);
  });
}

const SEEN_EDGES = 8; // a round body's outline has more corners than a person can tell apart

// Corners and middles of edges of a body, at the height of its top face.
export function handlesOf(part, flip) {
  const { ring } = part;
  if (!part.known) return [];
  const corners = ring.length <= SEEN_EDGES ? ring : [0, 1, 2, 3].map((quarter) => ring[Math.round((quarter * ring.length) / 4) % ring.length]);
  const [cx, cy] = part.center;
  const extent = Math.min(Math.max(...ring.map(([x]) => x)) - Math.min(...ring.map(([x]) => x)), Math.max(...ring.map(([, y]) => y)) - Math.min(...ring.map(([, y]) => y)));
  const size = Math.min(1.4, Math.max(0.25, extent * 0.16));
  // as it lies on the screen: the bottom is drawn as its holder sees it
  const where = ([x, y]) => {
    const [dx, dy] = [(x - cx) * flip, y - cy];
    const far = 0.35 * Math.hypot(dx, dy);
    return [dy > far ? "upper" : dy < -far ? "lower" : "", dx > far ? "right" : dx < -far ? "left" : ""].filter(Boolean).join(" ");
  };
  const made = [];
  const pin = (index, kind) => (kind === "corner" && index === part.pin_1 ? " (pin 1)" : "");
  const add = (place, index, middle, kind) => made.push({ name: `${part.refdes}, ${where(place)} ${kind}${pin(index, kind)}`, words: "", part: part.refdes, board_mm: place, z_mm: part.height ?? 0, index, middle, size });
  corners.forEach((corner, index) => {
    add(corner, ring.indexOf(corner), false, ring.length <= SEEN_EDGES ? "corner" : "rim");
    if (ring.length > SEEN_EDGES) return;
    const next = ring[(index + 1) % ring.length];
    add([(corner[0] + next[0]) / 2, (corner[1] + next[1]) / 2], index, true, "edge");
  });
  // two of one name (a body that lies askew) are told apart by their place
  return made.map((item) => (made.filter((other) => other.name === item.name).length > 1 ? { ...item, name: `${item.name} (${item.board_mm.map((value) => value.toFixed(2)).join(", ")}) mm` } : item));
}

// "12.5, 30" or "12.5, 30, 1.6": a place of the board that somebody measured
export function typedPlace(text) {
  const match = /^\(?\s*(-?\d+(?:\.\d+)?)\s*[,;\s]\s*(-?\d+(?:\.\d+)?)(?:\s*[,;\s]\s*(-?\d+(?:\.\d+)?))?\s*\)?\s*(?:mm)?$/.exec(text.trim());
  if (!match) return null;
  const [x, y, z] = match.slice(1).map((part) => (part === undefined ? 0 : Number(part)));
  return { name: `(${x}, ${y}${z ? `, ${z}` : ""}) mm`, words: "a place by its coordinates", board_mm: [x, y], z_mm: z };
}

export function known(bench) {
  const { side } = bench.capture;
  const parts = bench.model.parts.filter((part) => part.side === side);
  return [
    ...bench.model.landmarks.map((mark) => ({ name: mark.name, words: "", board_mm: mark.center })),
    ...parts.map((part) => ({ name: part.refdes, words: [part.kind, part.package].filter(Boolean).join(", "), at: part.refdes, board_mm: part.center })),
    ...parts.flatMap((part) => handlesOf(part, bench.board.flip ?? 1)),
  ];
}

function unfold(step, open) {
  $("#targets").hidden = !open;
  $("#target").setAttribute("aria-expanded", String(open));
  if (open) panel.list(step, step.option);
}

function typed(step, event) {
  const by = { ArrowDown: 1, ArrowUp: -1, PageDown: 6, PageUp: -6 }[event.key];
  if (by) panel.list(step, step.option + by);
  else if (event.key === "Enter" && step.listed?.length) arm(step, step.listed[step.option].name, true);
  else if (event.key === "Escape") $("#frame").focus();
  else return;
  event.preventDefault();
}

// a chosen place waits for its pixel, or takes the pixel that waits for it
export function arm(step, name, byKey) {
  const target = step.targets.find((item) => item.name === name) ?? typedPlace(name);
  if (!target) return;
  const owner = target.part ?? target.at;
  step.bench.board.handle(owner ? step.targets.filter((item) => item.part === owner) : []);
  $("#target").value = "";
  const { frame } = step.bench;
  frame.selected = null;
  if (step.pending) {
    const pixel = step.pending;
    step.pending = null;
    step.put(target, pixel);
    if (byKey) $("#frame").focus();
    return;
  }
  step.armed = target;
  const pixel = expected(step, target);
  if (byKey) {
    frame.crosshair = pixel ?? frame.crosshair ?? [(frame.cols - 1) / 2, (frame.rows - 1) / 2].map(Math.round);
    frame.reveal(frame.crosshair);
    $("#frame").focus();
    step.bench.readout(frame.crosshair);
  }
  say(pixel ? `${name}: expected at the dashed square. Click its place in the frame, or Enter at the crosshair` : `${name}: click its place in the frame, or Enter at the crosshair`);
  step.draw();
}

// where the fit so far has a place; null where it has none in the frame
export function expected(step, target) {
  if (!step.state?.outlines) return null;
  if (target.part) {
    const ring = step.bench.frame.layers.rings.find((item) => item.name === target.part);
    const corner = ring?.points[target.index];
    if (!corner) return null;
    const next = ring.points[(target.index + 1) % ring.points.length];
    const pixel = target.middle ? [(corner[0] + next[0]) / 2, (corner[1] + next[1]) / 2] : corner;
    return step.bench.frame.inside(pixel) ? pixel : null;
  }
  if (!target.at) {
    const index = step.bench.model.landmarks.findIndex((mark) => mark.name === target.name);
    return step.state.landmarks_px?.[index] ?? null;
  }
  const ring = step.bench.frame.layers.rings.find((item) => item.name === target.at);
  const pixel = ring && middleOf(ring.points);
  return pixel && step.bench.frame.inside(pixel) ? pixel : null;
}
