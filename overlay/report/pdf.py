"""``margin_map.pdf``: the whole analysis on paper, for a reader who was not there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import PageBreak, Spacer, Table, TableStyle

from overlay.board.model import Side
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.margin.budget import coverage_factor
from overlay.margin.model import VERDICTS
from overlay.reading.hotspots import RULE
from overlay.report.columns import Place, columns_of
from overlay.report.content import (
    DASH,
    PartRow,
    attention,
    hot_spot_words,
    hot_unjudged,
    kelvin,
    overlooked,
    part_rows,
    sentences,
)
from overlay.report.heat_pages import heat_pages
from overlay.report.maps import frame_map, margin_map
from overlay.report.opening import AREA_HEADINGS, area_rows, opening
from overlay.report.palette import FAINT, INK, LOOKS
from overlay.report.pdf_appendix import (
    closing_pages,
    not_judged_pages,
    record_page,
    registration_pages,
    uncertainty_pages,
    verdict_shades,
)
from overlay.report.pdf_page import INNER_MM, PAGE_MM, build_pdf, heading, labelled, paragraph, table
from overlay.report.pdf_paint import BOLD, DrawingFlowable, register_fonts
from overlay.report.results import summary
from overlay.report.tasks import tasks

# Rows of a list on the first page, and steps of the work list, as many as leave the map room; the rest stands in the
# table of all parts, and in the work list.
_LIST_ROWS = (9, 7, 5, 4, 3)
_NAMED = 12  # small parts named in one sentence
_LEAST_MAP_MM, _MOST_MAP_MM = 70.0, 115.0  # of the first page: a smaller map goes to a page of its own


def margin_map_pdf(analysis: Analysis) -> bytes:
    """The report as PDF; the same analysis gives the same bytes."""
    rows = part_rows(analysis)
    title = f"{analysis.job.board.name} {analysis.job.board.revision}".strip() or analysis.job.path.parent.name
    story: list[Any] = []
    story += _first_page(analysis, rows)
    story += record_page(analysis, rows)
    k = coverage_factor(analysis.job.settings.requirement.confidence)
    for capture in analysis.captures:
        story += _frame_page(capture, rows, k)
    story += heat_pages(analysis)
    story += _table_of_all(rows)
    story += not_judged_pages(rows)
    story += uncertainty_pages(rows)
    story += registration_pages(analysis)
    story += closing_pages(analysis)
    return build_pdf(story, f"Margin map: {title}")


def _first_page(analysis: Analysis, rows: Sequence[PartRow]) -> list[Any]:
    board = analysis.job.board
    story: list[Any] = [
        paragraph(f"{board.name or analysis.job.path.parent.name}, revision {board.revision or DASH}", 16.0, bold=True),
        *(labelled(what, text, 7.5) for what, text in opening(analysis, rows)),
        Spacer(1, 2 * mm),
        _counts(analysis),
        Spacer(1, 2 * mm),
    ]
    if board.outline.from_bodies:
        story.append(paragraph("No outline was given: the edge drawn is the hull of the bodies.", 7.5))
    sides = _sides(rows)
    below: list[Any] = []
    room_mm = 0.0
    for most in _LIST_ROWS:
        below = [*_lists(rows, most), *_areas(analysis), *_next_steps(rows, most)]
        room_mm = PAGE_MM - _height_mm([*story, *below]) - 4.0
        if room_mm >= _LEAST_MAP_MM:
            break
    map_mm = min(max(room_mm, _LEAST_MAP_MM), _MOST_MAP_MM)
    story += [DrawingFlowable(margin_map(board, rows, sides[0], INNER_MM, map_mm)), *below]
    for side in sides[1:]:
        story += [PageBreak(), heading(f"Margin map, {side} side"), Spacer(1, 2 * mm)]
        story.append(DrawingFlowable(margin_map(board, rows, side, INNER_MM, 170.0)))
    return story


def _height_mm(flowables: Sequence[Any]) -> float:
    """What flowables take of a page, one below the other."""
    return float(sum(one.wrap(INNER_MM * mm, 1e5)[1] + one.getSpaceBefore() for one in flowables) / mm)


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


def _next_steps(rows: Sequence[PartRow], most: int) -> list[Any]:
    """The head of the work list."""
    found = tasks(rows)
    if not found:
        return []
    story: list[Any] = [paragraph("What to do next", 9.5, bold=True, before=5)]
    story += [paragraph(f"{index}.  {task.words}", 7.0) for index, task in enumerate(found[:most], start=1)]
    if len(found) > most:
        story.append(paragraph(f"and {len(found) - most} more in the work list.", 7.0, color=FAINT))
    return story


def _sides(rows: Sequence[PartRow]) -> list[Side]:
    """The sides that bear parts, the one with the gravest part first."""
    order: list[Side] = []
    for row in rows:
        if row.component.side not in order:
            order.append(row.component.side)
    return order or ["top"]


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
        ("BOX", (0, 0), (-1, -1), 0.4, HexColor(INK)),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]
    for index, verdict in enumerate(VERDICTS):
        look = LOOKS[verdict]
        commands += [
            ("BACKGROUND", (index, 0), (index, -1), HexColor(look.fill)),
            ("TEXTCOLOR", (index, 0), (index, -1), HexColor(look.ink)),
            ("LINEAFTER", (index, 0), (index, -1), 0.4, HexColor(INK)),
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
        story.append(_part_table(chosen[:most], "first"))
        if len(chosen) > most:
            story.append(paragraph(f"and {len(chosen) - most} more in the table of all parts.", 7.0, color=FAINT))
        if always and (small := overlooked(rows)):
            more = f" and {len(small) - _NAMED} more" if len(small) > _NAMED else ""
            names = ", ".join(row.refdes for row in small[:_NAMED]) + more
            story.append(labelled("Small parts nobody thinks of among them", f"{names}.", 7.5))
    return story


def _part_table(rows: Sequence[PartRow], place: Place, size: float = 6.6) -> Table:
    """A table of parts with the columns of that place."""
    columns = columns_of(place)
    return table(
        [column.heading for column in columns],
        [[column.cell(row, place) for column in columns] for row in rows],
        [column.first_mm if place == "first" else column.width_mm for column in columns],
        right=[index for index, column in enumerate(columns) if column.number],
        shades=verdict_shades(rows, [column.key for column in columns].index("verdict")),
        size=size,
    )


def _frame_page(capture: CaptureAnalysis, rows: Sequence[PartRow], k: float) -> list[Any]:
    settings = capture.settings
    story: list[Any] = [
        PageBreak(),
        heading(f'Frame "{capture.name}", {settings.side} side'),
        paragraph(
            f"Ambient {settings.ambient_c:g} ± {settings.ambient_u_c:g} °C, reflected "
            f"{settings.reflected_or_ambient_c:g} ± {settings.reflected_u_c:g} °C, blur of the optics "
            f"{capture.reading.blur_px:.2f} px ({capture.reading.blur_source}). Outlines are the top faces as the "
            f"camera sees them; squares are hot spots by rank. U = k·u, k = {k:.2f}; u mm is one standard uncertainty.",
            7.5,
        ),
        Spacer(1, 3 * mm),
        DrawingFlowable(frame_map(capture, rows, INNER_MM, 130.0)),
        Spacer(1, 3 * mm),
    ]
    spots = capture.reading.hot_spots
    if spots:
        story.append(paragraph("Hot spots", 9.5, bold=True))
        story.append(paragraph(RULE, 7.5))
        story.append(
            table(
                ("rank", "°C", "U K", "rise K", "x mm", "y mm", "u mm", "candidates", "remarks"),
                [
                    (
                        str(spot.rank),
                        kelvin(spot.temperature_c),
                        kelvin(k * spot.u_c),
                        kelvin(spot.rise_k),
                        f"{spot.board_mm[0]:.2f}",
                        f"{spot.board_mm[1]:.2f}",
                        f"{spot.position_u_mm:.2f}",
                        hot_spot_words(spot),
                        sentences(spot.why),
                    )
                    for spot in spots
                ],
                (10, 13, 11, 13, 14, 14, 12, 52, 47),
                right=(0, 1, 2, 3, 4, 5, 6),
                wrap=(7, 8),
            )
        )
    story += _contacts(capture, k)
    notes = [*capture.notes, *capture.reading.notes]
    story += [paragraph(note, 7.5, before=2) for note in notes]
    return story


def _contacts(capture: CaptureAnalysis, k: float) -> list[Any]:
    """Each contact reading beside what infrared says at its place."""
    if not capture.contacts:
        return []
    cells = []
    for met in capture.contacts:
        agrees = "infrared gave none" if met.agrees is None else "agrees" if met.agrees else "CONTRADICTS"
        difference = None if met.infrared_c is None else met.contact_c - met.infrared_c
        emissivity = DASH if met.emissivity is None else f"{met.emissivity:.2f} ± {met.emissivity_u or 0.0:.2f} (k = 1)"
        numbers = [met.contact.temperature_c, met.contact_c, k * met.contact_u_c, met.infrared_c, difference]
        u = None if met.difference_u_c is None else k * met.difference_u_c
        cells.append((met.contact.refdes, *(kelvin(value) for value in (*numbers, u)), agrees, emissivity))
    headings = ("part", "contact °C", "at hottest °C", "U K", "infrared °C", "difference K", "U K", "", "emissivity")
    return [
        paragraph("Contact readings", 9.5, bold=True, before=4),
        table(headings, cells, (16, 18, 22, 12, 20, 20, 12, 30, 36), right=(1, 2, 3, 4, 5, 6)),
    ]


def _table_of_all(rows: Sequence[PartRow]) -> list[Any]:
    return [PageBreak(), heading("All parts by margin"), Spacer(1, 2 * mm), _part_table(rows, "all", 6.0)]
