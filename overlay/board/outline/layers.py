"""Which of a drawing's layers hold the board's edge, told by their names."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from overlay.board.outline.strokes import Linework, Stroke
from overlay.errors import Problem

# names that say it outright, those that say it among others, and those that may mean it (common practice)
_EDGE_NAMES = (
    re.compile(
        r"edge[^a-z]*cuts?|(board|pcb|brd)[^a-z]*(outline|edge|geom\w*|shape|profile|contour|border)"
        r"|^(\w+[^a-z])?outline$|^profile$|^contour$|^board[^a-z]*cut"
    ),
    re.compile(r"outline|profile|\bedges?\b|contour|perimeter|kontur|umriss|边框|板框|外形"),
    re.compile(r"^(board|pcb|brd|dimension|border|gko|gm1?|routing|milling|keep[^a-z]*out)$|mechanical[^a-z]*1$"),
)
_CUT_NAMES = re.compile(r"cut[^a-z]*outs?|cutouts?|\bholes?\b|slots?|milling|\broute?\b|inner[^a-z]*(edge|cut|contour)")
_OTHER_NAMES = re.compile(
    r"silk|legend|comp(onent)?s?\b|package|place|courtyard|crtyd|assembly|\bpads?\b|copper|mask|paste|text|title|frame"
    r"|annotation|dimensions\b|note|fab|body|keep[^a-z]*in"
)


def telling_name(names: Sequence[str]) -> str:
    """The first of an element's names, innermost first, that says whether it is the board's edge; else empty."""
    for name in names:
        low = name.lower()
        if name and (
            _OTHER_NAMES.search(low) or _CUT_NAMES.search(low) or any(pattern.search(low) for pattern in _EDGE_NAMES)
        ):
            return name
    return ""


def choose_layers(
    drawing: Linework, file: str, closes: Callable[[Sequence[Stroke]], bool]
) -> tuple[Linework, list[Problem]]:
    """The drawing reduced to the layers named like a board's edge and like cut-outs; whole where no name tells.

    Parameters
    ----------
    closes
        Whether some strokes enclose an area: a layer that does not is not the edge, whatever its name.
    """
    names = sorted({stroke.layer for stroke in drawing.strokes})
    if len(names) < 2:
        return drawing, []
    for pattern in _EDGE_NAMES:
        edge = {name for name in names if pattern.search(name.lower()) and not _OTHER_NAMES.search(name.lower())}
        if not edge or not closes([stroke for stroke in drawing.strokes if stroke.layer in edge]):
            continue
        cut = {name for name in names if _CUT_NAMES.search(name.lower()) and not _OTHER_NAMES.search(name.lower())}
        kept = edge | cut
        left = [name for name in names if name not in kept]
        if not left:
            return drawing, []
        strokes = tuple(stroke for stroke in drawing.strokes if stroke.layer in kept)
        what = f"the edge was taken from {_listed(sorted(kept))}; {_listed(left)} left out"
        remedy = "put the board's edge alone into the file if that is wrong"
        return (
            Linework(strokes, drawing.source, drawing.area, drawing.problems),
            [Problem("warning", file, None, what, remedy)],
        )
    return drawing, []


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(f"{name[:60]!r}" if name else "no layer" for name in names[:4])
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    return f"{'layer' if len(names) == 1 else 'layers'} {shown}{more}"
