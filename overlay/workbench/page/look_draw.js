// Lines, boxes and circles over the frame.

import { halo, label } from "./frame_draw.js";

export function mark(view, context, mark, selected) {
  const [from, to] = [mark.from, mark.to].map((pixel) => view.toScreen(pixel));
  const color = selected ? "#7fe3ff" : "#ffffff";
  halo(context, color, selected ? 2.2 : 1.6, () => {
    if (mark.kind === "line") {
      context.moveTo(...from);
      context.lineTo(...to);
    } else if (mark.kind === "box") context.rect(Math.min(from[0], to[0]), Math.min(from[1], to[1]), Math.abs(to[0] - from[0]), Math.abs(to[1] - from[1]));
    else context.ellipse(...from, Math.hypot(to[0] - from[0], to[1] - from[1]), Math.hypot(to[0] - from[0], to[1] - from[1]), 0, 0, 2 * Math.PI);
  });
  if (mark.kind === "line") halo(context, color, 2, () => context.rect(from[0] - 2, from[1] - 2, 4, 4)); // where it begins
  const at = mark.kind === "circle" ? [from[0] + Math.hypot(to[0] - from[0], to[1] - from[1]) * 0.72, from[1] - Math.hypot(to[0] - from[0], to[1] - from[1]) * 0.72] : [Math.max(from[0], to[0]), Math.min(from[1], to[1])];
  label(view, context, mark.name, at, 4, color, true);
  if (mark.max_px) {
    const [x, y] = view.toScreen(mark.max_px);
    halo(context, "#ffe08a", 1.4, () => {
      for (const [ux, uy] of [[1, 1], [-1, 1]]) {
        context.moveTo(x - 4 * ux, y - 4 * uy);
        context.lineTo(x + 4 * ux, y + 4 * uy);
      }
    });
  }
}
