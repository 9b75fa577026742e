"""One rating from one row: of the parts table, or of a purchasing list."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import replace

from overlay.board.bill import Bill, Entry
from overlay.board.derating_points import parse_points
from overlay.board.kinds import KINDS, known_kind
from overlay.board.model import DeratesBy, LimitAt, Rating
from overlay.errors import Problem
from overlay.tables import Row

_MOST_SHARE = 10.0  # of a rating: ripple of electrolytics in the cold is allowed at a few times what it is rated for
_MOST_SHOWN = 6  # cells told in one sentence


def rating_of_row(row: Row, problems: list[Problem]) -> Rating:
    """The rating in a row of the parts table; what cannot be used is added to ``problems``."""

    def number(column: str, low: float, high: float) -> float | None:
        return row.number(column, problems, low=low, high=high)

    rating = Rating(
        line=row.line,
        kind=_kind(row, problems),
        limit_c=number("limit_c", -60.0, 1500.0),
        limit_at=_limit_at(row, problems),
        psi_jt_k_per_w=number("psi_jt_k_per_w", 0.0, 1000.0),
        power_w=number("power_w", 0.0, 10_000.0),
        power_u_w=number("power_u_w", 0.0, 10_000.0),
        height_mm=number("height_mm", 0.01, 500.0),
        emissivity=number("emissivity", 0.01, 1.0),
        emissivity_u=number("emissivity_u", 0.0, 0.5),
        note=row.text("note"),
        rated_power_w=number("rated_power_w", 1e-4, 10_000.0),
        endurance_h=number("endurance_h", 1.0, 1e7),
        endurance_c=number("endurance_c", -60.0, 400.0),
        psi_u_k_per_w=number("psi_u_k_per_w", 0.0, 1000.0),
        limit_u_c=number("limit_u_c", 0.0, 100.0),
        limit_source=row.text("limit_source"),
        limit_at_stated=bool(row.text("limit_at")),
        derates_by=_derates_by(row, problems),
        derating_points=parse_points(row, "derating_points", problems, _MOST_SHARE),
        current_a=number("current_a", 0.0, 10_000.0),
        rated_current_a=number("rated_current_a", 1e-6, 10_000.0),
        theta_jc_k_per_w=number("theta_jc_k_per_w", 0.0, 1000.0),
        theta_u_k_per_w=number("theta_u_k_per_w", 0.0, 1000.0),
    )
    leaders = (
        ("power_u_w", "power_w"),
        ("emissivity_u", "emissivity"),
        ("psi_u_k_per_w", "psi_jt_k_per_w"),
        ("theta_u_k_per_w", "theta_jc_k_per_w"),
        ("limit_u_c", "limit_c"),
    )
    for companion, leader in leaders:
        if row.text(companion) and not row.text(leader):
            problems.append(row.problem(companion, f"stands without {leader}", f"write {leader} as well"))
    if bool(row.text("endurance_h")) != bool(row.text("endurance_c")):
        what, remedy = "endurance_h and endurance_c belong together", "write hours and the temperature they hold at"
        problems.append(Problem("error", row.file, row.line, what, remedy, "endurance_h", row.text("endurance_h")))
    return rating


def _kind(row: Row, problems: list[Problem]) -> str:
    text = row.text("kind")
    kind = known_kind(text) if text else ""
    if kind is None:
        near = difflib.get_close_matches(text.lower(), KINDS, 1)
        remedy = f"did you mean {near[0]!r}?" if near else f"known kinds are {', '.join(KINDS)}"
        problems.append(replace(row.problem("kind", "is not known and not used", remedy), severity="warning"))
    return kind or ""


def _limit_at(row: Row, problems: list[Problem]) -> LimitAt:
    match row.text("limit_at").lower():
        case "" | "surface":
            return "surface"
        case "junction":
            return "junction"
        case "ambient":
            return "ambient"
        case "terminal" | "solder point" | "lead" | "tab":
            return "terminal"
        case "hot spot" | "hot-spot" | "winding" | "core" | "contact":
            return "hot spot"
    problems.append(row.problem("limit_at", "is not known", "write surface, junction, ambient, terminal or hot spot"))
    return "surface"


def _derates_by(row: Row, problems: list[Problem]) -> DeratesBy | None:
    match row.text("derates_by").lower():
        case "":
            return None
        case "ambient":
            return "ambient"
        case "terminal":
            return "terminal"
        case "surface" | "case":
            return "surface"
    problems.append(row.problem("derates_by", "is not known", "write ambient, terminal or surface"))
    return None


def rating_of_entry(entry: Entry, file: str) -> Rating | None:
    """The rating that a row tells; a range of unknown basis is an ambient one until somebody says otherwise."""
    rows: list[Rating] = []
    for limit, cell in sorted(entry.limits, key=lambda told: told[0].high_c):
        if any(row.limit_at == (limit.at or "ambient") for row in rows):
            continue  # of several cells that hold at one place the tightest counts
        words = cell.words(file) + ("" if limit.at else "; where it holds is not said, so it is taken for the ambient")
        rows.append(Rating(entry.line, limit_c=limit.high_c, limit_at=limit.at or "ambient", limit_source=words))
    kind = known_kind(entry.kind) or ""
    if not rows and entry.power is None and not kind:
        return None
    first = rows[0] if rows else Rating(entry.line)
    watts = None if entry.power is None else entry.power[0]
    note = "" if entry.power is None else f"rated power from {entry.power[1].words(file)}"
    return replace(first, kind=kind, rated_power_w=watts, note=note, further=tuple(rows[1:]))


def unread_problems(bill: Bill) -> list[Problem]:
    """Cells of ratings that could not be understood, one warning a heading."""
    cells: dict[str, list[tuple[int, str]]] = {}
    for entry in bill.entries:
        for cell in entry.unread:
            cells.setdefault(cell.heading, []).append((cell.line, cell.text))
    problems = []
    for heading, found in cells.items():
        shown = _shown([f"line {line}: {text!r}" for line, text in found])
        what = f"{len(found)} cells under {heading!r} tell no rating that is understood ({shown})"
        remedy = "write ranges such as -40°C ~ 125°C (TA) and powers such as 0.25 W, or rate these parts by hand"
        problems.append(Problem("warning", bill.file, found[0][0], what, remedy, heading))
    return problems


def _shown(cells: Sequence[str]) -> str:
    more = f" and {len(cells) - _MOST_SHOWN} more" if len(cells) > _MOST_SHOWN else ""
    return ", ".join(cells[:_MOST_SHOWN]) + more
