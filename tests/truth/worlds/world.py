"""A board of a foreign world: where its parts stand, which of them make heat, and how warm everything is.

Heat spreads over the board as decaying rings around the footprints of its sources; there is no network and no
conductivity. What is right about it: small hot parts on warm boards, warm parts that make no heat, tops that are
warmer in the middle than at their rims.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.truth.worlds.catalogue import PACKAGES, Package
from tests.truth.worlds.kinds import Kind
from tests.truth.worlds.solids import BENCH, BOARD, TOP, Array, Hits, Skin, Solid

_GAP_MM = 0.8
_TRIES = 400


@dataclass(frozen=True, slots=True)
class Part:
    refdes: str
    package: Package
    center_mm: tuple[float, float]
    turn_deg: float
    own_k: float = 0.0  # rise of its top over the board beneath it
    ring_k: float = 0.0  # what it adds to the board at its own foot
    reach_mm: float = 10.0
    drop: float = 0.04
    summit: tuple[float, float] = (0.0, 0.0)
    emissivity: float = 0.93
    base_mm: float = 0.0

    @property
    def is_source(self) -> bool:
        return self.own_k >= 3.0


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """A board with everything on it, in truth."""

    kind: Kind
    size_mm: tuple[float, float]
    parts: tuple[Part, ...]
    solids: tuple[Solid, ...]
    ambient_c: float
    room_c: float
    base_k: float  # rise of the board far from every source

    def board_rise_k(self, x: Array, y: Array) -> Array:
        return self.base_k + sum((ring_k(part, x, y) for part in self.parts if part.ring_k > 0), np.zeros_like(x))


def ring_k(part: Part, x: Array, y: Array) -> Array:
    """What one source adds to the board at places: its foot's, decaying with the distance from its footprint."""
    c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
    dx, dy = x - part.center_mm[0], y - part.center_mm[1]
    u = np.abs(c * dx + s * dy) - part.package.size_mm[0] / 2
    v = np.abs(-s * dx + c * dy) - part.package.size_mm[1] / 2
    away = np.hypot(np.maximum(u, 0), np.maximum(v, 0))
    return np.asarray(part.ring_k * np.exp(-away / part.reach_mm) / (1 + 0.5 * away / part.reach_mm))


def make_world(kind: Kind, random: np.random.Generator) -> World:
    """A random board of a kind."""
    ambient = float(random.uniform(20.5, 25.5))
    parts = _laid_out(kind, random)
    parts = _heated(kind, parts, random)
    world = World(kind, kind.size_mm, tuple(parts), (), ambient, ambient + kind.room_k, kind.base_k)
    solids = [solid for part in parts for solid in _solids_of(world, part)]
    solids += _unlisted(world, random)
    return replace(world, solids=tuple(solids))


def _laid_out(kind: Kind, random: np.random.Generator) -> list[Part]:
    """Parts where they do not overlap, large ones first; a bar or sink may stand over parts."""
    width, height = kind.size_mm
    count: dict[str, int] = {}
    taken: list[tuple[float, float, float, float]] = []
    parts: list[Part] = []
    names = [name for name, number in kind.parts for _ in range(number)]
    for name in sorted(names, key=lambda n: -PACKAGES[n].size_mm[0] * PACKAGES[n].size_mm[1]):
        package = PACKAGES[name]
        for _ in range(_TRIES):
            turn = float(random.choice([0.0, 90.0, 180.0, 270.0]))
            length, breadth = package.size_mm[:2] if turn % 180 == 0 else package.size_mm[1::-1]
            pad = 0.6 * package.pads
            half = (length / 2 + _GAP_MM / 2 + pad, breadth / 2 + _GAP_MM / 2 + pad)
            if half[0] * 2 > width - 2 or half[1] * 2 > height - 2:
                continue
            x = float(random.uniform(half[0] + 1, width - half[0] - 1))
            y = float(random.uniform(half[1] + 1, height - half[1] - 1))
            if kind.clustered and package.size_mm[0] < 4 and random.uniform() < 0.7:
                x, y = x * 0.5 + width * 0.25, y * 0.5 + height * 0.25
            box = (x - half[0], y - half[1], x + half[0], y + half[1])
            if all(box[2] < b[0] or b[2] < box[0] or box[3] < b[1] or b[3] < box[1] for b in taken):
                taken.append(box)
                count[package.letter] = count.get(package.letter, 0) + 1
                emissivity = float(np.clip(package.emissivity + random.normal(0, 0.015), 0.05, 0.97))
                refdes = f"{package.letter}{count[package.letter]}"
                parts.append(Part(refdes, package, (x, y), turn, emissivity=emissivity))
                break
    return parts + _under_bar(kind, parts) + _sink_behind(kind, parts)


