"""The simulation that judges the library is itself held against things that are known without it."""

import ast
import hashlib
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from demo_board.simulation.band import BandTable, exitance_w_m2
from demo_board.simulation.boards import make_board
from demo_board.simulation.camera import Instrument, frame_c, leaving_picture, truths
from demo_board.simulation.catalogue import build
from demo_board.simulation.heat import HeatNetwork
from demo_board.simulation.kinds import KINDS
from demo_board.simulation.rays import Room, Scene, aim
from demo_board.simulation.world import Board, Part, World

SIMULATION = Path(__file__).parents[2] / "demo_board" / "simulation"
TABLE = BandTable(8.0, 14.0)
BOARD = Board(60.0, 40.0, corner_mm=2.0)


def scene_of(*parts: Part, powers_w: tuple[float, ...] = (), ambient_c: float = 25.0, **look: object) -> Scene:
    world = World(BOARD, parts)
    heat = HeatNetwork(world).steady(powers_w or [0.0] * len(parts), ambient_c)
    pose = aim((30.0, 20.0), 200.0, 30.0, (120, 160), **look)  # type: ignore[arg-type]
    return Scene(world, heat, Room(ambient_c, ambient_c, ambient_c), TABLE, pose)


def test_it_shares_no_code_with_the_library() -> None:
    for path in SIMULATION.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [name for name in names if name.split(".")[0] == "overlay"], path.name


@pytest.mark.parametrize(
    ("lower_um", "upper_um", "t_c", "exitance"),
    # worked out with 40 digits from the exact SI constants, apart from this code
    [(8.0, 14.0, 85.0, 366.503842030), (8.0, 14.0, 23.0, 162.622375075), (7.5, 13.0, 125.0, 548.669488181)],
)
def test_the_quadrature_meets_high_precision_values(
    lower_um: float, upper_um: float, t_c: float, exitance: float
) -> None:
    assert exitance_w_m2(lower_um, upper_um, t_c) == pytest.approx(exitance, abs=5e-9)


def test_the_table_inverts_to_a_millikelvin() -> None:
    t = np.linspace(-20, 200, 997)
    assert np.abs(TABLE.temperature_c(exitance_w_m2(8.0, 14.0, t)) - t).max() < 1e-3


def test_the_air_takes_up_all_the_power() -> None:
    world = World(BOARD, (build("R1", "R1206", (20, 20)), build("U1", "SOIC-8", (40, 15), side="bottom")))
    network = HeatNetwork(world)
    assert network.heat_to_air_w(network.rises_k([0.3, 0.5])) == pytest.approx(0.8, rel=1e-9)


def test_a_strip_heated_at_its_end_cools_like_a_fin() -> None:
    # textbook: a straight fin with an insulated tip falls as cosh(m (L - x)), m² = 2 h / (k t)
    board = Board(120.0, 3.0, corner_mm=0.0, spread_w_per_k=0.006, air_w_per_m2k=10.0)
    heater = replace(build("R1", "R2512", (1.5, 1.5)), size_mm=(2.0, 2.0, 0.01), cap_share=0.0)
    heat = HeatNetwork(World(board, (heater,)), step_mm=0.25).steady([0.2], 0.0)
    x = np.linspace(25, 115, 40)
    rise = heat.board_at("bottom", x, np.full_like(x, 1.5))
    m = math.sqrt(2 * 10.0 / 0.006) * 1e-3
    expected = np.cosh(m * (120.0 - x))
    assert rise / rise[0] == pytest.approx(expected / expected[0], rel=5e-3)


def test_warming_up_ends_where_the_steady_state_is() -> None:
    world = World(BOARD, (build("R1", "R1206", (20, 20)),))
    network = HeatNetwork(world)
    early, late = network.warm_up([0.4], 25.0, [60.0, 6000.0])
    steady = network.steady([0.4], 25.0)
    assert early.part_c[0] < steady.part_c[0] - 1.0
    assert late.part_c[0] == pytest.approx(steady.part_c[0], abs=0.01)


