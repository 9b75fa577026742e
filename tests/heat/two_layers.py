"""Boards whose heat is known: two layers of copper with shapes of their own, vias, and bodies of three nodes.

It shares nothing with what is tested on it: finer cells, two sheets tied through the laminate, a film that follows the
temperature, and bodies whose heat is made inside and leaves by leads, through the foot, and from top and walls.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.ndimage import gaussian_filter
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu

from overlay.arrays import Array
from overlay.heat.seen import SeenBody, SeenState

STEP_MM = 1.0
COPPER_W_PER_K, LAMINATE_W_PER_K = 385.0 * 35e-6, 0.3 * 0.8e-3
THROUGH_W_PER_M2K, VIAS_W_PER_M2K = 0.35 / 1.5e-3, 4000.0
# letter, length, width, height in mm, kelvins a watt from the inside to the leads and to the foot
SHAPES = (
    ("R", 2.0, 1.25, 0.55, 45.0, 300.0),
    ("R", 3.2, 1.6, 0.6, 40.0, 200.0),
    ("C", 2.0, 1.25, 0.9, 60.0, 300.0),
    ("C", 1.6, 0.8, 0.8, 70.0, 400.0),
    ("Q", 2.9, 1.3, 1.0, 75.0, 250.0),
    ("Q", 6.6, 6.1, 2.3, 40.0, 5.0),
    ("D", 4.4, 3.6, 2.3, 28.0, 90.0),
    ("U", 4.9, 3.9, 1.5, 45.0, 70.0),
    ("U", 10.0, 10.0, 1.5, 22.0, 35.0),
    ("U", 5.0, 5.0, 0.9, 40.0, 9.0),
    ("L", 8.0, 8.0, 4.0, 25.0, 40.0),
)


@dataclass(frozen=True)
class Truth:
    """What is true of a board: powers, and each body's own rise with the share of the total."""

    outline: shapely.Polygon
    power_w: dict[str, float]
    own_rise_k: dict[str, float]
    rise_k: dict[str, float]
    main_heater: dict[str, str]  # of each body that makes none: who warms it most
    unlisted_w: float

    @property
    def total_w(self) -> float:
        return sum(self.power_w.values()) + self.unlisted_w


@dataclass(frozen=True)
class _Body:
    refdes: str
    x: float
    y: float
    turn: float
    shape: tuple[str, float, float, float, float, float]


def make_board(
    seed: int,
    parts: int = 60,
    sources: int = 16,
    size_mm: tuple[float, float] = (90.0, 70.0),
    trace_w: float = 0.0,
    states: int = 1,
    unread: float = 0.1,
) -> tuple[list[SeenState], list[Truth]]:
    """A random board in one or several states of load, as it would be read, and its truth."""
    random = np.random.default_rng(seed)
    bodies = _placed(random, parts, size_mm)
    matrix = _Matrix(random, bodies, size_mm)
    chosen = random.permutation([k for k, b in enumerate(bodies) if b.shape[0] != "C"])[:sources]
    power = np.zeros(len(bodies))
    power[chosen] = np.exp(random.uniform(math.log(0.04), math.log(0.5), len(chosen)))
    power *= 2.5 * size_mm[0] * size_mm[1] / 6300.0 / power.sum()
    known = random.uniform(size=len(bodies)) > unread
    offset, seen, truths = float(random.normal(0, 1.0)), [], []
    for _ in range(states):
        state = power * (np.exp(random.normal(0, 0.6, len(power))) if states > 1 else 1.0)
        one, truth = _state(random, bodies, matrix, state, known, offset, trace_w)
        seen.append(one)
        truths.append(truth)
    return seen, truths


def _placed(random: np.random.Generator, count: int, size_mm: tuple[float, float]) -> list[_Body]:
    taken: list[shapely.Polygon] = []
    bodies: list[_Body] = []
    while len(bodies) < count:
        shape = SHAPES[int(random.choice(len(SHAPES), p=np.array([6, 3, 6, 5, 3, 1, 2, 2, 1, 1, 1]) / 31))]
        turn = float(random.choice([0.0, 90.0]))
        length, width = (shape[1], shape[2]) if turn == 0 else (shape[2], shape[1])
        x, y = (
            float(random.uniform(side / 2 + 1, most - side / 2 - 1))
            for side, most in zip((length, width), size_mm, strict=True)
        )
        box = shapely.box(x - length / 2 - 0.6, y - width / 2 - 0.6, x + length / 2 + 0.6, y + width / 2 + 0.6)
        if not any(box.intersects(other) for other in taken):
            taken.append(box)
            bodies.append(_Body(f"{shape[0]}{len(bodies) + 1}", x, y, turn, shape))
    return bodies


