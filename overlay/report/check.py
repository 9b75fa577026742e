"""What was understood of a job's files, for people and for programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from overlay.board.assumed import assumptions
from overlay.board.model import Board, Component
from overlay.errors import Problem
from overlay.frames.emissivity import emissivity_of
from overlay.job.read import Survey

# what a job without a capture leads to, line by line
_NO_CAPTURE = (
    "none yet: what to do next",
    "1. mend the errors below, and fill in bodies and ratings as far as you know them",
    "2. `board-overlay shots` tells where to put the camera, and what stays too small",
    "3. take a frame of the warm board, put it into the folder, and take the # away from [[capture]] in job.toml",
    "4. `board-overlay workbench` helps to mark control points; `board-overlay map` then reads every part",
)

_MOST_ASSUMED = 40  # lines; more are counted


def check_json(survey: Survey) -> dict[str, Any]:
    """What was understood and every problem, as JSON values; what could not be read is null or empty."""
    board = survey.board
    return {
        "components": [] if board is None else [_component(component) for component in _listed(board)],
        "placement": None
        if board is None
        else {"units": board.placement_units, "units_from": board.placement_units_from, "notes": list(board.notes)},
        "outline": None if board is None or _outline_failed(survey) else _outline(board),
        "assumed": [] if board is None else list(assumptions(board)),
        "problems": [problem_json(problem) for problem in survey.problems],
    }


def problem_json(problem: Problem) -> dict[str, Any]:
    """One problem as JSON values."""
    return {
        "severity": problem.severity,
        "file": problem.file,
        "line": problem.line,
        "what": problem.what,
        "remedy": problem.remedy,
    }


def _component(component: Component) -> dict[str, Any]:
    body, rating = component.body, component.rating
    placed = component.center_mm if component.placed_mm is None else component.placed_mm
    emissivity = emissivity_of(component)
    return {
        "refdes": component.refdes,
        "x_mm": round(placed[0], 6),
        "y_mm": round(placed[1], 6),
        "rotation_deg": round(component.rotation_deg, 6),
        "side": component.side,
        "package": component.package,
        "value": component.value,
        "part_number": component.part_number,
        "kind": component.kind,
        "mechanical": component.mechanical,
        "fitted": component.fitted,
        "body": None
        if body is None
        else {
            "length_mm": body.length_mm,
            "width_mm": body.width_mm,
            "height_mm": component.height_mm,
            "center_mm": [round(value, 6) for value in component.center_mm],
            "shape": body.shape,
            "source": body.source,
            "estimated": body.estimated,
        },
        "limit_c": None if rating is None else rating.limit_c,
        "limit_at": None if rating is None or rating.limit_c is None else rating.limit_at,
        "emissivity": emissivity.value,
        "emissivity_u": emissivity.u,
        "emissivity_source": emissivity.source,
        "line": component.line,
    }


def _listed(board: Board) -> list[Component]:
    """Every component that the placement holds, in its order."""
    return sorted((*board.components, *board.unfitted), key=lambda component: component.line)


def _outline_failed(survey: Survey) -> bool:
    """Whether an outline was named and could not be used: the hull that stands in for it is nothing understood."""
    named = survey.settings is not None and survey.settings.board.outline is not None
    return named and survey.board is not None and survey.board.outline.from_bodies


def _outline(board: Board) -> dict[str, Any]:
    polygon = board.outline.polygon
    rings = [polygon] if polygon.geom_type == "Polygon" else list(polygon.geoms)
    return {
        "bounds_mm": [round(value, 6) for value in polygon.bounds],
        "area_mm2": round(polygon.area, 6),
        "holes": sum(len(ring.interiors) for ring in rings),
        "source": board.outline.source,
    }


def check_text(survey: Survey) -> str:
    """Coverage and every problem, for a reader."""
    lines = [
        f"{term}: {words}" if term and term == _name(survey) else f"{term:<13}{words}"
        for term, words in check_lines(survey)
    ]
    errors = sum(problem.severity == "error" for problem in survey.problems)
    warnings = len(survey.problems) - errors
    if lines:
        lines.append("")
    if not survey.problems:
        lines.append("No problems found.")
    else:
        lines.append(f"{_count(errors, 'error')}, {_count(warnings, 'warning')}")
        lines += [f"  {problem.severity}  {problem}" for problem in survey.problems]
    return "\n".join(lines)


def check_lines(survey: Survey) -> list[tuple[str, str]]:
    """What was understood, in pairs: what it is about (empty: the same as before), and the words."""
    lines: list[tuple[str, str]] = []
    if survey.board is not None:
        lines += _board_lines(survey.board)
    if survey.settings is not None:
        captures = survey.settings.capture
        names = ", ".join(f'"{capture.name}" ({capture.side})' for capture in captures)
        if captures:
            lines.append(("captures", f"{len(captures)}: {names}"))
        else:
            lines += [("captures" if not index else "", words) for index, words in enumerate(_NO_CAPTURE)]
    return lines


def _name(survey: Survey) -> str:
    board = survey.board
    return "" if board is None else f"{board.name} {board.revision}".strip() or "board"


def _board_lines(board: Board) -> list[tuple[str, str]]:
    parts = board.parts
    sides = Counter(component.side for component in parts)
    bare = [component for component in parts if component.body is None]
    unrated = [part for part in parts if part.rating is None or part.rating.limit_c is None]
    assumed = [part for part in parts if not emissivity_of(part).declared]
    name = f"{board.name} {board.revision}".strip() or "board"
    west, south, east, north = board.outline.polygon.bounds
    mechanical = len(board.components) - len(parts)
    unfitted = [("not fitted", _names(board.unfitted))] if board.unfitted else []
    size = f"{east - west:.2f} × {north - south:.2f} mm, area {board.outline.polygon.area:.1f} mm²"
    return [
        (name, f"{len(parts)} parts ({sides['top']} top, {sides['bottom']} bottom), {mechanical} mechanical items"),
        ("placement", f"units {board.placement_units}, from {board.placement_units_from}"),
        *(("", note) for note in board.notes),
        *unfitted,
        ("outline", f"{size}, from {board.outline.source}"),
        _coverage("bodies", len(parts), "known", bare),
        *_assumed(board),
        _coverage("ratings", len(parts), "known", unrated),
        _coverage("emissivity", len(parts), "given, the rest assumed by kind", assumed, name_them=False),
    ]


def _assumed(board: Board) -> list[tuple[str, str]]:
    """Sizes and orientations that were assumed, one line a package, those first on which most rests."""
    lines = assumptions(board)
    shown = [("assumed" if place == 0 else "", line) for place, line in enumerate(lines[:_MOST_ASSUMED])]
    more = len(lines) - len(shown)
    return [*shown, ("", f"and {more} more packages")] if more else shown


def _coverage(what: str, total: int, word: str, missing: list[Component], *, name_them: bool = True) -> tuple[str, str]:
    line = f"{total - len(missing)} of {total} {word}"
    if not missing or not name_them:
        return what, line
    return what, f"{line}; missing: {_names(missing)}"


def _names(components: Sequence[Component]) -> str:
    names = [component.refdes for component in components]
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
