"""Random boards of several kinds, written as complete job folders with their truth beside them."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from demo_board.simulation.band import BandTable
from demo_board.simulation.camera import Instrument, PartTruth, frame_c, truths
from demo_board.simulation.catalogue import PACKAGES, Layout, build
from demo_board.simulation.heat import HeatNetwork
from demo_board.simulation.job_files import (
    Shot,
    click,
    write_bodies,
    write_job,
    write_outline,
    write_parts,
    write_placement,
    write_truth,
)
from demo_board.simulation.kinds import Kind
from demo_board.simulation.rays import Lobe, Room, Scene, aim
from demo_board.simulation.world import Array, Board, Copper, Part, Patch, World

REMARK = "Simulated: no such board exists."
AMBIENT_MAX_C = 60.0
HOTTEST_MEAN_RISE_K = 35.0  # of the board as a whole
NAMED_BY_TABLE = tuple(name for name in PACKAGES if "-" in name and not name.startswith(("SO", "TSSOP", "LQFP", "TO")))
# what is known of a surface without being told: default and standard uncertainty (common practice, see the library)
DEFAULT_EMISSIVITY = {"R": (0.89, 0.04), "C": (0.85, 0.06), "D": (0.94, 0.02), "Q": (0.94, 0.02), "U": (0.94, 0.02)}


def random_world(kind: Kind, random: np.random.Generator) -> World:
    """A board of a kind, its parts as a maker delivers them: sizes, metal shares and surfaces off by a little."""
    width, height = kind.size_mm
    rim = 3.5
    holes = tuple((x, y, 3.0) for x in (rim, width - rim) for y in (rim, height - rim))
    cuts = np.sort(random.uniform(0.15, 0.85, 2))
    copper = (
        Copper(
            (1.0, 1.0, width * cuts[0], height - 1.0), float(random.uniform(1.2, 2.5)), 0.92 - random.uniform(0, 0.04)
        ),
        Copper((width * cuts[1], 2.0, width - 2.0, height * 0.7), float(random.uniform(0.5, 1.8)), 0.92),
    )
    spread, air = float(random.uniform(0.004, 0.011)), float(random.uniform(9, 14))
    board = Board(width, height, 2.0, holes, spread_w_per_k=spread, air_w_per_m2k=air, copper=copper)
    layout, numbers = Layout(board), dict[str, int]()
    maker = {p: (random.normal(0, 0.02), float(np.exp(random.normal(0, 0.25)))) for p in PACKAGES}
    wanted = [(letter, package) for letter, package, count in kind.recipe for _ in range(count)]
    wanted.sort(key=lambda row: -PACKAGES[row[1]][0][0] * PACKAGES[row[1]][0][1])
    for letter, package in wanted:
        numbers[letter] = numbers.get(letter, 0) + 1
        side = kind.sides[int(random.integers(len(kind.sides)))]
        at = (float(random.uniform(4, width - 4)), float(random.uniform(4, height - 4)))
        part = build(f"{letter}{numbers[letter]}", package, at, 90.0 * int(random.integers(4)), side)
        placed = layout.add(_as_delivered(part, maker[package], random), kind.gap_mm)
        if placed is None:
            numbers[letter] -= 1
    rings = tuple(Patch((x, y), 0.0, (d + 2.0, d + 2.0), side, 0.12, True) for x, y, d in holes for side in kind.sides)
    return World(board, tuple(layout.parts), rings)


def _as_delivered(part: Part, maker: tuple[float, float], random: np.random.Generator) -> Part:
    length, width, height = part.size_mm
    grow = 1 + random.normal(0, 0.008, 2)
    size = (length * grow[0], width * (grow[0] if part.round else grow[1]), height * (1 + random.normal(0, 0.02)))
    changes: dict[str, Any] = {"size_mm": size}
    if part.cap_share:
        share = part.cap_share + maker[0] + random.normal(0, 0.006)
        changes |= {"cap_share": float(np.clip(share, 0.08, 0.32)), "toe_mm": part.toe_mm * maker[1]}
    if part.package.startswith(("LQFP", "QFN", "SOIC", "TSSOP")):
        changes |= {"die": (*random.uniform(-0.1, 0.1, 2), 0.22, 0.22), "inner_share": float(random.uniform(0.1, 0.5))}
    return replace(part, **changes)


def _told_surfaces(world: World, random: np.random.Generator) -> tuple[World, dict[str, tuple[float, float]]]:
    """True emissivities, and what the parts table tells of them (some surfaces are left to the defaults)."""
    parts, told = [], {}
    for part in world.parts:
        if part.metal_top:
            parts.append(replace(part, emissivity=float(np.clip(random.normal(0.08, 0.03), 0.03, 0.2))))
            continue
        letter = part.refdes[0]
        default, u = DEFAULT_EMISSIVITY.get(letter, (part.emissivity, 0.03))
        if random.random() < 0.6 or letter not in DEFAULT_EMISSIVITY or part.package in NAMED_BY_TABLE:
            default, u = round(float(random.uniform(0.86, 0.95)), 2), 0.03
            told[part.refdes] = (default, u)
        parts.append(replace(part, emissivity=float(np.clip(random.normal(default, u), 0.5, 0.985))))
    return replace(world, parts=tuple(parts)), told


def _sources(kind: Kind, world: World, random: np.random.Generator) -> dict[int, float]:
    """Rises over ambient wanted of the parts that make heat, by index."""
    can = [k for k, part in enumerate(world.parts) if not part.metal_top and part.refdes[0] not in "JKY"]
    if kind.tall_sources:
        tall = [k for k in can if world.parts[k].size_mm[2] >= 3]
        first = list(random.permutation(tall)[: kind.sources - 2])
    else:
        area = np.array([np.prod(world.parts[k].size_mm[:2]) for k in can])
        chance = np.sqrt(area) / np.sqrt(area).sum()
        first = list(random.choice(can, size=min(kind.sources - 2, len(can)), replace=False, p=chance))
    resistors = [k for k in can if world.parts[k].refdes[0] == "R" and k not in first]
    first += list(random.permutation(resistors)[:2])
    return {int(k): float(np.exp(random.uniform(math.log(18), math.log(85)))) for k in first}


def make_board(folder: Path, kind: Kind, seed: int) -> None:
    """Write a job folder of a kind with ``truth.json``; the same seed gives the same files."""
    folder.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng([seed, sum(map(ord, kind.name))])
    world, told = _told_surfaces(random_world(kind, random), random)
    network = HeatNetwork(world)
    powers = network.powers_for(_sources(kind, world, random), rounds=25)
    area_m2 = network.sheet * (network.step_mm * 1e-3) ** 2
    powers *= min(1.0, 2 * area_m2 * world.board.air_w_per_m2k * HOTTEST_MEAN_RISE_K / powers.sum())
    shots, truth, margins = [], {}, {}
    blur = float(random.uniform(1.0, 1.7))
    ambient = float(random.uniform(20, 27))
    for side in kind.sides:
        shot, camera, seen = _shoot(kind, network, powers, side, ambient, blur, random)
        shots.append(shot)
        truth[shot.name] = (camera, seen)
    rows = []
    power_of = {part.refdes: float(w) for part, w in zip(world.parts, powers, strict=True)}
    for part in world.parts:
        seen_part = next((seen[part.refdes] for _, seen in truth.values() if part.refdes in seen), None)
        row: dict[str, object] = {"refdes": part.refdes}
        if part.refdes in told:
            row |= {"emissivity": told[part.refdes][0], "emissivity_u": told[part.refdes][1]}
        if seen_part is not None and random.random() < 0.9:
            row |= _rating(part, seen_part, power_of[part.refdes], ambient, margins, random)
        rows.append(row)
    write_placement(folder / "placement.csv", world.parts)
    write_outline(folder / "outline.svg", world.board)
    write_parts(folder / "parts.csv", rows, REMARK)
    write_bodies(folder / "bodies.csv", world.parts, NAMED_BY_TABLE, REMARK)
    told_camera: dict[str, Any] = {"band_um": [8.0, 14.0], "accuracy_c": 2.0, "accuracy_percent": 2.0, "netd_c": 0.05}
    told_camera["hfov_deg"] = round(kind.hfov_deg * (1 + float(random.normal(0, 0.002))), 2)
    if kind.blur_told:
        told_camera["blur_px"] = round(blur * (1 + float(random.normal(0, 0.04))), 2)
    files = {"placement": "placement.csv", "outline": "outline.svg", "parts": "parts.csv", "bodies": "bodies.csv"}
    sections = {
        "board": {"name": f"simulated {kind.name}", "revision": str(seed)} | files,
        "requirement": {"ambient_max_c": AMBIENT_MAX_C, "margin_c": 10.0, "confidence": 0.95, "derating": "none"},
        "camera": told_camera,
    }
    write_job(folder, sections, shots, integers=False, remark=REMARK)
    write_truth(folder / "truth.json", truth, REMARK, margins)


def _rating(
    part: Part,
    seen: PartTruth,
    power_w: float,
    ambient_c: float,
    margins: dict[str, float],
    random: np.random.Generator,
) -> dict[str, object]:
    """A limit at a random distance from what the part would truly reach, and that distance noted."""
    if seen.peak_c is None:  # nothing of it is seen, so nothing is known to be right or wrong
        return {"limit_c": 125, "limit_at": "surface"}
    reached = AMBIENT_MAX_C + seen.peak_c - ambient_c
    limit = round(reached + float(random.uniform(-10, 28)), 1)
    margins[part.refdes] = limit - reached
    if part.refdes[0] in "UQ" and power_w > 0:
        psi = round(float(random.uniform(1, 12)), 1)
        told = round(power_w * (1 + float(random.normal(0, 0.04))), 4)
        limit = round(limit + psi * power_w, 1)
        margins[part.refdes] = limit - psi * power_w - reached
        more = {"psi_jt_k_per_w": psi, "power_w": told, "power_u_w": round(0.05 * power_w, 4)}
        return {"limit_c": limit, "limit_at": "junction"} | more
    return {"limit_c": limit, "limit_at": "surface"}


def _shoot(
    kind: Kind,
    network: HeatNetwork,
    powers_w: Array,
    side: str,
    ambient_c: float,
    blur_px: float,
    random: np.random.Generator,
) -> tuple[Shot, Instrument, dict[str, PartTruth]]:
    world, (rows, cols) = network.world, kind.shape_px
    width, height = kind.size_mm
    distance = kind.mm_per_px * cols / 2 / math.tan(math.radians(kind.hfov_deg) / 2)
    turn = float(random.uniform(0, 2 * np.pi))
    steep = kind.tilt_deg if kind.tilt_deg > 10 else kind.tilt_deg * float(random.uniform(0.3, 1))
    tilt = (steep * math.cos(turn), steep * math.sin(turn))
    target = (width / 2 + float(random.normal(0, 1)), height / 2 + float(random.normal(0, 1)))
    roll, radial = float(random.normal(0, 2)), float(random.normal(0, 0.01))
    pose = aim(target, distance, kind.hfov_deg, (rows, cols), side, tilt, roll, radial)
    heat = network.steady(powers_w, ambient_c)
    reflected = ambient_c + float(random.normal(0, 0.7))
    seed = int(random.integers(1 << 30))
    up = (float(random.normal(0, 0.4)), float(random.normal(0, 0.4)), 1.0)
    lobes = (Lobe(up, float(random.uniform(28, 45)), 10.0),) if kind.lobes else ()
    table = BandTable(8.0, 14.0)
    scene = Scene(world, heat, Room(ambient_c, reflected, 31.0, lobes), table, pose, seed)
    offset = float(random.uniform(-1.9, 1.9))
    gain = 1 + float(random.normal(0, 0.003))
    air = 1 - 0.0018 * (distance / 1000) ** 0.587 / 0.3**0.587 * float(random.uniform(0.2, 1))
    instrument = Instrument(blur_px, float(random.uniform(0, 0.03)), air, offset_c=offset, gain=gain)
    frame = frame_c(scene, instrument, seed, per_side=3 if cols > 400 else 4)
    seen = truths(scene, powers_w)
    good = [name for name, t in seen.items() if t.visible > 0.95 and t.pixels_across > 4 and not t.hidden]
    picked = list(random.permutation(good)[:4])
    targets: list[Any] = [(x, y) for x, y, _ in world.board.holes] + [str(name) for name in picked]
    keys = {
        "ambient_c": round(ambient_c + float(random.normal(0, 0.3)), 1),
        "ambient_u_c": 0.5,
        "reflected_c": round(reflected + float(random.normal(0, 0.7)), 1),
        "reflected_u_c": 1.0,
        "humidity_percent": 50,
        "distance_m": round(distance / 1000 * (1 + float(random.normal(0, 0.01))), 3),
    }
    return Shot(side, side, side, frame, click(world, pose, targets, 0.4, seed), keys), instrument, seen
