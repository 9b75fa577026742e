"""Temperatures and powers as purchasing lists write them: ranges, fractions, milliwatts, and where they hold."""

from __future__ import annotations

import re
from dataclasses import dataclass

from overlay.board.model import LimitAt

_LOWEST_C, _HIGHEST_C = 40.0, 600.0  # an upper end outside is none of a part's temperature range
_SIGN = r"[+\-\u2212\u2013]"
_DEGREES = r"(?:\s*(?:[°º˚]\s*[CF]|℃|℉|deg(?:rees)?\.?\s*[CF]|[CF](?![A-Za-z])))"
_TO = r"\s*(?:~|～|\bto\b|\bbis\b|\.\.\.?|…|/|-|–|—|through)\s*"
_RANGE = re.compile(
    rf"(?<![\w.,])(?P<low>{_SIGN}?\s*\d{{1,3}}(?:[.,]\d+)?)(?P<low_unit>{_DEGREES}?){_TO}"
    rf"(?P<high>\+?\s*\d{{1,4}}(?:[.,]\d+)?)(?P<unit>{_DEGREES}?)(?![\d%])",
    re.IGNORECASE,
)
_LONE = re.compile(
    rf"(?:(?:max(?:imum)?\.?|up to|bis|≤|<=?)\s*:?\s*)?(?P<high>\+?\s*\d{{1,4}}(?:[.,]\d+)?)(?P<unit>{_DEGREES}?)"
    r"(?:\s*(?:max(?:imum)?\.?))?",
    re.IGNORECASE,
)
_BASIS: tuple[tuple[re.Pattern[str], LimitAt], ...] = (
    (re.compile(r"\bT\s*_?j\b|junction|sperrschicht", re.IGNORECASE), "junction"),
    (re.compile(r"\bT\s*_?c(?:ase)?\b|\bcase\b|geh[äa]use|\bbody\b|\bhot\s?spot\b|surface", re.IGNORECASE), "surface"),
    (re.compile(r"\bT\s*_?a(?:mb)?\b|ambient|umgebung|free[- ]air", re.IGNORECASE), "ambient"),
)
# ranges of other things than the working part
_OTHER = re.compile(r"storage|\bTstg\b|lager|reflow|solder(?!\s*point)|l[öo]t", re.IGNORECASE)
_POWER = re.compile(
    r"(?<![\w.,/])(?:(?P<over>\d{1,2})\s*/\s*(?P<under>\d{1,3})|(?P<number>\d{1,4}(?:[.,]\d+)?|[.,]\d+))"
    r"\s*(?P<unit>[mk]?W(?:att)?s?)(?![a-z])(?P<at>\s*(?:@|at|bei)\s*(?P<at_c>\d{2,3})\s*°?\s*C)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class TemperatureLimit:
    """The upper end of a temperature range, and where it holds; ``at`` is None where nothing tells."""

    high_c: float
    at: LimitAt | None


def basis_of(text: str) -> LimitAt | None:
    """Where a temperature holds by the words beside it: junction, case, ambient; None where none tell."""
    return next((at for pattern, at in _BASIS if pattern.search(text)), None)


def temperature_limits(text: str, *, unit: str = "", sure: bool = True) -> tuple[TemperatureLimit, ...]:
    """The limits that a cell tells, each with its basis.

    Parameters
    ----------
    unit
        Unit of the column's heading (``"C"`` or ``"F"``), for cells that name none.
    sure
        The column is one of temperatures: a lone number is an upper end, and a range of a sub-zero and a warm end
        needs no unit. Elsewhere (a description) only ranges with their unit are taken.

    >>> temperature_limits("-40°C ~ 125°C (TJ)")
    (TemperatureLimit(high_c=125.0, at='junction'),)
    >>> temperature_limits("155C"), temperature_limits("0.1 uF"), temperature_limits("85", unit="")
    ((TemperatureLimit(high_c=155.0, at=None),), (), ())
    """
    limits: list[TemperatureLimit] = []
    for clause in re.split(r"[;\n]|,(?!\d)", text):
        if _OTHER.search(clause):
            continue
        lone = _LONE.fullmatch(re.sub(r"\(.*?\)|@.*", "", clause).strip()) if sure else None
        for match in (*_RANGE.finditer(clause), *([] if lone is None else [lone])):
            high = _celsius(match, unit, sure)
            if high is not None and _LOWEST_C <= high <= _HIGHEST_C:
                break
        else:
            continue
        behind = clause if sure else _bracketed(clause[match.end() :])  # "surface mount" is no basis
        limits.append(TemperatureLimit(high, basis_of(behind)))
    return tuple(dict.fromkeys(limits))


def _bracketed(text: str) -> str:
    """What stands in brackets right behind."""
    match = re.match(r"\s*[(\[]([^)\]]{1,20})[)\]]", text)
    return "" if match is None else match[1]


def _celsius(match: re.Match[str], unit: str, sure: bool) -> float | None:
    cells = match.groupdict()
    said = (cells["unit"] or cells.get("low_unit") or "").upper().replace("℃", "C").replace("℉", "F")
    letter = said[-1:] or unit
    low = cells.get("low")
    value = _number(cells["high"])
    if low is not None:
        below = _number(low)
        if below is None or value is None or below >= value:
            return None
        if not letter and sure and below <= 0.0:
            letter = "C"  # grades that begin below zero and end at 70 to 200 are written in °C all over the trade
    if value is None or letter not in ("C", "F"):
        return None
    return value if letter == "C" else round((value - 32.0) / 1.8, 1)


def rated_power_w(text: str) -> float | None:
    """The power that a cell tells, in watts; None where it tells none or several that differ.

    >>> rated_power_w("1/4W"), rated_power_w("250 mW"), rated_power_w("0,125W"), rated_power_w("0.1W, 1/10W")
    (0.25, 0.25, 0.125, 0.1)
    """
    found = []
    for match in _POWER.finditer(text):
        if match["over"]:
            under = int(match["under"])
            value = int(match["over"]) / under if under else None
        else:
            value = _number(match["number"])
        if value is not None and value > 0.0:
            scale = {"M": 1e-3, "K": 1e3}.get(match["unit"][0].upper(), 1.0)
            found.append(value * scale)
    if not found or max(found) > 1.06 * min(found):
        return None  # 0.063 W and 1/16 W are one
    return round(found[0], 6)


def _number(text: str) -> float | None:
    text = re.sub(r"\s", "", text).replace("\u2212", "-").replace("\u2013", "-").replace(",", ".")
    try:
        return float(text)
    except ValueError:
        return None
