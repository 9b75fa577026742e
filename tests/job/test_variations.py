"""The same small simulated board under other jobs: fewer points, wrong points, less told, other files.

Whatever is left out of a job may widen what is said of a part, but must not make it wrong in silence.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile

from demo_board.simulation.rays import Pose, aim
from overlay.board.model import Board, Body, Component, Outline
from overlay.job.analyse import analyse
from overlay.job.capture import _sampling
from overlay.job.load import load_files
from overlay.job.read import read_job
from overlay.registration.fit import fit_registration
from overlay.registration.model import ControlPoint, Lens, Registration
from tests.truth.harvest import Harvest, harvest

Change = Callable[[Path], None]


def varied(folder: Path, place: Path, *changes: Change) -> Path:
    shutil.copytree(folder, place)
    for change in changes:
        change(place)
    return place


def without(*keys: str) -> Change:
    """Drop lines of job.toml."""

    def change(place: Path) -> None:
        lines = (place / "job.toml").read_text(encoding="utf-8").splitlines()
        kept = [line for line in lines if line.partition(" = ")[0] not in keys]
        assert len(kept) == len(lines) - len(keys)
        (place / "job.toml").write_text("\n".join(kept) + "\n", encoding="utf-8")

    return change


def framed(name: str, *more: str) -> Change:
    def change(place: Path) -> None:
        text = (place / "job.toml").read_text(encoding="utf-8")
        told = "\n".join([f'frame = "{name}"', *more])
        (place / "job.toml").write_text(text.replace('frame = "top.tiff"', told), encoding="utf-8")

    return change


def pointed(keep: Callable[[int], bool] = lambda _: True, by_px: float = 0.0) -> Change:
    """Keep some of the control points, and move all of them."""

    def change(place: Path) -> None:
        path = place / "top.points.csv"
        head, *rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        moved = [
            [f"{float(row[0]) + by_px:.2f}", f"{float(row[1]) + by_px:.2f}", *row[2:]]
            for number, row in enumerate(rows)
            if keep(number)
        ]
        path.write_text("\n".join(",".join(row) for row in [head, *moved]) + "\n", encoding="utf-8")

    return change


def hold(found: Harvest) -> None:
    """Nothing over is called clear, nothing shiny is judged, and values lie within what is said of them."""
    outcomes = found.outcomes
    assert not [o.refdes for o in outcomes if o.verdict == "clear" and (o.true_margin_c or 0.0) < 0.0]
    assert not [o.refdes for o in outcomes if o.shiny and o.verdict not in ("", "unseen")]
    read = [o for o in outcomes if o.state in ("read", "small") and o.error_k is not None and not o.shiny]
    assert len(read) >= 15
    far = {o.refdes: (o.error_k, o.u_c) for o in read if abs(o.error_k or 0.0) > 3.5 * (o.u_c or 0.0)}
    assert far == {}


@pytest.mark.parametrize(
    "changes",
    [
        (without("hfov_deg"),),
        (without("blur_px"),),
        (without("distance_m", "outline"),),
        (without("bodies"),),
        (pointed(lambda k: k < 3),),
        (pointed(lambda k: k in (0, 3)), without("hfov_deg")),
        (pointed(by_px=3.0),),
    ],
    ids=[
        "no field of view",
        "no blur",
        "neither distance nor outline",
        "no bodies table",
        "three points",
        "two points and no field of view",
        "all points three pixels off",
    ],
)
def test_readings_hold_whatever_the_job_leaves_out(
    small_board: Path, tmp_path: Path, changes: tuple[Change, ...]
) -> None:
    hold(harvest(varied(small_board, tmp_path / "job", *changes), "small"))


def test_points_that_leave_the_board_open_are_completed_by_the_frame_which_says_so(
    small_board: Path, tmp_path: Path
) -> None:
    place = varied(small_board, tmp_path / "job", pointed(lambda k: k in (0, 3)))
    registration = analyse(read_job(place)).captures[0].registration
    assert registration.refined
    assert any("the frame's own outline and parts decided" in warning for warning in registration.warnings)


def test_points_that_are_all_wrong_together_are_found_out(small_board: Path, tmp_path: Path) -> None:
    place = varied(small_board, tmp_path / "job", pointed(by_px=3.0))
    registration = analyse(read_job(place)).captures[0].registration
    assert any("check which pixel the points count from" in warning for warning in registration.warnings)
    assert min(item.residual_px for item in registration.points) > 2.0


def test_good_points_agree_with_the_frame_and_nothing_is_said(small_board: Path) -> None:
    registration = analyse(read_job(small_board)).captures[0].registration
    assert registration.confidence is not None
    assert registration.confidence.moved_px < 0.5
    assert registration.warnings == ()


def test_a_frame_without_contrast_cannot_vouch_for_two_points(small_board: Path, tmp_path: Path) -> None:
    def evenly_warm(place: Path) -> None:
        frame = tifffile.imread(place / "top.tiff")
        noise = np.random.default_rng(3).normal(0.0, 0.05, frame.shape)
        tifffile.imwrite(place / "top.tiff", (30.0 + noise).astype(np.float32), photometric="minisblack")

    place = varied(small_board, tmp_path / "job", pointed(lambda k: k in (0, 3)), evenly_warm)
    registration = analyse(read_job(place)).captures[0].registration
    assert not registration.refined
    assert any("the frame itself cannot settle it" in warning for warning in registration.warnings)


def test_the_form_of_the_frame_makes_no_difference(small_board: Path, tmp_path: Path) -> None:
    def as_table(place: Path) -> None:
        rows = tifffile.imread(place / "top.tiff")
        text = "\n".join(";".join(f"{value:.2f}".replace(".", ",") for value in row) for row in rows)
        (place / "frame.csv").write_text(text + "\n", encoding="utf-8")

    def as_integers(place: Path) -> None:
        values = np.round((tifffile.imread(place / "top.tiff") + 40.0) / 0.01)
        tifffile.imwrite(place / "frame.tiff", values.astype(np.uint16), photometric="minisblack")

    def as_array(place: Path) -> None:
        np.save(place / "frame.npy", tifffile.imread(place / "top.tiff"))

    forms = {
        "table": (as_table, framed("frame.csv")),
        "integers": (as_integers, framed("frame.tiff", "frame_scale = 0.01", "frame_offset = -40.0")),
        "array": (as_array, framed("frame.npy")),
    }
    given = read_frame(small_board)
    for name, changes in forms.items():
        found = read_frame(varied(small_board, tmp_path / name, *changes))
        np.testing.assert_allclose(found, given, rtol=0, atol=0.006, err_msg=name)  # two digits are written


def read_frame(folder: Path) -> np.ndarray:
    job = read_job(folder)
    return load_files(job.folder, job.settings.capture[0], job.board).frame.temperature_c


TALL_MM, SHAPE_PX, HFOV_DEG = 10.0, (120, 160), 30.0
TALL = Component(
    refdes="C1",
    center_mm=(30.0, 20.0),
    rotation_deg=0.0,
    side="top",
    package="CAN",
    value="",
    part_number="",
    mechanical=False,
    line=2,
    body=Body(8.0, 8.0, TALL_MM, "table"),
)


def board_with_one_tall_part() -> Board:
    import shapely

    outline = Outline(shapely.box(0.0, 0.0, 60.0, 40.0), "test")
    return Board("", "", (TALL,), outline, Path("placement.csv"), "mm", "test")


def registered(pose: Pose) -> Registration:
    places = [(2.0, 2.0), (58.0, 2.0), (58.0, 38.0), (2.0, 38.0), (30.0, 36.0), (15.0, 20.0)]
    pixels = pose.project(np.array([[x, y, 0.0] for x, y in places]))
    points = [ControlPoint((u, v), (x, y), 0.0, 0.1, None, 2) for (x, y), (u, v) in zip(places, pixels, strict=True)]
    return fit_registration(points, "top", SHAPE_PX, Lens(HFOV_DEG))


def test_an_emissivity_map_from_another_pose_follows_tall_parts() -> None:
    poses = [
        aim((30.0, 20.0), 140.0, HFOV_DEG, SHAPE_PX, tilt_deg=tilt, roll_deg=roll)
        for tilt, roll in (((0.0, 0.0), 0.0), ((8.0, -9.0), 4.0))
    ]
    here, there = (registered(pose) for pose in poses)
    place = _sampling(here, there, board_with_one_tall_part())
    for x, y in ((30.0, 20.0), (27.0, 17.5), (33.0, 22.5)):
        on_top = np.array([[x, y, TALL_MM]])
        col, row = np.rint(poses[0].project(on_top)[0]).astype(int)
        assert place[row, col] == pytest.approx(poses[1].project(on_top)[0], abs=1.0)
    # what the can stands before in the other pose is not taken for the board
    lost = np.isnan(place).all(axis=-1)
    assert 20 < lost[30:90, 50:110].sum() < 600
