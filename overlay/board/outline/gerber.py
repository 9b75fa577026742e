"""A board's edge from a Gerber file: the centre line of what is drawn, and painted regions.

Source: Ucamco, The Gerber Layer Format Specification (from memory), with the deprecated forms of RS-274X that
files still hold. What would change the image and is not understood is an error, never passed over.
"""

from __future__ import annotations

import math
import re
from typing import Literal

import numpy as np

from overlay.arrays import Array
from overlay.board.exchange.arcs import arc_points, sweep
from overlay.board.exchange.gerber_words import NO_EDGE, CoordinateFormat, Word, coordinate_format, words
from overlay.board.outline.gerber_image import Image, single_quadrant_center
from overlay.board.outline.strokes import Linework, Stroke
from overlay.errors import InputError, Problem

_MOST_STROKES = 500_000  # a profile has some thousands; steps and repeats may ask for any number
_MOST_FLASHES = 20  # a profile has none; a few may mark holes
_FIELD = re.compile(r"([A-Z])([+-]?[0-9.]*)")
# words that mean nothing for a centre line, or nothing at the values given here
_HARMLESS = re.compile(
    r"(IN|LN|TA|TO|TD|AD|LM|LR|LS).*|IPPOS|ASAXBY|MIA0B0|MI|OF(A[+-]?0*\.?0*)?(B[+-]?0*\.?0*)?|IR0*|"
    r"SF(A1\.?0*)?(B1\.?0*)?|IJ.*|PF.*"
)


