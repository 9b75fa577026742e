"""Tables written in a random dialect are read back exactly; any bytes give an answer or problems."""

import csv
import io
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.board.model import Placement
from overlay.board.placement.read import read_placement

MM = {"mm": 1.0, "um": 0.001, "mil": 0.0254, "inch": 25.4}
DECIMALS = {"mm": 4, "um": 1, "mil": 2, "inch": 5}
WORDS = {"mm": ["mm", "millimeters", "MM"], "um": ["um", "microns"], "mil": ["mil", "mils", "thou"], "inch": ["inch"]}
SUFFIXES = {"mm": ["mm", " mm"], "um": ["um"], "mil": ["mil", "mils"], "inch": ["in", '"', " inch"]}


@dataclass(frozen=True)
class Part:
    refdes: str
    x: float  # in the file's unit, as written
    y: float
    rotation: float
    side: str
    package: str
    value: str


@dataclass(frozen=True)
class Dialect:
    container: str
    unit: str
    unit_in: str
    unit_word: str
    suffix: str
    comma: bool
    encoding: str
    line_end: str
    preamble: tuple[str, ...]
    trailer: tuple[str, ...]
    headings: tuple[str, str, str, str, str, str, str]
    comment_heading: bool
    side_in: str
    side_words: tuple[str, str]
    quoting: int
    order: tuple[int, ...]
    extra_pair: bool
    right: bool
    gap: str


X_Y = [
    ("Mid X", "Mid Y"),
    ("PosX", "PosY"),
    ("X", "Y"),
    ("Center-X", "Center-Y"),
    ("LocationX", "LocationY"),
    ("X Coord", "Y Coord"),
]
PREAMBLES = [
    "Pick and place report",
    "Date:       14/05/19",
    "C:\\jobs\\mil\\top board.brd",
    "=" * 60,
    "Board thickness 1.6 mm; smallest track 6 mil",
    "Revision: B, printed at 12:03",
    "Drill units: inch",
    "",
]
TRAILERS = ["## End", "Total parts placed by machine", "", "# end of file"]

texts = st.sampled_from(["10k", "100nF", "10k 1%", "LM317", "BAT54", "0,1uF/50V", "4.7", "", "22"])
packages = st.sampled_from(["0603", "SOT-23", "RESC1608X55N", "QFN 16", "C_0402", "DIP8", "SOIC-8_3.9x4.9mm"])


@st.composite
def part_lists(draw: st.DrawFn) -> list[tuple[str, float, float, float, str, str, str]]:
    count = draw(st.integers(1, 8))
    letters = draw(st.lists(st.sampled_from(list("RCULDQJc")), min_size=count, max_size=count))
    rows = []
    for index, letter in enumerate(letters):
        x, y = (draw(st.integers(-20_000_000, 30_000_000)) / 100_000 for _ in range(2))
        rotation = draw(st.sampled_from([0.0, 90.0, 180.0, 270.0, 45.0, -90.0, 33.5, 315.0]))
        side = draw(st.sampled_from(["top", "bottom"]))
        rows.append((f"{letter}{index + 1}", x, y, rotation, side, draw(packages), draw(texts)))
    return rows


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    container = draw(st.sampled_from([",", ";", "\t", "|", "!", "aligned", "ragged"]))
    unit = draw(st.sampled_from(sorted(MM)))
    unit_in = draw(st.sampled_from(["heading", "preamble", "suffix", "argument", "units row"]))
    if unit == "inch" and unit_in == "suffix" and container == "aligned":
        unit_in = "heading"
    if container == "ragged" and unit_in in ("suffix", "units row"):
        unit_in = "preamble"
    side_in = draw(st.sampled_from(["column", "mirror", "letters", "name", "preamble"]))
    x_y = draw(st.sampled_from(X_Y))
    headings = (
        draw(st.sampled_from(["Designator", "RefDes", "Reference", "Ref Des", "reference designator"])),
        *x_y,
        draw(st.sampled_from(["Rotation", "Rot", "Angle", "ROTATION", "Orientation"])),
        draw(st.sampled_from(["Layer", "Side", "TB", "Mount side"])) if side_in == "column" else "Mirror",
        draw(st.sampled_from(["Footprint", "Package", "Pattern"])),
        draw(st.sampled_from(["Value", "Comment", "Val"])),
    )
    encodings = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
    return Dialect(
        container=container,
        unit=unit,
        unit_in=unit_in,
        unit_word=draw(st.sampled_from(WORDS[unit])),
        suffix=draw(st.sampled_from(SUFFIXES[unit])) if container not in ("aligned", "ragged") else SUFFIXES[unit][0],
        comma=draw(st.booleans()),
        encoding=draw(st.sampled_from(encodings)),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        preamble=tuple(draw(st.lists(st.sampled_from(PREAMBLES), max_size=5))),
        trailer=tuple(draw(st.lists(st.sampled_from(TRAILERS), max_size=2))),
        headings=headings,
        comment_heading=draw(st.booleans()),
        side_in=side_in,
        side_words=draw(
            st.sampled_from(
                [("top", "bottom"), ("T", "B"), ("TopLayer", "BottomLayer"), ("F.Cu", "B.Cu"), ("Top", "Bot")]
            )
        ),
        quoting=draw(st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC])),
        order=tuple(draw(st.permutations(range(7)))),
        extra_pair=draw(st.booleans()),
        right=draw(st.booleans()),
        gap=draw(st.sampled_from([" ", "  ", "     "])),
    )