def test_a_tall_part_leans_outwards_as_a_pinhole_has_it() -> None:
    part = replace(build("L1", "IND-8040", (50.0, 32.0)), size_mm=(6.0, 4.0, 12.0))
    scene = scene_of(part)
    px, py = np.meshgrid(np.arange(90.0, 130.0, 0.05), np.arange(20.0, 60.0, 0.05))
    identity = scene.cast(px.ravel(), py.ravel()).identity.reshape(px.shape)
    top = identity == 0
    scale = scene.pose.focal_px / (200.0 - 12.0)  # px per mm at the height of the top face
    assert px[top].mean() == pytest.approx(79.5 + (50.0 - 30.0) * scale, abs=0.02)
    assert py[top].mean() == pytest.approx(59.5 - (32.0 - 20.0) * scale, abs=0.02)
    assert top.sum() / 400 == pytest.approx(6.0 * 4.0 * scale**2, rel=0.01)
    wall = identity == 1
    assert px[wall].mean() < px[top].mean()  # the wall that is seen faces the axis


@pytest.mark.parametrize("side", ["top", "bottom"])
def test_rays_come_back_to_the_pixel_they_left(side: str) -> None:
    pose = aim((30.0, 20.0), 180.0, 40.0, (120, 160), side, (11.0, -7.0), 25.0, radial=-0.05)
    px, py = np.array([3.0, 80.0, 155.0]), np.array([110.0, 60.0, 4.0])
    rays, eye = pose.rays(px, py), pose.eye_mm
    t = (2.5 - eye[2]) / rays[2]
    points = np.stack([eye[0] + t * rays[0], eye[1] + t * rays[1], np.full(3, 2.5)], axis=1)
    if side == "bottom":
        points[:, 0] *= -1
    assert pose.project(points) == pytest.approx(np.stack([px, py], axis=1), abs=1e-6)


def test_a_part_behind_a_tall_one_is_hidden_and_one_before_it_is_not() -> None:
    tall = replace(build("K1", "RELAY-15X10", (45.0, 20.0)), size_mm=(6.0, 20.0, 14.0))
    behind, before = build("R1", "R0603", (49.0, 20.0)), build("R2", "R0603", (41.0, 20.0))
    for tilt in (15.0, -15.0):
        scene = scene_of(tall, behind, before, tilt_deg=(0.0, tilt))
        far = "R1" if scene.pose.eye_mm[0] < 45.0 else "R2"  # on the other side of K1 than the eye
        hidden = {name for name, truth in truths(scene, np.zeros(3)).items() if truth.hidden}
        assert hidden == {far}


def test_a_world_at_one_temperature_reads_that_everywhere() -> None:
    scene = scene_of(
        build("U1", "LQFP-48", (30, 20)), build("C1", "CAN-8X10", (45, 30)), build("R1", "R0603", (15, 10))
    )
    still = Instrument(tail=0.02, uneven_c=0.0, netd_c=0.0, step_c=1e-6)
    frame = frame_c(scene, still, 0)
    on_board = frame[38:82, 45:115]
    assert on_board == pytest.approx(np.full(on_board.shape, 25.0), abs=0.06)  # the bench is 0.4 K warmer


def test_a_shiny_lid_looks_colder_than_a_painted_one_as_hot() -> None:
    lid = replace(build("U1", "SHIELD-22X16", (30, 20)), emissivity=0.08)
    shiny, painted = (
        frame_c(scene_of(replace(lid, emissivity=e), powers_w=(2.0,)), Instrument(), 0)[60, 80] for e in (0.08, 0.95)
    )
    assert painted > 60.0
    assert shiny < 40.0


def test_blur_and_refinement_keep_the_light() -> None:
    scene = scene_of(build("R1", "R0603", (30, 20)), powers_w=(0.3,))
    coarse, fine = leaving_picture(scene, 3, 4).mean(), leaving_picture(scene, 6, 4).mean()
    assert coarse == pytest.approx(fine, rel=2e-4)


def test_the_mean_of_a_chip_is_below_its_peak_by_a_parabola() -> None:
    scene = scene_of(build("R1", "R1206", (30, 20)), powers_w=(0.5,))
    truth = truths(scene, np.array([0.5]))["R1"]
    over = scene.heat.part_c[0] - scene.heat.under_c[0]
    assert truth.peak_c is not None
    assert truth.mean_c is not None
    assert truth.peak_c - truth.mean_c == pytest.approx(0.4 * over / 3, abs=0.12 * over)
    assert truth.source


def test_the_same_seed_makes_the_same_files(tmp_path: Path) -> None:
    digests = []
    for name in ("one", "two"):
        make_board(tmp_path / name, KINDS["small"], 5)
        files = sorted((tmp_path / name).iterdir())
        digests.append([(path.name, hashlib.sha256(path.read_bytes()).hexdigest()) for path in files])
    assert digests[0] == digests[1]
    assert len(digests[0]) == 8
