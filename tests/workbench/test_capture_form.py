"""A capture begun and edited: what is written into job.toml, and what stays."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from overlay.errors import InputError
from overlay.job.read_settings import read_settings
from overlay.job.settings_text import with_values
from overlay.workbench.capture_form import form_json, preview_json, write_capture
from overlay.workbench.filling import proposed_size

JOB = """# our own job
format = 1

[board]
placement = "placement.csv"  # from the layout

[[capture]]
name = "idle"   # the quiet state
frame = "idle.npy"
ambient_c = 23.0   # by the door
rise_scale = 2.0

# more to come
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    for name in ("idle", "full load"):
        np.save(tmp_path / f"{name}.npy", 30.0 + np.random.default_rng(1).random((40, 60)))
    return path


def test_a_value_is_changed_in_its_place_and_every_comment_stays(job: Path) -> None:
    cells = {"name": "idle", "frame": "idle.npy", "ambient_c": "24,5", "reflected_c": "22", "side": "top"}
    write_capture(job, "idle", cells, {})
    text = job.read_text()
    assert "ambient_c = 24.5   # by the door" in text
    assert all(
        comment in text for comment in ("# our own job", "# from the layout", "# the quiet state", "# more to come")
    )
    (capture,) = read_settings(job).capture
    assert (capture.ambient_c, capture.reflected_c, capture.rise_scale) == (24.5, 22.0, 1.0)  # emptied: taken out
    assert job.with_name("job.toml.bak").read_text() == JOB


def test_a_capture_is_begun_behind_the_others_with_a_record(job: Path) -> None:
    cells = {"frame": "full load.npy", "ambient_c": "23", "window_transmittance": "0.92"}
    assert write_capture(job, None, cells, {"operator": "A. Person"}) == "full load"
    settings = read_settings(job)
    assert [capture.name for capture in settings.capture] == ["idle", "full load"]
    assert settings.capture[1].window_transmittance == 0.92
    assert settings.record.operator == "A. Person"
    assert job.read_text().startswith("# our own job")


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"frame": "idle.npy", "ambient_c": "warm"}, "not a number"),
        ({"frame": "idle.npy"}, "ambient_c is missing"),
        ({"ambient_c": "23"}, "no frame"),
        ({"frame": "../else.npy", "ambient_c": "23"}, "outside the job's folder"),
        ({"frame": "idle.npy", "ambient_c": "23", "name": "idle"}, "two captures"),
        ({"frame": "idle.npy", "ambient_c": "23", "frame_emissivity": "0.9"}, "frame_reflected_c"),
    ],
)
def test_what_cannot_be_used_is_said_and_nothing_is_written(job: Path, cells: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words):
        write_capture(job, None, cells, {})
    assert job.read_text() == JOB


def test_the_form_offers_frames_and_shows_what_stands_in_the_file(job: Path) -> None:
    form = form_json(job.parent, read_settings(job))
    assert form["frames"] == ["full load.npy", "idle.npy"]
    assert form["captures"]["idle"] == {"name": "idle", "frame": "idle.npy", "ambient_c": "23.0", "rise_scale": "2.0"}


def test_a_preview_shows_the_frame_or_why_it_is_none(job: Path) -> None:
    shown = preview_json(job.parent, {"frame": "idle.npy"})
    assert shown["shape"] == [40, 60]
    assert shown["picture"]["shape"] == [40, 60]
    counts = job.parent / "counts.npy"
    np.save(counts, np.full((20, 20), 30000, dtype=np.uint16) + np.arange(20, dtype=np.uint16))
    assert "raw sensor counts" in preview_json(job.parent, {"frame": "counts.npy"})["problem"]
    cells = {"frame": "counts.npy", "frame_scale": "0.01", "frame_offset": "-273.15"}
    assert preview_json(job.parent, cells)["range"] == [26.9, 27.9]


def test_values_taken_out_and_added_leave_the_rest_as_it_is() -> None:
    changed = with_values(JOB, "capture", 0, {"rise_scale": None, "name": "idle", "side": "bottom"})
    assert tomllib.loads(changed)["capture"] == [
        {"name": "idle", "side": "bottom", "frame": "idle.npy", "ambient_c": 23.0}
    ]
    assert "# by the door" in changed


def test_sizes_are_proposed_from_names_that_say_them() -> None:
    assert proposed_size("MOD-12x8.5x2") == {"length_mm": "12", "width_mm": "8.5", "height_mm": "2"}
    assert proposed_size("SENS_3.2x2.5mm") == {"length_mm": "3.2", "width_mm": "2.5"}
    assert proposed_size("CAN-8X10") == {"length_mm": "8", "width_mm": "8", "height_mm": "10", "shape": "round"}
    assert proposed_size("SCAN-8X10") == {"length_mm": "8", "width_mm": "10"}
    assert proposed_size("XTR-P7") == {}
    assert proposed_size("GRID_200x100") == {}
