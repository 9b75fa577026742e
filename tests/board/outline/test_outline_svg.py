"""Outlines drawn in SVG, all of them invented."""

import gzip
import math
from pathlib import Path

import pytest

from overlay.board.model import Outline
from overlay.board.outline.read import read_outline
from overlay.errors import Problem

LINE = 'fill="none" stroke="#000" stroke-width="0.1"'
MM = 'xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80"'


def read(folder: Path, content: str | bytes, **options: object) -> tuple[Outline | None, list[Problem]]:
    path = folder / "edge.svg"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_outline(path, "edge.svg", **options)  # type: ignore[arg-type]


def svg(body: str, head: str = MM) -> str:
    return f'<?xml version="1.0" encoding="UTF-8"?>\n<svg {head}>\n{body}\n</svg>\n'


RECT = (10.0, -60.0, 70.0, -20.0)  # the bounds of a board of 60 × 40 at (10, 20)
SAME_RECTANGLE = {
    "absolute": '<path d="M10 20L70 20L70 60L10 60Z"/>',
    "relative": '<path d="m10 20 60 0 0 40-60 0z"/>',
    "axis commands": '<path d="M10,20H70V60H10V20"/>',
    "relative axis commands": '<path d="m10,20h60v40h-60z"/>',
    "numbers run together": '<path d="M1e1.2e2H70V60H10z"/>',
    "arcs that are lines or nothing": '<path d="M10 20A0 5 0 0 1 70 20a3 3 0 0 1 0 0V60H10zz"/>',
    "rect": '<rect x="10" y="20" width="60" height="40"/>',
    "rect in millimetres": '<rect x="10mm" y="20mm" width="60mm" height="40mm" transform="scale(0.26458333333)"/>',
    "rect in percent": '<rect x="10%" y="25%" width="60%" height="50%"/>',
    "polygon": '<polygon points="10,20 70,20 70,60 10,60"/>',
    "closed polyline": '<polyline points="10 20 70 20 70 60 10 60 10 20"/>',
    "four lines out of order": '<line x1="10" y1="20" x2="70" y2="20"/><line x1="10" y1="60" x2="70" y2="60"/>'
    '<line x1="70" y1="60" x2="70" y2="20"/><line x1="10" y1="60" x2="10" y2="20"/>',
    "four paths with rounding": '<path d="M10 20L70.004 20"/><path d="M70 60L70 20.003"/><path d="M70 60L10 60.004"/>'
    '<path d="M10 20V60"/>',
    "subpaths of one path": '<path d="M10 20H70M70 60V20M10 60H70M10 60V20"/>',
    "translated": '<g transform="translate(10 20)"><rect width="60" height="40"/></g>',
    "scaled": '<g transform="scale(2)"><rect x="5" y="10" width="30" height="20"/></g>',
    "scaled unevenly": '<g transform="scale(2,.5)"><rect x="5" y="40" width="30" height="80"/></g>',
    "matrix": '<rect width="30" height="10" transform="matrix(2 0 0 4 10 20)"/>',
    "turned about a point": '<rect x="20" y="10" width="40" height="60" transform="rotate(90 40 40)"/>',
    "turned": '<g transform="rotate(90)"><rect x="20" y="-70" width="40" height="60"/></g>',
    "mirrored": '<g transform="translate(80) scale(-1 1)"><rect x="10" y="20" width="60" height="40"/></g>',
    "transforms in groups": '<g transform="translate(10)"><g transform="translate(0,20) scale(10)">'
    '<rect width="6" height="4"/></g></g>',
    "skewed there and back": '<g transform="skewX(30)"><rect x="10" y="20" width="60" height="40" '
    'transform="skewX(-30)"/></g>',
    "use": '<defs><rect id="b" width="60" height="40"/></defs><use href="#b" x="10" y="20"/>',
    "use with xlink": '<defs><g id="b"><path d="M0 0H60V40H0Z"/></g></defs>'
    '<use xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="#b" transform="translate(10,20)"/>',
    "symbol": '<symbol id="s" viewBox="0 0 6 4"><path d="M0 0H6V4H0Z"/></symbol>'
    '<use href="#s" x="10" y="20" width="60" height="40"/>',
    "nested svg": '<svg x="10" y="20" width="60" height="40" viewBox="5 5 120 80"><rect x="5" y="5" width="120" '
    'height="80"/></svg>',
    "nested svg, centred": '<svg x="0" y="20" width="80" height="40" viewBox="0 0 6 4"><path d="M0 0H6V4H0z"/></svg>',
    "hidden things beside": '<rect x="10" y="20" width="60" height="40"/><rect width="99" height="79" display="none"/>'
    '<g style="visibility:hidden"><rect width="95" height="75"/></g><rect width="97" height="77" opacity="0"/>',
    "unpainted things beside": '<rect x="10" y="20" width="60" height="40"/>'
    '<rect width="99" height="79" style="fill:none;stroke:none"/>',
    "definitions beside": '<defs><rect width="99" height="79"/></defs><clipPath id="c"><rect width="99" height="79"/>'
    '</clipPath><mask id="m"><rect width="99" height="79"/></mask><rect x="10" y="20" width="60" height="40"/>',
    "drawn twice": '<rect x="10" y="20" width="60" height="40"/><path d="M70 60V20H10V60Z"/>',
    "text and title beside": '<title>plot</title><text x="3" y="3">EDGE</text><path d="M10 20H70V60H10Z"/>',
}


