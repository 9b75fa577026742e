"""Outlines in IPC-2581, all of them invented."""

import math
from pathlib import Path

import pytest

from overlay.board.model import Outline
from overlay.board.outline.read import read_outline
from overlay.errors import Problem

SQUARE = (
    '<Polygon><PolyBegin x="0" y="0"/><PolyStepSegment x="40" y="0"/><PolyStepSegment x="40" y="40"/>'
    '<PolyStepSegment x="0" y="40"/><PolyStepSegment x="0" y="0"/></Polygon>'
)
CIRCLE = (
    '<Cutout><PolyBegin x="15" y="10"/><PolyStepCurve x="5" y="10" centerX="10" centerY="10" clockwise="false"/>'
    '<PolyStepCurve x="15" y="10" centerX="10" centerY="10" clockwise="false"/></Cutout>'
)


def document(profile: str, units: str = "MILLIMETER") -> str:
    return (
        '<?xml version="1.0"?>\n<IPC-2581 revision="C" xmlns="http://webstds.ipc.org/2581"><Ecad><CadHeader '
        f'units="{units}"/><CadData>\n<Step name="board"><Profile>{profile}</Profile></Step></CadData></Ecad>'
        "</IPC-2581>"
    )


def read(folder: Path, content: str) -> tuple[Outline | None, list[Problem]]:
    path = folder / "board.xml"
    path.write_text(content)
    return read_outline(path, "board.xml")


def test_the_profile_of_the_step_is_the_edge(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, document(SQUARE + CIRCLE))
    assert outline is not None
    assert not problems
    assert outline.polygon.area == pytest.approx(1600 - math.pi * 25, abs=0.1)
    assert outline.polygon.bounds == pytest.approx((0, 0, 40, 40))


def test_a_clockwise_curve_bulges_the_other_way(tmp_path: Path) -> None:
    profile = (
        '<Polygon><PolyBegin x="0" y="0"/><PolyStepSegment x="40" y="0"/>'
        '<PolyStepCurve x="0" y="0" centerX="20" centerY="0" clockwise="{}"/></Polygon>'
    )
    up, _ = read(tmp_path, document(profile.format("false")))
    down, _ = read(tmp_path, document(profile.format("true")))
    assert up is not None
    assert down is not None
    assert up.polygon.bounds == pytest.approx((0, 0, 40, 20))
    assert down.polygon.bounds == pytest.approx((0, -20, 40, 0))


def test_inches_and_micrometres_become_millimetres(tmp_path: Path) -> None:
    for units, scale in (("INCH", 25.4), ("MICRON", 1e-3)):
        content = document(SQUARE.replace("40", "4000") if units == "MICRON" else SQUARE, units)
        outline, _ = read(tmp_path, content)
        assert outline is not None
        side = 4000 if units == "MICRON" else 40
        assert outline.polygon.area == pytest.approx((side * scale) ** 2)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (document(SQUARE, "FURLONG"), "no unit"),
        (document(SQUARE.replace('x="40"', 'x="forty"')), "cannot be read"),
        (document(""), "encloses nothing"),
        (document(SQUARE).replace("Profile", "Shape"), "no board"),
        ("<drawing/>", "neither SVG nor IPC-2581"),
        (document(SQUARE)[:-40], "not well-formed"),
    ],
)
def test_what_cannot_be_used_is_said(content: str, what: str, tmp_path: Path) -> None:
    outline, problems = read(tmp_path, content)
    assert outline is None
    assert what in problems[0].what
