"""Makes every data file of the demo anew: ``python -m demo_board.simulation.make_demo`` from the repository's root."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from demo_board.simulation.band import BandTable
from demo_board.simulation.camera import Instrument, PartTruth, frame_c, truths
from demo_board.simulation.demo_world import (
    BOARD,
    FIDUCIALS,
    FULL_LOAD_RISE_K,
    IDLE_SHARE,
    RATINGS,
    RATINGS_IN_C,
    demo_world,
    powers_in_c,
    revision_c,
)
from demo_board.simulation.heat import Heat, HeatNetwork
from demo_board.simulation.job_files import (
    Shot,
    click,
    write_bodies,
    write_job,
    write_outline,
    write_parts,
    write_placement,
    write_table,
    write_truth,
)
from demo_board.simulation.rays import Lobe, Pose, Room, Scene, aim
from demo_board.simulation.world import Array, World

FOLDER = Path(__file__).parents[1]
INVENTED = "Invented for this demonstration: no such board, parts or measurements exist."
HFOV_DEG, SHAPE_PX, DISTANCE_MM = 25.0, (240, 320), 268.0
BODIES = (
    "IND-4018", "IND-8040", "CAN-8X10", "RADIAL-10X12", "TANT-7343", "XTAL-3225", "SHIELD-22X16", "TERM-2P", "HDR-1X6",
    "FUSE-2410", "COAX-3", "LED0603",
)  # fmt: skip
CAMERA: dict[str, Any] = {
    "band_um": [8.0, 14.0], "accuracy_c": 2.0, "accuracy_percent": 2.0, "netd_c": 0.05, "hfov_deg": HFOV_DEG,
    "blur_px": 1.3,
}  # fmt: skip
REQUIREMENT = {"ambient_max_c": 60.0, "margin_c": 10.0, "confidence": 0.95, "derating": "none"}
LAMINATE = {"laminate_limit_c": 130.0, "laminate_limit_source": "maximum operating temperature, laminate's data sheet"}
# what a test record holds; the camera's serial number, its lens and its calibration are left out, as they often are
RECORD = {
    "date": "2026-03-12",
    "place": "test bench 2",
    "operator": "M. Holm",
    "sample": "pilot run",
    "serial": "TG-B-0007",
    "supply": "24.0 V, laboratory supply, floating",
    "load": "idle: telemetry only; full load: all outputs at rated current",
    "duration": "90 min in each state",
    "orientation": "flat, 60 mm above the bench",
    "airflow": "still air behind a draught screen",
    "instrument": "uncooled thermal camera, 320 x 240",
}
TOUCH = [
    {
        "name": "terminal block J1",
        "parts": ["J1"],
        "limit_c": 77.0,
        "limit_source": "IEC 62368-1, Table 38: plastic, touched for 1 to 10 s",
    }
]
TOP_POINTS: list[str | tuple[float, float]] = [
    (4.0, 60.0),
    (92.0, 60.0),
    (4.0, 4.0),
    (92.0, 4.0),
    "R21",
    "U2",
    "J1",
    "L1",
]
BOTTOM_POINTS: list[str | tuple[float, float]] = [
    (4.0, 60.0),
    (92.0, 60.0),
    (4.0, 4.0),
    (92.0, 4.0),
    "R41",
    "C30",
    "U8",
]
CONTACTS = (
    ("U7", 0.8, "lid"),
    ("C1", 0.8, "top of the can"),
    ("Y1", 0.8, "lid"),
    ("U3", 0.8, "middle of the package"),
    ("U5", 0.8, "middle of the package"),
)
WARM_UP_PERIOD_S, WARM_UP_PAGES = 35.0, 12
TABLE = BandTable(8.0, 14.0)
# a lamp high up at the left, a person behind the bench
LOBES = (Lobe((-0.5, 0.35, 0.8), 38.0, 12.0), Lobe((0.1, -0.9, 0.45), 31.0, 18.0))


def powers_of(network: HeatNetwork, rises_k: dict[str, float]) -> Array:
    """Powers that give those rises, by designator."""
    index = {part.refdes: k for k, part in enumerate(network.world.parts)}
    return network.powers_for({index[name]: rise for name, rise in rises_k.items() if name in index})


def idle(world: World, powers_w: Array) -> Array:
    return powers_w * np.array([IDLE_SHARE.get(part.refdes, 0.0) for part in world.parts])


def pose(side: str, tilt: tuple[float, float], roll: float) -> Pose:
    return aim((48.0, 32.0), DISTANCE_MM, HFOV_DEG, SHAPE_PX, side, tilt, roll, radial=-0.01)


def rows_with_power(world: World, powers_w: Array, ratings: list[dict[str, object]]) -> list[dict[str, object]]:
    """The parts table, each junction-rated part on a row of its own with its power as somebody computed it."""
    power = {part.refdes: float(w) for part, w in zip(world.parts, powers_w, strict=True)}
    rows: list[dict[str, object]] = []
    for row in ratings:
        for name in str(row["refdes"]).split(", ") if row.get("limit_at") == "junction" else [str(row["refdes"])]:
            more: dict[str, object] = {}
            if "-" not in name and ", " not in name and power.get(name):
                more = {"power_w": f"{power[name] * 1.02:.3f}", "power_u_w": f"{0.05 * power[name]:.3f}"}
            rows.append({"limit_at": "surface"} | row | {"refdes": name} | more)
    return rows


def write_board(folder: Path, world: World, full_w: Array, ratings: list[dict[str, object]] = RATINGS) -> None:
    """Placement, outline, parts and bodies."""
    folder.mkdir(exist_ok=True)
    extra = [[name, "", "FIDUCIAL", f"{x:.3f}", f"{y:.3f}", "0", side] for name, (x, y), side in FIDUCIALS]
    extra += [
        [f"H{n}", "", "HOLE", f"{x:.3f}", f"{y:.3f}", "0", "top"] for n, (x, y, _) in enumerate(BOARD.holes, start=1)
    ]
    write_placement(folder / "placement.csv", world.parts, extra)
    write_outline(folder / "outline.svg", world.board)
    write_parts(folder / "parts.csv", rows_with_power(world, full_w, ratings), INVENTED)
    write_bodies(folder / "bodies.csv", world.parts, BODIES, INVENTED)


def board_keys(revision: str) -> dict[str, Any]:
    files = {"placement": "placement.csv", "outline": "outline.svg", "parts": "parts.csv", "bodies": "bodies.csv"}
    return {"name": "Tide-gauge power and telemetry", "revision": revision} | files


def shoot(
    network: HeatNetwork, powers_w: Array, name: str, file: str, eye: Pose, seed: int, ambient_c: float, offset_c: float
) -> tuple[Shot, tuple[Instrument, dict[str, PartTruth]]]:
    """One settled capture, and its truth."""
    heat = network.steady(powers_w, ambient_c)
    scene = Scene(network.world, heat, Room(ambient_c, ambient_c - 0.5, 30.0, LOBES), TABLE, eye, seed)
    instrument = Instrument(offset_c=offset_c, tail=0.015)
    frame = frame_c(scene, instrument, seed, per_side=4)
    points = clicks(network.world, eye, seed)
    return Shot(name, file, eye.side, frame, points, noted(ambient_c)), (instrument, truths(scene, powers_w))


def clicks(world: World, eye: Pose, seed: int) -> list[tuple[float, float, str]]:
    there = {part.refdes for part in world.parts}
    targets = TOP_POINTS if eye.side == "top" else BOTTOM_POINTS
    return click(world, eye, [t for t in targets if not isinstance(t, str) or t in there], 0.4, seed)


def noted(ambient_c: float) -> dict[str, Any]:
    """What somebody wrote down beside the camera: a little off, as such notes are."""
    return {
        "ambient_c": round(ambient_c + 0.2, 1),
        "ambient_u_c": 0.5,
        "reflected_c": round(ambient_c - 0.2, 1),
        "reflected_u_c": 1.0,
        "humidity_percent": 45,
        "distance_m": 0.27,
        "rise_scale": 1.0,
    }


def make_revision_b(folder: Path = FOLDER) -> None:
    """The main job, and contact readings to take in later."""
    world = demo_world()
    network = HeatNetwork(world)
    full = powers_of(network, FULL_LOAD_RISE_K)
    top, bottom = pose("top", (5.0, 3.0), 2.0), pose("bottom", (-4.0, 2.0), -3.0)
    shots = [
        shoot(network, idle(world, full), "telemetry idle", "telemetry_idle", top, 11, 23.2, 0.6),
        shoot(network, full, "full load", "full_load", pose("top", (5.5, 2.0), 1.2), 12, 23.6, 0.5),
        shoot(network, full, "full load, bottom", "full_load_bottom", bottom, 13, 23.9, 0.7),
    ]
    write_board(folder, world, full)
    sections: dict[str, Any] = {"board": board_keys("B") | LAMINATE, "requirement": REQUIREMENT, "camera": CAMERA}
    sections |= {"record": RECORD, "touch": TOUCH}
    write_job(folder, sections, [shot for shot, _ in shots], integers=True, remark=INVENTED)
    write_truth(folder / "truth.json", {shot.name: truth for shot, truth in shots}, INVENTED)
    write_contacts(folder / "full_load.contact.csv", world, network.steady(full, 23.6))


def write_contacts(path: Path, world: World, heat: Heat) -> None:
    """Thermocouple readings on faces at full load: shiny ones, which infrared cannot read, and two as a check."""
    random, rows = np.random.default_rng(31), []
    for refdes, u, note in CONTACTS:
        k = next(k for k, part in enumerate(world.parts) if part.refdes == refdes)
        true = float(heat.face_at(k, np.zeros(1), np.zeros(1))[0])
        x, y = world.parts[k].center_mm
        rows.append([refdes, f"{true + random.normal(0, u):.1f}", u, f"{x:.2f}", f"{y:.2f}", note])
    write_table(path, ["refdes", "temperature_c", "u_c", "board_x_mm", "board_y_mm", "note"], rows, INVENTED)


def make_revision_c(folder: Path = FOLDER / "revision_c") -> None:
    """The revised board at full load, shot on another day."""
    before, world = demo_world(), revision_c()
    powers = powers_of(HeatNetwork(before), FULL_LOAD_RISE_K)
    full = powers_in_c(world, {part.refdes: float(w) for part, w in zip(before.parts, powers, strict=True)})
    network = HeatNetwork(world)
    shots = [
        shoot(network, full, "full load", "full_load", pose("top", (4.0, 4.0), -1.0), 14, 22.1, -0.4),
        shoot(network, full, "full load, bottom", "full_load_bottom", pose("bottom", (3.0, 2.0), 2.0), 15, 22.3, -0.3),
    ]
    gone = {"R41"}
    ratings = [row for row in RATINGS if row["refdes"] not in gone] + RATINGS_IN_C
    write_board(folder, world, full, ratings)
    sections = {"board": board_keys("C"), "requirement": REQUIREMENT, "camera": CAMERA}
    write_job(folder, sections, [shot for shot, _ in shots], integers=True, remark=INVENTED)
    write_truth(folder / "truth.json", {shot.name: truth for shot, truth in shots}, INVENTED)


def make_warm_up(folder: Path = FOLDER / "warm_up") -> None:
    """Revision B from switching on at full load, by a coarser camera that is not quite still, stopped too early."""
    world, random = demo_world(), np.random.default_rng(41)
    network = HeatNetwork(world)
    full = powers_of(network, FULL_LOAD_RISE_K)
    times = [WARM_UP_PERIOD_S * page for page in range(1, WARM_UP_PAGES + 1)]
    room, pages, instrument = Room(23.6, 23.1, 30.0, LOBES), [], Instrument(offset_c=0.4, tail=0.015)
    states = [*network.warm_up(full, 23.6, times), network.steady(full, 23.6)]
    eyes = [
        aim(tuple(np.array([48.0, 32.0]) + random.normal(0, 0.12, 2)), DISTANCE_MM, HFOV_DEG, (120, 160), "top", (5, 2))
        for _ in times
    ]
    scenes = [Scene(world, heat, room, TABLE, eye, 16) for heat, eye in zip(states, [*eyes, eyes[-1]], strict=True)]
    pages = [frame_c(scene, instrument, 100 + n, per_side=4) for n, scene in enumerate(scenes[:-1])]
    keys = noted(23.6) | {"frame_period_s": WARM_UP_PERIOD_S}
    shot = Shot("full load, warming up", "warm_up", "top", np.array(pages), clicks(world, eyes[0], 17), keys)
    write_board(folder, world, full)
    sections = {"board": board_keys("B"), "requirement": REQUIREMENT, "camera": CAMERA}
    write_job(folder, sections, [shot], integers=True, remark=INVENTED)
    truth = {shot.name: truths(scenes[-1], full), f"{shot.name}, last page": truths(scenes[-2], full)}
    write_truth(folder / "truth.json", {name: (instrument, seen) for name, seen in truth.items()}, INVENTED)


if __name__ == "__main__":
    make_revision_b()
    make_revision_c()
    make_warm_up()
