// The picture as it is shown, to take away: pixels, outlines, marks, a scale in °C, a length in mm, and what it is of.
// One drawing in SVG; the PNG is that drawing painted.

import { $, fixed, say } from "./dom.js";
import { ticks } from "./look_numbers.js";

const [WIDTH, BAR, FOOT, HEAD] = [1200, 150, 46, 58]; // of the drawing; the picture fills the width left of the bar
const INK = "#1d1d1b";
const FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";

export class Picture {
  constructor(step) {
    this.step = step;
    $("#picture-svg").addEventListener("click", () => this.take("svg"));
    $("#picture-png").addEventListener("click", () => this.take("png"));
  }

  async take(kind) {
    const { bench } = this.step;
    if (!bench.frame.values) return;
    const text = drawing(this.step);
    const name = `${bench.chosen.replace(/[^\p{L}\p{N}]+/gu, "_")}${bench.span.difference ? "_difference" : ""}.${kind}`;
    const blob = kind === "svg" ? new Blob([text], { type: "image/svg+xml" }) : await painted(text);
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
    say(`${name} is with your downloads`);
  }
}

async function painted(text) {
  const image = new Image();
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`;
  await image.decode();
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [image.naturalWidth * 2, image.naturalHeight * 2];
  const context = canvas.getContext("2d");
  context.imageSmoothingEnabled = false;
  context.drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
}

const safe = (text) => text.replace(/[&<>"']/g, (letter) => `&#${letter.charCodeAt(0)};`);

function drawing(step) {
  const { bench } = step;
  const { frame } = bench;
  const zoom = (WIDTH - BAR) / frame.cols;
  const height = HEAD + zoom * frame.rows + FOOT;
  const place = ([x, y]) => [((frame.mirrored ? frame.cols - 1 - x : x) + 0.5) * zoom, HEAD + (y + 0.5) * zoom];
  const path = (points, close) => `M${points.map((point) => place(point).map((value) => value.toFixed(1)).join(" ")).join("L")}${close ? "Z" : ""}`;
  const out = [];
  const text = (words, x, y, size, more = "") => out.push(`<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" font-size="${size}" ${more}>${safe(words)}</text>`);
  const { difference } = bench.span;
  const title = [$("#job-name").textContent, difference ? "" : bench.chosen, `${bench.capture.side} side${frame.mirrored ? ", mirrored" : ""}`].filter(Boolean).join(", ");
  text(title, 2, 22, 20, 'font-weight="600"');
  text(difference ? difference.words : `Apparent temperature, °C; ambient ${fixed(bench.capture.ambient_c, 1)} °C; ${bench.capture.frame}`, 2, 45, 15);
  const flip = frame.mirrored ? `transform="translate(${WIDTH - BAR} 0) scale(-1 1)"` : "";
  out.push(`<image href="${frame.picture.toDataURL("image/png")}" x="0" y="${HEAD}" width="${WIDTH - BAR}" height="${(zoom * frame.rows).toFixed(1)}" preserveAspectRatio="none" image-rendering="pixelated" style="image-rendering: pixelated" ${flip}/>`);
  out.push(`<clipPath id="inside"><rect x="0" y="${HEAD}" width="${WIDTH - BAR}" height="${(zoom * frame.rows).toFixed(1)}"/></clipPath><g clip-path="url(#inside)">`);
  const lines = frame.layers.rings.map((ring) => path(ring.points, true)).join("");
  out.push(`<path d="${lines}" fill="none" stroke="#000" stroke-opacity="0.45" stroke-width="2.4"/><path d="${lines}" fill="none" stroke="#fff" stroke-width="1.1"/>`);
  for (const mark of step.marks) {
    const shape = outline(mark, place, path, zoom);
    const [x, y] = place(mark.kind === "circle" ? mark.from : mark.to);
    out.push(`<g fill="none" stroke="#000" stroke-opacity="0.65" stroke-width="4">${shape}</g><g fill="none" stroke="#7fe3ff" stroke-width="2">${shape}</g>`);
    text(mark.name, x + 6, y - 6, 15, 'fill="#fff" stroke="#000" stroke-opacity="0.75" stroke-width="3" paint-order="stroke" font-weight="600"');
  }
  out.push("</g>");
  bar(bench, out, text, HEAD, zoom * frame.rows);
  foot(step, out, text, zoom, HEAD + zoom * frame.rows);
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${WIDTH}" height="${Math.ceil(height)}" viewBox="0 0 ${WIDTH} ${Math.ceil(height)}" font-family="${FONT}" fill="${INK}"><title>${safe(title)}</title><rect width="100%" height="100%" fill="#fff"/>${out.join("")}</svg>`;
}

function outline(mark, place, path, zoom) {
  if (mark.kind === "line") return `<path d="${path([mark.from, mark.to], false)}"/>`;
  if (mark.kind === "box") return `<path d="${path([mark.from, [mark.to[0], mark.from[1]], mark.to, [mark.from[0], mark.to[1]]], true)}"/>`;
  const [x, y] = place(mark.from);
  return `<circle cx="${x}" cy="${y}" r="${Math.hypot(mark.to[0] - mark.from[0], mark.to[1] - mark.from[1]) * zoom}"/>`;
}

function bar(bench, out, text, top, height) {
  const [low, high] = bench.span.wanted;
  const { colors } = bench.span;
  const x = WIDTH - BAR + 24;
  out.push(...colors.map(([r, g, b], index) => `<rect x="${x}" y="${(top + ((255 - index) / 256) * height).toFixed(2)}" width="30" height="${(height / 256 + 0.6).toFixed(2)}" fill="rgb(${r},${g},${b})"/>`));
  const { isotherm } = bench.frame;
  const y = (value) => top + ((high - value) / (high - low)) * height;
  if (isotherm) {
    const [upper, lower] = [Math.max(top, y(isotherm[1])), Math.min(top + height, y(isotherm[0]))];
    if (lower > upper) out.push(`<rect x="${x}" y="${upper.toFixed(1)}" width="30" height="${(lower - upper).toFixed(1)}" fill="rgb(57,217,138)"/>`);
  }
  for (const at of ticks(low, high, 8)) {
    out.push(`<path d="M${x + 30} ${y(at).toFixed(1)}h6" stroke="${INK}"/>`);
    text(fixed(at, at % 1 ? 1 : 0), x + 40, y(at) + 5, 15);
  }
  text(bench.span.difference ? "K" : "°C", x + 6, top - 8, 15);
}

// 1, 2 or 5 times a power of ten
function roundBelow(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  return [5, 2, 1].map((by) => by * power).find((value) => value <= most);
}

// a length in mm, and what the marks say
function foot(step, out, text, zoom, bottom) {
  const { fit } = step.bench.steps.register.state ?? {};
  if (fit?.mm_per_px) {
    const length = roundBelow((300 * fit.mm_per_px) / zoom);
    const width = (length / fit.mm_per_px) * zoom;
    out.push(`<path d="M2 ${bottom + 18}v8h${width.toFixed(1)}v-8" fill="none" stroke="${INK}" stroke-width="2"/>`);
    text(`${length} mm`, width + 10, bottom + 27, 15);
  }
  const unit = step.bench.span.difference ? "K" : "°C";
  const words = step.marks.filter((mark) => mark.told).map((mark) => `${mark.name}: ${fixed(mark.told.min, 1)} … ${fixed(mark.told.max, 1)}, mean ${fixed(mark.told.mean, 1)} ${unit}`);
  text(words.slice(0, 3).join("   ") + (words.length > 3 ? "   …" : ""), WIDTH - BAR, bottom + 27, 14, 'text-anchor="end"');
}
