// What lies on the frame's canvas: colours, outlines, points, ghosts, the lens. Every mark has a dark rim, so that it
// can be seen on hot and cold alike.

// how an outline is drawn that is not like the others: colour, and besides width or dashes
const LOOKS = {
  pointed: { color: "#7fe3ff", width: 2, dash: [] },
  kept: { color: "#7fe3ff", width: 3, dash: [] },
  agrees: { color: "#b8f5c8", width: 1.5, dash: [] },
  differs: { color: "#ffb15c", width: 2, dash: [4, 3] },
};

export function picture(view, context) {
  const [x, y] = view.toScreen([view.mirrored ? view.cols - 0.5 : -0.5, -0.5]);
  context.save();
  context.imageSmoothingEnabled = false;
  if (view.mirrored) {
    context.translate(x + view.cols * view.zoom, y);
    context.scale(-1, 1);
  } else {
    context.translate(x, y);
  }
  context.drawImage(view.picture, 0, 0, view.cols * view.zoom, view.rows * view.zoom);
  context.restore();
}

function trace(view, context, points) {
  points.forEach((point, index) => {
    const [x, y] = view.toScreen(point);
    if (index) context.lineTo(x, y);
    else context.moveTo(x, y);
  });
  context.closePath();
}

export function rings(view, context) {
  const plain = new Path2D();
  const strong = [];
  for (const ring of view.layers.rings) {
    const look = ring.name ? view.layers.looks.get(ring.name) : null;
    if (look) strong.push([ring, look]);
    trace(view, plain, ring.points);
  }
  context.lineJoin = "round";
  context.setLineDash(view.layers.stale ? [3, 3] : []);
  context.strokeStyle = "rgb(0 0 0 / 0.45)";
  context.lineWidth = 2.2;
  context.stroke(plain);
  context.strokeStyle = "rgb(255 255 255 / 0.9)";
  context.lineWidth = 1;
  context.stroke(plain);
  context.setLineDash([]);
  for (const [ring, look] of strong) {
    const { color, width, dash } = LOOKS[look];
    const path = new Path2D();
    trace(view, path, ring.points);
    context.strokeStyle = "#10202f";
    context.lineWidth = width + 2;
    context.stroke(path);
    context.setLineDash(dash);
    context.strokeStyle = color;
    context.lineWidth = width;
    context.stroke(path);
    context.setLineDash([]);
  }
}

