"""Through-hole parts whose placement may be that of pin 1 rather than of the body's centre."""

from __future__ import annotations

import re
from collections.abc import Iterable

from overlay.board.model import Component, Placement
from overlay.board.packages.words import normal
from overlay.errors import Problem

# footprints of this way of naming are drawn from pin 1 in a widespread open library, and its exporter gives that point
_DRAWN_FROM_PIN_1 = re.compile(
    r"^(?:CP?|L|R|D)_(?:RADIAL|AXIAL|DISC|RECT)_|^(?:S?P?C?DIP)-\d+_W\d|^PIN(?:HEADER|SOCKET)_|^LED_D\d|"
    r"^TO-(?:92|126|220|247)\S*_(?:VERTICAL|HORIZONTAL|INLINE)|^CRYSTAL_HC\S*_VERTICAL|"
    r"_\dX\d\d_P\d\S*MM_(?:VERTICAL|HORIZONTAL)|^D_DO-\S*_P\d\S*MM_"
)
_CENTERED = re.compile(r"places from .*(?:mid|cent|ctr|body)", re.IGNORECASE)


def origin_problems(placement: Placement, components: Iterable[Component], file: str) -> list[Problem]:
    """One warning that lists the through-hole parts which may be placed by pin 1.

    Nothing is said where the columns that were read are named for the parts' centres.
    """
    if any(_CENTERED.search(note) for note in placement.notes):
        return []
    doubtful = [part for part in components if not part.mechanical and _DRAWN_FROM_PIN_1.search(normal(part.package))]
    if not doubtful:
        return []
    names = ", ".join(part.refdes for part in doubtful[:8])
    more = f" and {len(doubtful) - 8} more" if len(doubtful) > 8 else ""
    what = f"through-hole parts may be placed by pin 1 instead of their centre: {names}{more}"
    remedy = "compare one of them with the board; if so, export the centres, or correct these rows"
    return [Problem("warning", file, doubtful[0].line, what, remedy)]
