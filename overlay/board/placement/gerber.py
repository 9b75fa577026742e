"""Placement from a Gerber component layer: a flash of the component's main aperture is a part.

Source: Ucamco, The Gerber Layer Format Specification, revision 2021.02, sections 5.6.14-16 and 6.9.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from overlay.board.exchange.gerber_words import CoordinateFormat, Word, coordinate_format, words
from overlay.board.model import Side
from overlay.board.placement.fitting import says_unfitted
from overlay.board.placement.marks import is_mechanical, is_unassigned
from overlay.board.placement.rows import Placed
from overlay.board.placement.table import TableReading
from overlay.board.placement.units import Unit, known_unit
from overlay.errors import Problem, input_error

_FIELD = re.compile(r"([XYIJDG])([+-]?[0-9.]+)")
_END = re.compile(r"M0*(?:0|2|30)")


def is_component_layer(text: str) -> bool:
    """Whether a text is a Gerber file (of whatever layer)."""
    return re.search(r"%FS[LTD]?[AI]X\d\dY\d\d\*%|%MO(?:MM|IN)\*%", text[:20_000]) is not None


def read_component_layer(text: str, file: str, units: str | None) -> TableReading:
    """Read the parts of a component layer. Coordinates and angles are seen from the top, on the bottom layer too.

    Raises
    ------
    InputError
        Where the file is not a component layer, or states no unit or coordinate format.
    """
    layer = _Layer(file)
    for word in words(text, file, layer.reading.problems):
        layer.take(word)
    if layer.side is None:
        what = "is a Gerber file, but not of a component layer"
        raise input_error(file, layer.function_line, what, "export the component layers, or the placement as CSV")
    if not layer.ended:
        raise input_error(file, None, "ends without M02 and is cut off", "copy or export it again")
    if layer.unit is None or layer.format is None:
        raise input_error(file, None, "does not state its unit or coordinate format", "export it again")
    if units is not None and units != layer.unit.name:
        what = f"placement_units is {units}, but the file says {layer.unit.name}"
        raise input_error(file, layer.unit_line, what, "remove placement_units, or correct it")
    reading = layer.reading
    reading.units, reading.units_from = layer.unit.name, f"line {layer.unit_line}, the MO command"
    reading.notes.append(f"Gerber component layer, {layer.side} side by its file function")
    return reading


@dataclass(slots=True)
class _Layer:
    file: str
    reading: TableReading = field(default_factory=TableReading)
    side: Side | None = None
    function_line: int | None = None
    unit: Unit | None = None
    unit_line: int | None = None
    format: CoordinateFormat | None = None
    attributes: dict[str, list[str]] = field(default_factory=dict)
    aperture_function: str = ""
    main_apertures: set[str] = field(default_factory=set)
    aperture: str = ""
    ended: bool = False
    at: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def take(self, word: Word) -> None:
        if word.extended:
            self._extended(word)
        elif not re.match(r"(?:N\d+)?G0*4(?!\d)", word.text):
            self._plain(word)

    def _problem(self, word: Word, what: str, remedy: str, *, error: bool = True) -> None:
        self.reading.problems.append(Problem("error" if error else "warning", self.file, word.line, what, remedy))

    def _extended(self, word: Word) -> None:
        text = word.text
        head, fields = text[:2], _fields(text[2:])
        if head == "TF" and fields[0] == ".FileFunction":
            self.function_line = word.line
            if fields[1:2] == ["Component"]:
                side = fields[3].casefold() if len(fields) > 3 else ""
                self.side = "top" if side == "top" else "bottom" if side in ("bot", "bottom") else None
        elif head == "MO":
            self.unit_line = word.line
            self.unit = {"MM": known_unit("mm"), "IN": known_unit("inch")}.get(text[2:4])
        elif head == "FS":
            self.format = coordinate_format(text)
        elif head == "TA" and fields[0] == ".AperFunction":
            self.aperture_function = fields[1] if len(fields) > 1 else ""
        elif head == "TO":
            self.attributes[fields[0]] = fields[1:]
        elif head == "TD":
            if fields[0]:
                self.attributes.pop(fields[0], None)
            else:
                self.attributes.clear()
            if fields[0] in ("", ".AperFunction"):
                self.aperture_function = ""
        elif head == "AD":
            number = re.match(r"ADD(\d+)", text)
            if number is not None and self.aperture_function == "ComponentMain":
                self.main_apertures.add(number.group(1).lstrip("0"))
        elif head in ("SR", "AB") and text != head:
            self._problem(word, f"the command {head} repeats parts of the image", "export one board, not a panel")

    def _plain(self, word: Word) -> None:
        self.ended = self.ended or _END.fullmatch(word.text) is not None
        parts = dict(_FIELD.findall(word.text))
        code = parts.get("D", "").lstrip("0")
        if self.format is None and ({"X", "Y"} & parts.keys()):
            return
        for axis, name in enumerate("XY"):
            if name in parts and self.format is not None:
                try:
                    value = self.format.value(parts[name], axis)
                except (ValueError, OverflowError):
                    self._problem(word, f"{word.text!r} holds no readable coordinate", "export the file again")
                    return
                self.at[axis] = value + (self.at[axis] if self.format.incremental else 0.0)
        if code == "3" and self.aperture in self.main_apertures:
            self._flash(word)
        elif code.isdecimal() and len(code) < 10 and int(code) >= 10:
            self.aperture = code

    def _attribute(self, name: str) -> str:
        return ",".join(self.attributes.get(name, [])).strip()

    def _flash(self, word: Word) -> None:
        refdes = self._attribute(".C")
        if is_unassigned(refdes):
            self._problem(word, f"a part has the designator {refdes!r}, it is left out", "annotate it", error=False)
            return
        turned = self._attribute(".CRot")
        try:
            rotation = float(turned) if turned else 0.0
        except ValueError:
            rotation = math.nan
        if not math.isfinite(rotation):
            self._problem(word, f"{refdes}: .CRot {turned!r} is not an angle", "export it in degrees")
            return
        package = self._attribute(".CFtp") or self._attribute(".CPgN")
        value = self._attribute(".CVal")
        if not turned and not is_mechanical(refdes, package, value):
            self._problem(word, f"{refdes} has no rotation (.CRot)", "export the rotations too")
            return
        if self.unit is None or self.unit.mm is None or self.side is None:
            return
        x, y = (axis * self.unit.mm for axis in self.at)
        part = self._attribute(".CMPN") or value
        mechanical = is_mechanical(refdes, package, value)
        self.reading.parts.append(
            Placed(
                refdes,
                x,
                y,
                rotation,
                self.side,
                package,
                value,
                part,
                mechanical,
                word.line,
                fitted=self._attribute(".CMnt").casefold() != "dnp" and not says_unfitted([value]),
            )
        )


def _fields(text: str) -> list[str]:
    """Fields of an attribute, with the specification's escapes ``\\uXXXX`` undone."""
    return [
        re.sub(r"\\u([0-9A-Fa-f]{4})", lambda match: _character(match.group(1)), item).strip()
        for item in text.split(",")
    ]


def _character(code: str) -> str:
    number = int(code, 16)
    return "\ufffd" if 0xD800 <= number < 0xE000 else chr(number)
