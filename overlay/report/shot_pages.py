"""``shot_plan.pdf``, ``shot_plan.csv``, JSON and text: where the camera goes, on one page to take to the bench."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from itertools import groupby
from typing import Any

import numpy as np

from overlay.board.model import Board, Side
from overlay.report.board_map import body_corners_mm, outline_rings
from overlay.report.drawing import Area, Drawing, Label, Line, Mark, placing_into
from overlay.report.palette import BOARD, FAINT, INK, PAPER
from overlay.report.tables import csv_text
from overlay.shots.model import Preparation, Shortfall, Shot, ShotPlan

_FIELDS = (
    "#1257a8",
    "#8a4b08",
    "#1d6b4f",
    "#7a2f83",
    "#5f5f5f",
)  # rims of neighbouring fields, told apart by number too
_MOST_NAMES = 12  # names in one line …
_MOST_IN_CELL = 6  # … in one cell of the table …
_MOST_ON_BOARD = 16  # … and parts marked and named on the board


def shot_plan_json(plan: ShotPlan) -> dict[str, Any]:
    """The plan as plain values."""
    return {
        "format": 1,
        "camera": asdict(plan.camera),
        "shots": [asdict(shot) for shot in plan.shots],
        "shortfalls": [asdict(item) for item in plan.shortfalls],
        "preparations": [asdict(item) for item in plan.preparations],
        "notes": list(plan.notes),
    }


def shot_plan_csv(plan: ShotPlan) -> str:
    """One row a part and shot: how large it will be there."""
    columns = ("shot", "side", "refdes", "short_px", "pixels", "visible", "angle_deg", "wanted_px", "expected_u_c")
    rows = [
        (
            str(shot.number),
            shot.side,
            item.refdes,
            f"{item.short_px:.2f}",
            f"{item.pixels:.1f}",
            f"{item.visible:.3f}",
            f"{item.angle_deg:.1f}",
            f"{item.wanted_px:g}",
            "" if item.expected_u_c is None else f"{item.expected_u_c:.2f}",
        )
        for shot in plan.shots
        for item in shot.sightings
    ]
    return csv_text(columns, rows)


def shot_plan_text(plan: ShotPlan) -> str:
    """The plan for a terminal."""
    camera = plan.camera
    lens = f", close-up lens of {camera.close_up_dpt:g} dioptres" if camera.close_up_dpt else ""
    lines = [
        f"Camera: {camera.cols} x {camera.rows} pixels, {camera.hfov_deg:g}° wide, "
        f"nearest {camera.nearest_mm:.0f} mm{lens}",
        *(f"Note: {note}" for note in plan.notes),
        "",
    ]
    if plan.preparations:
        lines.append("First paint, tape, or state the finish of:")
        lines += [f"  {words}" for words in preparation_lines(plan.preparations)]
        lines.append("")
    if not plan.shots:
        lines.append("No shot would show anything more.")
    for shot in plan.shots:
        lines.append(f"Shot {shot.number}, {_where(shot)}")
        lines.append(f"    {_what(shot)}")
        if shot.serves:
            lines.append(f"    for {_some(shot.serves, _MOST_NAMES)}")
        lines += [f"    {note}" for note in shot.notes]
    if plan.shortfalls:
        lines += ["", "What cannot be had:"]
        lines += [f"  {words}" for words in shortfall_lines(plan.shortfalls)]
    return "\n".join(lines)


def shot_plan_pdf(board: Board, plan: ShotPlan, name: str) -> bytes:
    """The plan on paper: the board with each shot's field, how to stand, and what stays open."""
    from reportlab.lib.units import mm
    from reportlab.platypus import Spacer, Table

    from overlay.report.pdf_page import INNER_MM, build_pdf, heading, paragraph
    from overlay.report.pdf_paint import DrawingFlowable

    camera = plan.camera
    sides: list[Side] = list(dict.fromkeys(shot.side for shot in plan.shots))
    width = INNER_MM / max(len(sides), 1) - 2.0
    drawings = [DrawingFlowable(shots_map(board, plan.shots, side, width, 70.0)) for side in sides]
    story: list[Any] = [
        paragraph(f"Where to put the camera: {name}", 15.0, bold=True),
        paragraph(
            f"{camera.cols} × {camera.rows} pixels, field {camera.hfov_deg:g}° wide, nearest distance "
            f"{camera.nearest_mm:.0f} mm. Distances from the lens to the board, camera straight above the cross.",
            8.5,
        ),
        *(paragraph(note, 8.0) for note in plan.notes),
        Spacer(1, 2 * mm),
    ]
    if drawings:
        story.append(Table([drawings], [INNER_MM / len(sides) * mm] * len(sides)))
    story.append(_shots_table(plan))
    if plan.preparations:
        story += [Spacer(1, 3 * mm), heading("Before the first shot")]
        story += [paragraph(words, 8.0) for words in preparation_lines(plan.preparations)]
    if plan.shortfalls:
        story += [Spacer(1, 3 * mm), heading("What cannot be had")]
        story += [paragraph(words, 8.0) for words in shortfall_lines(plan.shortfalls)]
    story += [
        Spacer(1, 3 * mm),
        paragraph(
            "Boards under power burn and shock: no hand, paint, tape or tripod goes near live or hot parts; prepare "
            "the board unpowered. Local electrical codes, your site's rules and licensed persons take precedence.",
            7.5,
        ),
    ]
    return build_pdf(story, f"Where to put the camera: {name}")


