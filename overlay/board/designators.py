"""Reference designators as a cell lists them: one, several, ranges."""

from __future__ import annotations

import re

MOST_REFDES_A_ROW = 10_000  # no board has a line of so many equal parts; a slip such as R1-R99999999 ends here

_RANGE = re.compile(
    r"(?P<letters>[^\W\d]+)(?P<first>\d+)\s*(?:-|–|—|\.\.\.?|…)\s*(?P<again>[^\W\d]+)(?P<last>\d+)", re.UNICODE
)
_BETWEEN = re.compile(r"(?<=\d)\s+to\s+(?=[^\W\d])|\s*(?:–|—|\.\.\.?|…)\s*|(?<=\d)\s*-\s+|\s+-\s*(?=[^\W\d])")


def expand_designators(text: str) -> tuple[str, ...]:
    """The designators of a cell: separated by commas, semicolons or blanks, ranges filled.

    Raises
    ------
    ValueError
        Where a range runs backwards, joins different letters or is too long; the message says so.

    >>> expand_designators("R1-R3, R7 C2..C3")
    ('R1', 'R2', 'R3', 'R7', 'C2', 'C3')
    """
    names: dict[str, None] = {}
    for piece in re.split(r"[,;\s]+", _BETWEEN.sub("-", " ".join(text.split()))):
        if not piece:
            continue
        match = _RANGE.fullmatch(piece)
        if match is None or match["letters"].upper() != match["again"].upper():
            names[piece] = None
            continue
        first, last = int(match["first"]), int(match["last"])
        if last < first:
            raise ValueError(f"range {piece} runs backwards")
        if last - first >= MOST_REFDES_A_ROW or len(names) >= MOST_REFDES_A_ROW:
            raise ValueError(f"range {piece} has more than {MOST_REFDES_A_ROW:,} parts")
        width = len(match["first"]) if match["first"].startswith("0") else 0
        names.update({f"{match['letters']}{number:0{width}d}": None for number in range(first, last + 1)})
    return tuple(names)
