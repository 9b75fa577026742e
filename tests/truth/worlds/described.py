"""What a practitioner would have of a world: sizes within a few per cent, clicks a little off, and sometimes wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.truth.worlds.kinds import Kind
from tests.truth.worlds.solids import Eye
from tests.truth.worlds.world import Part, World, make_world

_FORGOTTEN = 3
_TURNED = 3
_FITTING_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Described:
    """Rows of the job's tables, and the true peaks they were drawn from."""

    placement: tuple[tuple[object, ...], ...]
    bodies: tuple[tuple[object, ...], ...]
    limits: tuple[tuple[str, float, str], ...]
    points: tuple[tuple[object, ...], ...]
    peaks: dict[str, float]


def describe(world: World, eye: Eye, peaks: dict[str, float], random: np.random.Generator) -> Described:
    kind = world.kind
    listed = _listed(world, random)
    forgotten = _forgotten(world, random) if kind.wrong == "forgotten" else frozenset()
    rows = [
        (
            part.refdes,
            "",
            _called(part.package.name, forgotten),
            *(f"{value + float(random.normal(0, 0.03)):.3f}" for value in part.center_mm),
            f"{part.turn_deg:.0f}",
            "top",
        )
        for part in listed
    ]
    limits = []
    for part in listed:
        projected = 60.0 + peaks[part.refdes] - world.ambient_c
        limit = max(round(projected + float(random.normal(15.0, 18.0))), 45)
        limits.append((part.refdes, float(limit), "surface"))
    return Described(
        tuple(rows), tuple(_bodies(world, forgotten, random)), tuple(limits), tuple(_points(world, eye, random)), peaks
    )


def _called(package: str, forgotten: frozenset[str]) -> str:
    return f"PKG-{sum(map(ord, package)) % 900 + 100}" if package in forgotten else package


def _listed(world: World, random: np.random.Generator) -> list[Part]:
    """The parts as the placement file has them."""
    kind, (width, _) = world.kind, world.size_mm
    if kind.wrong == "mirrored":
        return [
            replace(p, center_mm=(width - p.center_mm[0], p.center_mm[1]), turn_deg=(180.0 - p.turn_deg) % 360)
            for p in world.parts
        ]
    if kind.wrong == "turned":
        long = [
            p.refdes
            for p in world.parts
            if p.package.size_mm[0] > 1.25 * p.package.size_mm[1] and p.package.size_mm[0] > 3
        ]
        chosen = set(random.permutation(long)[:_TURNED].tolist())
        return [replace(p, turn_deg=(p.turn_deg + 90) % 360) if p.refdes in chosen else p for p in world.parts]
    if kind.wrong == "revision":
        other = {p.refdes: p for p in make_world(kind, np.random.default_rng(random.integers(1 << 30))).parts}
        kept = int(_FITTING_SHARE * len(world.parts))
        return [
            p if i < kept else replace(other.get(p.refdes, p), package=p.package) for i, p in enumerate(world.parts)
        ]
    return list(world.parts)


def _forgotten(world: World, random: np.random.Generator) -> frozenset[str]:
    """Packages that no table knows: some larger ones, one of them a source's where there is one."""
    names = sorted({p.package.name for p in world.parts if p.package.size_mm[0] > 2.5})
    return frozenset(random.permutation(names)[:_FORGOTTEN].tolist())


def _bodies(world: World, forgotten: frozenset[str], random: np.random.Generator) -> list[tuple[object, ...]]:
    kind = world.kind
    rows: list[tuple[object, ...]] = []
    for package in sorted({part.package for part in world.parts}, key=lambda p: p.name):
        if package.name in forgotten:
            continue
        length, width, height = (*(package.told_mm or package.size_mm[:2]), package.size_mm[2])
        grow = _off(kind, random, kind.size_u, 0.05, 0.15, 2)
        tall = _off(kind, random, kind.height_u, 0.20, 0.30, 1)[0]
        if package.shape == "cylinder":
            grow[1] = grow[0]
        lifted = 0.4 if package.shape == "rod" else 0.0
        bar = next((p.base_mm for p in world.parts if p.package == package), 0.0)
        emissivity = (f"{package.emissivity:.2f}", "0.04") if kind.emissivity_told else ("", "")
        shape = "round" if package.shape == "cylinder" else "box"
        sizes = (length * grow[0], width * grow[1], (height + lifted + bar) * tall)
        rows.append((package.name, *(f"{size:.2f}" for size in sizes), shape, *emissivity))
    return rows


def _off(
    kind: Kind, random: np.random.Generator, usual_u: float, usual_most: float, wrong: float, count: int
) -> list[float]:
    """Factors by which something is told wrongly."""
    if kind.wrong == "sizes":
        return [1 + float(wrong * random.choice([-1, 1])) for _ in range(count)]
    return [1 + float(np.clip(random.normal(0, usual_u), -usual_most, usual_most)) for _ in range(count)]


def _points(world: World, eye: Eye, random: np.random.Generator) -> list[tuple[object, ...]]:
    """Clicks on corners and on warm parts that stand free; at part: the middle of its top face."""
    kind, (width, height) = world.kind, world.size_mm
    rows: list[tuple[object, ...]] = []

    def click(x: float, y: float, z: float) -> tuple[str, str]:
        place = eye.pixels(np.array([[x, y, z]]))[0] + random.normal(0, kind.click_px, 2)
        return f"{place[0]:.1f}", f"{place[1]:.1f}"

    places = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    if kind.only_corners:  # holes of the board, by their coordinates
        places += [
            (float(x), float(y)) for x, y in random.uniform([5, 5], [width - 5, height - 5], (kind.clicks - 4, 2))
        ]
    for x, y in places:
        rows.append((*click(x, y, 0.0), "", f"{x:.2f}", f"{y:.2f}"))
    if not kind.only_corners:
        free = [p for p in world.parts if p.base_mm == 0 and p.package.size_mm[0] > 2.5 and p.emissivity > 0.5]
        for i in random.permutation(len(free))[: kind.clicks - 4]:
            part = free[int(i)]
            top = part.package.size_mm[2] + (0.4 if part.package.shape == "rod" else 0.0)
            rows.append((*click(*part.center_mm, top), part.refdes, "", ""))
    return rows
