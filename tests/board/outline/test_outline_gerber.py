"""Outlines drawn in Gerber, all of them invented."""

import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.model import Outline
from overlay.board.outline.read import read_outline
from overlay.errors import Problem

HEAD = "%TF.FileFunction,Profile,NP*%\n%FSLAX46Y46*%\n%MOMM*%\n%ADD10C,0.100000*%\nG75*\nD10*\n"
END = "M02*\n"


def read(folder: Path, content: str | bytes) -> tuple[Outline | None, list[Problem]]:
    path = folder / "edge.gbr"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_outline(path, "edge.gbr")


RECT = (10.0, 20.0, 70.0, 60.0)
# 4.6 digits: 10 mm is 10000000
BODY = (
    "X10000000Y20000000D02*\nX70000000Y20000000D01*\nX70000000Y60000000D01*\nX10000000Y60000000D01*\n"
    "X10000000Y20000000D01*\n"
)
UNORDERED = (
    "X10000000Y20000000D02*\nG01*\nX70000000Y20000000D01*\nX10000000Y60000000D02*\nX10000000Y20000000D01*\n"
    "X70000000Y60000000D02*\nX70000000Y20000000D01*\nX10000000Y60000000D02*\nX70000000Y60000000D01*\n"
)
INCHES = "X003937Y007874D02*X027559D01*Y023622D01*X003937D01*Y007874D01*"  # 2.4 digits
SAME_RECTANGLE = {
    "plain": HEAD + "G01*\n" + BODY + END,
    "unordered segments": HEAD + UNORDERED + END,
    "carriage returns alone": (HEAD + BODY + END).replace("\n", "\r"),
    "both line ends": (HEAD + BODY + END).replace("\n", "\r\n"),
    "no line ends": (HEAD + BODY + END).replace("\n", ""),
    "words broken over lines": (HEAD + BODY + END).replace("Y2", "\nY2"),
    "byte order mark": "\ufeff" + HEAD + BODY + END,
    "inch, leading zeros": f"%FSLAX24Y24*%\n%MOIN*%\n%ADD10C,0.01*%\nD10*\n{INCHES}\nM02*\n",
    "inch, zeros left out": f"%FSLAX24Y24*%%MOIN*%{INCHES.replace('X00', 'X').replace('Y00', 'Y')}M02*",
    "trailing zeros left out": "%FSTAX33Y33*%%MOMM*%X01Y02D02*X07D01*Y06D01*X01D01*Y02D01*M02*",
    "unit by G70": f"%FSLAX24Y24*%\nG70*\nG90*\nG54D10*\n{INCHES}\nM00*\n",
    "unit by G71": "%FSLAX33Y33*%\nG71*X10000Y20000D02*X70000D01*Y60000D01*X10000D01*Y20000D01*M02*",
    "several commands between percents": "%FSLAX33Y33*MOMM*%\n%IPPOS*OFA0B0*SFA1.0B1.0*%"
    "G01X10000Y20000D02*G01X70000D01*G01Y60000D01*G01X10000D01*G01Y20000D01*M02*",
    "operation kept": "%FSLAX33Y33*%%MOMM*%X10000Y20000D02*X70000D01*Y60000*X10000*Y20000*M02*",
    "numbered words": "%FSLAX33Y33*%%MOMM*%N1G1X10000Y20000D2*N2X70000D1*N3Y60000D1*N4X10000D1*N5Y20000D1*N6M2*",
    "signs and points": "%FSLAX33Y33*%%MOMM*%X+10000Y+20000D02*X+70.0D01*Y60000D01*X10000D01*Y20000D01*M02*",
    "incremental": "%FSLIX33Y33*%%MOMM*%X10000Y20000D02*X60000D01*Y40000D01*X-60000D01*Y-40000D01*M02*",
    "more decimals along y": "%FSLAX33Y34*%%MOMM*%X10000Y200000D02*X70000D01*Y600000D01*X10000D01*Y200000D01*M02*",
    "region": HEAD + "G36*\n" + BODY + "G37*\n" + END,
    "macro, name and comments": "G04 made by hand, 100 % *%INEDGE*%%LNOutline layer*%\n"
    + "%AMOC8*\n5,1,8,0,0,1.08,22.5*\n%\n"
    + HEAD
    + "%ADD11OC8,0.5*%%LPD*%%LMN*%%LR0.0*%%LS1.0*%%TA.AperFunction,Profile*%%TO.N,none*%%TD*%\n"
    + BODY
    + END,
    "after the end": HEAD + BODY + END + "X0Y0D02*X1000000D01*",
    "flash beside": HEAD + "X5000000Y5000000D03*\n" + BODY + END,
    "attribute in a comment": "G04 #@! TF.FileFunction,Profile,P*\n" + HEAD + BODY + END,
    "drawn twice": HEAD + BODY + UNORDERED + END,
}
WARNED = {"operation kept"}


