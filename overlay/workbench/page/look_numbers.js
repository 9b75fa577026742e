// What a line, a box or a circle across a frame says, in numbers. Frames are { values, rows, cols }, row by row; marks are
// { kind, from, to } in pixels: ends of a line, corners of a box, middle and rim of a circle.

export function measured(frame, mark) {
  if (mark.kind === "line") return told(profile(frame, mark).filter((item) => Number.isFinite(item.value)));
  const found = [];
  const [[x0, x1], [y0, y1]] = extents(mark).map(([low, high], axis) => [Math.max(0, Math.ceil(low - 1e-9)), Math.min([frame.cols, frame.rows][axis] - 1, Math.floor(high + 1e-9))]);
  const radius = Math.hypot(mark.to[0] - mark.from[0], mark.to[1] - mark.from[1]);
  for (let y = y0; y <= y1; y += 1) {
    for (let x = x0; x <= x1; x += 1) {
      if (mark.kind === "circle" && Math.hypot(x - mark.from[0], y - mark.from[1]) > radius + 1e-9) continue;
      const value = frame.values[y * frame.cols + x];
      if (Number.isFinite(value)) found.push({ value, pixel: [x, y] });
    }
  }
  return told(found);
}

// the pixels whose middles lie inside count, each once
function extents({ kind, from, to }) {
  if (kind === "box") return [0, 1].map((axis) => [Math.min(from[axis], to[axis]), Math.max(from[axis], to[axis])]);
  const radius = Math.hypot(to[0] - from[0], to[1] - from[1]);
  return [0, 1].map((axis) => [from[axis] - radius, from[axis] + radius]);
}

function told(found) {
  if (!found.length) return null;
  let [low, high] = [found[0], found[0]];
  let sum = 0;
  for (const item of found) {
    if (item.value < low.value) low = item;
    if (item.value > high.value) high = item;
    sum += item.value;
  }
  const mean = sum / found.length;
  const squares = found.reduce((total, { value }) => total + (value - mean) ** 2, 0);
  // of a sample: one less in the divisor
  return { min: low.value, max: high.value, mean, spread: found.length > 1 ? Math.sqrt(squares / (found.length - 1)) : 0, count: found.length, min_px: low.pixel, max_px: high.pixel };
}

// Values along a line, at most half a pixel apart.
export function profile(frame, { from, to }) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const steps = Math.max(1, Math.ceil(2 * length));
  return Array.from({ length: steps + 1 }, (_, index) => {
    const share = index / steps;
    const pixel = [0, 1].map((axis) => from[axis] + share * (to[axis] - from[axis]));
    return { share, pixel, value: between(frame, pixel) };
  });
}

// straight between the four pixels around
export function between({ values, rows, cols }, [x, y]) {
  if (x < 0 || y < 0 || x > cols - 1 || y > rows - 1) return NaN;
  const [left, top] = [Math.min(Math.floor(x), cols - 2), Math.min(Math.floor(y), rows - 2)].map((at) => Math.max(0, at));
  const [dx, dy] = [x - left, y - top];
  const at = (column, row) => values[Math.min(row, rows - 1) * cols + Math.min(column, cols - 1)];
  const upper = at(left, top) * (1 - dx) + at(left + 1, top) * dx;
  const lower = at(left, top + 1) * (1 - dx) + at(left + 1, top + 1) * dx;
  return upper * (1 - dy) + lower * dy;
}

// Parts under a profile, in the order in which the line meets them.
export function under(samples, nameAt) {
  const runs = [];
  for (const item of samples) {
    const name = nameAt(item.pixel);
    const last = runs.at(-1);
    if (last && last.name === name) {
      last.to = item.share;
      last.max = Math.max(last.max, item.value);
    } else runs.push({ name, from: item.share, to: item.share, max: item.value });
  }
  return runs.filter((run) => run.name);
}

export function shareWithin(values, low, high) {
  let [inside, all] = [0, 0];
  for (const value of values) {
    if (Number.isNaN(value)) continue;
    all += 1;
    if (value >= low && value <= high) inside += 1;
  }
  return all ? inside / all : 0;
}

// round steps of a scale: 1, 2 or 5 times a power of ten
export function ticks(low, high, most) {
  const raw = (high - low) / Math.max(most, 1);
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((by) => by * power).find((by) => by >= raw);
  const found = [];
  for (let at = Math.ceil(low / step - 1e-9) * step; at <= high + step * 1e-6; at += step) found.push(Number(at.toFixed(6)));
  return found;
}