@pytest.mark.parametrize("name", SAME_RECTANGLE)
def test_one_rectangle_is_the_same_however_it_is_written(name: str, tmp_path: Path) -> None:
    outline, problems = read(tmp_path, svg(f"<g {LINE}>{SAME_RECTANGLE[name]}</g>"))
    assert outline is not None, problems
    assert not problems
    assert outline.polygon.bounds == pytest.approx(RECT, abs=0.006)
    assert outline.polygon.area == pytest.approx(2400, abs=0.6)


HEADS = {
    "mm": ('width="100mm" height="80mm" viewBox="0 0 100 80"', 1.0),
    "cm and fine units": ('width="10cm" height="8cm" viewBox="0 0 10000 8000"', 1e-2),
    "inch": ('width="4in" height="3.2in" viewBox="0 0 4000 3200"', 0.0254),
    "points": ('width="72pt" height="57.6pt" viewBox="0 0 100 80"', 0.254),
    "picas": ('width="6pc" height="4.8pc" viewBox="0 0 100 80"', 0.254),
    "one side alone": ('width="50mm" viewBox="0 0 100 80"', 0.5),
    "the other side alone": ('height="160mm" viewBox="0 0 100 80"', 2.0),
    "letterboxed": ('width="100mm" height="80mm" viewBox="0 0 200 80"', 0.5),
    "sliced": ('width="100mm" height="80mm" viewBox="0 0 200 80" preserveAspectRatio="xMidYMid slice"', 1.0),
    "no size": ('viewBox="0 0 100 80"', 1.0),
    "nothing": ("", 1.0),
    "percent": ('width="100%" height="100%" viewBox="0 0 100 80"', 1.0),
    "px is no physical size": ('width="500px" height="400px" viewBox="0 0 100 80"', 1.0),
    "plain numbers are none": ('width="500" height="400"', 1.0),
    "size without viewBox": ('width="100mm" height="80mm"', 25.4 / 96),
}
WARNED = {"letterboxed", "sliced", "px is no physical size", "plain numbers are none", "size without viewBox"}


@pytest.mark.parametrize("name", HEADS)
def test_units_come_from_the_physical_size(name: str, tmp_path: Path) -> None:
    head, scale = HEADS[name]
    outline, problems = read(
        tmp_path, svg(f'<rect {LINE} x="10" y="20" width="600" height="400"/>', f'xmlns="s" {head}')
    )
    assert outline is not None, problems
    expected = [10 * scale, -420 * scale, 610 * scale, -20 * scale]
    assert outline.polygon.bounds == pytest.approx(expected, rel=1e-9)
    assert [problem.severity for problem in problems] == (["warning"] if name in WARNED else [])
    if name in WARNED:
        assert problems[0].line == 2


def test_an_uneven_scale_is_kept_where_the_document_wants_it(tmp_path: Path) -> None:
    head = 'width="100mm" height="80mm" viewBox="0 0 200 80" preserveAspectRatio="none"'
    outline, problems = read(tmp_path, svg('<rect x="20" y="20" width="100" height="40"/>', head))
    assert outline is not None
    assert not problems
    assert outline.polygon.bounds == pytest.approx((10, -60, 60, -20))


def test_a_unit_from_outside_replaces_the_millimetre_of_a_drawing_without_size(tmp_path: Path) -> None:
    content = svg('<rect width="4" height="2"/>', 'width="400px" viewBox="0 0 5 5"')
    outline, problems = read(tmp_path, content, units="inch")
    assert outline is not None
    assert not problems
    assert outline.polygon.area == pytest.approx(8 * 25.4**2)


def test_the_origin_stays_that_of_the_user_units(tmp_path: Path) -> None:
    head = 'width="60mm" height="40mm" viewBox="110 -50 60 40"'
    outline, _ = read(tmp_path, svg('<rect x="110" y="-50" width="60" height="40"/>', head), shift_mm=(1.0, 2.0))
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx((111, 12, 171, 52))


