"""Outlines drawn in DXF, all of them invented."""

import io
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from overlay.board.model import Outline
from overlay.board.outline.dxf import read_dxf
from overlay.board.outline.read import read_outline
from overlay.errors import InputError, Problem

RECT = (10.0, 20.0, 70.0, 60.0)
CORNERS = [(10, 20), (70, 20), (70, 60), (10, 60)]
MILLIMETRES = 4


def drawing(draw: Callable[[Any], object], *, version: str = "R2010", insunits: int = MILLIMETRES) -> str:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = insunits
    draw(document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def read(folder: Path, content: str | bytes, **options: object) -> tuple[Outline | None, list[Problem]]:
    path = folder / "edge.dxf"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_outline(path, "edge.dxf", **options)  # type: ignore[arg-type]


def lines(space: Any, scale: float = 1.0, **attributes: object) -> None:
    corners = [(x * scale, y * scale) for x, y in CORNERS]
    for start, end in ((0, 1), (3, 2), (1, 2), (0, 3)):
        space.add_line(corners[start], corners[end], dxfattribs=attributes)


def block(space: Any) -> None:
    inner = space.doc.blocks.new("EDGE")
    inner.add_lwpolyline([(0, 0), (30, 0), (30, 20), (0, 20)], close=True)
    outer = space.doc.blocks.new("BOARD")
    outer.add_blockref("EDGE", (5, 0))
    space.add_blockref("BOARD", (0, 20), dxfattribs={"xscale": 2, "yscale": 2})


def turned_over(space: Any) -> None:
    # seen from below: object coordinates whose x runs to the left
    space.add_lwpolyline([(-x, y) for x, y in CORNERS], close=True, dxfattribs={"extrusion": (0, 0, -1)})


def polyline_2d(space: Any) -> None:
    space.add_polyline2d(CORNERS, close=True)


SAME_RECTANGLE: dict[str, Callable[[Any], object]] = {
    "lines out of order": lines,
    "light polyline": lambda space: space.add_lwpolyline(CORNERS, close=True),
    "light polyline that returns to its start": lambda space: space.add_lwpolyline([*CORNERS, CORNERS[0]]),
    "old polyline": polyline_2d,
    "polyline in space": lambda space: space.add_polyline3d([(x, y, 3) for x, y in CORNERS], close=True),
    "blocks in blocks": block,
    "seen from below": turned_over,
}


@pytest.mark.parametrize("name", SAME_RECTANGLE)
def test_one_rectangle_is_the_same_however_it_is_drawn(name: str, tmp_path: Path) -> None:
    outline, problems = read(tmp_path, drawing(SAME_RECTANGLE[name]))
    assert outline is not None, problems
    assert not problems
    assert outline.polygon.bounds == pytest.approx(RECT)
    assert outline.polygon.area == pytest.approx(2400)


def test_binary_dxf_is_read(tmp_path: Path) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = MILLIMETRES
    lines(document.modelspace())
    document.saveas(tmp_path / "made.dxf", fmt="bin")
    outline, problems = read(tmp_path, (tmp_path / "made.dxf").read_bytes())
    assert outline is not None, problems
    assert outline.polygon.area == pytest.approx(2400)


@pytest.mark.parametrize(
    ("insunits", "unit_mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0), (9, 0.0254), (13, 1e-3)]
)
def test_the_drawing_unit_is_that_of_its_header(insunits: int, unit_mm: float, tmp_path: Path) -> None:
    outline, _ = read(tmp_path, drawing(lambda space: lines(space, 1 / unit_mm), insunits=insunits))
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2400)
    assert f"$INSUNITS {insunits}" in outline.source


def test_a_drawing_without_unit_asks_for_it(tmp_path: Path) -> None:
    content = drawing(lines, insunits=0)
    outline, problems = read(tmp_path, content)
    assert outline is None
    assert "60 × 40 could be mm, or inches (1524 × 1016 mm)" in problems[0].what
    outline, problems = read(tmp_path, content, units="mil")
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2400 * 0.0254**2)


def test_a_unit_given_that_contradicts_the_drawing_is_refused(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, drawing(lines, insunits=1), units="mm")
    assert outline is None
    assert "outline_units is mm, but the drawing's unit is 25.4 mm ($INSUNITS 1)" in problems[0].what
    outline, _ = read(tmp_path, drawing(lines, insunits=4), units="mm")
    assert outline is not None


def test_a_drawing_reduced_to_its_entities_is_read(tmp_path: Path) -> None:
    parts = ["0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n"]
    for (x1, y1), (x2, y2) in zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True):
        parts.append(f"0\nLINE\n8\nEDGE_CUTS\n10\n{x1}\n20\n{y1}\n11\n{x2}\n21\n{y2}\n")
    outline, problems = read(tmp_path, "".join(parts) + "0\nENDSEC\n0\nEOF\n", units="mm")
    assert outline is not None, problems
    assert outline.polygon.area == pytest.approx(2400)


