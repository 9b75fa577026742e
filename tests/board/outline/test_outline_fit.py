"""Parts held against the outline."""

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from shapely.affinity import scale, translate

from overlay.board.model import Body, Component, Outline
from overlay.board.outline.fit import best_shift, outline_problems
from overlay.board.outline.read import outline_from_bodies
from overlay.errors import Problem

BOARD = shapely.Polygon([(0, 0), (80, 0), (80, 25), (50, 25), (50, 60), (0, 60)])  # an L: no symmetry


def component(x: float, y: float, line: int, **changes: object) -> Component:
    values: dict[str, object] = {
        "refdes": f"R{line}",
        "center_mm": (x, y),
        "rotation_deg": 0.0,
        "side": "top",
        "package": "R0805",
        "value": "",
        "part_number": "",
        "mechanical": False,
        "line": line,
    }
    return Component(**(values | changes))  # type: ignore[arg-type]


def placed(count: int = 60, seed: int = 1) -> list[Component]:
    """Parts all over the board, a few near each corner."""
    random = np.random.default_rng(seed)
    inner = BOARD.buffer(-2)
    points = [(3, 3), (77, 3), (77, 22), (47, 57), (3, 57)]
    while len(points) < count:
        x, y = random.uniform(0, 80), random.uniform(0, 60)
        if inner.contains(shapely.Point(x, y)):
            points.append((x, y))
    return [component(x, y, line) for line, (x, y) in enumerate(points, start=2)]


def check(polygon: shapely.Geometry, parts: Sequence[Component], **options: object) -> list[Problem]:
    return outline_problems(Outline(polygon, "edge"), parts, "placement.csv", **options)  # type: ignore[arg-type]


def test_parts_on_the_board_are_no_problem() -> None:
    assert check(BOARD, placed()) == []


def test_each_part_off_the_board_is_named_with_its_line() -> None:
    hole = BOARD.difference(shapely.box(10, 10, 14, 14))
    parts = [part for part in placed() if not shapely.Point(part.center_mm).within(shapely.box(10, 10, 14, 14))]
    problems = check(hole, [*parts, component(60, 40, 90), component(12, 12, 91)])
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 90), ("warning", 91)]
    assert "R90 at (60, 40) mm lies outside" in problems[0].what
    assert "cut-out" in problems[1].what


def test_mechanical_items_may_lie_where_they_like() -> None:
    assert check(BOARD, [*placed(), component(200, 0, 90, mechanical=True)]) == []


def test_a_part_on_the_edge_is_on_the_board() -> None:
    assert check(BOARD, [*placed(), component(80, 10, 90)]) == []


@pytest.mark.parametrize("moved", [(-100.0, 35.0), (148.5, 105.0), (0.0, -60.0), (30.0, -70.0)])
def test_another_origin_is_one_error_whose_shift_brings_the_parts_inside(moved: tuple[float, float]) -> None:
    problems = check(translate(BOARD, *moved), placed())
    assert [(problem.severity, problem.line) for problem in problems] == [("error", None)]
    assert "origin" in problems[0].what
    text = problems[0].remedy.partition("outline_shift_mm = [")[2].partition("]")[0]
    x, y = (float(number) for number in text.split(","))
    assert (x, y) == pytest.approx((-moved[0], -moved[1]), abs=2.5)
    assert check(translate(translate(BOARD, *moved), x, y), placed()) == []


def test_many_parts_off_the_board_become_one_proposal_of_the_shift_that_explains_them() -> None:
    problems = check(translate(BOARD, 12, 5), placed())
    assert [problem.severity for problem in problems] == ["warning"]
    assert "of 60 parts lie outside the outline" in problems[0].what
    assert "outline_shift_mm = [-12.000, -5.000] in [board]" in problems[0].remedy
    assert "its lower left corner at the origin" in problems[0].remedy


def test_many_parts_off_the_board_that_no_shift_explains_are_one_warning_with_names() -> None:
    beside = [component(60, 30 + n, 100 + n) for n in range(9)] + [component(-9, 30 + n, 200 + n) for n in range(9)]
    problems = check(BOARD, [*placed(), *beside])
    assert [(problem.severity, problem.line) for problem in problems] == [("warning", 100)]
    assert "18 of 78 parts" in problems[0].what
    assert "R100, R101, R102, R103, R104 and 13 more" in problems[0].what


