// Rings of corners as the server sends them, in hundredths of a pixel.

const NOWHERE = -(2 ** 31);

export function ringsOf(sizes, names, cells) {
  const rings = [];
  let at = 0;
  sizes.forEach((size, index) => {
    const points = [];
    let whole = true;
    for (let corner = 0; corner < size; corner += 1, at += 2) {
      whole &&= cells[at] !== NOWHERE && cells[at + 1] !== NOWHERE;
      points.push([cells[at] / 100, cells[at + 1] / 100]);
    }
    if (whole) rings.push({ name: names[index] ?? "", points });
  });
  return rings;
}

export function middleOf(points) {
  return [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length);
}

export function ringArea(points) {
  let sum = 0;
  points.forEach(([x, y], index) => {
    const [nx, ny] = points[(index + 1) % points.length];
    sum += x * ny - nx * y;
  });
  return Math.abs(sum) / 2;
}

export function contains(points, [x, y]) {
  let within = false;
  points.forEach(([ax, ay], index) => {
    const [bx, by] = points[(index + 1) % points.length];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) within = !within;
  });
  return within;
}
