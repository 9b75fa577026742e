"""A Gerber file cut into its words, each with its line."""

from __future__ import annotations

import bisect
import re
from collections.abc import Iterator
from dataclasses import dataclass

from overlay.errors import Problem

# file functions that are never the board's edge, The Gerber Layer Format Specification (list from memory)
NO_EDGE = {
    "copper": "a copper layer",
    "soldermask": "a solder mask layer",
    "paste": "a paste layer",
    "legend": "a legend layer",
    "component": "a component layer",
    "plated": "a drill layer",
    "nonplated": "a drill layer",
    "glue": "a glue layer",
    "carbonmask": "a carbon layer",
    "goldmask": "a gold layer",
    "heatsinkmask": "a heat-sink mask layer",
    "peelablemask": "a peelable mask layer",
    "silvermask": "a silver layer",
    "tinmask": "a tin layer",
    "viafill": "a via filling layer",
}
_COMMENT = re.compile(r"(?:N\d+)?G0*4(?!\d)")


@dataclass(frozen=True, slots=True)
class Word:
    """One word, without its ``*``: ``extended`` ones stood between percent signs, where ``opens`` marks the first."""

    text: str
    line: int
    extended: bool
    opens: bool = False


def words(text: str, file: str, problems: list[Problem]) -> Iterator[Word]:
    """Cut a file at its asterisks and percent signs; line ends are free to fall anywhere.

    Text after the last asterisk is a problem unless blank.
    """
    breaks = [match.start() for match in re.finditer("\n", text)]
    position, extended, opens = 0, False, False
    while True:
        match = re.compile(r"[\s\0\x1a]*").match(text, position)
        position = match.end() if match else position
        if position >= len(text):
            return
        line = bisect.bisect_left(breaks, position) + 1
        if text[position] == "%":
            extended, opens, position = not extended, True, position + 1
            continue
        star = text.find("*", position)
        comment = _COMMENT.match(text, position) is not None
        percent = -1 if comment else text.find("%", position, star if star >= 0 else len(text))
        if star < 0 or percent >= 0:
            rest = text[position : percent if percent >= 0 else len(text)].strip()
            severity = "warning" if star < 0 and percent < 0 else "error"
            what = f"{rest[:40]!r} does not end with an asterisk"
            problems.append(Problem("warning" if severity == "warning" else "error", file, line, what, "export again"))
            if percent < 0:
                return
            position = percent
            continue
        word = text[position:star]
        word = word if comment else re.sub(r"\s+", "", word) if not _keeps_blanks(word) else word.replace("\n", "")
        if word:
            yield Word(word, line, extended, opens)
            opens = False
        position = star + 1


def _keeps_blanks(word: str) -> bool:
    return word[:2] in ("TF", "TA", "TO", "TD", "IN", "LN")


@dataclass(frozen=True, slots=True)
class CoordinateFormat:
    """How coordinates are written: digits before and after the point, and which zeros are left out."""

    whole: tuple[int, int]  # for x and y
    decimals: tuple[int, int]
    trailing: bool  # trailing zeros left out
    incremental: bool

    def value(self, digits: str, axis: int) -> float:
        """The number that digits stand for, in the file's unit; ValueError for what is no number."""
        if "." in digits:
            return float(digits)
        sign = -1.0 if digits.startswith("-") else 1.0
        digits = digits.lstrip("+-")
        if not digits.isascii() or not digits.isdigit():
            raise ValueError(digits)
        if self.trailing:
            digits = digits.ljust(self.whole[axis] + self.decimals[axis], "0")
        return float(sign * int(digits) / 10 ** self.decimals[axis])


_FORMAT = re.compile(r"FS([LTD]?)([AI]?)(?:N\d+)?(?:G\d+)?X(\d)(\d)Y(\d)(\d)(?:[IJDM]\d+)*")


def coordinate_format(word: str) -> CoordinateFormat | None:
    """Read an FS word; None where it cannot be understood."""
    match = _FORMAT.fullmatch(word)
    if match is None or match[1] == "D":
        return None
    digits = [int(match[i]) for i in range(3, 7)]
    return CoordinateFormat((digits[0], digits[2]), (digits[1], digits[3]), match[1] == "T", match[2] == "I")
