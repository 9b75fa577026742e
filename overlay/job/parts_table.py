"""The parts table that a new job begins with: limits that a purchasing list tells, and what is left to fill in."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from overlay.board.model import Board, Component, Rating

_COLUMNS = (
    "refdes",
    "part_number",
    "kind",
    "limit_c",
    "limit_at",
    "limit_source",
    "psi_jt_k_per_w",
    "power_w",
    "rated_power_w",
    "derates_by",
    "emissivity",
    "note",
)
_HEAD = """\
# one row for each part number; a row by refdes wins over one by part number; several rows of one part with different
# limit_at: the tightest counts
# limit_at: surface, terminal, junction (needs psi_jt_k_per_w and power_w), hot spot (of a winding) or ambient
# further columns: current_a and rated_current_a (fuses, connectors, coils, ripple), derating_points (25:1 85:0.7),
# theta_jc_k_per_w (with a thermocouple on the tab), endurance_h and endurance_c, limit_u_c, power_u_w, height_mm
"""


def parts_table(board: Board) -> str:
    """Rows of the limits understood, each with its source, then a row to fill in for each other part number."""
    text = io.StringIO()
    text.write(_HEAD)
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(_COLUMNS)
    rated: dict[tuple[str, int], list[Component]] = {}
    blank: dict[str, list[Component]] = {}
    for part in board.components:
        if part.mechanical:
            continue
        if part.rating is not None and any(row.limit_c is not None for row in part.rating.rows):
            rated.setdefault((part.part_number.casefold(), part.rating.line), []).append(part)
        else:
            blank.setdefault(part.part_number.casefold() or f"\0{part.refdes}", []).append(part)
    for group in rated.values():
        rating = group[0].rating
        assert rating is not None
        for place, row in enumerate(rating.rows):
            rows.writerow(_cells(group, group[0], row, rating if place == 0 else None))
    if rated and blank:
        text.write(f"# left to fill in: the limits of {sum(map(len, blank.values()))} parts\n")
    for group in blank.values():
        rows.writerow(_cells(() if group[0].part_number else group[:1], group[0], group[0].rating, group[0].rating))
    return text.getvalue()


def _cells(named: Sequence[Component], first: Component, row: Rating | None, whole: Rating | None) -> list[object]:
    """One row: by designators where any are named, else by part number; power and note once a part."""
    limit: tuple[object, object, str] = ("", "", "")
    if row is not None and row.limit_c is not None:
        limit = f"{row.limit_c:g}", row.limit_at, row.limit_source
    watts = None if whole is None else whole.rated_power_w
    return [
        ", ".join(part.refdes for part in named),
        first.part_number,
        first.kind,
        *limit,
        "",
        "",
        "" if watts is None else f"{watts:g}",
        "",
        "",
        "" if whole is None else whole.note,
    ]
