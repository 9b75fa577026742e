"""Outlines of any format: what holds for all of them."""

import io
import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from overlay.board.outline.read import read_outline


@st.composite
def boards(draw: Any) -> Any:
    """A star-shaped polygon round a random place, with up to three holes near its middle; on a grid of 1 µm."""
    count = draw(st.integers(3, 12))
    center = np.array([draw(st.integers(-200, 200)), draw(st.integers(-200, 200))], dtype=float)
    turn = draw(st.floats(0, math.tau))
    radii = np.array(draw(st.lists(st.integers(20, 60), min_size=count, max_size=count)), dtype=float)
    angle = turn + np.arange(count) * math.tau / count
    ring = np.round(center + radii[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]), 3)
    board = shapely.Polygon(ring)
    for index in range(draw(st.integers(0, 3))):
        x, y = center + 3.0 * np.array([math.cos(2.1 * index), math.sin(2.1 * index)])
        board = board.difference(shapely.box(round(x, 3) - 1, round(y, 3) - 1, round(x, 3) + 1, round(y, 3) + 1))
    assume(board.geom_type == "Polygon" and board.is_valid)
    return board


def segments(board: Any, order: int) -> list[tuple[Any, Any]]:
    """The board's sides in random order and direction."""
    random = np.random.default_rng(order)
    sides = []
    for ring in (board.exterior, *board.interiors):
        points = list(ring.coords)
        sides += [pair if random.random() < 0.5 else pair[::-1] for pair in itertools.pairwise(points)]
    return [sides[index] for index in random.permutation(len(sides))]


def same(folder: Path, name: str, content: str | bytes, board: Any) -> None:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    outline, problems = read_outline(path, name)
    assert outline is not None, problems
    assert outline.polygon.bounds == pytest.approx(board.bounds, abs=0.002)
    assert outline.polygon.area == pytest.approx(board.area, rel=1e-4, abs=0.01)
    assert len(outline.polygon.interiors) == len(board.interiors)


@given(board=boards(), order=st.integers(0, 999))
def test_a_polygon_written_as_gerber_segments_comes_back(board: Any, order: int, tmp_path: Path) -> None:
    words = ["%FSLAX44Y44*%%MOMM*%D10*G01*"]
    for (x1, y1), (x2, y2) in segments(board, order):
        words.append(f"X{x1 * 1e4:.0f}Y{y1 * 1e4:.0f}D02*X{x2 * 1e4:.0f}Y{y2 * 1e4:.0f}D01*")
    same(tmp_path, "edge.gbr", "\n".join([*words, "M02*"]), board)


@given(
    board=boards(),
    order=st.integers(0, 999),
    turn=st.integers(0, 359),
    zoom=st.sampled_from([0.01, 0.5, 1.0, 39.37]),
    shift=st.integers(-90, 90),
)
def test_a_polygon_written_as_svg_lines_under_transforms_comes_back(
    board: Any, order: int, turn: int, zoom: float, shift: int, tmp_path: Path
) -> None:
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    lines = []
    for ends in segments(board, order):
        (x1, y1), (x2, y2) = [
            # undone by the groups round it, y pointing down
            ((cos * x - sin * y) / zoom, (sin * x + cos * y) / zoom)
            for x, y in ((x - shift, -y - shift) for x, y in ends)
        ]
        lines.append(f'<path d="M{x1!r} {y1!r}L{x2!r},{y2!r}" fill="none" stroke="red"/>')
    inner = f'<g transform="scale({zoom}) rotate({-turn})">{"".join(lines)}</g>'
    outer = f'<g transform="translate({shift} {shift})">{inner}</g>'
    same(tmp_path, "edge.svg", f'<svg viewBox="0 0 9 9">{outer}</svg>', board)


@given(board=boards(), order=st.integers(0, 999))
def test_a_polygon_written_as_dxf_lines_comes_back(board: Any, order: int, tmp_path: Path) -> None:
    import ezdxf

    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 1
    for start, end in segments(board, order):
        document.modelspace().add_line(np.divide(start, 25.4), np.divide(end, 25.4))
    stream = io.StringIO()
    document.write(stream)
    same(tmp_path, "edge.dxf", stream.getvalue(), board)


STARTS = [
    b"",
    b"<svg ",
    b"<svg><path d='M0 0",
    b"%FSLAX24Y24*%%MOIN*%X",
    b"0\nSECTION\n2\nENTITIES\n0\nLINE\n",
    b"<IPC-2581><Ecad><CadHeader units='INCH'/><Step><Profile><Polygon>",
    b"\x1f\x8b",
    b"AutoCAD Binary DXF\r\n\x1a\0",
]
NAMES = ["d", "x", "y", "width", "height", "rx", "ry", "points", "transform", "viewBox", "style", "class", "r", "cx"]
NAMES += ["fill", "href", "id"]
TAGS = ["path", "rect", "circle", "polygon", "use", "g", "svg", "symbol", "ellipse", "line"]


@given(start=st.sampled_from(STARTS), rest=st.binary(max_size=60) | st.text(max_size=60).map(str.encode))
def test_any_bytes_give_an_outline_or_problems(start: bytes, rest: bytes, tmp_path: Path) -> None:
    path = tmp_path / "edge"
    path.write_bytes(start + rest)
    outline, problems = read_outline(path, "edge")
    assert outline is not None or any(problem.severity == "error" for problem in problems)


@given(
    attributes=st.dictionaries(
        st.sampled_from(NAMES),
        st.text("0123456789.-e %,mMzLaAcq()nonepx#;:", max_size=25),
        max_size=6,
    ),
    tag=st.sampled_from(TAGS),
)
def test_any_attributes_give_an_outline_or_problems(attributes: dict[str, str], tag: str, tmp_path: Path) -> None:
    path = tmp_path / "edge.svg"
    text = " ".join(f'{name}="{value}"' for name, value in attributes.items())
    path.write_text(f"<svg {text}><{tag} {text}><{tag} {text}/><path d='M0 0H9V9z'/></{tag}></svg>")
    outline, problems = read_outline(path, "edge.svg")
    assert outline is not None or any(problem.severity == "error" for problem in problems)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "empty"),
        (b"%PDF-1.4\n", "PDF"),
        (b"PK\x03\x04....", "archive"),
        (b"\x89PNG\r\n", "picture"),
        (b"AC1027....", "DWG"),
        (b"hello", "neither SVG"),
        (b"\x1f\x8b\x08broken", "unpacked"),
    ],
)
def test_files_of_other_kinds_are_named(content: bytes, what: str, tmp_path: Path) -> None:
    path = tmp_path / "edge.svg"
    path.write_bytes(content)
    outline, problems = read_outline(path, "edge.svg")
    assert outline is None
    assert what in problems[0].what


def test_a_missing_file_is_a_problem(tmp_path: Path) -> None:
    outline, problems = read_outline(tmp_path / "edge.svg", "edge.svg")
    assert outline is None
    assert problems[0].what == "no such file"


def test_the_content_tells_the_format_and_not_the_name(tmp_path: Path) -> None:
    path = tmp_path / "edge.dxf"
    path.write_text('<svg><rect width="30" height="20"/></svg>')
    outline, _ = read_outline(path, "edge.dxf", (100.0, 20.0))
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx((100, 0, 130, 20))
    assert outline.source.startswith("edge.dxf (SVG")
