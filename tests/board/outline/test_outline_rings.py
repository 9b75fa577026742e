"""Lines joined into rings, and rings into a board's edge."""

import math

import numpy as np
import pytest

from overlay.board.outline.join import join
from overlay.board.outline.layers import choose_layers
from overlay.board.outline.rings import edge_of, edge_round
from overlay.board.outline.strokes import Linework, Stroke
from overlay.errors import Problem


def stroke(*points: tuple[float, float], line: int | None = None, layer: str = "") -> Stroke:
    return Stroke(np.array(points, dtype=float), line, layer)


def box(west: float, south: float, east: float, north: float, line: int | None = None, layer: str = "") -> Stroke:
    return stroke((west, south), (east, south), (east, north), (west, north), (west, south), line=line, layer=layer)


def ring(x: float, y: float, radius: float, line: int | None = None) -> Stroke:
    angle = np.linspace(0, math.tau, 65)
    xy = np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])
    xy[-1] = xy[0]
    return Stroke(xy, line)


def edge(*strokes: Stroke) -> tuple[object, list[Problem]]:
    return edge_of(Linework(strokes, ""), "edge")


def test_ends_within_a_hundredth_of_a_millimetre_join_silently() -> None:
    area, problems = edge(
        stroke((0, 0), (40, 0.008)), stroke((40, 0), (40, 30)), stroke((0, 30.005), (40, 30)), stroke((0, 30), (0, 0))
    )
    assert not problems
    assert area.area == pytest.approx(1200, abs=0.3)  # type: ignore[attr-defined]


def test_a_gap_up_to_a_tenth_of_a_millimetre_is_bridged_and_told() -> None:
    area, problems = edge(stroke((0, 0), (40, 0), (40, 30), line=4), stroke((40.06, 30), (0, 30), (0, 0), line=9))
    assert area is not None
    assert [problem.severity for problem in problems] == ["warning"]
    assert "gap of 0.060 mm between (40, 30) mm and (40.06, 30) mm" in problems[0].what


def test_half_a_millimetre_is_bridged_where_nothing_closes_without() -> None:
    area, problems = edge(stroke((0, 0), (40, 0), (40, 30), line=4), stroke((39.6, 30), (0, 30), (0, 0), line=9))
    assert area is not None
    assert [problem.severity for problem in problems] == ["warning"]
    assert "gap of 0.400 mm" in problems[0].what
    area, problems = edge(box(0, 0, 40, 30), stroke((5, 5), (9, 5), line=3), stroke((9.4, 5), (9, 9), (5, 5.4), line=4))
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]
    assert "2 open lines beside the closed contour left out" in problems[0].what


def test_many_gaps_are_one_warning_that_names_the_widest() -> None:
    area, problems = edge(
        stroke((0, 0), (40, 0)), stroke((40.02, 0), (40, 30)), stroke((40, 30.06), (0, 30)), stroke((0, 29.97), (0, 0))
    )
    assert area is not None
    assert len(problems) == 1
    assert "3 gaps, the widest of 0.060 mm between (40, 30) mm and (40, 30.06) mm" in problems[0].what


def test_a_wider_gap_is_an_error_that_names_both_ends() -> None:
    area, problems = edge(stroke((0, 0), (40, 0), (40, 30), line=4), stroke((39.2, 30), (0, 30), (0, 0), line=9))
    assert area is None
    assert "gap of 0.800 mm between" in problems[0].what
    assert "(40, 30) mm" in problems[0].what
    assert "(39.2, 30) mm" in problems[0].what


def test_of_a_whole_drawing_the_smallest_contour_round_the_parts_is_the_edge() -> None:
    frame, board, symbols = box(-60, -60, 120, 90), box(0, 0, 40, 30), [ring(8 * n, 15, 1) for n in range(1, 5)]
    parts = np.array([(4.0 + 4 * n, 3.0 + 3 * n) for n in range(9)])
    found = edge_round(Linework((frame, board, *symbols), ""), parts, "all.gbr")
    assert found is not None
    assert found[0].bounds == (0, 0, 40, 30)
    assert "40.00 × 30.00 mm" in found[1].what
    assert edge_round(Linework((board,), ""), parts + 500.0, "all.gbr") is None


