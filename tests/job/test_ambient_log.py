"""A drifting room is no warming up of the board."""

from pathlib import Path

import numpy as np
import pytest

from overlay.errors import InputError
from overlay.job.ambient_log import read_ambient_log
from overlay.reading.warmup import WarmUp, fit_warm_up


def log(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "ambient.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_log_is_read_and_met_between_its_entries(tmp_path: Path) -> None:
    found = read_ambient_log(log(tmp_path, "time_s,ambient_c\n0,22\n100,24\n"), "ambient.csv")
    assert found.at(np.array([-5.0, 25.0, 100.0])).tolist() == [22.0, 22.5, 24.0]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("time_s,ambient_c\n0,22\n0,23\n", "do not ascend"),
        ("time_s,ambient_c\n0,22\n", "fewer than two"),
        ("time_s,ambient_c\n0,warm\n5,23\n", "warm"),
    ],
)
def test_a_log_that_cannot_be_used_says_why(tmp_path: Path, text: str, what: str) -> None:
    with pytest.raises(InputError, match=what):
        read_ambient_log(log(tmp_path, text), "ambient.csv")


def test_rises_over_a_drifting_room_settle_where_curves_do_not(tmp_path: Path) -> None:
    times = np.linspace(0.0, 1200.0, 25)
    room = 22.0 + 4.0 * times / 1200.0
    rows = "\n".join(f"{time:.1f},{value:.4f}" for time, value in zip(times, room, strict=True))
    found = read_ambient_log(log(tmp_path, f"time_s,ambient_c\n{rows}\n"), "ambient.csv")
    rises = np.array([[40.0], [15.0]]) * (1.0 - np.exp(-times / 200.0))
    noise = np.random.default_rng(1).normal(0.0, 0.03, rises.shape)
    curves = room + rises + noise
    fitted = fit_warm_up(times, curves - (found.at(times) - room[-1]), np.full(2, 0.03))
    assert isinstance(fitted, WarmUp)
    assert fitted.settled_c == pytest.approx(room[-1] + np.array([40.0, 15.0]), abs=0.3)