class _Matrix:
    """Two sheets and three nodes a body (inside, leads, top); the film follows the rise and is set anew each round."""

    def __init__(self, random: np.random.Generator, bodies: list[_Body], size_mm: tuple[float, float]) -> None:
        self.size_mm, self.bodies = size_mm, bodies
        self.nx, self.ny = (round(side / STEP_MM) for side in size_mm)
        x, y = ((np.arange(n) + 0.5) * STEP_MM for n in (self.nx, self.ny))
        self.x, self.y = np.meshgrid(x, y)
        self.sheet = self.nx * self.ny
        self.rows: list[Array] = []
        self.cols: list[Array] = []
        self.values: list[Array] = []
        copper = [np.full((self.ny, self.nx), LAMINATE_W_PER_K + c) for c in (0.12 * COPPER_W_PER_K, 0.0)]
        for layer, many in ((0, 7), (1, 2)):
            for _ in range(many):
                w, h = random.uniform(0.15, 0.7, 2) * size_mm
                left, low = random.uniform(0, size_mm[0] - w), random.uniform(0, size_mm[1] - h)
                inside = (self.x > left) & (self.x < left + w) & (self.y > low) & (self.y < low + h)
                copper[layer][inside] = COPPER_W_PER_K * (0.6 if layer == 0 else 0.9)
        cell_m2 = (STEP_MM * 1e-3) ** 2
        for layer in (0, 1):
            sheet = copper[layer]
            number = np.arange(self.sheet).reshape(self.ny, self.nx) + layer * self.sheet
            self._link(number[:, 1:], number[:, :-1], 2 / (1 / sheet[:, 1:] + 1 / sheet[:, :-1]))
            self._link(number[1:], number[:-1], 2 / (1 / sheet[1:] + 1 / sheet[:-1]))
        vias = random.uniform(size=self.sheet) < 0.02
        through = np.where(vias, VIAS_W_PER_M2K, THROUGH_W_PER_M2K) * cell_m2
        self._link(np.arange(self.sheet), np.arange(self.sheet) + self.sheet, through)
        self.covered = np.zeros(self.sheet)
        for k, body in enumerate(bodies):
            self._add(k, body)
        self.count = 2 * self.sheet + 3 * len(bodies)

    def _link(self, a: Array, b: Array, g: Array) -> None:
        a, b, g = (np.ravel(v) for v in np.broadcast_arrays(a, b, g))
        self.rows += [a, b, a, b]
        self.cols += [b, a, a, b]
        self.values += [-g, -g, g, g]

    def node(self, k: int, which: int) -> int:
        return 2 * self.sheet + 3 * k + which

    def _add(self, k: int, body: _Body) -> None:
        _, length, width, height, to_leads, to_foot = body.shape
        lx, ly = (length, width) if body.turn == 0 else (width, length)
        under = (np.abs(self.x - body.x) <= lx / 2 + 0.3) & (np.abs(self.y - body.y) <= ly / 2 + 0.3)
        cells = np.flatnonzero(under)
        u = self.x.ravel()[cells] - body.x if body.turn == 0 else self.y.ravel()[cells] - body.y
        ends = cells[np.abs(u) >= np.abs(u).max() - 0.6]
        inside, leads, top = (self.node(k, which) for which in range(3))
        self._link(np.array([inside]), np.array([leads]), np.array([0.6 / to_leads]) * 1.0)
        self._link(np.full(len(ends), leads), ends, np.full(len(ends), 2.5 / to_leads / len(ends)))
        self._link(np.full(len(cells), inside), cells, np.full(len(cells), 1.0 / to_foot / len(cells)))
        self._link(np.array([inside]), np.array([top]), np.array([length * width * 1e-6 * 0.9 / (0.5e-3 * height)]))
        self.covered[cells] = np.minimum(1.0, self.covered[cells] + length * width / (len(cells) * STEP_MM**2))

    def solve(self, power: Array, board_w: Array, rounds: int = 4) -> Array:
        """Rises of all nodes for powers of the bodies and of the cells of the seen sheet."""
        heat = np.zeros(self.count)
        heat[: self.sheet] = board_w
        heat[[self.node(k, 0) for k in range(len(power))]] = power
        rise = np.full(self.count, 15.0)
        for _ in range(rounds):
            rise = self.factor(rise).solve(heat)
        return rise

    def factor(self, rise: Array):
        """The network with the film that belongs to these rises."""
        film = np.zeros(self.count)
        cell_m2 = (STEP_MM * 1e-3) ** 2
        theta = np.maximum(rise, 1.0)
        film[: self.sheet] = cell_m2 * (1 - self.covered) * (4.6 * theta[: self.sheet] ** 0.2 + 5.4)
        back = slice(self.sheet, 2 * self.sheet)
        film[back] = cell_m2 * (2.2 * theta[back] ** 0.2 + 5.4)
        for k, body in enumerate(self.bodies):
            _, length, width, height, *_ = body.shape
            area = (length * width + 1.6 * (length + width) * height) * 1e-6
            film[self.node(k, 2)] = area * (7.0 * theta[self.node(k, 2)] ** 0.2 + 5.6)
        number = np.arange(self.count)
        rows, cols = np.concatenate([*self.rows, number]), np.concatenate([*self.cols, number])
        values = np.concatenate([*self.values, film])
        return splu(csc_array(coo_array((values, (rows, cols)), shape=(self.count,) * 2)))