@pytest.mark.parametrize("name", SAME_RECTANGLE)
def test_one_rectangle_is_the_same_however_it_is_written(name: str, tmp_path: Path) -> None:
    outline, problems = read(tmp_path, SAME_RECTANGLE[name])
    assert outline is not None, problems
    assert [problem.severity for problem in problems] == (["warning"] if name in WARNED else [])
    assert outline.polygon.bounds == pytest.approx(RECT, abs=0.002)
    assert outline.polygon.area == pytest.approx(2400, abs=0.2)


ROUND = (40 - 2 * 5) * (40 - 2 * 5) + 4 * 30 * 5 + math.pi * 25  # 40 × 40 with corners of 5 mm
ARC_MULTI = (
    "G75*X5000Y0D02*G01X35000D01*G03X40000Y5000I0J5000D01*G01Y35000D01*G03X35000Y40000I-5000J0D01*G01X5000D01*"
    "G03X0Y35000I0J-5000D01*G01Y5000D01*G03X5000Y0I5000J0D01*"
)
ARC_SINGLE = ARC_MULTI.replace("G75", "G74").replace("I-", "I").replace("J-", "J")
ARC_CLOCKWISE = (
    "X0Y5000D02*G02X5000Y0I5000D01*".replace("G02", "G03")
    + "X35000Y0D02*G03X40000Y5000J5000D01*X35000Y40000D02*G02X40000Y35000J-5000D01*X5000Y40000D02*"
    "G03X0Y35000J-5000D01*G01X5000Y0D02*X35000D01*X40000Y5000D02*Y35000D01*X5000Y40000D02*X35000D01*X0Y5000D02*Y35000D01*"
)
MM33 = "%FSLAX33Y33*%%MOMM*%"
CURVED = {
    "multi quadrant": (MM33 + ARC_MULTI + "M02*", ROUND),
    "single quadrant": (MM33 + ARC_SINGLE + "M02*", ROUND),
    "unordered arcs": (MM33 + "G75*" + ARC_CLOCKWISE + "M02*", ROUND),
    "full circle": (MM33 + "G75*X20000Y0D02*G03X20000Y0I-20000J0D01*M02*", math.pi * 400),
    "full circle, clockwise": (MM33 + "G75*X20000Y0D02*G02X20000Y0I-20000J0D01*M02*", math.pi * 400),
    "half circles": (MM33 + "G75*X0Y0D02*G02X40000Y0I20000D01*X0Y0I-20000D01*M02*", math.pi * 400),
    "three quarters and a corner": (
        MM33 + "G75*X20000Y0D02*G03X0Y-20000I-20000J0D01*G01X20000D01*Y0D01*M02*",
        0.75 * math.pi * 400 + 400,
    ),
    "region with arcs": (MM33 + "G36*" + ARC_MULTI + "G37*M02*", ROUND),
}


@pytest.mark.parametrize("name", CURVED)
def test_arcs_enclose_what_geometry_says(name: str, tmp_path: Path) -> None:
    content, area = CURVED[name]
    outline, problems = read(tmp_path, content)
    assert outline is not None, problems
    assert not problems
    assert outline.polygon.area == pytest.approx(area, abs=0.005 * outline.polygon.length)


def test_arcs_whose_quadrant_mode_is_missing_are_read_with_a_warning(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, MM33 + ARC_SINGLE.replace("G74*", "") + "M02*")
    assert outline is not None
    assert outline.polygon.area == pytest.approx(ROUND, abs=1)
    assert "G74" in problems[0].what