ARCS = {
    "circle": ('<circle cx="50" cy="40" r="20"/>', math.pi * 400),
    "ellipse": ('<ellipse cx="50" cy="40" rx="20" ry="10"/>', math.pi * 200),
    "two arcs": ('<path d="M30 40A20 20 0 1 1 70 40A20 20 0 1 1 30 40Z"/>', math.pi * 400),
    "flags run together": ('<path d="M30 40a20,20 0 1140 0 20 20 0 11-40 0z"/>', math.pi * 400),
    "a radius too small is grown": ('<path d="M30 40A5 5 0 0 0 70 40Z"/>', math.pi * 200),
    "turned ellipse": (
        '<path d="M30 40A20 10 0 1 0 70 40A20 10 0 1 0 30 40" transform="rotate(30)"/>',
        math.pi * 200,
    ),
    "sheared circle": ('<circle r="20" transform="matrix(1 0 .5 1 40 40)"/>', math.pi * 400),
    "round corners": ('<rect x="10" y="20" width="60" height="40" rx="5"/>', 2400 - (4 - math.pi) * 25),
    "elliptic corners": ('<rect x="10" y="20" width="60" height="40" rx="8" ry="4"/>', 2400 - (4 - math.pi) * 32),
    "corners beyond half": ('<rect x="10" y="20" width="40" height="40" rx="90"/>', math.pi * 400),
    # a quadratic arch encloses two thirds of its control triangle's height; a cubic as below three fifths
    "quadratic": ('<path d="M10 60Q40 0 70 60Z"/>', 2 / 3 * 60 * 30),
    "smooth quadratic": ('<path d="M10 40Q25 20 40 40T70 40L70 60L10 60Z"/>', 1200.0),
    "cubic": ('<path d="M10 60C10 20 70 20 70 60Z"/>', 0.6 * 60 * 40),
    "smooth cubic": ('<path d="M10 40C20 20 30 20 40 40S60 60 70 40V70H10Z"/>', 1800.0),
    "zero-length absolute arc left out": ('<path d="M10 20L70 20A5 5 0 0 1 70 20L70,60 10 60Z"/>', 2400.0),
    "zero-length arc left out": ('<path d="M10 20h60a0,0 0 0 1 0,0v40h-60z"/>', 2400.0),
}


@pytest.mark.parametrize("name", ARCS)
def test_curves_enclose_what_geometry_says(name: str, tmp_path: Path) -> None:
    body, area = ARCS[name]
    outline, problems = read(tmp_path, svg(f"<g {LINE}>{body}</g>"))
    assert outline is not None, problems
    # chords stay within 0.005 mm: the area within that times the edge's length
    assert outline.polygon.area == pytest.approx(area, abs=0.005 * outline.polygon.length)


def test_arcs_and_lines_each_of_their_own_path_join(tmp_path: Path) -> None:
    body = (
        f'<g {LINE}><path d="M15 20L65 20"/><path d="M70 25A5.0 5.0 0.0 0 0 65 20"/><path d="M70 55L70 25"/>'
        '<path d="M65 60A5.0 5.0 0.0 0 0 70 55"/><path d="M65 60L15 60"/><path d="M10 55A5.0 5.0 0.0 0 0 15 60"/>'
        '<path d="M10 25L10 55"/><path d="M15 20A5.0 5.0 0.0 0 0 10 25"/>'
        '<circle cx="16" cy="26" r="1.6"/><circle cx="64" cy="54" r="1.6"/></g>'
    )
    outline, problems = read(tmp_path, svg(body))
    assert outline is not None
    assert not problems
    assert len(outline.polygon.interiors) == 2
    assert outline.polygon.area == pytest.approx(2400 - (4 - math.pi) * 25 - 2 * math.pi * 1.6**2, abs=0.5)


def test_a_filled_shape_without_closing_command_is_closed(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, svg('<path fill="green" d="M10 20H70V60H10"/>'))
    assert outline is not None
    assert not problems
    assert outline.polygon.area == pytest.approx(2400)


def test_a_hole_in_a_filled_shape_is_a_cut_out(tmp_path: Path) -> None:
    outline, _ = read(tmp_path, svg('<path fill-rule="evenodd" d="M10 20H70V60H10ZM20 30h10v10h-10z"/>'))
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2300)


def test_white_paper_behind_the_drawing_is_not_the_board(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, svg(f'<rect width="100%" height="100%" fill="#fff"/>{LINE_RECT}'))
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2400)
    assert "paper" in problems[0].what


LINE_RECT = f'<rect {LINE} x="10" y="20" width="60" height="40"/>'


