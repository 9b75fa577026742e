"""Placements written as records, a line a property, brought to the rows of a table.

Two kinds: reports of footprints between ``$MODULE`` and ``$EndMODULE``, and the components of a GenCAD file
(GenCAD 1.4, keywords from memory).
"""

from __future__ import annotations

import re

from overlay.board.placement.text import Line, Sheet

_HEADINGS = ("Designator", "Value", "Footprint", "X", "Y", "Rotation", "Side")
_UNIT_WORDS = {"INCH": "inch", "MM": "mm", "THOU": "mil", "MM100": "0.01 mm"}


def record_sheet(text: str) -> Sheet | None:
    """The records of a text as one table with headings of ours; None where it holds none.

    What the text states besides, its units above all, stays as lines of prose.
    """
    if re.search(r"^\$MODULE\b", text, re.MULTILINE):
        return _footprints(text)
    if re.search(r"^\$COMPONENTS\b", text, re.MULTILINE) and re.search(r"^COMPONENT\b", text, re.MULTILINE):
        return _gencad(text)
    return None


def _line(number: int, cells: tuple[str, ...]) -> Line:
    return Line(number, " ".join(cell for cell in cells if cell), cells)


def _words(line: str) -> list[str]:
    return [quoted or bare for quoted, bare in re.findall(r'"([^"]*)"|(\S+)', line)]


def _row(start: int, found: dict[str, str]) -> Line:
    return _line(start, tuple(found.get(heading, "") for heading in _HEADINGS))


def _footprints(text: str) -> Sheet:
    prose, rows = [], []
    found: dict[str, str] = {}
    start = 0
    for number, line in enumerate(text.split("\n"), start=1):
        words = _words(line)
        key = words[0].casefold() if words else ""
        if key == "$module":
            found, start = {"Designator": words[1] if len(words) > 1 else ""}, number
        elif key == "$endmodule" and start:
            rows.append(_row(start, found))
            start = 0
        elif start and len(words) > 1:
            names = {"reference": "Designator", "value": "Value", "footprint": "Footprint", "layer": "Side"}
            if key in names:
                found[names[key]] = words[1]
            elif key == "position" and len(words) > 2 and "X" not in found:
                found |= {"X": words[1], "Y": words[2]}
                if len(words) > 4 and words[3].casefold() == "orientation":
                    found["Rotation"] = words[4]
        elif not start and line.startswith("#"):
            prose.append(_line(number, (line,)))
    return Sheet((*prose, _line(1, _HEADINGS), *rows))


def _gencad(text: str) -> Sheet:
    prose, rows = [], []
    found: dict[str, str] = {}
    start = 0
    inside = False
    for number, line in enumerate([*text.split("\n"), "$END"], start=1):
        words = _words(line)
        key = words[0].upper() if words else ""
        if start and (key == "COMPONENT" or key.startswith("$")):
            rows.append(_row(start, found))
            start = 0
        if key.startswith("$"):
            inside = key == "$COMPONENTS"
        elif key == "UNITS" and len(words) > 1:
            unit = f"1/{words[2]} inch" if words[1].upper() == "USER" and len(words) > 2 else words[1].upper()
            prose.append(_line(number, (f"Units: {_UNIT_WORDS.get(unit, unit)}",)))
        elif inside and key == "COMPONENT" and len(words) > 1:
            found, start = {"Designator": words[1]}, number
        elif start and len(words) > 1:
            names = {"DEVICE": "Value", "SHAPE": "Footprint", "LAYER": "Side", "ROTATION": "Rotation"}
            if key == "PLACE" and len(words) > 2:
                found |= {"X": words[1], "Y": words[2]}
            elif key in names:
                found[names[key]] = words[1]
    return Sheet((*prose, _line(1, _HEADINGS), *rows))