def square(x: float, y: float, side: float) -> str:
    points = [(x, y), (x + side, y), (x + side, y + side), (x, y + side), (x, y)]
    return "".join(f"X{a * 1000:.0f}Y{b * 1000:.0f}D0{1 if i else 2}*" for i, (a, b) in enumerate(points))


def test_step_and_repeat_draws_every_copy(tmp_path: Path) -> None:
    content = MM33 + "%SRX3Y2I25.0J30.0*%" + square(0, 0, 20) + square(5, 5, 4) + "%SR*%M02*"
    outline, problems = read(tmp_path, content)
    assert outline is not None
    assert len(outline.polygon.geoms) == 6
    assert outline.polygon.area == pytest.approx(6 * (400 - 16))
    assert outline.polygon.bounds == pytest.approx((0, 0, 70, 50))
    assert "6 separate contours" in problems[0].what


def test_step_and_repeat_in_inches_that_the_end_of_the_file_closes(tmp_path: Path) -> None:
    content = "%FSLAX23Y23*%%MOIN*%%SRX2Y1I2.0J0*%" + square(0, 0, 1) + "M02*"
    outline, _ = read(tmp_path, content)
    assert outline is not None
    assert outline.polygon.area == pytest.approx(2 * 25.4**2)
    assert outline.polygon.bounds[2] == pytest.approx(3 * 25.4)


def test_a_block_aperture_is_drawn_where_it_is_flashed(tmp_path: Path) -> None:
    content = MM33 + "%ABD12*%" + square(0, 0, 20) + "%AB*%D12*X10000Y0D03*X40000Y0D03*M02*"
    outline, _ = read(tmp_path, content)
    assert outline is not None
    assert outline.polygon.bounds == pytest.approx((10, 0, 60, 20))


def test_clear_regions_are_cut_out_and_later_dark_ones_painted_again(tmp_path: Path) -> None:
    content = (
        MM33 + f"G36*{square(0, 0, 40)}G37*%LPC*%G36*{square(10, 10, 20)}G37*%LPD*%G36*{square(15, 15, 5)}G37*M02*"
    )
    outline, _ = read(tmp_path, content)
    assert outline is not None
    assert outline.polygon.area == pytest.approx(1600 - 400 + 25)


def test_a_region_cut_in_along_one_line_has_a_hole(tmp_path: Path) -> None:
    content = (
        MM33 + "G36*X0Y0D02*X0Y40000D01*X40000D01*Y0D01*X10000D01*Y10000D01*X30000D01*Y30000D01*X10000D01*Y10000D01*"
        "Y0D01*X0D01*G37*M02*"
    )
    outline, problems = read(tmp_path, content)
    assert outline is not None, problems
    assert outline.polygon.area == pytest.approx(1200)
    assert len(outline.polygon.interiors) == 1


def test_the_centre_line_counts_whatever_the_aperture(tmp_path: Path) -> None:
    thin, _ = read(tmp_path, HEAD + BODY + END)
    thick, _ = read(tmp_path, HEAD.replace("0.100000", "2.000000") + BODY + END)
    assert thin is not None
    assert thick is not None
    assert thin.polygon.equals(thick.polygon)


@pytest.mark.parametrize(
    ("function", "what"),
    [("Copper,L1,Top", "copper"), ("Soldermask,Top", "mask"), ("Plated,1,2,PTH", "drill"), ("Legend,Bot", "legend")],
)
def test_another_layer_is_refused_by_its_file_function(function: str, what: str, tmp_path: Path) -> None:
    outline, problems = read(tmp_path, HEAD.replace("Profile,NP", function) + BODY + END)
    assert outline is None
    assert (problems[0].line, problems[0].severity) == (1, "error")
    assert what in problems[0].what


def test_a_mechanical_layer_is_read_with_a_warning(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, HEAD.replace("Profile,NP", "Other,Mechanical 1") + BODY + END)
    assert outline is not None
    assert [(problem.line, problem.severity) for problem in problems] == [(1, "warning")]


def test_a_layer_of_pads_without_file_function_is_doubted(tmp_path: Path) -> None:
    pads = "".join(f"X{index}000000Y5000000D03*\n" for index in range(11, 41))
    outline, problems = read(tmp_path, HEAD.partition("\n")[2] + pads + BODY + END)
    assert outline is not None
    assert "flashes many pads" in problems[0].what


