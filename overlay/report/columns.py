"""The columns of the table of parts: one list for the PDF, the page, the CSV and the terminal.

A column is added, renamed or moved here and nowhere else. Each says in which tables it stands:

========== =========================================================
``first``  the short tables on the first page of the PDF
``all``    the PDF's table of all parts
``page``   the table of ``margin_map.html`` and of the workbench
``csv``    ``components.csv``
``text``   the terminal
========== =========================================================
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from overlay.report.content import DASH, PartRow, kelvin, probability, sentences

Place = Literal["first", "all", "page", "csv", "text"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table of parts.

    Parameters
    ----------
    key
        Its name in ``components.csv``.
    heading
        In tables for people.
    text
        The cell in tables for people.
    raw
        The cell in the CSV: numbers with more digits, empty for none; the same as ``text`` where None.
    places
        Words of the module's table, separated by blanks.
    width_mm, first_mm
        In the PDF's table of all parts, and in the short ones.
    """

    key: str
    heading: str
    text: Callable[[PartRow], str]
    places: str
    raw: Callable[[PartRow], str] | None = None
    number: bool = False
    prose: bool = False  # broken into lines rather than made wider
    width_mm: float = 12.0
    first_mm: float = 14.0

    def cell(self, row: PartRow, place: Place) -> str:
        """What stands in it for a part."""
        return self.raw(row) if place == "csv" and self.raw is not None else self.text(row)


def columns_of(place: Place) -> tuple[Column, ...]:
    """The columns of one table, in their order."""
    return tuple(column for column in COLUMNS if place in column.places.split())


def _number(digits: int, value: Callable[[PartRow], float | None]) -> Callable[[PartRow], str]:
    def cell(row: PartRow) -> str:
        found = value(row)
        return "" if found is None else f"{found:.{digits}f}"

    return cell


def _life(row: PartRow) -> str:
    life_h = row.margin.life_h
    return DASH if life_h is None else f"{life_h:,.0f} h".replace(",", "\N{NARROW NO-BREAK SPACE}")


def _mean_c(row: PartRow) -> float | None:
    return None if row.trusted is None else row.trusted.mean_c


def _peak_c(row: PartRow) -> float | None:
    return None if row.trusted is None else row.trusted.peak_c


def _limit_place(row: PartRow) -> str:
    """Where a limit is from, short: the whole of it stands under "Where the limits come from"."""
    source = row.margin.limit_source or DASH
    return source if len(source) <= _LONGEST_SOURCE else f"{source[: _LONGEST_SOURCE - 1].rstrip()}…"


def _load(row: PartRow) -> str:
    return DASH if row.margin.load_ratio is None else f"{row.margin.load_ratio:.0%}"


_LONGEST_SOURCE = 44  # letters: two lines of its column


COLUMNS: tuple[Column, ...] = (
    Column("refdes", "part", lambda row: row.refdes, "first all page csv text", width_mm=13),
    Column("verdict", "verdict", lambda row: row.verdict, "first all page csv text", width_mm=15, first_mm=17),
    Column(
        "margin_c",
        "margin K",
        lambda row: kelvin(row.margin.margin_c),
        "first all page csv text",
        _number(2, lambda row: row.margin.margin_c),
        number=True,
        width_mm=11,
        first_mm=16,
    ),
    Column(
        "expanded_c",
        "U K",
        lambda row: kelvin(row.expanded_c),
        "first all page csv text",
        _number(2, lambda row: row.expanded_c),
        number=True,
        width_mm=9,
        first_mm=10,
    ),
    Column("u_c", "u K", _number(2, lambda row: row.u_c), "csv", number=True),
    Column(
        "probability_within",
        "within",
        lambda row: probability(row.margin.probability_within),
        "first all page csv",
        _number(4, lambda row: row.margin.probability_within),
        number=True,
        width_mm=11,
    ),
    Column(
        "rating_margin_c",
        "to rating K",
        lambda row: kelvin(row.margin.rating_margin_c),
        "all page csv",
        _number(2, lambda row: row.margin.rating_margin_c),
        number=True,
    ),
    Column(
        "rise_k",
        "rise K",
        lambda row: kelvin(row.rise_k),
        "first all page csv text",
        _number(2, lambda row: row.rise_k),
        number=True,
        width_mm=10,
        first_mm=12,
    ),
    Column(
        "projected_c",
        "projected °C",
        lambda row: kelvin(row.margin.projected_c),
        "first all page csv text",
        _number(2, lambda row: row.margin.projected_c),
        number=True,
        width_mm=15,
        first_mm=19,
    ),
    Column(
        "limit_c",
        "limit °C",
        lambda row: kelvin(row.margin.limit_c),
        "first all page csv text",
        _number(2, lambda row: row.margin.limit_c),
        number=True,
    ),
    Column(
        "limit_at",
        "limit at",
        lambda row: row.margin.limit_at or DASH,
        "page csv",
        lambda row: row.margin.limit_at or "",
    ),
    Column(
        "limit_source",
        "limit from",
        lambda row: row.margin.limit_source or DASH,
        "page csv",
        lambda row: row.margin.limit_source,
        prose=True,
    ),
    Column("limit_place", "limit from", _limit_place, "first", prose=True, first_mm=37),
    Column("worst_capture", "capture", lambda row: row.capture, "page csv text"),
    Column("peak_c", "peak °C", lambda row: row.peak, "first all page csv", _number(2, _peak_c), number=True),
    Column("mean_c", "mean °C", _number(2, _mean_c), "csv", number=True),
    Column("state", "state", lambda row: row.state, "all page csv", width_mm=11),
    Column("side", "side", lambda row: row.side, "page csv"),
    Column("kind", "kind", lambda row: row.component.kind, "first all page csv", width_mm=16, first_mm=18),
    Column("package", "package", lambda row: row.component.package, "all page csv", width_mm=17),
    Column("part_number", "part number", lambda row: row.component.part_number, "csv"),
    Column("x_mm", "x mm", lambda row: f"{row.component.center_mm[0]:.3f}", "csv", number=True),
    Column("y_mm", "y mm", lambda row: f"{row.component.center_mm[1]:.3f}", "csv", number=True),
    Column(
        "emissivity",
        "emissivity",
        _number(3, lambda row: None if row.reading is None else row.reading.emissivity),
        "csv",
        number=True,
    ),
    Column(
        "emissivity_u",
        "± emissivity",
        _number(3, lambda row: None if row.reading is None else row.reading.emissivity_u),
        "csv",
        number=True,
    ),
    Column(
        "load_ratio", "load", _load, "all csv", _number(3, lambda row: row.margin.load_ratio), number=True, width_mm=9
    ),
    Column("life_h", "life", _life, "all csv", _number(0, lambda row: row.margin.life_h), number=True, width_mm=12),
    Column("why", "why", lambda row: sentences(row.why), "csv"),
)
