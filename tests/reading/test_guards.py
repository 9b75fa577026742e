"""Readings that the frame does not bear out are held back, or become a bound."""

from dataclasses import replace

import numpy as np
import pytest

from overlay.board.model import Body
from overlay.frames.flaws import find_flaws
from overlay.reading.guards import fin_share
from overlay.reading.model import ReadingCode
from overlay.reading.read_components import read_view
from overlay.view.model import View
from tests.plain_board import Bench, Part, Setting, unsolved, view_of


def codes(reading) -> list[str]:  # type: ignore[no-untyped-def]
    return [reason.code for reason in reading.why]


@pytest.mark.parametrize("emissivity", [0.05, 0.1, 0.2])
@pytest.mark.parametrize("size_mm", [(6.0, 6.0), (3.0, 3.0), (1.6, 0.9)])
def test_a_metal_top_taken_for_a_moulded_one_is_held_back(
    bench: Bench, emissivity: float, size_mm: tuple[float, float]
) -> None:
    metal = bench.part("U1", (20, 15), size_mm, 80.0, emissivity=emissivity, believed=0.94)
    found = bench.read(metal, board_c=lambda x, y: 35.0 + 25.0 * np.exp(-np.hypot(x - 20, y - 15) / 8.0))
    assert found.readings[0].state == "shiny"
    assert ReadingCode.COLDER_THAN_BOARD in codes(found.readings[0])


def test_moulded_parts_that_are_cooler_than_a_warm_board_are_read(bench: Bench) -> None:
    parts = [bench.part(f"C{i}", (5.0 + 6.0 * i, 15.0), (3.0, 2.0), 46.0 + i, emissivity=0.9) for i in range(6)]
    found = bench.read(*parts, board_c=lambda x, y: 42.0 + 0.5 * x)
    assert [reading.state for reading in found.readings] == ["read"] * 6


def test_on_a_board_no_warmer_than_the_room_nothing_is_held_back(bench: Bench) -> None:
    found = bench.read(bench.part("U1", (20, 15), (6.0, 6.0), 22.5), board_c=24.0)
    assert found.readings[0].state == "read"


def band_over(bench: Bench, band_c: float, part_c: float) -> list[str]:
    """States of a part within an even band 3 mm wide, as a cable or a trace is, and of eight parts beside it."""
    under = bench.part("C1", (20.0, 15.0), (2.0, 1.2), part_c, emissivity=0.92)
    beside = [
        bench.part(f"C{i}", (6.0 + 8.0 * (i % 4), 6.0 if i < 6 else 24.0), (3.0, 2.0), 46.0, emissivity=0.9)
        for i in range(2, 10)
    ]
    found = bench.read(under, *beside, board_c=lambda x, y: np.where(np.abs(y - 15.0) < 1.5, band_c, 46.0))
    assert all(reading.state == "read" for reading in found.readings[1:])
    return [found.readings[0].state, *codes(found.readings[0])]


def test_a_part_under_a_cable_that_no_file_lists_is_not_read_as_cool_as_the_cable(bench: Bench) -> None:
    """The coldest of the board around it is the cable too; such parts were called clear."""
    state, *why = band_over(bench, 26.0, 26.0)
    assert state == "hidden"
    assert ReadingCode.COVERED in why


def test_a_cool_part_on_a_hot_trace_is_read(bench: Bench) -> None:
    assert band_over(bench, 75.0, 46.0)[0] in ("read", "small")


def test_a_tall_moulded_body_keeps_less_of_the_boards_rise() -> None:
    shares = [fin_share(Body(10.0, 10.0, height, "a test")) for height in (0.5, 3.0, 8.0, 15.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.99
    # 1/cosh(mh), m² = hP/(kA) = 12·0.04/(0.25·1e-4) 1/m², h 15 mm
    assert shares[-1] == pytest.approx(1.0 / np.cosh(np.sqrt(12.0 * 0.04 / (0.25 * 1e-4)) * 0.015))


def cut_off(end_c: float) -> View:
    view = view_of([Part("R1", (20, 15), (6.0, 5.0), 120.0), Part("R2", (8, 8), (6.0, 5.0), 60.0)], Setting())
    cut = np.minimum(view.apparent_c, end_c)
    leaving = np.minimum(view.leaving_radiance, view.band.radiance(end_c))
    return replace(view, apparent_c=cut, leaving_radiance=leaving, saturated=find_flaws(cut[None]).saturated)


def test_a_part_hotter_than_the_range_is_a_lower_bound_and_its_neighbour_is_read() -> None:
    view = cut_off(90.0)
    hot, other = read_view(view, unsolved(view)).readings
    assert hot.state == "saturated"
    assert hot.peak_c == pytest.approx(94.0, abs=2.0)  # 90 °C apparent at emissivity 0.94: nothing sharpened
    assert other.state == "read"
    assert other.peak_c == pytest.approx(60.0, abs=1.0)


def test_a_part_half_under_a_mark_is_not_read_and_one_with_a_dead_pixel_says_so() -> None:
    view = view_of([Part("R1", (20, 15), (4.0, 4.0), 60.0), Part("R2", (8, 8), (4.0, 4.0), 60.0)], Setting())
    left_out = np.zeros(view.apparent_c.shape, dtype=bool)
    left_out[66:80, 90:115] = True  # over the upper half of R1 and more
    left_out[int(2.5 + 22 * 5), int(2.5 + 8 * 5)] = True
    view = replace(view, left_out=left_out)
    under, beside = read_view(view, unsolved(view)).readings
    assert under.state == "hidden"
    assert beside.state == "read"
    assert ReadingCode.LOST_PIXELS in codes(under)
    assert ReadingCode.LOST_PIXELS in codes(beside)


def test_a_second_frame_with_a_warm_hand_over_the_board_shows_mirrors_only() -> None:
    def parts(mirrors_c: float | None) -> list[Part]:
        dull = [Part(f"U{i}", (6.0 + 9.0 * i, 20.0), (5.0, 4.0), 50.0, 0.92, mirrors_c=mirrors_c) for i in range(3)]
        # warm enough to look like a dull part
        return [*dull, Part("Q1", (20, 7), (5.0, 4.0), 130.0, 0.25, believed=0.94, mirrors_c=mirrors_c)]

    view = view_of(parts(None), Setting())
    second = view_of(parts(34.0), Setting(seed=2))
    assert [reading.state for reading in read_view(view, unsolved(view)).readings] == ["read"] * 4
    view = replace(view, second_apparent_c=second.apparent_c)
    readings = read_view(view, unsolved(view)).readings
    assert [reading.state for reading in readings] == ["read", "read", "read", "shiny"]
    assert ReadingCode.MIRRORS in codes(readings[-1])