def test_a_file_without_its_end_is_refused(tmp_path: Path) -> None:
    outline, problems = read(tmp_path, HEAD + BODY)
    assert outline is None
    assert "M02" in problems[0].what


WRONG = {
    "no format": ("%MOMM*%\n" + BODY + END, 2, "format"),
    "no unit": ("%FSLAX46Y46*%\n" + BODY + END, 2, "unit"),
    "bad format": ("%FSLAX4Y46*%\n%MOMM*%\n" + BODY + END, 1, "format"),
    "unit changes": (HEAD + "G70*\n" + BODY + END, 7, "unit"),
    "unknown code": (HEAD + "G99*\n" + BODY + END, 7, "G99"),
    "unknown word": (HEAD + "HELLO*\n" + BODY + END, 7, "HELLO"),
    "negative image": (HEAD + "%IPNEG*%\n" + BODY + END, 7, "IPNEG"),
    "mirrored": (HEAD + "%MIA1B0*%\n" + BODY + END, 7, "MIA1B0"),
    "moved": (HEAD + "%OFA1.5B0*%\n" + BODY + END, 7, "OFA1.5B0"),
    "scaled": (HEAD + "%SFA2.0B1.0*%\n" + BODY + END, 7, "SFA2.0"),
    "axes exchanged": (HEAD + "%ASAYBX*%\n" + BODY + END, 7, "ASAYBX"),
    "included file": (HEAD + "%IFother.gbr*%\n" + BODY + END, 7, "IF"),
    "open": (HEAD + BODY.rsplit("X", 1)[0] + END, 8, "gap of 40.000 mm between (10, 20) mm and (10, 60) mm"),
    "nothing": (HEAD + END, None, "no closed contour"),
    "letters in a number": (HEAD + "X1a0Y0D01*\n" + END, 7, "X1a0"),
    "asterisk missing": (HEAD + "X1Y1D02\n%LPD*%\n" + BODY + END, 7, "asterisk"),
    "impossible arc": (MM33 + "\nG74*X0Y0D02*\nG03X30000Y0I1000J1000D01*M02*", 3, "quadrant"),
    "uneven arc": (MM33 + "\nG75*X0Y0D02*\nG03X30000Y0I5000J0D01*M02*", 3, "distance"),
    "too many copies": (MM33 + "\n%SRX9999Y9999I1J1*%" + square(0, 0, 9) + "M02*", 2, "step and repeat"),
    "drill file": ("M48\nMETRIC\nT1C0.8\n%\nT1\nX1Y1\nM30\n", None, "drill"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_used_is_named_with_its_line(name: str, tmp_path: Path) -> None:
    content, line, what = WRONG[name]
    outline, problems = read(tmp_path, content)
    assert outline is None
    error = next(problem for problem in problems if problem.severity == "error")
    assert error.line == line
    assert what in error.what
    assert error.remedy


WORDS = ["X10000", "Y-5000", "I5000", "J0", "X99999999999999999999", "*", "*", "*", "%", "\n", "M02"]
WORDS += ["D01", "D02", "D03", "D10", "D12", "G01", "G02", "G03", "G36", "G37", "G74", "G75"]
WORDS += ["%FSLAX33Y33*%", "%MOMM*%", "%SRX2Y2I1J1*%", "%SR*%", "%ABD12*%", "%AB*%", "%LPC*%"]


@given(words=st.lists(st.sampled_from(WORDS), max_size=60))
def test_any_words_give_an_answer_or_problems(words: list[str], tmp_path: Path) -> None:
    outline, problems = read(tmp_path, "%FSLAX33Y33*%%MOMM*%" + "".join(words))
    assert outline is not None or problems


def test_the_other_reader_of_gerber_sees_the_same_lines(tmp_path: Path) -> None:
    from gerbonara.rs274x import GerberFile

    for content in (HEAD + UNORDERED + END, MM33 + "%ADD10C,0.1*%D10*" + ARC_MULTI + "M02*"):
        (tmp_path / "edge.gbr").write_text(content)
        (west, south), (east, north) = GerberFile.open(tmp_path / "edge.gbr").bounding_box("mm")
        outline, _ = read(tmp_path, content)
        assert outline is not None
        # that one counts the stroke's width
        assert outline.polygon.buffer(0.05).bounds == pytest.approx((west, south, east, north), abs=0.002)
