"""The curve of a lens's skirt: published values, a user's own, and what is left once the blur is undone."""

from pathlib import Path

import numpy as np
import pytest

from overlay.errors import InputError
from overlay.frames.size_of_source import PUBLISHED, read_size_of_source


def test_ideal_optics_show_0_89_at_3_px_and_0_97_at_10() -> None:
    assert PUBLISHED.at(np.array([3.0, 10.0])) == pytest.approx([0.892, 0.969])


def test_larger_sources_show_more_and_the_largest_all() -> None:
    share = PUBLISHED.at(np.linspace(0.5, 400.0, 500))
    assert np.all(np.diff(share) >= 0)
    assert share[-1] > 0.999


def test_what_the_blur_takes_is_not_taken_twice() -> None:
    left = PUBLISHED.beyond_the_blur(np.array([[1.0, 1.0], [3.0, 3.0], [10.0, 10.0]]), 0.55)
    assert np.all(left <= 1.0)
    assert left[1] > 0.892  # part of what is lost at 3 px is the blur's
    assert left[2] == pytest.approx(0.969, abs=0.002)


def test_a_measured_curve_is_read_and_wrong_rows_are_all_named(tmp_path: Path) -> None:
    good = tmp_path / "curve.csv"
    good.write_text("side_px,share\n2,0.8\n6,0.95\n20,0.99\n")
    curve = read_size_of_source(good, "curve.csv")
    assert curve.measured
    assert curve.at(np.array([4.0]))[0] == pytest.approx(0.875)
    bad = tmp_path / "bad.csv"
    bad.write_text("side_px,share\n6,0.95\n2,0.8\n9,nine\n")
    with pytest.raises(InputError) as caught:
        read_size_of_source(bad, "bad.csv")
    assert [problem.line for problem in caught.value.problems] == [3, 4]
