"""What of a top face is read."""

import pytest

from overlay.board.anatomy import CAP_SHARE
from overlay.view.tops import inner_of, tops_of


def test_sides_and_scale_are_those_of_the_projected_face(bench) -> None:
    (top,) = tops_of(bench.view(bench.part("U1", (20.0, 15.0), (6.0, 3.0))).faces, 1.3)
    assert top.short_px == pytest.approx(15.0, abs=1e-3)
    assert top.readable_px == pytest.approx(15.0, abs=1e-3)
    assert top.long_readable_px == pytest.approx(30.0, abs=1e-3)
    assert top.px_per_mm == pytest.approx(5.0, abs=1e-3)


def test_a_round_face_is_as_wide_as_its_diameter(bench) -> None:
    (top,) = tops_of(bench.view(bench.part("C1", (20.0, 15.0), (4.0, 4.0), shape="round")).faces, 1.3)
    assert top.short_px == pytest.approx(20.0, rel=0.01)


def test_metal_ends_lie_along_the_package_and_are_not_read(bench) -> None:
    (top,) = tops_of(bench.view(bench.part("R1", (20.0, 15.0), (3.2, 1.6), terminals="ends")).faces, 1.3)
    assert len(top.ends) == 2
    areas = [end.area for end in top.ends]
    assert areas == pytest.approx([CAP_SHARE * 16.0 * 8.0] * 2, rel=1e-3)
    middles = sorted(end.centroid.x for end in top.ends)
    assert middles[1] - middles[0] == pytest.approx((1.0 - CAP_SHARE) * 16.0, rel=1e-3)
    assert top.seen.area == pytest.approx((1.0 - 2.0 * CAP_SHARE) * 16.0 * 8.0, rel=1e-3)
    assert top.readable_px == pytest.approx(8.0, abs=1e-3)


@pytest.mark.parametrize(("side_mm", "least_px"), [(1.0, 1.0), (1.6, 1.5), (6.0, 2.5)])
def test_larger_faces_keep_further_from_their_edges(bench, side_mm: float, least_px: float) -> None:
    (top,) = tops_of(bench.view(bench.part("U1", (20.0, 15.0), (side_mm, side_mm))).faces, 1.3)
    assert least_px < top.margin_px < least_px + 1.0
    assert inner_of([top])[0].area == pytest.approx((5.0 * side_mm - 2.0 * top.margin_px) ** 2, rel=1e-6)


def test_a_wider_blur_keeps_further_off(bench) -> None:
    faces = bench.view(bench.part("U1", (20.0, 15.0), (6.0, 6.0))).faces
    assert tops_of(faces, 3.3)[0].margin_px == pytest.approx(tops_of(faces, 1.3)[0].margin_px + 2.0)


def test_nothing_is_made_of_no_faces() -> None:
    assert tops_of([], 1.3) == ()
