"""Simulated boards seen from a known place: what registrations are judged by."""

from __future__ import annotations

import math
import pickle
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from demo_board.simulation.band import BandTable
from demo_board.simulation.boards import NAMED_BY_TABLE, _sources, random_world
from demo_board.simulation.camera import Instrument, frame_c
from demo_board.simulation.catalogue import build
from demo_board.simulation.heat import HeatNetwork
from demo_board.simulation.job_files import write_bodies, write_outline, write_placement
from demo_board.simulation.kinds import KINDS
from demo_board.simulation.rays import Lobe, Pose, Room, Scene, aim
from demo_board.simulation.world import Array, World
from overlay.board.model import Board, BoardFiles
from overlay.board.read import read_board
from tests.truth.harvest import boards_folder

ROWS = "rows"
"""A kind of this benchmark's own: most of its parts stand in long rows of one pitch."""
WIDE_TILT_DEG = 9.0


@dataclass(frozen=True, eq=False)
class Sight:
    """A frame, the board as the library reads it, and the pose that is true."""

    name: str
    board: Board
    world: World
    frame_c: Array
    pose: Pose
    hfov_deg: float
    distance_m: float


def sight(kind: str, seed: int, side: str = "top") -> Sight:
    """One view of a random board of a kind, made when it is not there yet; the same seed gives the same view."""
    place = boards_folder().with_name(boards_folder().name + "_views") / f"{kind.replace(' ', '_')}_{side}_{seed}"
    if not (place / "frame.npy").is_file():
        _make(place, kind, seed, side)
    with (place / "view.pickle").open("rb") as stream:
        world, pose, hfov_deg, distance_m = pickle.load(stream)
    files = BoardFiles(placement="placement.csv", outline="outline.svg", bodies="bodies.csv")
    board, problems = read_board(place, files)
    assert board is not None, problems
    frame = np.load(place / "frame.npy")
    return Sight(f"{kind} {seed} {side}", board, world, frame, pose, hfov_deg, distance_m)


def _make(place: Path, name: str, seed: int, side: str) -> None:
    kind = replace(KINDS["led" if name == ROWS else name], sides=(side,))
    random = np.random.default_rng([seed, sum(map(ord, name + side)), 7])
    world = random_world(kind, random)
    if name == ROWS:
        world = _in_rows(world, side, random)
    network = HeatNetwork(world)
    powers = network.powers_for(_sources(kind, world, random), rounds=20)
    area_m2 = network.sheet * (network.step_mm * 1e-3) ** 2
    powers *= min(1.0, 2 * area_m2 * world.board.air_w_per_m2k * 35.0 / powers.sum())
    rows, cols = kind.shape_px
    distance = kind.mm_per_px * cols / 2 / math.tan(math.radians(kind.hfov_deg) / 2)
    steep = max(kind.tilt_deg, WIDE_TILT_DEG) * float(np.sqrt(random.uniform(0, 1)))
    turn = float(random.uniform(0, 2 * np.pi))
    tilt = (steep * math.cos(turn), steep * math.sin(turn))
    width, height = kind.size_mm
    target = (width / 2 + float(random.normal(0, 2)), height / 2 + float(random.normal(0, 2)))
    roll, radial = float(random.normal(0, 4)), float(random.normal(0, 0.02))
    pose = aim(target, distance, kind.hfov_deg, (rows, cols), side, tilt, roll, radial)
    heat = network.steady(powers, 23.0)
    lobes = (Lobe((0.3, 0.2, 1.0), 38.0, 10.0),) if kind.lobes else ()
    scene = Scene(world, heat, Room(23.0, 23.5, 31.0, lobes), BandTable(8.0, 14.0), pose, seed)
    blur = float(random.uniform(1.0, 1.8))
    instrument = Instrument(blur, 0.02, offset_c=float(random.uniform(-1.9, 1.9)), netd_c=0.06)
    frame = frame_c(scene, instrument, seed, per_side=3, refine=2)
    told = (kind.hfov_deg * (1 + float(random.normal(0, 0.004))), distance * (1 + float(random.normal(0, 0.02))) / 1000)
    place.mkdir(parents=True, exist_ok=True)
    write_placement(place / "placement.csv", world.parts)
    write_outline(place / "outline.svg", world.board)
    write_bodies(place / "bodies.csv", world.parts, NAMED_BY_TABLE)
    with (place / "view.pickle").open("wb") as stream:
        pickle.dump((world, pose, *told), stream)
    np.save(place / "frame.npy", frame)


def _in_rows(world: World, side: str, random: np.random.Generator) -> World:
    """Three rows of equal parts at one pitch, a driver and a few resistors at their end."""
    pitch = float(random.uniform(4.4, 6.0))
    parts, count = [], int(110 / pitch)
    for row, (y, letter, package) in enumerate(((7.0, "D", "LED-2835"), (12.0, "R", "R0805"), (17.0, "D", "LED-2835"))):
        for k in range(count):
            name = f"{letter}{row * 40 + k + 1}"
            parts.append(build(name, package, (20.0 + k * pitch, y), 90.0 * (letter == "R"), side))
    for k, (x, y) in enumerate(((12.0, 6.0), (10.0, 17.0), (138.0, 8.0), (140.0, 16.0), (8.0, 12.0), (13.0, 11.0))):
        parts.append(build(f"C{k + 1}", "C0805" if k % 2 else "C1206", (x, y), 90.0 * (k % 2), side))
    parts.append(build("U1", "SOIC-8", (135.5, 12.5), 0.0, side))
    return replace(world, parts=tuple(parts))