def test_arcs_cut_into_segments_shorter_than_the_tolerance_keep_their_shape() -> None:
    angle = np.linspace(0, math.tau, 2001)
    points = 2.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    pieces = [Stroke(points[i : i + 2]) for i in range(2000)]
    area, problems = edge(*pieces[::2], *pieces[1::2])
    assert not problems
    assert area.area == pytest.approx(math.pi * 4, abs=0.001)  # type: ignore[attr-defined]


def test_a_closed_hole_is_not_taken_for_a_board_whose_edge_is_open() -> None:
    area, problems = edge(stroke((0, 0), (40, 0), (40, 30), (0, 30), (0, 1), line=7), ring(10, 10, 3))
    assert area is None
    assert problems[-1].line == 7
    assert "open" in problems[-1].what


def test_nor_where_the_open_edge_consists_of_two_parts() -> None:
    area, problems = edge(
        stroke((2, 0), (40, 0), (40, 29.1)), stroke((39.2, 30), (0, 30), (0, 0), (0.7, 0)), ring(10, 10, 3)
    )
    assert area is None
    assert "open" in problems[-1].what


def test_open_lines_inside_and_beside_a_closed_edge_are_left_out_and_told() -> None:
    area, problems = edge(
        box(0, 0, 40, 30), stroke((5, 5), (9, 5), line=12), stroke((0, -5), (40, -5), line=15), stroke((50, 0), (50, 9))
    )
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 12)]
    assert "3 open lines" in problems[0].what


def test_a_witness_line_from_a_corner_changes_nothing() -> None:
    sides = [stroke((0, 0), (40, 0)), stroke((40, 0), (40, 30)), stroke((40, 30), (0, 30)), stroke((0, 30), (0, 0))]
    area, problems = edge(*sides, stroke((40, 30), (60, 30)))
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]
    assert "branch at (40, 30) mm" in problems[0].what


def test_boards_that_share_an_edge_are_one_outline() -> None:
    half = [stroke((0, 0), (20, 0), (20, 30), (0, 30), (0, 0)), stroke((20, 0), (40, 0), (40, 30), (20, 30))]
    area, _ = edge(*half)
    assert area is not None


def test_lines_that_overshoot_their_corners_are_cut_at_the_crossings() -> None:
    area, problems = edge(
        stroke((-0.5, 0), (40.5, 0)),
        stroke((40, -0.5), (40, 30.5)),
        stroke((40.5, 30), (-0.5, 30)),
        stroke((0, 30.5), (0, -0.5)),
    )
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]
    assert "cross each other" in problems[0].what


def test_rings_inside_are_cut_outs_and_their_order_does_not_matter() -> None:
    strokes = [ring(5, 5, 2), box(0, 0, 40, 30), box(10, 10, 20, 20), ring(35, 25, 2)]
    for arranged in (strokes, strokes[::-1]):
        area, problems = edge(*arranged)
        assert not problems
        assert len(area.interiors) == 3  # type: ignore[attr-defined]


def test_a_cut_out_that_touches_the_edge_notches_it() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(0, 10, 5, 20))
    assert not problems
    assert area.area == pytest.approx(1150)  # type: ignore[attr-defined]
    assert not area.interiors  # type: ignore[attr-defined]


def test_a_hole_across_the_edge_is_cut_out_and_told() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(-2, 10, 3, 20, line=8))
    assert area.area == pytest.approx(1170)  # type: ignore[attr-defined]
    assert (problems[0].severity, problems[0].line) == ("warning", 8)


def test_cut_outs_that_overlap_are_doubted() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(5, 5, 10, 10), box(8, 8, 15, 15))
    assert area.area == pytest.approx(1200 - 25 - 49 + 4)  # type: ignore[attr-defined]
    assert "overlap" in problems[0].what


def test_two_large_contours_that_cross_are_refused() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(20, 10, 60, 40))
    assert area is None
    assert "cross" in problems[0].what