def number(value: float, decimals: int, comma: bool) -> str:
    text = f"{value:.{decimals}f}"
    return text.replace(".", ",") if comma else text


def written(
    rows: list[tuple[str, float, float, float, str, str, str]], dialect: Dialect
) -> tuple[bytes, str, str | None]:
    """Bytes of the file, its name, and the units argument."""
    digits = DECIMALS[dialect.unit]
    suffix = dialect.suffix if dialect.unit_in == "suffix" else ""
    heads = list(dialect.headings)
    if dialect.unit_in == "heading":
        heads[1], heads[2] = (f"{head}({dialect.unit_word})" for head in heads[1:3])
    table, units_row = [], ["", dialect.unit_word, dialect.unit_word, "", "", "", ""]
    for refdes, x, y, rotation, side, package, value in rows:
        angle = number(rotation, 2, dialect.comma)
        mark = {"column": dialect.side_words[side == "bottom"], "mirror": "Y" if side == "bottom" else "N"}
        if dialect.side_in == "letters":
            angle = ("MR" if side == "bottom" else "R") + angle
        cells = [
            refdes,
            number(x, digits, dialect.comma) + suffix,
            number(y, digits, dialect.comma) + suffix,
            angle,
            mark.get(dialect.side_in, ""),
            package,
            value,
        ]
        table.append(cells)
    order = [index for index in dialect.order if index != 4 or dialect.side_in in ("column", "mirror")]
    lines = [heads, *([units_row] if dialect.unit_in == "units row" else []), *table]
    arranged = [[row[index] for index in order] for row in lines]
    if dialect.extra_pair and dialect.unit_in in ("argument", "preamble", "suffix"):
        arranged = [
            [*row, *(["Pad X", "Pad Y"] if row is arranged[0] else [number(1.0, digits, dialect.comma) + suffix] * 2)]
            for row in arranged
        ]
    if dialect.container == "aligned":
        body = aligned(arranged, dialect)
    elif dialect.container == "ragged":
        body = [" ".join(row) for row in arranged]
    else:
        body = delimited(arranged, dialect)
    if dialect.comment_heading and dialect.container != "aligned":
        body[0] = "# " + body[0]
    preamble = list(dialect.preamble)
    if dialect.unit_in == "preamble":
        preamble.append(f"Units used: {dialect.unit_word}")
    if dialect.side_in == "preamble":
        preamble.append(f"## Side : {rows[0][4]}")
    text = dialect.line_end.join([*preamble, *body, *dialect.trailer, ""])
    name = f"board-{rows[0][4]}.csv" if dialect.side_in == "name" else "board.csv"
    return text.encode(dialect.encoding), name, dialect.unit if dialect.unit_in == "argument" else None