def _under_bar(kind: Kind, parts: list[Part]) -> list[Part]:
    """A raised bar over the back of the largest transistors: who is under it is hidden in part."""
    if not kind.bar:
        return []
    tall = max((p.package.size_mm[2] for p in parts if p.refdes.startswith("Q")), default=4.5)
    place = next((p for p in parts if p.refdes.startswith("Q")), parts[0])
    size = PACKAGES["HEATSINK_BAR_60x12"].size_mm
    x = float(np.clip(place.center_mm[0], size[0] / 2 + 1, kind.size_mm[0] - size[0] / 2 - 1))
    y = float(np.clip(place.center_mm[1] + size[1] / 2 - 1.5, size[1] / 2 + 1, kind.size_mm[1] - size[1] / 2 - 1))
    return [Part("HS9", PACKAGES["HEATSINK_BAR_60x12"], (x, y), 0.0, emissivity=0.86, base_mm=tall + 0.1)]


def _sink_behind(kind: Kind, parts: list[Part]) -> list[Part]:
    """A bare sink on the back of the first upright transistor; as listed, they overlap in plan."""
    package = PACKAGES["HEATSINK_25x16"]
    for held in parts if kind.sink else []:
        away = held.package.size_mm[1] / 2 + package.size_mm[1] / 2 - 2.0
        turn = math.radians(held.turn_deg)
        place = (held.center_mm[0] - math.sin(turn) * away, held.center_mm[1] + math.cos(turn) * away)
        fits = 8 < place[0] < kind.size_mm[0] - 8 and 8 < place[1] < kind.size_mm[1] - 8
        if held.package.name == "TO-220_Vertical" and fits:
            return [Part("HS8", package, place, held.turn_deg, emissivity=0.12)]
    return []


def _heated(kind: Kind, parts: list[Part], random: np.random.Generator) -> list[Part]:
    able = [i for i, part in enumerate(parts) if part.package.heats and part.base_mm == 0]
    hot = set(random.permutation(able)[: kind.sources].tolist())
    out = []
    for i, part in enumerate(parts):
        if i not in hot:
            out.append(replace(part, own_k=float(random.normal(0, 0.3)), drop=float(random.uniform(0.0, 0.03))))
            continue
        low, high = kind.own_k
        own = float(np.exp(random.uniform(math.log(low), math.log(high))))
        area = part.package.size_mm[0] * part.package.size_mm[1]
        # a large part warms the board beneath it more than a small one does
        ring = own * float(random.uniform(0.15, 0.35)) * min(1.0 + math.sqrt(area) / 4, 3.0)
        out.append(
            replace(
                part,
                own_k=own,
                ring_k=ring,
                reach_mm=float(random.uniform(5, 12)),
                drop=float(random.uniform(0.05, 0.38)) * (1.0 if area > 6 else 0.5),
                summit=(float(random.uniform(-0.3, 0.3)), float(random.uniform(-0.3, 0.3))),
            )
        )
    return out


def top_rise_k(world: World, part: Part) -> float:
    """Rise of the warmest place of a part's top over ambient."""
    x, y = _grid_under(part)
    return float(world.board_rise_k(x, y).mean()) + part.own_k


