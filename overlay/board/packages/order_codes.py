"""Bodies told by ordering codes: a chip's size within it, or an IC's outline code at its end."""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.outlines import body_of_outline_code
from overlay.board.packages.sizes import Named, chips_by_inch

_SIZES = "01005|0201|0402|0603|0805|1206|1210|1812|2010|2512"
# the inch code behind a series' letters, or at the beginning: RC0402FR-0710KL, CC0603KRX7R9BB104, 08055C103KAT2A
_INCH = re.compile(rf"[A-Z]{{0,5}}(?P<code>{_SIZES})(?=[A-Z]|\d[A-Z])[A-Z0-9./-]{{4,}}")
# series that write a size of their own: letters, their sizes and the inch code behind each (from memory)
_SERIES: tuple[tuple[re.Pattern[str], dict[str, str]], ...] = (
    (
        re.compile(r"G[RCJ]M(?P<size>03|15|18|21|31|32|43)\d?[A-Z0-9]"),
        {"03": "0201", "15": "0402", "18": "0603", "21": "0805", "31": "1206", "32": "1210", "43": "1812"},
    ),
    (
        re.compile(r"CL(?P<size>03|05|10|21|31|32)[A-Z]\d"),
        {"03": "0201", "05": "0402", "10": "0603", "21": "0805", "31": "1206", "32": "1210"},
    ),
    (
        re.compile(r"BLM(?P<size>03|15|18|21|31)[A-Z]"),
        {"03": "0201", "15": "0402", "18": "0603", "21": "0805", "31": "1206"},
    ),
    (
        re.compile(r"(?:C|CGA\d?|MLZ|MLP|MPZ|MMZ)(?P<size>1005|1608|2012|3216|3225|4532)[A-Z]"),
        {"1005": "0402", "1608": "0603", "2012": "0805", "3216": "1206", "3225": "1210", "4532": "1812"},
    ),
    (
        re.compile(r"C(?P<size>0402|0603)C\d{3}"),  # inch with one maker's grammar: capacitance behind the second C …
        {"0402": "0402", "0603": "0603"},
    ),
    (
        re.compile(r"C(?P<size>0402|0603)(?:X|C0G|C[HLT]|J)"),  # … metric with another's: dielectric behind the size
        {"0402": "01005", "0603": "0201"},
    ),
    (
        re.compile(r"[A-Z]MK(?P<size>063|105|107|212|316|325)[A-Z]{1,3}\d"),
        {"063": "0201", "105": "0402", "107": "0603", "212": "0805", "316": "1206", "325": "1210"},
    ),
    (
        re.compile(r"ERJ-?(?:P|PA|B|S|U|T)?(?P<size>1G|2R|2G|3E|3G|6E|6G|8E|8G|14|12|1T)[A-Z]"),
        {"1G": "0201", "2R": "0402", "2G": "0402", "3E": "0603", "3G": "0603", "6E": "0805", "6G": "0805"}
        | {"8E": "1206", "8G": "1206", "14": "1210", "12": "1812", "1T": "2512"},
    ),
)
_EITHER = re.compile(r"C0[46]0[23]")  # inch or metric, by the maker: told above or not at all
_OUTLINE = re.compile(r"[A-Z]{2,5}\d[A-Z0-9-]*?\d[A-Z]?[A-Z]??(?P<code>[DR][A-Z]{2})[RT]?(?:G4|Q1|E4|-Q1)?")


def chip_of_order_code(text: str, kind: str) -> Named | None:
    """A resistor, capacitor or coil by the size code within its ordering code; None where none is certain.

    >>> chip_of_order_code("RC0805FR-0733RL", "resistor").body.length_mm
    2.0
    >>> chip_of_order_code("10k 0402", "resistor") is None
    True
    """
    code = text.strip().upper()
    inch = next((sizes[match["size"]] for series, sizes in _SERIES if (match := series.match(code)) is not None), None)
    if inch is None and not _EITHER.match(code) and (match := _INCH.fullmatch(code)) is not None:
        inch = match["code"]
    if inch is None:
        return None
    chip = chips_by_inch()[inch]
    source = f"chip size {inch} (inch) in the ordering code {text.strip()}"
    return Named(Body(chip.length_mm, chip.width_mm, chip.height_mm(kind), source, terminals="ends"), kind=kind)


def outline_of_order_code(text: str) -> Named | None:
    """The body told by an outline code at the end of an ordering code: part, three letters, reel, grade."""
    match = _OUTLINE.fullmatch(text.strip().upper())
    return None if match is None else body_of_outline_code(match["code"], f" in the ordering code {text.strip()}")