BULGE = math.tan(math.pi / 8)  # a quarter circle
ROUND_CORNERS = [
    (5, 0, 0),
    (35, 0, BULGE),
    (40, 5, 0),
    (40, 35, BULGE),
    (35, 40, 0),
    (5, 40, BULGE),
    (0, 35, 0),
    (0, 5, BULGE),
]
ROUND = 1600 - (4 - math.pi) * 25


def arcs(space: Any) -> None:
    space.add_line((5, 0), (35, 0))
    space.add_line((40, 5), (40, 35))
    space.add_line((5, 40), (35, 40))
    space.add_line((0, 35), (0, 5))
    for x, y, start in ((35, 5, 270), (35, 35, 0), (5, 35, 90), (5, 5, 180)):
        space.add_arc((x, y), 5, start, start + 90)


CURVED: dict[str, tuple[Callable[[Any], object], float]] = {
    "bulges": (lambda space: space.add_lwpolyline(ROUND_CORNERS, format="xyb", close=True), ROUND),
    "bulges of an old polyline": (lambda space: space.add_polyline2d(ROUND_CORNERS, format="xyb", close=True), ROUND),
    "bulges seen from below": (
        lambda space: space.add_lwpolyline(
            [(-x, y, -b) for x, y, b in ROUND_CORNERS],
            format="xyb",
            close=True,
            dxfattribs={"extrusion": (0, 0, -1)},
        ),
        ROUND,
    ),
    "arcs and lines": (arcs, ROUND),
    "circle": (lambda space: space.add_circle((7, 8), 20), math.pi * 400),
    "two half circles": (
        lambda space: [space.add_arc((0, 0), 20, 30, 210), space.add_arc((0, 0), 20, 210, 30)],
        math.pi * 400,
    ),
    "ellipse": (lambda space: space.add_ellipse((3, 4), (0, 20), 0.5), math.pi * 200),
    "half an ellipse and a line": (
        lambda space: [space.add_ellipse((0, 0), (20, 0), 0.5, 0, math.pi), space.add_line((20, 0), (-20, 0))],
        math.pi * 100,
    ),
    # one Bézier arch as a clamped cubic spline encloses three fifths of its control polygon's height times its base
    "spline": (
        lambda space: [
            space.add_open_spline([(0, 0), (0, 40), (60, 40), (60, 0)], degree=3),
            space.add_line((0, 0), (60, 0)),
        ],
        0.6 * 60 * 40,
    ),
}


@pytest.mark.parametrize("name", CURVED)
def test_curves_enclose_what_geometry_says(name: str, tmp_path: Path) -> None:
    draw, area = CURVED[name]
    outline, problems = read(tmp_path, drawing(draw))
    assert outline is not None, problems
    assert outline.polygon.area == pytest.approx(area, abs=0.005 * outline.polygon.length)


def test_the_layer_named_for_the_edge_is_taken_with_the_one_for_cut_outs(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        lines(space, layer="BOARD_OUTLINE")
        space.add_circle((30, 30), 2, dxfattribs={"layer": "CUTOUTS"})
        space.add_lwpolyline([(0, 0), (200, 0), (200, 100), (0, 100)], close=True, dxfattribs={"layer": "Sheet"})

    outline, problems = read(tmp_path, drawing(draw))
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx(RECT)
    assert len(outline.polygon.interiors) == 1
    assert "'Sheet'" in problems[0].what


def test_text_dimensions_paper_space_and_hidden_layers_do_not_count(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        lines(space)
        space.add_text("EDGE").set_placement((0, 0))
        space.add_linear_dim(base=(0, 80), p1=(10, 60), p2=(70, 60)).render()
        space.doc.layers.add("off").off()
        space.doc.layers.add("frozen").freeze()
        space.add_circle((0, 0), 90, dxfattribs={"layer": "off"})
        space.add_circle((0, 0), 91, dxfattribs={"layer": "frozen"})
        space.doc.paperspace().add_circle((0, 0), 92)

    outline, problems = read(tmp_path, drawing(draw))
    assert outline is not None
    assert not problems
    assert outline.polygon.bounds == pytest.approx(RECT)


def test_what_only_looks_like_an_outline_is_refused(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, drawing(lambda space: space.add_text("EDGE")))
    assert outline is None
    assert "no lines" in problems[0].what
    outline, problems = read(tmp_path, "0\nSECTION\nbroken")
    assert outline is None
    assert "cannot be read as DXF" in problems[0].what


def test_without_the_library_the_error_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(InputError, match=r"pip install 'board-overlay\[dxf\]'"):
        read_dxf(drawing(lines).encode(), "edge.dxf")