def test_an_outline_with_its_origin_at_another_corner_is_moved_rather_than_mirrored() -> None:
    parts = [component(5 + 7 * n, -3 - 2.9 * n, n) for n in range(9)]
    problems = check(shapely.box(0.1, 0.1, 66.1, 30.1), parts)
    assert "outline_shift_mm = [-0.100, -30.100]" in problems[0].remedy


def test_the_shift_proposed_includes_the_one_already_given() -> None:
    problems = check(translate(BOARD, -100, 0), placed(), shift_mm=(50.0, 7.0))
    text = problems[0].remedy.partition("outline_shift_mm = [")[2].partition("]")[0]
    assert [float(number) for number in text.split(",")] == pytest.approx([150, 7], abs=2.5)


def test_a_flipped_outline_is_told_from_a_moved_one() -> None:
    problems = check(scale(BOARD, 1, -1, origin=(0, 0)), placed())
    assert [problem.severity for problem in problems] == ["error"]
    assert "y axis" in problems[0].remedy


def test_a_flipped_and_moved_outline_is_told_too() -> None:
    problems = check(translate(scale(BOARD, 1, -1, origin=(0, 0)), 300, 0), placed())
    assert "mirrored in y" in problems[0].remedy


@pytest.mark.parametrize(("factor", "mistake"), [(1 / 25.4, "inches taken"), (25.4, "millimetres taken as inches")])
def test_an_outline_in_another_unit_is_told(factor: float, mistake: str) -> None:
    problems = check(scale(BOARD, factor, factor, origin=(0, 0)), placed())
    assert [problem.severity for problem in problems] == ["error"]
    assert mistake in problems[0].what + problems[0].remedy


def test_an_outline_in_pixels_is_doubted() -> None:
    problems = check(scale(BOARD, 96 / 25.4, 96 / 25.4, origin=(0, 0)), placed())
    assert [problem.severity for problem in problems] == ["warning"]
    assert "1/96 inch" in problems[0].what


def test_a_frame_round_the_board_is_told() -> None:
    problems = check(shapely.box(-30, -30, 150, 100).difference(BOARD), placed())
    assert "cut-out" in problems[0].what
    assert "frame" in problems[0].remedy


def test_an_outline_that_fits_in_no_way_says_so() -> None:
    problems = check(shapely.box(500, 500, 530, 510), placed())
    assert [problem.severity for problem in problems] == ["error"]
    assert "check that the outline" in problems[0].remedy


def test_two_parts_prove_no_other_origin() -> None:
    problems = check(translate(BOARD, 500, 0), [component(1, 1, 2), component(2, 2, 3)])
    assert [problem.severity for problem in problems] == ["warning", "warning"]


def test_the_best_shift_brings_all_parts_inside() -> None:
    centers = np.array([part.center_mm for part in placed()])
    shift, share = best_shift(translate(BOARD, 1000, -500), centers)
    assert share == 1.0
    assert shift == pytest.approx((-1000, 500), abs=2.5)


def body(length: float, width: float, shape: str = "box") -> Body:
    return Body(length, width, 1.0, "test", shape=shape)  # type: ignore[arg-type]


def test_without_a_file_the_hull_of_the_bodies_one_millimetre_wider_is_the_edge() -> None:
    parts = [
        component(0, 0, 2, body=body(4, 2)),
        component(20, 0, 3, body=body(4, 2), rotation_deg=90.0, side="bottom"),
        component(10, 10, 4, body=body(6, 6, "round")),
        component(10, -5, 5),
        component(99, 99, 6, mechanical=True),
    ]
    outline = outline_from_bodies(parts)
    assert outline.from_bodies
    assert outline.polygon.bounds == pytest.approx((-3, -6, 22, 14), abs=0.01)
    assert outline_problems(outline, parts, "placement.csv") == []


def test_the_hull_of_one_part_or_none_is_still_an_area() -> None:
    assert outline_from_bodies([component(5, 5, 2)]).polygon.area == pytest.approx(np.pi, rel=0.01)
    assert outline_from_bodies([]).polygon.area > 1