def test_a_group_named_for_the_edge_is_taken_and_the_rest_named(tmp_path: Path) -> None:
    body = (
        f'<g id="silkscreen"><rect {LINE} x="1" y="1" width="90" height="70"/></g>'
        f'<g xmlns:i="i" i:label="Edge.Cuts">{LINE_RECT}</g>'
    )
    outline, problems = read(tmp_path, svg(body))
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2400)
    assert "Edge.Cuts" in problems[0].what
    assert "silkscreen" in problems[0].what


def test_style_sheets_hide_and_show(tmp_path: Path) -> None:
    body = (
        "<style>/* plot */ .off, .gone { display : none } #page{fill:none;stroke:none} path.e{fill:none;stroke:red}"
        '</style><rect class="off" width="99" height="79"/><rect id="page" width="98" height="78"/>'
        '<path class="e" d="M10 20H70V60H10Z"/>'
    )
    outline, problems = read(tmp_path, svg(body))
    assert outline is not None
    assert not problems
    assert outline.polygon.area == pytest.approx(2400)


def test_a_line_drawn_as_a_thin_ring_gives_its_middle(tmp_path: Path) -> None:
    body = '<path fill-rule="evenodd" d="M9.9 19.9H70.1V60.1H9.9ZM10.1 20.1H69.9V59.9H10.1Z"/>'
    outline, problems = read(tmp_path, svg(body))
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx(RECT, abs=0.005)
    assert "0.20 mm apart" in problems[0].what


def test_a_public_document_type_is_passed_over(tmp_path: Path) -> None:
    kind = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    outline, problems = read(tmp_path, f"{kind}\n<svg:svg {MM} xmlns:svg='s'>{LINE_RECT}</svg:svg>")
    assert outline is not None
    assert not problems


def test_entities_are_refused(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, '<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg>&a;</svg>')
    assert outline is None
    assert "entities" in problems[0].what


def test_a_packed_svg_is_unpacked(tmp_path: Path) -> None:
    outline, _ = read(tmp_path, gzip.compress(svg(LINE_RECT).encode()))
    assert outline is not None


def test_utf_16_is_read(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, f"<svg {MM}>{LINE_RECT}</svg>".encode("utf-16"))
    assert outline is not None, problems


WRONG = {
    "bad path": ('<path d="M0 0L1"/>', 3, "path data"),
    "bad command": ('<path d="M0 0Lx 1"/>', 3, "path data"),
    "stray sign in a path": ('<path d="M0 0L9 0 9 9 - 0 9Z"/>', 3, "list of numbers"),
    "too many numbers": ('<g transform="rotate(1 2)"><rect width="9" height="9"/></g>', 3, "2 numbers is no transform"),
    "bad number": ('\n<rect width="ten" height="3"/>', 4, "no length"),
    "relative unit": ('<rect width="3em" height="3"/>', 3, "no fixed size"),
    "bad transform": ('<g transform="rotate(a)"><rect width="9" height="9"/></g>', 3, "transform"),
    "odd points": ('<polygon points="0 0 9 0 9"/>', 3, "odd"),
    "infinite": ('<path d="M0 0L1e999 0L0 9Z"/>', 3, "out of range"),
    "far away": ('<rect x="1e300" width="9" height="9"/>', 3, "out of range"),
    "only text": ("<text>board</text>", None, "but text"),
    "only a picture": ('<image href="board.png"/>', None, "but a picture"),
    "uses itself": ('<g id="a"><use href="#a"/></g>', 3, "use themselves"),
    "not closed": (
        f'<path {LINE} d="M10 20H70V60H10V25"/>',
        3,
        "gap of 5.000 mm between (10, -20) mm and (10, -25) mm",
    ),
    "crosses itself": (f'<path {LINE} d="M10 20L70 60V20L10 60Z"/>', 3, "crosses itself at (40, -40) mm"),
    "too small": (f'<rect {LINE} width="0.5" height="0.5"/>', None, "only 0.25 mm²"),
    "too large": (f'<rect {LINE} width="9e4" height="9e4"/>', None, "more than any board"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_used_is_named_with_its_line(name: str, tmp_path: Path) -> None:
    body, line, what = WRONG[name]
    outline, problems = read(tmp_path, svg(body))
    assert outline is None
    errors = [problem for problem in problems if problem.severity == "error"]
    assert errors[0].line == line
    assert what in errors[0].what
    assert errors[0].remedy


def test_all_broken_elements_are_named_at_once(tmp_path: Path) -> None:
    _, problems = read(tmp_path, svg('<path d="M0 0L1"/>\n<rect width="x"/>\n<circle r="1furlong"/>'))
    assert [problem.line for problem in problems] == [3, 4, 5]