def delimited(rows: list[list[str]], dialect: Dialect) -> list[str]:
    stream = io.StringIO()
    csv.writer(stream, delimiter=dialect.container, quoting=dialect.quoting, lineterminator="\n").writerows(rows)
    return stream.getvalue().rstrip("\n").split("\n")


def aligned(rows: list[list[str]], dialect: Dialect) -> list[str]:
    widths = [max(len(row[index]) for row in rows) for index in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if dialect.right and index % 2 else cell.ljust(width)
            for index, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(dialect.gap.join(cells).rstrip())
    return lines


def read_bytes(data: bytes, name: str, units: str | None = None) -> tuple[Placement | None, list[str]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "placement"
        path.write_bytes(data)
        placement, problems = read_placement(path, name, units=units)
    return placement, [str(problem) for problem in problems if problem.severity == "error"]


@given(part_lists(), dialects())
def test_a_table_written_in_any_dialect_is_read_back_exactly(
    rows: list[tuple[str, float, float, float, str, str, str]], dialect: Dialect
) -> None:
    if dialect.side_in in ("name", "preamble"):
        rows = [(*row[:4], rows[0][4], *row[5:]) for row in rows]
    if dialect.container == "ragged":  # single blanks: nothing is blank, and no text holds one
        rows = [(*row[:5], row[5].replace(" ", "_"), (row[6] or "x").replace(" ", "_")) for row in rows]
    data, name, units = written(rows, dialect)
    placement, errors = read_bytes(data, name, units)
    text = data.decode(dialect.encoding)
    assert not errors, f"{errors}\n{text}"
    assert placement is not None
    factor = MM[dialect.unit]
    digits = DECIMALS[dialect.unit]
    assert placement.units == dialect.unit, text
    assert len(placement.components) == len(rows), text
    for row, component in zip(rows, placement.components, strict=True):
        assert component.refdes == row[0]
        assert component.center_mm == pytest.approx(
            (round(row[1], digits) * factor, round(row[2], digits) * factor), abs=2e-9 + factor * 10.0**-digits / 2
        ), text
        assert component.rotation_deg == pytest.approx(row[3] % 360.0)
        assert component.side == row[4], text
        assert (component.package, component.value) == (row[5], row[6]), text


@given(st.binary(max_size=400))
def test_any_bytes_give_an_answer_or_problems(data: bytes) -> None:
    placement, errors = read_bytes(data, "board.csv")
    assert (placement is None) == bool(errors) or placement is not None


ALPHABET = st.sampled_from(
    list("RCUJ0123456789.,;:|!\t \"'#*-+()[]<>/\\=%\n\r\0")
    + ["Ref", " X", ",Y", "Rot", "Side", "mm", "mil", "top", "R1", "°"]
)


@given(st.lists(ALPHABET, max_size=80), st.sampled_from(["utf-8", "utf-16", "cp1252", "gb18030"]))
def test_any_text_that_resembles_a_placement_gives_an_answer_or_problems(words: list[str], encoding: str) -> None:
    text = "Ref,X(mm),Y(mm),Rot,Side\n" + "".join(words)
    for start in (text, "".join(words), text.replace(",", "  ")):
        placement, errors = read_bytes(start.encode(encoding, "replace"), "board.csv")
        assert placement is not None or errors


@given(part_lists(), dialects(), st.data())
def test_a_damaged_file_gives_an_answer_or_problems(
    rows: list[tuple[str, float, float, float, str, str, str]], dialect: Dialect, data: st.DataObject
) -> None:
    whole, name, units = written(rows, dialect)
    start = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(start, min(len(whole), start + 30)))
    placement, errors = read_bytes(whole[:start] + data.draw(st.binary(max_size=4)) + whole[end:], name, units)
    assert placement is not None or errors
