"""Reports of a comparison: JSON, CSV, PDF and HTML from the same rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from overlay.board.model import Board, Component, Side
from overlay.comparison.model import Change, Comparison
from overlay.job.analysis import Analysis
from overlay.report.board_map import MapRoom, board_map
from overlay.report.content import DASH, kelvin
from overlay.report.drawing import Drawing, Label, Mark, Picture, shifted
from overlay.report.numbers import number
from overlay.report.palette import INK, Look, rgb, scale_colors
from overlay.report.tables import csv_text

_COOLER, _SAME, _HOTTER = "#2c6fa6", "#f4f2ec", "#b3382c"


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One matched part as every table of a comparison shows it."""

    refdes_a: str
    refdes_b: str
    matched_by: str
    moved: str
    rise_a: str
    rise_b: str
    delta: str
    u: str
    own: str
    q: str
    changed: str
    margin_a: str
    margin_b: str
    verdict_a: str
    verdict_b: str
    why: str
    change: Change


def change_rows(comparison: Comparison) -> tuple[ChangeRow, ...]:
    """A row for each matched part, in the comparison's order (changed verdicts first)."""
    return tuple(_row(change) for change in comparison.changes)


def _row(change: Change) -> ChangeRow:
    one, other = change.match.one, change.match.other
    rises_a = {capture: rise for capture, rise, _ in one.readings}
    rises_b = {capture: rise for capture, rise, _ in other.readings}
    return ChangeRow(
        refdes_a=one.component.refdes,
        refdes_b=other.component.refdes,
        matched_by=change.match.matched_by,
        moved=DASH if change.match.moved_mm < 0.005 else f"{change.match.moved_mm:.2f}",
        rise_a=kelvin(rises_a.get(change.capture_a or "")),
        rise_b=kelvin(rises_b.get(change.capture_b or "")),
        delta=_signed(change.delta_rise_k),
        u=kelvin(change.u_k),
        own=_signed(change.own_change_k),
        q=DASH if change.q_value is None else "<0.001" if change.q_value < 0.001 else f"{change.q_value:.3f}",
        changed="changed" if change.changed else "",
        margin_a=kelvin(one.margin.margin_c),
        margin_b=kelvin(other.margin.margin_c),
        verdict_a=one.margin.verdict,
        verdict_b=other.margin.verdict,
        why="; ".join(change.why),
        change=change,
    )


def _signed(value: float | None) -> str:
    return DASH if value is None else ("+" if value > 0 else "") + kelvin(value)


def comparison_json(comparison: Comparison) -> dict[str, Any]:
    """The comparison as JSON values; keys may be added, never renamed."""
    return {
        "format": 1,
        "pairs": [_pair(change) for change in comparison.changes],
        "added": [component.refdes for component in comparison.added],
        "removed": [component.refdes for component in comparison.removed],
        "common_shift_k": number(comparison.common_shift_k, 3),
        "common_shift_u_k": number(comparison.common_shift_u_k, 3),
        "common_shift_taken_off": comparison.common_shift_taken_off,
        "false_discovery_rate": comparison.false_discovery_rate,
        "notes": list(comparison.notes),
    }


def _pair(change: Change) -> dict[str, Any]:
    one, other = change.match.one, change.match.other
    return {
        "refdes_a": one.component.refdes,
        "refdes_b": other.component.refdes,
        "matched_by": change.match.matched_by,
        "moved_mm": number(change.match.moved_mm, 4),
        "capture_a": change.capture_a,
        "capture_b": change.capture_b,
        "delta_rise_k": number(change.delta_rise_k, 3),
        "u_k": number(change.u_k, 3),
        "own_change_k": number(change.own_change_k, 3),
        "own_u_k": number(change.own_u_k, 3),
        "p_value": _significant(change.p_value),
        "q_value": _significant(change.q_value),
        "changed": change.changed,
        "margin_a_c": number(one.margin.margin_c, 3),
        "margin_b_c": number(other.margin.margin_c, 3),
        "delta_margin_k": number(change.delta_margin_k, 3),
        "verdict_a": one.margin.verdict,
        "verdict_b": other.margin.verdict,
        "rerated": change.rerated,
        "unprompted": change.unprompted,
        "set_apart": change.set_apart,
        "why": list(change.why),
    }


def _significant(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.4g}")


_CSV = ("refdes_a", "refdes_b", "matched_by", "moved", "rise_a", "rise_b", "delta", "u", "own", "q", "changed")
_CSV_MORE = ("margin_a", "margin_b", "verdict_a", "verdict_b", "why")


def comparison_csv(comparison: Comparison) -> str:
    """A row for each matched part, then those added and removed."""
    columns = (*_CSV, *_CSV_MORE)
    plain = str.maketrans({"\N{MINUS SIGN}": "-"})
    lines = [
        ["" if getattr(row, name) == DASH else str(getattr(row, name)).translate(plain) for name in columns]
        for row in change_rows(comparison)
    ]
    blank = [""] * (len(columns) - 3)
    lines += [["", component.refdes, "added", *blank] for component in comparison.added]
    lines += [[component.refdes, "", "removed", *blank] for component in comparison.removed]
    return csv_text(columns, lines)