def _grid_under(part: Part) -> tuple[Array, Array]:
    u, v = np.meshgrid(np.linspace(-0.5, 0.5, 5), np.linspace(-0.5, 0.5, 5))
    c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
    length, width, _ = part.package.size_mm
    dx, dy = u * length, v * width
    return part.center_mm[0] + c * dx - s * dy, part.center_mm[1] + s * dx + c * dy


def _solids_of(world: World, part: Part) -> list[Solid]:
    package, kind = part.package, world.kind
    length, width, height = package.size_mm
    rise = top_rise_k(world, part)
    # the drop is one of the rise over the board, at most
    drop = part.drop if part.is_source else part.drop * 0.5
    ends = package.ends
    metal = 0.9 if kind.coated else 0.1
    emissivity = 0.9 if kind.coated and part.emissivity > 0.5 else part.emissivity
    skin = Skin(rise, emissivity, drop, part.summit, ends=ends, ends_emissivity=metal)
    if package.name.startswith("HEATSINK"):
        return _finned(part, skin)
    solids = [Solid(part.refdes, package.shape, part.center_mm, part.turn_deg, package.size_mm, skin, part.base_mm)]
    if package.pads:
        for sign in (-1, 1):
            reach = sign * (length / 2 + 0.1)
            c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
            place = (part.center_mm[0] + c * reach, part.center_mm[1] + s * reach)
            pad = Skin(math.nan, metal if kind.coated else 0.12)
            size = (0.55 * width + 0.2, width * 1.05, 0.02)
            solids.append(Solid(part.refdes, "box", place, part.turn_deg, size, pad, listed=False))
    if package.shape == "rod":
        solids[0] = replace(solids[0], base_mm=0.4)
        for sign in (-1, 1):
            reach = sign * (length / 2 + 1.4)
            c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
            place = (part.center_mm[0] + c * reach, part.center_mm[1] + s * reach)
            wire = Skin(rise * 0.6, 0.1)
            solids.append(
                Solid(part.refdes, "rod", place, part.turn_deg, (2.8, 0.7, 0.7), wire, 0.4 + width / 2 - 0.35, False)
            )
    if height > 12 and package.name.startswith("TO-220"):
        tab = Skin(rise * 0.97, 0.15)
        c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
        place = (part.center_mm[0] - s * (width / 2 - 0.6), part.center_mm[1] + c * (width / 2 - 0.6))
        solids.append(Solid(part.refdes, "box", place, part.turn_deg, (length, 1.2, 6.0), tab, height, False))
    return solids


def _finned(part: Part, skin: Skin) -> list[Solid]:
    """A plate with fins: seen from above mostly gaps."""
    length, width, height = part.package.size_mm
    even = replace(skin, drop=0.02)
    plate = Solid(part.refdes, "box", part.center_mm, part.turn_deg, (length, width, 3.0), even, part.base_mm)
    c, s = math.cos(math.radians(part.turn_deg)), math.sin(math.radians(part.turn_deg))
    fins = []
    for k in range(6):
        off = (k - 2.5) * width / 6
        place = (part.center_mm[0] - s * off, part.center_mm[1] + c * off)
        size = (length, 1.1, height - 3.0)
        fins.append(Solid(part.refdes, "box", place, part.turn_deg, size, even, part.base_mm + 3.0))
    return [plate, *fins]