def test_separate_contours_are_a_panel_and_small_marks_beside_are_not() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(50, 0, 90, 30), ring(100, 0, 0.8, line=3))
    assert area.geom_type == "MultiPolygon"  # type: ignore[attr-defined]
    assert area.area == pytest.approx(2400)  # type: ignore[attr-defined]
    assert ["small" in problem.what for problem in problems] == [True, False]


def test_the_frame_of_a_drawing_is_not_the_board() -> None:
    area, problems = edge(box(-50, -50, 150, 100), box(0, 0, 40, 30), ring(5, 5, 2), ring(35, 25, 2))
    assert area.bounds == pytest.approx((0, 0, 40, 30))  # type: ignore[attr-defined]
    assert len(area.interiors) == 2  # type: ignore[attr-defined]
    assert "frame" in problems[0].what


def test_a_mark_inside_a_hole_is_left_out() -> None:
    area, problems = edge(ring(20, 15, 30), ring(5, 5, 2), ring(5, 5, 0.5))
    assert len(area.interiors) == 1  # type: ignore[attr-defined]
    assert "inside a cut-out" in problems[0].what


def test_a_keep_out_line_along_the_edge_is_not_a_cut_out() -> None:
    area, problems = edge(box(0, 0, 40, 30), box(1, 1, 39, 29, line=6))
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]
    assert (problems[0].line, "1.00 mm inside" in problems[0].what) == (6, True)


def test_a_ring_shaped_board_keeps_its_hole() -> None:
    area, problems = edge(ring(0, 0, 30), ring(0, 0, 15))
    assert not problems
    assert area.area == pytest.approx(math.pi * (900 - 225), rel=0.01)  # type: ignore[attr-defined]


def test_a_path_out_and_back_along_one_line_encloses_a_hole() -> None:
    area, problems = edge(
        stroke((0, 0), (40, 0), (40, 40), (0, 40), (0, 0), (10, 10), (10, 30), (30, 30), (30, 10), (10, 10), (0, 0))
    )
    assert not problems
    assert area.area == pytest.approx(1200)  # type: ignore[attr-defined]


def test_joining_keeps_the_first_line_of_each_ring() -> None:
    joined = join([stroke((0, 0), (4, 0), (4, 4), line=9), stroke((0, 0), (0, 4), (4, 4), line=5)], "edge")
    assert [piece.line for piece in joined.rings] == [5]
    assert not joined.chains


def layered(*strokes: Stroke) -> tuple[set[str], list[Problem]]:
    def closes(chosen: object) -> bool:
        return edge_of(Linework(tuple(chosen), ""), "edge")[0] is not None  # type: ignore[arg-type]

    drawing, problems = choose_layers(Linework(strokes, ""), "edge", closes)
    return {piece.layer for piece in drawing.strokes}, problems


@pytest.mark.parametrize(
    "name",
    ["Edge.Cuts", "EDGE_CUTS", "Board Outline", "BOARD_OUTLINE", "pcb-edge", "Outline", "Profile", "Board", "Dimension"]
    + ["Mechanical 1", "Kontur", "BoardOutline", "board geometry", "Border", "keep-out"],
)
def test_layers_that_mean_the_edge_are_known_by_their_names(name: str) -> None:
    kept, problems = layered(box(0, 0, 40, 30, layer=name), box(-9, -9, 90, 90, layer="Sheet"))
    assert kept == {name}
    assert "left out" in problems[0].what


@pytest.mark.parametrize("name", ["Silkscreen outline", "component outlines", "Package outline", "text", "F.Courtyard"])
def test_outlines_of_other_things_are_not_the_edge(name: str) -> None:
    kept, _ = layered(box(0, 0, 4, 3, layer=name), box(-9, -9, 90, 90, layer="0"))
    assert kept == {name, "0"}


def test_a_layer_that_encloses_nothing_is_not_the_edge_whatever_its_name() -> None:
    kept, _ = layered(stroke((0, 0), (4, 3), layer="Outline"), box(-9, -9, 90, 90, layer="Board"))
    assert kept == {"Board"}
