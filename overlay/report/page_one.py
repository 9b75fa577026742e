"""The first page: what was tested, by what rule, what failed, what nobody knows, what is to be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Spacer, Table, TableStyle

from overlay.board.model import Side
from overlay.job.analysis import Analysis
from overlay.margin.model import VERDICTS
from overlay.report.board_map import margin_map, sides_map, sides_scale
from overlay.report.columns import Place, columns_of
from overlay.report.content import DASH, PartRow, attention, hot_unjudged, overlooked
from overlay.report.margin_chart import chart_room, chart_words, charted, margin_chart
from overlay.report.opening import AREA_HEADINGS, area_rows, opening
from overlay.report.palette import FAINT, INK, LOOKS
from overlay.report.pdf_fonts import BOLD, color_of, register_fonts
from overlay.report.pdf_page import INNER_MM, PAGE_MM, heading, height_mm, labelled, paragraph
from overlay.report.pdf_paint import DrawingFlowable
from overlay.report.pdf_table import table
from overlay.report.results import summary
from overlay.report.tasks import Task, tasks

# Rows of a list on the first page, and steps of the work list, as many as leave the map room; the rest stands in the
# table of all parts, and in the work list.
_LIST_ROWS = (9, 7, 5, 4, 3)
_NAMED = 12  # small parts named in one sentence
_MOST_LISTED = 60  # names of a task in the work list; all of them stand in the table of all parts
_LEAST_MAP_MM, _MOST_MAP_MM = 70.0, 125.0  # of one side
_MOST_SIDES_MM = 190.0  # of both
_CHART_MM = 50.0  # tall enough to tell 2 K from 0
_SMALLER = 0.7  # how much smaller a board may be drawn for its other side, or the chart, to stand on the page too
_TITLE_PT, _LONG_TITLE_PT, _LONG_TITLE = 16.0, 11.0, 70  # from so many letters a title would take three lines


@dataclass(frozen=True, slots=True)
class PageOne:
    """The first page, and what had no room on it."""

    story: tuple[Any, ...]
    left: tuple[Any, ...]  # maps, the chart, the whole work list: what the next page begins with


def page_one(analysis: Analysis, rows: Sequence[PartRow]) -> PageOne:
    """Lay out the first page so that it is filled: what matters most is on it, at a size that can be read."""
    board = analysis.job.board
    name = f"{board.name or analysis.job.path.parent.name}, revision {board.revision or DASH}"
    head: list[Any] = [
        paragraph(name, _LONG_TITLE_PT if len(name) > _LONG_TITLE else _TITLE_PT, bold=True),
        *(labelled(what, text, 7.5) for what, text in opening(analysis, rows)),
        Spacer(1, 2 * mm),
        _counts(analysis),
        Spacer(1, 2 * mm),
    ]
    if board.outline.from_bodies:
        head.append(paragraph("No outline was given: the edge drawn is the hull of the bodies.", 7.5))
    found = tasks(rows, analysis.areas)
    below: list[Any] = []
    room_mm = 0.0
    most = _LIST_ROWS[0]
    for most in _LIST_ROWS:
        below = [*_lists(rows, most), *_areas(analysis), *_next_steps(found, most)]
        room_mm = PAGE_MM - height_mm([*head, *below]) - 4.0
        if room_mm >= _LEAST_MAP_MM:
            break
    pictures, left = _pictures(analysis, rows, room_mm)
    if len(found) > most or any(task.shortened for task in found):
        left = [*left, *_work_list(found)]
    return PageOne((*head, *pictures, *below), tuple(left))


def _pictures(analysis: Analysis, rows: Sequence[PartRow], room_mm: float) -> tuple[list[Any], list[Any]]:
    """Maps and margin chart for the room there is, and those that must go elsewhere."""
    board = analysis.job.board
    sides = _sides(rows)
    chart = _chart(analysis, rows)
    chart_mm = height_mm(chart)
    single = sides_scale(board, sides[:1], INNER_MM, min(max(room_mm, _LEAST_MAP_MM), _MOST_MAP_MM))
    choices = [(sides, True), (sides, False), (sides[:1], True), (sides[:1], False)]
    for shown, with_chart in choices if chart else choices[1::2]:
        most = _MOST_MAP_MM if len(shown) == 1 else _MOST_SIDES_MM
        map_mm = min(room_mm - (chart_mm if with_chart else 0.0), most)
        last = (shown, with_chart) == (sides[:1], False)
        fits = map_mm >= _LEAST_MAP_MM and sides_scale(board, shown, INNER_MM, map_mm) >= _SMALLER * single
        if fits or last:
            break
    map_mm = max(map_mm, _LEAST_MAP_MM)
    pictures: list[Any] = [DrawingFlowable(sides_map(board, rows, shown, INNER_MM, map_mm))]
    left: list[Any] = []
    for side in sides[len(shown) :]:
        left += [heading(f"Margin map, {side} side"), Spacer(1, 2 * mm)]
        left.append(DrawingFlowable(margin_map(board, rows, side, INNER_MM, _MOST_MAP_MM)))
    if chart:
        (pictures if with_chart else left).extend(chart)
    return pictures, left


def _chart(analysis: Analysis, rows: Sequence[PartRow]) -> list[Any]:
    found = charted(rows)
    if not found:
        return []
    wanted = analysis.job.settings.requirement.margin_c
    return [
        CondPageBreak((_CHART_MM + 16.0) * mm),
        paragraph("Margins, the least first", 9.5, bold=True, before=5),
        paragraph(chart_words(found, min(len(found), chart_room(INNER_MM)), wanted), 7.0),
        DrawingFlowable(margin_chart(found, wanted, INNER_MM, _CHART_MM)),
    ]


def _areas(analysis: Analysis) -> list[Any]:
    """The laminate and surfaces to touch, where they have limits."""
    rows = area_rows(analysis)
    if not rows:
        return []
    shades = [(i, 1, LOOKS[one.verdict].fill, LOOKS[one.verdict].ink) for i, one in enumerate(analysis.areas)]
    return [
        paragraph("Laminate, and surfaces to touch", 9.5, bold=True, before=5),
        table(AREA_HEADINGS, rows, (34, 17, 34, 19, 15, 15, 11, 41), right=(3, 4, 5, 6), shades=shades),
    ]


def _next_steps(found: Sequence[Task], most: int) -> list[Any]:
    """The head of the work list."""
    if not found:
        return []
    story: list[Any] = [paragraph("What to do next", 9.5, bold=True, before=5)]
    story += [paragraph(f"{index}.  {task.words}", 7.0) for index, task in enumerate(found[:most], start=1)]
    if len(found) > most:
        story.append(paragraph(f"and {len(found) - most} more in the work list.", 7.0, color=FAINT))
    return story


def _work_list(found: Sequence[Task]) -> list[Any]:
    """All of the work list, where the first page had no room for it."""
    cells = [(task.what, task.named(_MOST_LISTED), task.why) for task in found]
    return [
        heading("Work list"),
        Spacer(1, 1 * mm),
        table(("to do", "parts", "why"), cells, (50, 96, 40), wrap=(0, 1, 2), size=6.5),
    ]


def _sides(rows: Sequence[PartRow]) -> list[Side]:
    """The sides that bear parts, the one with the gravest part first."""
    return list(dict.fromkeys(row.component.side for row in rows)) or ["top"]


def _counts(analysis: Analysis) -> Table:
    counts = summary(analysis)
    register_fonts()
    cells: list[list[Any]] = [
        [str(counts[verdict]) for verdict in VERDICTS],
        list(VERDICTS),
        [paragraph(LOOKS[verdict].meaning, 6.0, color=LOOKS[verdict].ink) for verdict in VERDICTS],
    ]
    commands: list[Any] = [
        ("FONT", (0, 0), (-1, 0), BOLD, 15),
        ("FONT", (0, 1), (-1, 1), BOLD, 8),
        ("LEADING", (0, 0), (-1, 0), 17),
        ("BOX", (0, 0), (-1, -1), 0.4, color_of(INK)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    for index, verdict in enumerate(VERDICTS):
        look = LOOKS[verdict]
        commands += [
            ("BACKGROUND", (index, 0), (index, -1), color_of(look.fill)),
            ("TEXTCOLOR", (index, 0), (index, -1), color_of(look.ink)),
            ("LINEAFTER", (index, 0), (index, -1), 0.4, color_of(INK)),
        ]
    return Table(cells, [INNER_MM / len(VERDICTS) * mm] * len(VERDICTS), style=TableStyle(commands))


def _lists(rows: Sequence[PartRow], most: int) -> list[Any]:
    """What needs attention, the small parts that nobody thinks of by name, and what is hot and unrated."""
    story: list[Any] = []
    for words, chosen, always in (
        ("Needs attention", attention(rows), True),
        ("Hot, and nobody rated them", hot_unjudged(rows), False),
    ):
        if not chosen:
            story += [paragraph(f"{words}: none.", 8.5, bold=True, before=4)] if always else []
            continue
        story.append(paragraph(words, 9.5, bold=True, before=5))
        story.append(part_table(chosen[:most], "first"))
        if len(chosen) > most:
            story.append(paragraph(f"and {len(chosen) - most} more in the table of all parts.", 7.0, color=FAINT))
        if always and (small := overlooked(rows)):
            more = f" and {len(small) - _NAMED} more" if len(small) > _NAMED else ""
            names = ", ".join(row.refdes for row in small[:_NAMED]) + more
            story.append(labelled("Small parts nobody thinks of among them", f"{names}.", 7.5))
    return story


def part_table(rows: Sequence[PartRow], place: Place, size: float = 6.6) -> Table:
    """A table of parts with the columns of that place."""
    columns = columns_of(place)
    return table(
        [column.heading for column in columns],
        [[column.cell(row, place) for column in columns] for row in rows],
        [column.first_mm if place == "first" else column.width_mm for column in columns],
        right=[index for index, column in enumerate(columns) if column.number],
        wrap=[index for index, column in enumerate(columns) if column.prose or column.key == "package"],
        shades=verdict_shades(rows, [column.key for column in columns].index("verdict")),
        size=size,
    )


def verdict_shades(rows: Sequence[PartRow], column: int) -> list[tuple[int, int, str, str]]:
    """The verdict cells of a table in their looks, as `table` wants its shades."""
    return [(index, column, LOOKS[row.verdict].fill, LOOKS[row.verdict].ink) for index, row in enumerate(rows)]