export function point(view, context, point, selected) {
  const [x, y] = view.toScreen(point.pixel);
  const color = point.suspect ? "#ffb15c" : selected ? "#7fe3ff" : "#ffffff";
  if (point.clicked_px) {
    const [cx, cy] = view.toScreen(point.clicked_px);
    halo(context, color, 1, () => {
      context.setLineDash([2, 2]);
      context.moveTo(cx, cy);
      context.lineTo(x, y);
      context.rect(cx - 2.5, cy - 2.5, 5, 5);
    });
    context.setLineDash([]);
  }
  const off = point.residual_xy_px;
  if (off && view.arrows) {
    const by = view.arrows * view.zoom;
    const [dx, dy] = [(view.mirrored ? 1 : -1) * off[0] * by, -off[1] * by];
    if (Math.hypot(dx, dy) > 3) halo(context, "#ffe08a", 1.6, () => arrow(context, x, y, x + dx, y + dy));
  }
  const arm = selected ? 11 : 8;
  halo(context, color, selected ? 2 : 1.5, () => {
    for (const [ux, uy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      context.moveTo(x + 3 * ux, y + 3 * uy);
      context.lineTo(x + arm * ux, y + arm * uy);
    }
    if (selected) context.rect(x - 7, y - 7, 14, 14);
  });
  label(view, context, point.name + (point.suspect ? "  suspect" : ""), [x, y], 9, color, selected || point.suspect);
}

export function ghost(view, context, ghost) {
  const [x, y] = view.toScreen(ghost.pixel);
  halo(context, "#b8f5c8", 1.5, () => {
    context.setLineDash([3, 3]);
    context.rect(x - 9, y - 9, 18, 18);
    context.moveTo(x - 4, y);
    context.lineTo(x + 4, y);
    context.moveTo(x, y - 4);
    context.lineTo(x, y + 4);
  });
  context.setLineDash([]);
  label(view, context, ghost.name, [x, y], 12, "#b8f5c8", true);
}

export function spot(view, context, spot) {
  const [x, y] = view.toScreen(spot.pixel);
  halo(context, spot.kept ? "#7fe3ff" : "#ffffff", spot.kept ? 2.2 : 1.4, () => context.rect(x - 5, y - 5, 10, 10));
  label(view, context, String(spot.rank), [x, y], 6, "#ffffff", spot.kept);
}

export function crosshair(view, context, pixel, box) {
  const [x, y] = view.toScreen(pixel);
  const live = document.activeElement === view.canvas;
  halo(context, live ? "#7fe3ff" : "#d8dde2", 1, () => {
    context.moveTo(0, y);
    context.lineTo(Math.max(0, x - 6), y);
    context.moveTo(x + 6, y);
    context.lineTo(box.width, y);
    context.moveTo(x, 0);
    context.lineTo(x, Math.max(0, y - 6));
    context.moveTo(x, y + 6);
    context.lineTo(x, box.height);
  });
}

export function lens(view, context, pixel, box) {
  const size = 150;
  const by = Math.max(10, view.zoom * 3);
  const [px, py] = view.toScreen(pixel);
  const x = px + 28 + size > box.width ? px - 28 - size : px + 28;
  const y = Math.min(Math.max(8, py - 28 - size), box.height - size - 8);
  context.save();
  context.beginPath();
  context.rect(x, y, size, size);
  context.clip();
  const kept = [view.zoom, [...view.shift]];
  view.zoom = by;
  view.shift = [0, 0];
  const [cx, cy] = view.toScreen(pixel);
  view.shift = [x + size / 2 - cx, y + size / 2 - cy];
  context.fillStyle = "#101214";
  context.fillRect(x, y, size, size);
  picture(view, context);
  rings(view, context);
  [view.zoom, view.shift] = kept;
  const [mx, my] = [x + size / 2, y + size / 2];
  halo(context, "#7fe3ff", 1, () => {
    context.moveTo(x, my);
    context.lineTo(mx - 5, my);
    context.moveTo(mx + 5, my);
    context.lineTo(x + size, my);
    context.moveTo(mx, y);
    context.lineTo(mx, my - 5);
    context.moveTo(mx, my + 5);
    context.lineTo(mx, y + size);
  });
  context.restore();
  context.strokeStyle = "#ffffff";
  context.lineWidth = 1.5;
  context.strokeRect(x, y, size, size);
}

export function halo(context, color, width, path) {
  context.beginPath();
  path();
  context.lineCap = "butt";
  context.strokeStyle = "rgb(0 0 0 / 0.65)";
  context.lineWidth = width + 2;
  context.stroke();
  context.strokeStyle = color;
  context.lineWidth = width;
  context.stroke();
}

function arrow(context, x, y, tx, ty) {
  const angle = Math.atan2(ty - y, tx - x);
  context.moveTo(x, y);
  context.lineTo(tx, ty);
  for (const turn of [2.6, -2.6]) {
    context.moveTo(tx, ty);
    context.lineTo(tx + 6 * Math.cos(angle + turn), ty + 6 * Math.sin(angle + turn));
  }
}

const [ROW, AIR] = [14, 2]; // height of a name, and what is left free around it

// A name beside its place, where it hides no other name; `must`: it stands even where there is no free room.
export function label(view, context, text, [x, y], reach, color, must = false) {
  context.font = "600 12px system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";
  const { width } = context.measureText(text);
  const [right, bottom] = [context.canvas.width, context.canvas.height].map((size) => size / (window.devicePixelRatio || 1));
  const rooms = [[1, -1], [-1, -1], [1, 1], [-1, 1]].map(([across, down]) => [across > 0 ? x + reach : x - reach - width, down < 0 ? y - reach - ROW + 4 : y + reach - 4]);
  const inside = rooms.filter(([left, top]) => left >= AIR && top >= 0 && left + width <= right - AIR && top + ROW <= bottom);
  const free = inside.find(([left, top]) => view.names.every(([l, t, w]) => left + width + AIR < l || l + w + AIR < left || top + ROW < t || t + ROW < top));
  const room = free ?? (must ? inside[0] ?? rooms[0] : null);
  if (!room) return;
  view.names.push([...room, width]);
  const [left, base] = [room[0], room[1] + ROW - 3];
  context.lineJoin = "round";
  context.lineWidth = 3;
  context.strokeStyle = "rgb(0 0 0 / 0.75)";
  context.strokeText(text, left, base);
  context.fillStyle = color;
  context.fillText(text, left, base);
}