def rise_map(
    analysis: Analysis, side: Side, rises: Mapping[str, float], top_k: float, size: tuple[float, float]
) -> Drawing:
    """A side with its bodies filled by rise, from none to ``top_k``: the same scale for both jobs."""
    colors = scale_colors("dusk")

    def look_of(part: Component) -> Look | None:
        if part.mechanical:
            return None
        rise = rises.get(part.refdes)
        if rise is None:
            return Look("#ffffff", "#1d1d1b", "", True, "not read")
        red, green, blue = colors[int(np.clip(rise / top_k, 0, 1) * 255)]
        fill = f"#{red:02x}{green:02x}{blue:02x}"
        return Look(fill, _ink_on(fill), "", False, "")

    def title_of(part: Component) -> str:
        rise = rises.get(part.refdes)
        return f"{part.refdes}, not read" if rise is None else f"{part.refdes}, rise {kelvin(rise)} K"

    board = analysis.job.board
    hottest = sorted(rises.items(), key=lambda item: (-round(item[1], 1), item[0]))[:12]
    on_side = {part.refdes: part for part in board.components if part.side == side}
    tags = [(on_side[name], f"{name}  {kelvin(rise)} K", rise, False) for name, rise in hottest if name in on_side]
    description = f"Rise of each part of the {side} side, {board.name} {board.revision}"
    column = min(27.0, 0.185 * size[0])
    drawing = board_map(board, side, MapRoom(size[0], size[1] - STRIP_MM, column), look_of, title_of, tags, description)
    ends = ("0 K", f"rise {top_k:.0f} K")
    return with_strip(drawing, [tuple(color) for color in colors[::8].tolist()], ends, "dashed: not read")


def difference_map(board: Board, side: Side, comparison: Comparison, size: tuple[float, float]) -> Drawing:
    """The later board with its bodies filled by how much hotter or cooler they became."""
    changes = {change.match.other.component.refdes: change for change in comparison.changes}
    sizes = [abs(change.delta_rise_k) for change in changes.values() if change.delta_rise_k is not None]
    top = max([5.0, *sizes])
    added = {component.refdes for component in comparison.added}

    def look_of(part: Component) -> Look | None:
        if part.mechanical:
            return None
        if part.refdes in added:
            return Look("#ffffff", "#1d1d1b", "level", False, "added")
        change = changes.get(part.refdes)
        if change is None or change.delta_rise_k is None:
            return Look("#ffffff", "#1d1d1b", "", True, "not compared")
        fill = _blend(change.delta_rise_k / top)
        return Look(fill, _ink_on(fill), "rising" if change.changed and change.delta_rise_k > 0 else "", False, "")

    def title_of(part: Component) -> str:
        change = changes.get(part.refdes)
        if change is None:
            return f"{part.refdes}, added"
        row = _row(change)
        return f"{part.refdes}, {row.delta} K, u {row.u} K, {row.verdict_a} → {row.verdict_b}"

    tags = [
        (change.match.other.component, f"{name}  {_row(change).delta} K", abs(change.delta_rise_k or 0.0), True)
        for name, change in changes.items()
        if change.changed and change.match.other.component.side == side
    ]
    tags += [(part, f"{part.refdes}  added", 0.0, False) for part in comparison.added if part.side == side]
    room = MapRoom(size[0], size[1] - STRIP_MM)
    drawing = board_map(board, side, room, look_of, title_of, tags, f"Change of rise, {side} side")
    colors = [tuple(round(255 * part) for part in rgb(_blend(share))) for share in np.linspace(-1.0, 1.0, 33)]
    ends = (f"\N{MINUS SIGN}{top:.0f} K, cooler", f"+{top:.0f} K, hotter")
    words = "hatched: significantly hotter; level lines: added; dashed: not compared"
    return with_strip(drawing, colors, ends, words)


STRIP_MM = 7.0  # what the legend of a map takes below it
_STRIP_LENGTH_MM = 44.0  # long enough to tell its colours apart


def with_strip(drawing: Drawing, colors: Sequence[tuple[int, ...]], ends: tuple[str, str], words: str) -> Drawing:
    """The drawing with a legend below it: a strip of its colours, what its ends stand for, and what else is drawn."""
    length = min(_STRIP_LENGTH_MM, 0.3 * drawing.width_mm)
    size = min(2.1, 0.022 * drawing.width_mm)
    x = 0.5 + 0.62 * size * len(ends[0])
    strip = np.array(colors, dtype=np.uint8)
    marks: list[Mark] = [
        *shifted(drawing.marks, (0.0, STRIP_MM)),
        Label(ends[0], x - 1.0, 2.0, size, INK, "end"),
        Picture(np.arange(len(strip), dtype=np.uint8)[None], strip, x, 1.6, length, 2.4),
        Label(ends[1], x + length + 1.0, 2.0, size, INK),
        Label(words, x + length + 3.0 + 0.62 * size * len(ends[1]), 2.0, size, INK),
    ]
    return Drawing(drawing.width_mm, drawing.height_mm + STRIP_MM, tuple(marks), drawing.description)


def _blend(share: float) -> str:
    share = float(np.clip(share, -1, 1))
    far = np.array(rgb(_HOTTER if share > 0 else _COOLER))
    color = np.rint(255 * (np.array(rgb(_SAME)) * (1 - abs(share)) + far * abs(share))).astype(int)
    return "#" + "".join(f"{channel:02x}" for channel in color)


def _ink_on(fill: str) -> str:
    red, green, blue = rgb(fill)
    return "#1d1d1b" if 0.3 * red + 0.59 * green + 0.11 * blue > 0.5 else "#ffffff"


def sides_of(analysis: Analysis) -> tuple[Side, ...]:
    """The sides that bear parts, top first."""
    present = {part.side for part in analysis.job.board.parts}
    order: tuple[Side, ...] = ("top", "bottom")
    return tuple(side for side in order if side in present)


def rises_of(comparison: Comparison, pick: Callable[[Change], tuple[str, float | None]]) -> dict[str, float]:
    """Rise by designator of one side of the comparison."""
    picked = (pick(change) for change in comparison.changes)
    return {name: rise for name, rise in picked if rise is not None}