def read_gerber(data: bytes, file: str) -> Linework:
    """Read a Gerber file of a board's edge.

    Raises
    ------
    InputError
        With every word that cannot be understood, by line.
    """
    text = data.decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n").lstrip("\ufeff")
    return _Reader(file).read(text)


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.format: CoordinateFormat | None = None
        self.unit_mm: float | None = None
        self.at = (0.0, 0.0)  # in the file's unit
        self.mode: Literal["line", "clockwise", "counter"] = "line"
        self.quadrants: Literal["single", "multi"] | None = None
        self.operation = 0
        self.incremental = False
        self.dark = True
        self.contour: list[Array] | None = None  # of the region being drawn
        self.contours: list[Array] = []
        self.open: list[tuple[str, tuple[float, ...], Image]] = [("file", (), Image())]
        self.blocks: dict[int, Image] = {}
        self.aperture = self.flashes = 0
        self.transformed = False
        self.ended = False
        self.told: set[str] = set()

    def read(self, text: str) -> Linework:
        skip = False
        for word in words(text, self.file, self.problems):
            if word.extended and word.opens:
                skip = word.text.startswith("AM")
            if skip and word.extended:
                continue
            if self.ended:
                break
            try:
                self._extended(word) if word.extended else self._plain(word)
            except (ValueError, OverflowError):
                self._error(word, f"{word.text[:40]!r} cannot be read", "export the file again")
            if sum(problem.severity == "error" for problem in self.problems) >= 20:
                break
        return self._finish()

    def _finish(self) -> Linework:
        errors = [problem for problem in self.problems if problem.severity == "error"]
        if not errors and not self.ended:
            self._error(None, "ends without M02 and is cut off", "copy or export it again")
        for kind, numbers, block in reversed(self.open[1:]):
            if kind == "SR":  # a block that the end of the file closes
                self.open.pop()
                self._repeat(numbers, block)
            elif not errors:
                self._error(None, "a block aperture is never closed", "export the file again")
        if any(problem.severity == "error" for problem in self.problems):
            raise InputError(self.problems)
        whole = self.open[0][2]
        unit = "inch" if self.unit_mm == 25.4 else "mm"
        area = whole.painted()
        return Linework(tuple(whole.strokes), f"Gerber, units {unit}", area, tuple(self.problems))

    def _error(self, word: Word | None, what: str, remedy: str) -> None:
        line = None if word is None else word.line
        self.problems.append(Problem("error", self.file, line, what, remedy))

    def _warn(self, word: Word | None, what: str, remedy: str) -> None:
        if what not in self.told:
            self.told.add(what)
            self.problems.append(Problem("warning", self.file, None if word is None else word.line, what, remedy))

    def _extended(self, word: Word) -> None:
        text = word.text.upper()
        if text.startswith("FS"):
            self.format = coordinate_format(text)
            if self.format is None:
                self._error(word, f"the coordinate format {word.text[:30]!r} cannot be read", "export the file again")
            else:
                self.incremental = self.format.incremental
        elif text in ("MOMM", "MOIN"):
            self._unit(word, 1.0 if text == "MOMM" else 25.4)
        elif text.startswith("TF"):
            self._function(word, word.text[2:].lstrip(" ,"))
        elif text.startswith("SR"):
            self._step_and_repeat(word, text)
        elif text.startswith("AB"):
            self._block_aperture(word, text)
        elif text in ("LPD", "LPC"):
            self.dark = text == "LPD"
        elif text[:2] in ("LM", "LR", "LS"):
            self.transformed = not (text == "LMN" or (text[:2] != "LM" and float(text[2:]) == (text[:2] == "LS")))
        elif not _HARMLESS.fullmatch(text):
            if re.match(r"[GDMXYIJN]", text):  # plain words between percent signs, as old exports write them
                self._plain(word)
            else:
                self._error(word, f"{word.text[:40]!r} is not understood and may change the image", "export as X2")

    def _unit(self, word: Word, unit_mm: float) -> None:
        if self.unit_mm is not None and self.unit_mm != unit_mm:
            self._error(word, "the unit changes in the middle of the file", "export the file again")
        self.unit_mm = unit_mm

    def _function(self, word: Word, attribute: str) -> None:
        name, _, value = attribute.partition(",")
        if name.strip().lstrip(".").lower() != "filefunction":
            return
        function = value.split(",")[0].strip()
        if function.lower() in NO_EDGE:
            what = f"is {NO_EDGE[function.lower()]} (file function {value.strip()!r}), not the board's edge"
            self._error(word, what, "give the profile layer")
        elif function.lower() != "profile":
            what = f"its file function is {value.strip()!r} and not Profile"
            self._warn(word, what, "give the profile layer if this is another")

    def _step_and_repeat(self, word: Word, text: str) -> None:
        if self.open[-1][0] == "SR":
            _, numbers, block = self.open.pop()
            self._repeat(numbers, block)
        if text == "SR" or text == "SRX1Y1I0J0":
            return
        match = re.fullmatch(r"SR(?:X(\d+))?(?:Y(\d+))?(?:I([\d.+-]+))?(?:J([\d.+-]+))?", text)
        if match is None or self.unit_mm is None:
            self._error(word, f"the step and repeat {word.text[:40]!r} cannot be read", "export the file again")
            return
        numbers = tuple(float(number or default) for number, default in zip(match.groups(), (1, 1, 0, 0), strict=True))
        if numbers[0] * numbers[1] > _MOST_STROKES or min(numbers[:2]) < 1:
            self._error(word, f"the step and repeat {word.text[:40]!r} is out of range", "export the file again")
            return
        self.open.append(("SR", (*numbers[:2], numbers[2] * self.unit_mm, numbers[3] * self.unit_mm), Image()))

    def _repeat(self, numbers: tuple[float, ...], block: Image) -> None:
        columns, rows, dx, dy = int(numbers[0]), int(numbers[1]), numbers[2], numbers[3]
        if columns * rows * block.size > _MOST_STROKES:
            self._error(None, "step and repeat makes more than 500 000 lines", "export the board's edge alone")
            return
        for column in range(columns):
            for row in range(rows):
                self.open[-1][2].add(block.moved(column * dx, row * dy))

    def _block_aperture(self, word: Word, text: str) -> None:
        if text == "AB":
            if self.open[-1][0] != "AB":
                self._error(word, "AB closes a block aperture that was not opened", "export the file again")
                return
            _, numbers, block = self.open.pop()
            self.blocks[int(numbers[0])] = block
        elif match := re.fullmatch(r"ABD(\d+)", text):
            if len(self.open) > 20:
                raise ValueError(text)
            self.open.append(("AB", (float(match[1]),), Image()))
        else:
            raise ValueError(text)

    def _plain(self, word: Word) -> None:
        comment = re.match(r"(?:N\d+)?G0*4(?!\d)", word.text)
        if comment:
            attribute = re.match(r"\s*#@!\s*TF(.*)", word.text[comment.end() :], re.DOTALL)
            if attribute:  # how attributes are written for readers that know none
                self._function(word, attribute[1].lstrip(" ,"))
            return
        text = word.text.upper()
        fields = _FIELD.findall(text)
        if "".join(name + digits for name, digits in fields) != text:
            raise ValueError(text)
        point: dict[str, str] = {}
        operation = None
        for name, digits in fields:
            if name == "G":
                self._general(word, int(digits))
            elif name == "M":
                self.ended = int(digits) in (0, 2, 30)
            elif name == "D":
                code = int(digits)
                if code >= 10:
                    self.aperture = code
                elif code in (1, 2, 3):
                    operation = code
                else:
                    raise ValueError(text)
            elif name in "XYIJ":
                point[name] = digits
            elif name != "N":
                raise ValueError(text)
        if operation is not None:
            self.operation = operation
        elif point and self.operation == 1:
            self._warn(word, "coordinates without an operation code repeat the last one", "export the file as X2")
        if point or operation is not None:
            self._operate(word, point)

    def _general(self, word: Word, code: int) -> None:
        if code in (0, 1):
            self.mode = "line"
        elif code in (2, 3):
            self.mode = "clockwise" if code == 2 else "counter"
        elif code in (74, 75):
            self.quadrants = "single" if code == 74 else "multi"
        elif code == 36:
            self.contour, self.contours = [], []
        elif code == 37:
            self._close_contour()
            self.open[-1][2].regions += [(ring, self.dark) for ring in self.contours]
            self.contour, self.contours = None, []
        elif code in (70, 71):
            self._unit(word, 25.4 if code == 70 else 1.0)
        elif code in (90, 91):
            self.incremental = code == 91
        elif code not in (54, 55):
            self._error(word, f"G{code:02d} is not understood", "export the file again")

    def _operate(self, word: Word, point: dict[str, str]) -> None:
        if self.format is None or self.unit_mm is None:
            missing = "coordinate format (FS)" if self.format is None else "unit (MO)"
            self._error(word, f"coordinates come before the {missing} is stated", "export the file as Gerber X2")
            self.format = self.format or CoordinateFormat((4, 4), (6, 6), False, False)
            self.unit_mm = self.unit_mm or 1.0
            return
        start = self.at
        moved = [self.format.value(point[name], axis) if name in point else None for axis, name in enumerate("XY")]
        base = start if self.incremental else (0.0, 0.0)
        end = (
            start[0] if moved[0] is None else base[0] + moved[0],
            start[1] if moved[1] is None else base[1] + moved[1],
        )
        if not (abs(end[0]) < 1e7 and abs(end[1]) < 1e7):
            raise ValueError(word.text)
        self.at = end
        if self.operation == 1:
            offset = [self.format.value(point[name], axis) if name in point else 0.0 for axis, name in enumerate("IJ")]
            points = self._segment(word, start, end, (offset[0], offset[1])) * self.unit_mm
            if self.contour is not None:
                self.contour.append(points)
            elif self.dark:
                self.open[-1][2].strokes.append(Stroke(points, word.line))
            else:
                self._warn(word, "lines drawn in clear polarity left out", "check the outline")
        elif self.operation == 2:
            self._close_contour()
        elif self.operation == 3 and self.aperture in self.blocks:
            if self.transformed:
                self._error(word, "a mirrored, turned or scaled block aperture", "export without block apertures")
            block = self.blocks[self.aperture]
            if block.size + self.open[-1][2].size > _MOST_STROKES:
                self._error(word, "block apertures make more than 500 000 lines", "export the board's edge alone")
                return
            self.open[-1][2].add(block.moved(end[0] * self.unit_mm, end[1] * self.unit_mm))
        elif self.operation == 3:
            self.flashes += 1
            if self.flashes == _MOST_FLASHES:
                what = "flashes many pads, so it may be another layer than the board's edge"
                self._warn(word, what, "give the profile layer")
        elif self.operation == 0:
            self._error(word, "coordinates without an operation code", "export the file again")

    def _close_contour(self) -> None:
        if self.contour:
            ring = np.concatenate(self.contour)
            if len(ring) > 2:
                self.contours.append(ring)
        if self.contour is not None:
            self.contour = []

    def _segment(
        self, word: Word, start: tuple[float, float], end: tuple[float, float], offset: tuple[float, float]
    ) -> Array:
        """The points of one line or arc, in the file's unit."""
        straight = np.array([start, end])
        if self.mode == "line":
            return straight
        assert self.unit_mm is not None
        clockwise = self.mode == "clockwise"
        if math.hypot(*offset) == 0.0:
            if start != end:
                self._warn(word, "an arc without a centre is drawn as a line", "check the outline")
            return straight
        multi = (start[0] + offset[0], start[1] + offset[1])
        single = single_quadrant_center(start, end, offset, clockwise)
        if self.quadrants == "single":
            if start == end:
                return straight  # no arc at all, where no arc exceeds 90°
            center = single
        elif self.quadrants == "multi":
            center = multi
        else:
            told = min(offset) < 0 or single is None or start == end
            if not told:
                what = "arcs without G74 or G75: taken as single quadrant where one of at most 90° fits"
                self._warn(word, what, "export the file as X2")
            center = multi if told else single
        if center is None:
            self._error(word, "no centre fits this single-quadrant arc", "export with multi-quadrant arcs (G75)")
            return straight
        uneven = abs(math.dist(start, center) - math.dist(end, center)) * self.unit_mm
        if uneven > 0.05:
            what = f"an arc's ends differ by {uneven:.3g} mm in their distance from its centre"
            if uneven > 0.5:
                self._error(word, what, "export the file again with more decimals")
            else:
                self._warn(word, what, "export the file again with more decimals")
        return arc_points(start, end, center, sweep(start, end, center, clockwise=clockwise), self.unit_mm)