def _state(
    random: np.random.Generator,
    bodies: list[_Body],
    matrix: _Matrix,
    power: Array,
    known: Array,
    offset: float,
    trace_w: float,
) -> tuple[SeenState, Truth]:
    board_w = np.zeros(matrix.sheet)
    if trace_w:
        along = (np.abs(matrix.y - 0.42 * matrix.size_mm[1]) < 0.8) & (np.abs(matrix.x - 0.55 * matrix.size_mm[0]) < 7)
        board_w[along.ravel()] = trace_w / along.sum()
    rise = matrix.solve(power, board_w)
    factor = matrix.factor(rise)
    unit = np.zeros((matrix.count, len(bodies)))
    unit[[matrix.node(k, 0) for k in range(len(bodies))], np.arange(len(bodies))] = 1.0
    tops = [matrix.node(k, 2) for k in range(len(bodies))]
    influence = factor.solve(unit)[tops] * power
    seen = []
    for k, body in enumerate(bodies):
        top = rise[tops[k]]
        read = top + offset + random.normal(0, 0.5) + random.normal(0, 0.02) * top
        if known[k]:
            size = (body.shape[1], body.shape[2])
            seen.append(SeenBody(body.refdes, (body.x, body.y), size, body.turn, body.shape[3], float(read), 0.6))
    field = rise[: matrix.sheet].reshape(matrix.ny, matrix.nx)
    pattern = gaussian_filter(random.normal(0, 1, field.shape), 8.0)
    field = field + offset + 0.4 * pattern / pattern.std() + random.normal(0, 0.1, field.shape)
    bare = matrix.covered.reshape(field.shape) < 0.02
    places = np.column_stack([matrix.x[bare], matrix.y[bare]])
    others = influence - np.diag(np.diag(influence))
    main = {b.refdes: bodies[int(np.argmax(others[k]))].refdes for k, b in enumerate(bodies) if power[k] == 0}
    truth = Truth(
        shapely.box(0, 0, *matrix.size_mm),
        {b.refdes: float(w) for b, w in zip(bodies, power, strict=True)},
        {b.refdes: float(influence[k, k]) for k, b in enumerate(bodies)},
        {b.refdes: float(rise[tops[k]]) for k, b in enumerate(bodies)},
        main,
        trace_w,
    )
    return SeenState(("load",), tuple(seen), places, field[bare], 23.0, truth.total_w, 0.02 * truth.total_w), truth
