"""Facts about the foreign worlds' own drawing, and quick ones about how the library does on them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.truth.worlds.folder import make_folder
from tests.truth.worlds.instrument import Instrument, exitance, frame_c, temperature_c
from tests.truth.worlds.judge import false_clear, judge
from tests.truth.worlds.solids import BENCH, BOARD, TOP, WALL, Skin, Solid, cast, look_at

_SKIN = Skin(20.0, 0.9)


def test_a_box_from_above_covers_its_area_at_its_height() -> None:
    eye = look_at((30.0, 20.0), 100.0, 40.0, (120, 160), 0.0, 0.0, 0.0)
    hits = cast(eye, [Solid("U1", "box", (30.0, 20.0), 30.0, (8.0, 6.0, 10.0), _SKIN)], (60.0, 40.0), 3)
    px_per_mm = eye.focal_px / 90.0
    seen = ((hits.solid == 0) & (hits.face == TOP)).sum() / 9
    assert seen == pytest.approx(48.0 * px_per_mm**2, rel=0.01)
    assert hits.tops_seen["U1"] == hits.tops_alone["U1"]
    assert {BENCH, BOARD} <= set(np.unique(hits.solid).tolist())


def test_a_leaning_box_shows_a_wall_as_high_as_it_is() -> None:
    eye = look_at((30.0, 20.0), 4000.0, 1.2, (120, 160), 30.0, 180.0, 0.0)
    hits = cast(eye, [Solid("U1", "box", (30.0, 20.0), 0.0, (8.0, 6.0, 10.0), _SKIN)], (60.0, 40.0), 3)
    walls, tops = ((hits.solid == 0) & (hits.face == face) for face in (WALL, TOP))
    # far away: areas as parallel light would show them
    ratio = 10.0 * np.sin(np.radians(30)) / (8.0 * np.cos(np.radians(30)))
    assert walls.sum() / tops.sum() == pytest.approx(ratio, rel=0.03)


def test_what_stands_in_front_hides_the_share_it_covers() -> None:
    eye = look_at((30.0, 20.0), 4000.0, 1.0, (120, 160), 0.0, 0.0, 0.0)
    low = Solid("R1", "box", (30.0, 20.0), 0.0, (8.0, 6.0, 1.0), _SKIN)
    lid = Solid("", "box", (32.0, 20.0), 0.0, (4.0, 8.0, 1.0), _SKIN, 5.0)
    hits = cast(eye, [low, lid], (60.0, 40.0), 3)
    assert hits.tops_seen["R1"] / hits.tops_alone["R1"] == pytest.approx(0.5, abs=0.02)


def test_a_rod_is_as_long_and_as_thick_as_it_is_said() -> None:
    eye = look_at((30.0, 20.0), 4000.0, 0.8, (120, 160), 0.0, 0.0, 0.0)
    rod = Solid("R1", "rod", (30.0, 20.0), 20.0, (20.0, 4.0, 4.0), _SKIN, 1.0)
    hits = cast(eye, [rod], (60.0, 40.0), 3)
    px_per_mm = eye.focal_px / 4000.0
    assert (hits.solid == 0).sum() / 9 == pytest.approx(80.0 * px_per_mm**2, rel=0.02)


def test_an_even_scene_is_shown_as_its_temperature_with_offset_and_gain() -> None:
    instrument = Instrument(noise_k=0.0, pattern_k=0.0, offset_k=1.0, gain=1.1)
    shown = frame_c(np.full((40, 60), exitance(45.0)), 2, instrument, 25.0, np.random.default_rng(1))
    assert shown == pytest.approx(25.0 + 1.1 * 20.0 + 1.0, abs=1e-3)
    assert temperature_c(exitance(137.3)) == pytest.approx(137.3, abs=1e-2)


def test_a_foreign_world_is_read_better_than_the_plain_way(tmp_path: Path) -> None:
    outcome = judge(make_folder(tmp_path / "job", "warm bench", 1))
    able = [part for part in outcome.parts if part.call == "readable"]
    read = [part for part in able if part.is_read]
    errors = np.abs([part.error_k for part in read])
    assert len(read) == len(able)
    assert outcome.named == len(outcome.sources) == 5
    assert np.mean(errors <= 2 * np.array([part.u_c for part in read])) >= 0.93
    assert np.percentile(errors, 95) < np.percentile(np.abs([part.plain_error_k for part in read]), 95)
    assert not [part.refdes for part in outcome.parts if part.absurd or false_clear(part)]


def test_the_same_seed_draws_the_same_world(tmp_path: Path) -> None:
    one, other = (make_folder(tmp_path / name, "idle", 2) for name in ("a", "b"))
    for file in ("frame.npy", "truth.csv", "points.csv", "job.toml"):
        assert (one / file).read_bytes() == (other / file).read_bytes(), file
