"""results.json agrees with itself: every hot spot's pixel is the projection of its place on the board."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from overlay.report.results import results
from tests.truth.worlds.folder import make_folder


def through_the_pose(registration: dict[str, Any], side: str, xyz_mm: list[float]) -> np.ndarray:
    """A pixel by the pose that stands in results.json, written out from the contract and nothing else."""
    if "pose" not in registration:
        u, v, w = np.array(registration["pixel_from_board"]) @ [xyz_mm[0], xyz_mm[1], 1.0]
        return np.array([u / w, v / w])
    pose = registration["pose"]
    mirror = -1.0 if side == "bottom" else 1.0
    seen = np.array(pose["rotation"]) @ (np.array(xyz_mm) * [mirror, 1.0, 1.0]) + pose["translation_mm"]
    bent = seen[:2] / seen[2]
    bent = bent * (1.0 + pose["radial"] * float(bent @ bent))
    return np.array(pose["center_px"]) + pose["focal_px"] * bent


def agrees_with_itself(analysis: Analysis) -> int:
    count = 0
    for capture in json.loads(json.dumps(results(analysis)))["captures"]:
        for spot in capture["hot_spots"]:
            place = through_the_pose(capture["registration"], capture["side"], [*spot["board_mm"], spot["z_mm"]])
            assert np.hypot(*(place - spot["pixel"])) < 0.01, (capture["name"], spot["rank"])
            count += 1
    return count


def test_every_hot_spot_of_the_demo_lies_where_its_place_is_seen(demo: Analysis) -> None:
    assert agrees_with_itself(demo) >= 15


@pytest.mark.parametrize("world", ["tilt", "rough"])
def test_every_hot_spot_of_a_foreign_world_lies_where_its_place_is_seen(world: str, tmp_path: Path) -> None:
    assert agrees_with_itself(analyse(read_job(make_folder(tmp_path / world, world, 1)))) > 3