def _shots_table(plan: ShotPlan) -> Any:
    """How to stand for each shot, one a row."""
    from overlay.report.pdf_table import table

    return table(
        (
            "shot",
            "side",
            "from mm",
            "over x, y mm",
            "long side along",
            "field mm",
            "mm/px",
            "parts",
            "to click",
            "best for",
            "mind",
        ),
        [
            (
                str(shot.number),
                shot.side,
                f"{shot.distance_m * 1000:.0f}",
                f"{shot.aim_mm[0]:.1f}, {shot.aim_mm[1]:.1f}",
                "along y" if shot.turned else "along x",
                f"{shot.field_mm[0]:.0f} × {shot.field_mm[1]:.0f}",
                f"{shot.mm_per_px:.3f}",
                str(len(shot.sightings)),
                str(shot.control_points),
                _some(shot.serves, _MOST_IN_CELL),
                "; ".join(shot.notes),
            )
            for shot in plan.shots
        ],
        (9, 12, 14, 20, 14, 18, 12, 10, 11, 28, 38),
        right=(0, 2, 6, 7, 8),
        wrap=(9, 10),
    )


def shots_map(board: Board, shots: Sequence[Shot], side: Side, width_mm: float, height_mm: float) -> Drawing:
    """One side of the board to scale, with the field of each shot and the foot of its axis."""
    own = [shot for shot in shots if shot.side == side]
    rings = outline_rings(board)
    corners = np.vstack([*rings, *(field_corners_mm(shot) for shot in own)])
    (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
    bounds = (float(west), float(south), float(east), float(north))
    placing = placing_into(bounds, width_mm - 4.0, height_mm - 9.0, flip_x=side == "bottom")
    marks: list[Mark] = [Area(tuple(placing.points(ring) for ring in rings), BOARD, INK, 0.25)]
    served = {refdes for shot in own for refdes in shot.serves}
    served = served if len(served) <= _MOST_ON_BOARD else set()  # of nearly all, no one would be found
    for part in board.components:
        if part.side == side and part.body is not None:
            wanted = part.refdes in served
            fill, rim, width = (FAINT, INK, 0.2) if wanted else ("#ffffff", FAINT, 0.08)
            corners_at = placing.points(body_corners_mm(part))
            marks.append(Area((corners_at,), fill, rim, width, title=part.refdes))
            if wanted:
                right, middle = float(corners_at[:, 0].max()), float(corners_at[:, 1].mean())
                marks.append(Label(part.refdes, right + 0.6, middle - 0.8, 2.2, INK, halo=PAPER))
    for index, shot in enumerate(own):
        color = _FIELDS[index % len(_FIELDS)]
        ring = placing.points(field_corners_mm(shot))
        at = placing.points([shot.aim_mm])[0]
        marks.append(Area((ring,), None, color, 0.35, dashed=index % 2 == 1, title=f"shot {shot.number}"))
        for arm in (np.array([1.6, 0.0]), np.array([0.0, 1.6])):
            marks.append(Line(np.array([at - arm, at + arm]), color, 0.3))
        corner = ring[np.lexsort((ring[:, 0].round(3), -ring[:, 1].round(3)))[0]]  # upper left on paper
        marks.append(Label(str(shot.number), corner[0] + 0.8, corner[1] - 3.4, 3.0, color, bold=True, halo=PAPER))
    seen = "seen from the top" if side == "top" else "seen from below"
    marks.append(Label(f"{side} side, {seen}", 1.0, height_mm - 4.0, 2.4, FAINT))
    words = f"Fields of {len(own)} shots over the {side} side"
    return Drawing(width_mm, height_mm, tuple(marks), words)


def field_corners_mm(shot: Shot) -> Any:
    """What of the board's plane is in the frame, (4, 2)."""
    width, height = shot.field_mm[::-1] if shot.turned else shot.field_mm
    half = np.array([width, height]) / 2.0
    return np.array(shot.aim_mm) + half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def shortfall_lines(shortfalls: Iterable[Shortfall]) -> list[str]:
    """Parts that lack the same and want the same, a line each."""
    told = ((f"{_lack(item)}: {item.remedy}", item.refdes) for item in shortfalls)
    return [f"{names}: {what}" for what, names in _alike(told)]


def preparation_lines(preparations: Iterable[Preparation]) -> list[str]:
    """What is to be done to parts before the shots, a line each kind of work."""
    return [f"{what}: {names}" for what, names in _alike((item.what, item.refdes) for item in preparations)]


def _lack(item: Shortfall) -> str:
    if item.lack == "no body":
        return "size not known"
    if item.lack == "hidden":
        return "hidden from every place"
    u = "" if item.expected_u_c is None else f", u about {item.expected_u_c:.1f} K"
    return f"stays {item.best_px:.1f} pixels wide instead of {item.wanted_px:g}{u}"


def _alike(pairs: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """(what, names) of all parts of which the same is said; many names are counted."""
    out = []
    for what, group in groupby(sorted(pairs), key=lambda pair: pair[0]):
        names = [name for _, name in group]
        out.append((what, _some(names, _MOST_NAMES)))
    return out


def _some(names: Sequence[str], most: int) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def _where(shot: Shot) -> str:
    axis = "y" if shot.turned else "x"
    return (
        f"{shot.side} side: {shot.distance_m * 1000:.0f} mm above ({shot.aim_mm[0]:.1f}, {shot.aim_mm[1]:.1f}) mm, "
        f"the frame's long side along {axis}"
    )


def _what(shot: Shot) -> str:
    return (
        f"{shot.field_mm[0]:.0f} x {shot.field_mm[1]:.0f} mm in the frame, {shot.mm_per_px:.3f} mm a pixel; "
        f"{shot.large_enough} of {len(shot.sightings)} parts in it large enough, "
        f"{shot.control_points} places to click on"
    )
