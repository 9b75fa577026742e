"""Bodies of MELF resistors and of moulded tantalum capacitors, by size code, EIA number or case letter."""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, Tantalum, codes, tantalums

_MELF = re.compile(r"(?<![A-Z])(?:(MINI|MICRO)[-_ ]?)?MELF|(?<![A-Z])MM[ABU](?![A-Z])")
_TANTALUM = re.compile(
    r"TANTALUM|(?<![A-Z])(?:CP|TANT?|CT)(?![A-Z])|EIA[-_ ]?\d{4}[-_]\d\d|(?<![A-Z])CASE[-_ ]?[A-EVXY](?![A-Z])"
)
_EIA = re.compile(
    r"(?:(?<![A-Z\d])|(?<=C)|(?<=CP)|(?<=CT)|(?<=CASE)|(?<=TANT)|(?<=EIA))"
    r"(1608|2012|3216|3528|6032|7343|7360|7361)(?:[-_](\d\d)(?!\d))?(?!\d)"
)
_LETTER = re.compile(
    r"(?:(?:CASE|SIZE|TANTALUM|TANT?|CT|KEMET|AVX|VISHAY|CP)[-_ ]*(?:CASE[-_ ]*)?)(?P<letter>[A-EPRSTUVWXY])(?:$|[-_ ])"
)
_NO_CAPACITOR = re.compile(r"LED|PLCC|CRYSTAL|XTAL|^OSC|^L[-_ ]?\d|^IND|^SMD[-_]?\d|^D[-_]|^R[-_ \d]|DIODE|FUSE")
_ONLY_TANTALUM = frozenset(("3528", "6032", "7343", "7360", "7361"))


def named_melf(name: str) -> Named | None:
    """A resistor in a metal electrode face body; diodes stand in the table of packages."""
    match = _MELF.search(name)
    if match is None:
        return None
    size = {None: "0207", "MINI": "0204", "MICRO": "0102"}[match[1]] if name.startswith("R") else ""
    for code, (length, diameter, height) in codes("melf resistor").items():
        if re.search(rf"(?<!\d){code}(?!\d)", name) or code == size:
            return Named(Body(length, diameter, height, f"MELF size {code}", terminals="ends"), kind="resistor")
    return None


def named_tantalum(name: str, kind: str = "") -> Named | None:
    """A moulded tantalum capacitor by EIA number, or by a case letter that means the same to every maker."""
    if _NO_CAPACITOR.search(name):
        return None
    marked = _TANTALUM.search(name) is not None
    number = _EIA.search(name)
    if number is not None and (marked or number[1] in _ONLY_TANTALUM or number[2]):
        if number[2]:
            found = [case for case in tantalums() if case.eia.startswith(number[1])]
            source = f"EIA {number[1]}-{number[2]}"
            return _moulded(found[0], source, int(number[2]) / 10) if found else None
        found = [case for case in tantalums() if case.eia.startswith(number[1])]
        letter = _LETTER.search(name)
        lettered = [case for case in found if letter is not None and case.letter == letter["letter"]]
        if lettered:
            return _moulded(lettered[0], f"EIA {lettered[0].eia}")
        if not marked and number[1] == "3528" and kind not in ("capacitor", "tantalum", ""):
            return None
        case = found[0]  # all cases of one number share length and width, not the height
        height = case.height_mm if len(found) == 1 else None
        return _moulded(Tantalum(number[1], "", case.length_mm, case.width_mm, 0.0), f"EIA {number[1]}", height)
    other = re.search(r"EIA[-_ ]?(\d\d)(\d\d)[-_](\d\d)(?!\d)", name)
    if other is not None:
        # the number is length, width and height in tenths of a millimetre
        length, width, height = (int(digits) / 10 for digits in other.groups())
        source = f"EIA {other[1]}{other[2]}-{other[3]}"
        return _moulded(Tantalum(source, "", length, width, height), source) if length >= width >= 0.5 else None
    letter = _LETTER.search(name)
    if letter is None or not (marked or re.match(r"(?:SIZE|CASE)", name)):
        return None
    lettered = [case for case in tantalums() if case.letter == letter["letter"] and case.letter in "ABCD"]
    return _moulded(lettered[0], f"EIA {lettered[0].eia}, case {letter['letter']}") if lettered else None


def _moulded(case: Tantalum, source: str, height_mm: float | None = None) -> Named:
    height = height_mm if height_mm is not None else case.height_mm or None
    # the terminals fold under the mould: from above they show beyond its ends, not on it
    return Named(Body(case.length_mm, case.width_mm, height, source, terminals="leads_x"), kind="tantalum")