def _unlisted(world: World, random: np.random.Generator) -> list[Solid]:
    """Cables, brackets, clips, labels and jumpers that no file knows."""
    kind, (width, height) = world.kind, world.size_mm
    out: list[Solid] = []
    for _ in range(kind.cables):
        turn = float(random.uniform(-25, 25)) + float(random.choice([0.0, 90.0]))
        place = (float(random.uniform(0.25, 0.75)) * width, float(random.uniform(0.25, 0.75)) * height)
        skin = Skin(float(random.uniform(1, 5)), 0.92)
        out.append(Solid("", "rod", place, turn, (1.6 * width, 3.0, 3.0), skin, float(random.uniform(14, 22))))
    if kind.jaws:
        for x in (-2.0, width + 2.0):
            out.append(Solid("", "box", (x, height / 2), 0.0, (9.0, 0.7 * height, 14.0), Skin(1.0, 0.3), -6.0))
    small = [part for part in world.parts if not part.package.tall]
    for k in range(kind.stray):
        part = small[int(random.integers(len(small)))]
        x, y = part.center_mm
        warm = world.board_rise_k(np.array([x]), np.array([y]))[0]
        if k % 3 == 0:  # a clip-on sink, or an unlisted hot body beside parts
            spot = (x + float(random.uniform(-4, 4)), y + float(random.uniform(-4, 4)))
            skin = Skin(float(warm) + float(random.uniform(0, 25)), 0.9, 0.1)
            out.append(Solid("", "box", spot, 0.0, (6.0, 4.0, 3.0), skin))
        elif k % 3 == 1:  # a jumper wire across parts
            skin = Skin(float(warm) * 0.7, 0.9)
            out.append(Solid("", "rod", (x, y), float(random.uniform(0, 180)), (22.0, 1.4, 1.4), skin, 2.0))
        else:  # a paper label
            skin = Skin(float(warm), 0.94)
            out.append(Solid("", "box", (x, y), float(random.uniform(0, 180)), (9.0, 5.0, 0.15), skin, 1.2))
    return out


def temperature_c(world: World, hits: Hits) -> tuple[Array, Array]:
    """Surface temperature and emissivity of every sub-pixel."""
    kind = world.kind
    rise, bright = np.full(hits.x_mm.shape, kind.bench_k), np.full(hits.x_mm.shape, 0.95)
    board = hits.solid == BOARD
    field = world.board_rise_k(hits.x_mm, hits.y_mm)
    rise[board], bright[board] = field[board], kind.board_emissivity
    for k in range(kind.traces):  # a hot trace: a warm band along the board
        place, breadth = world.size_mm[1] * (0.3 + 0.4 * k), 1.2
        along = np.exp(-((hits.x_mm - world.size_mm[0] / 2) ** 2) / (2 * 14.0**2))
        across = np.exp(-np.abs(hits.y_mm - place) / 3.0)
        rise[board] += (kind.trace_k * along * np.where(np.abs(hits.y_mm - place) < breadth, 1.0, across))[board]
    for i, solid in enumerate(world.solids):
        mine = hits.solid == i
        if not mine.any():
            continue
        rise[mine], bright[mine] = _skin(solid, hits, mine, field)
    bright[hits.solid == BENCH] = 0.95
    return world.ambient_c + rise, bright


def _skin(solid: Solid, hits: Hits, mine: Array, field: Array) -> tuple[Array, Array]:
    skin = solid.skin
    if math.isnan(skin.rise_k):
        return field[mine], np.full(int(mine.sum()), skin.emissivity)
    u, v, w = hits.u[mine], hits.v[mine], hits.w[mine]
    far = (1 + abs(skin.summit[0])) ** 2 + (0.0 if solid.shape == "rod" else (1 + abs(skin.summit[1])) ** 2)
    across = 0.0 if solid.shape == "rod" else (v - skin.summit[1]) ** 2
    top = skin.rise_k * (1 - skin.drop * ((u - skin.summit[0]) ** 2 + across) / far)
    is_top = hits.face[mine] == TOP
    rim = skin.rise_k * (1 - skin.drop * 0.6)
    wall = rim * (skin.wall + (1 - skin.wall) * np.clip(w, 0, 1))
    metal = np.abs(u) > 1 - 2 * skin.ends
    return np.where(is_top, top, wall), np.where(metal, skin.ends_emissivity, skin.emissivity)
