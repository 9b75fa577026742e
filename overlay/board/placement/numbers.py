"""Numbers as placement files write them: decimal comma, thousands, unit suffixes, angles."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from overlay.board.placement.units import Unit, unit_of_word

Style = Literal["point", "comma"]

_SIGNS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "\N{FULLWIDTH HYPHEN-MINUS}": "-", "＋": "+"})
_SPACES = "    "
_SHAPE = re.compile(
    rf"([+-]?)\s*(\d[\d.,'’{_SPACES}]*|[.,]\d+)(e[+-]?\d+)?\s*([a-zµμ密尔毫米英寸мил\"”']{{0,12}}\.?)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number as it stands in a cell, and the unit written behind it."""

    value: float
    unit: Unit | None = None


@lru_cache(maxsize=20_000)  # each cell is looked at for the column's kind, for its style and for its value
def _parts(text: str) -> tuple[str, str, str, Unit | None] | None:
    """Sign, digits with their marks, exponent, unit; None where the text is no number."""
    match = _SHAPE.fullmatch(text.strip().translate(_SIGNS))
    if match is None:
        return None
    sign, digits, exponent, suffix = match.groups(default="")
    digits = digits.strip()
    unit = None
    if suffix:
        unit = unit_of_word(suffix)
        if unit is None or unit.mm is None:
            return None
    return sign, digits, exponent, unit


def looks_numeric(text: str) -> bool:
    """Whether a cell can be a coordinate in any style; ``0603`` can not: its leading zero makes it a name.

    >>> looks_numeric("1,204.72mil"), looks_numeric("-.5"), looks_numeric("0603"), looks_numeric("10k")
    (True, True, False, False)
    """
    parts = _parts(text)
    return parts is not None and parts[1][-1] != "," and re.fullmatch(r"0\d+", parts[1]) is None


def number_style(texts: Iterable[str]) -> Style | None:
    """Whether a comma is the decimal mark of these cells or parts thousands; None where they do not tell.

    >>> number_style(["12,5", "7"]), number_style(["1,204.72"]), number_style(["1.204,72"]), number_style(["1,204"])
    ('comma', 'point', 'comma', None)
    """
    points = commas = doubtful = plain_large = 0
    for text in texts:
        parts = _parts(text)
        if parts is None:
            continue
        digits = parts[1]
        if "," not in digits:
            points += re.search(r"\.(?!\d{3}$)\d*$", digits) is not None
            plain_large += re.fullmatch(r"\d{4,}(\.\d*)?", digits) is not None
        elif "." in digits:
            if digits.rindex(",") > digits.rindex("."):
                commas += 1
            else:
                points += 1
        elif digits.count(",") > 1:
            points += 1
        elif re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
            doubtful += 1
        else:
            commas += 1
    if commas:
        return "comma" if commas >= points else "point"
    if doubtful and not points:
        return "comma" if plain_large else None
    return "point"


def parse_figure(text: str, style: Style) -> Figure | None:
    """A finite number in one of the two styles; None for what is no number, or breaks the style.

    >>> parse_figure("14.4mm", "point").value, parse_figure("1.204,5", "comma").value, parse_figure("12.5", "comma")
    (14.4, 1204.5, None)
    """
    parts = _parts(text)
    if parts is None:
        return None
    sign, digits, exponent, unit = parts
    for space in ("'", "’", *_SPACES):
        if space in digits:
            if re.fullmatch(rf"\d{{1,3}}({space}\d{{3}})+([.,]\d+)?", digits) is None:
                return None
            digits = digits.replace(space, "")
    decimal, group = (",", ".") if style == "comma" else (".", ",")
    if group in digits:
        whole = rf"\d{{1,3}}(\{group}\d{{3}})+(\{decimal}\d*)?"
        if re.fullmatch(whole, digits) is None:
            return None
        digits = digits.replace(group, "")
    digits = digits.replace(decimal, ".")
    if digits.count(".") > 1:
        return None
    value = float(f"{sign}{digits}{exponent}")
    return Figure(value, unit) if math.isfinite(value) else None


@dataclass(frozen=True, slots=True)
class Angle:
    """Degrees as written, whether a letter says mirrored, and the side a trailing letter names."""

    degrees: float
    mirrored: bool = False
    lettered: bool = False
    side: str = ""


_ANGLE = re.compile(
    r"(?P<letters>S?M?S?R|M)?\s*(?P<number>[+-]?[\d.,]+(?:e[+-]?\d+)?)\s*(?:°|º|˚|deg\.?|degrees?|"
    r"度)?\s*(?P<side>[TB])?",
    re.IGNORECASE,
)


def parse_angle(text: str, style: Style) -> Angle | None:
    """Degrees, also as ``R90``, ``MR180``, ``SMR90``, ``90°``, ``90 deg``.

    >>> parse_angle("MR180", "point"), parse_angle("-90.00", "point").degrees
    (Angle(degrees=180.0, mirrored=True, lettered=True, side=''), -90.0)
    """
    match = _ANGLE.fullmatch(text.strip().translate(_SIGNS))
    if match is None:
        return None
    figure = parse_figure(match.group("number"), style)
    if figure is None:
        return None
    letters = (match.group("letters") or "").upper()
    side = {"T": "top", "B": "bottom"}.get((match.group("side") or "").upper(), "")
    return Angle(figure.value, "M" in letters, bool(letters), side)
