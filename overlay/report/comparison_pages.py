"""``comparison.pdf`` and ``comparison.html``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from overlay.board.model import Side
from overlay.comparison.match import MOVED_MM
from overlay.comparison.model import Change, Comparison
from overlay.job.analysis import Analysis
from overlay.report.comparison import (
    ChangeRow,
    change_rows,
    difference_map,
    rise_map,
    rises_of,
    sides_of,
)
from overlay.report.content import cautions, counted
from overlay.report.drawing import Drawing
from overlay.report.html import ENLARGED, details_script, figure, page
from overlay.report.palette import LOOKS
from overlay.report.svg import HATCHES, escaped, svg_text

# Column headings with {a} and {b} for the names of the two jobs, and the field of a `ChangeRow`.
_HEADINGS = (
    ("part", "refdes_b"),
    ("was", "refdes_a"),
    ("Δ read K", "delta"),
    ("u K", "u"),
    ("Δ own K", "own"),
    ("q", "q"),
    ("", "changed"),
    ("rise {a} K", "rise_a"),
    ("rise {b} K", "rise_b"),
    ("margin {a} K", "margin_a"),
    ("margin {b} K", "margin_b"),
    ("verdict {a}", "verdict_a"),
    ("verdict {b}", "verdict_b"),
    ("moved mm", "moved"),
    ("remarks", "why"),
)
_NUMBERS = ("delta", "u", "own", "q", "rise_a", "rise_b", "margin_a", "margin_b", "moved")


def comparison_drawings(
    before: Analysis, after: Analysis, comparison: Comparison, size: tuple[float, float], wide: tuple[float, float]
) -> list[tuple[Side, Drawing, Drawing, Drawing]]:
    """For each side: rises of job A, rises of job B on the same scale, and the difference map."""
    rises = (rises_of(comparison, _rise_a), rises_of(comparison, _rise_b))
    top = max([10.0, *rises[0].values(), *rises[1].values()])
    return [
        (
            side,
            rise_map(before, side, rises[0], top, size),
            rise_map(after, side, rises[1], top, size),
            difference_map(after.job.board, side, comparison, wide),
        )
        for side in sides_of(after)
    ]


def _rise_a(change: Change) -> tuple[str, float | None]:
    rises = {capture: rise for capture, rise, _ in change.match.one.readings}
    return change.match.one.component.refdes, rises.get(change.capture_a or "")


def _rise_b(change: Change) -> tuple[str, float | None]:
    rises = {capture: rise for capture, rise, _ in change.match.other.readings}
    return change.match.other.component.refdes, rises.get(change.capture_b or "")


def comparison_pdf(before: Analysis, after: Analysis, comparison: Comparison) -> bytes:
    """The comparison on paper: changed verdicts first, the difference, both maps on one scale, the table."""
    from reportlab.lib.units import mm
    from reportlab.platypus import Spacer, Table

    from overlay.report.pdf_appendix import inputs_table
    from overlay.report.pdf_page import INNER_MM, build_pdf, heading, labelled, paragraph, section
    from overlay.report.pdf_paint import DrawingFlowable

    names, short = job_names(before, after), short_names(before, after)
    rows = change_rows(comparison)
    title = comparison_title(before, after)
    story: list[Any] = [
        paragraph(title, 14.0, bold=True),
        *(labelled(what, text, 8.0) for what, text in comparison_words(comparison, rows)),
    ]
    for words, chosen in first_lists(rows):
        story.append(paragraph(words, 9.5, bold=True, before=5))
        story += [_pdf_table(chosen[:_MOST_FIRST], short)] if chosen else [paragraph("None.", 8.0)]
        if len(chosen) > _MOST_FIRST:
            story.append(paragraph(f"and {len(chosen) - _MOST_FIRST} more in the table of all parts.", 7.0))
    height = 110.0 if len(sides_of(after)) == 1 else 86.0  # both sides on one page
    drawings = comparison_drawings(before, after, comparison, (92, 75), (INNER_MM, height))
    for side, _, _, difference in drawings:
        story += section(f"Change of rise as read, {side} side", difference.height_mm + 16.0)
        story.append(DrawingFlowable(difference))
    for side, one, other, _ in drawings:
        captions = [paragraph(f"Rise, {side} side, {name}", 8.0, bold=True) for name in names]
        pair = [captions, [DrawingFlowable(one), DrawingFlowable(other)]]
        story += [Spacer(1, 3 * mm), Table(pair, [INNER_MM / 2 * mm] * 2)]
    story += [*section("All matched parts"), _pdf_table(rows, short)]
    story += [paragraph(f"Added: {_list(comparison.added)}. Removed: {_list(comparison.removed)}.", 8.0, before=4)]
    story += section("Cautions")
    story += [paragraph(f"•  {text}", 8.0, before=2) for text in cautions(after)]
    story.append(heading("Inputs"))
    for name, analysis in zip(names, (before, after), strict=True):
        story += [paragraph(name, 8.5, bold=True, before=3), inputs_table(analysis.inputs)]
    return build_pdf(story, f"Comparison: {title}")


_MOST_FIRST = 16  # rows of a list on the first page: a third of it


def first_lists(rows: Sequence[ChangeRow]) -> tuple[tuple[str, list[ChangeRow]], ...]:
    """What a reader must see first, and what was not read alike in both jobs."""
    first = [row for row in rows if not row.change.set_apart and (row.change.verdict_changed or row.change.unprompted)]
    lists = [("Changed verdicts, and what became hotter although nobody changed it", first)]
    if apart := [row for row in rows if row.change.set_apart]:
        lists.append(("Set apart: read in one job only, or by a thermocouple in one only", apart))
    return tuple(lists)


def _pdf_table(rows: Sequence[ChangeRow], short: tuple[str, str]) -> Any:
    from overlay.report.pdf_table import table

    widths = (13, 13, 12, 9, 11, 10, 13, 12, 12, 13, 13, 15, 15, 10, 15)
    shades = []
    for index, row in enumerate(rows):
        for column, verdict in ((11, row.verdict_a), (12, row.verdict_b)):
            look = LOOKS[verdict]  # type: ignore[index]
            shades.append((index, column, look.fill, look.ink))
    right = [index for index, (_, name) in enumerate(_HEADINGS) if name in _NUMBERS]
    cells = [[getattr(row, name) for _, name in _HEADINGS] for row in rows]
    headings = [text.format(a=short[0], b=short[1]) for text, _ in _HEADINGS]
    return table(headings, cells, widths, right=right, wrap=(14,), shades=shades, size=6.0)


def comparison_html(before: Analysis, after: Analysis, comparison: Comparison) -> str:
    """The comparison as one page that needs nothing from elsewhere."""
    names, short = job_names(before, after), short_names(before, after)
    rows = change_rows(comparison)
    title = comparison_title(before, after)
    figures = []
    for side, one, other, difference in comparison_drawings(before, after, comparison, (150, 110), (190, 120)):
        figures.append(
            figure(f"diff-{side}", f"Change of rise as read, {side} side", svg_text(difference, f"diff-{side}"))
        )
        figures.append(figure(f"a-{side}", f"{names[0]}, {side} side: rise", svg_text(one, f"a-{side}")))
        figures.append(figure(f"b-{side}", f"{names[1]}, {side} side: rise", svg_text(other, f"b-{side}")))
    headings = "".join(
        f'<th scope="col"{" class=n" if name in _NUMBERS else ""}>{escaped(text.format(a=short[0], b=short[1]))}</th>'
        for text, name in _HEADINGS
    )
    words = comparison_words(comparison, rows)
    opening = "".join(f"<p><b>{what}.</b> {escaped(text)}</p>" for what, text in words)
    body = f"""<header><h1>{escaped(title)}</h1>
{opening}</header>
<main>
<section class="pictures" aria-label="Pictures">{"".join(figures)}</section>
<aside id="detail" aria-live="polite"><h2>Point at a part</h2>
<p>Pictures and tables answer each other. Click, or press Enter on a row, to keep a part;
a heading sorts its table.</p></aside>
<section class="parts" aria-label="Parts"><h2>All matched parts: changed verdicts first, set apart last</h2>
<form id="filter"><label>Search <input type="search" id="words" autocomplete="off"></label>
<label>Side <select id="side"><option value="">both</option><option>top</option><option>bottom</option></select></label>
<span class="verdicts">{"".join(_choice(name) for name in ("changed", "unchanged"))}</span>
<output id="shown"></output></form>
<div class="scroll tall"><table id="parts"><thead><tr>{headings}</tr></thead>
<tbody>{"".join(_html_row(row) for row in rows)}</tbody></table></div>
<p>Added: {escaped(_list(comparison.added))}. Removed: {escaped(_list(comparison.removed))}.</p></section>
<section><h2>Cautions</h2><ul>{"".join(f"<li>{escaped(text)}</li>" for text in cautions(after))}</ul></section>
</main>
{ENLARGED}
{HATCHES}
{details_script({row.refdes_b: _detail(row, short) for row in rows})}"""
    return page(f"Comparison: {title}", body, "margin_map.css", "margin_map.js")


def _choice(name: str) -> str:
    box = f'<input type="checkbox" name="verdict" value="{name}" checked>'
    return f'<label class="choice">{box}{name}</label>'


def _html_row(row: ChangeRow) -> str:
    cells = []
    for _, name in _HEADINGS:
        text = escaped(getattr(row, name))
        if name == "refdes_b":
            cells.append(f'<th scope="row">{text}</th>')
        elif name in ("verdict_a", "verdict_b"):
            cells.append(f'<td><span class="mark {text}">{text}</span></td>')
        else:
            cells.append(f"<td{' class=n' if name in _NUMBERS else ''}>{text}</td>")
    component = row.change.match.other.component
    state = "changed" if row.change.changed or row.verdict_a != row.verdict_b else "unchanged"
    data = f'data-part="{escaped(row.refdes_b)}" data-verdict="{state}" data-side="{component.side}"'
    return f'<tr tabindex="0" {data}>{"".join(cells)}</tr>\n'


def _detail(row: ChangeRow, short: tuple[str, str]) -> dict[str, Any]:
    facts = [
        ("change as read", f"{row.delta} K, u {row.u} K (k = 1)"),
        ("own change", f"{row.own} K beyond what all parts did (q {row.q}) {row.changed}"),
        ("rise", f"{row.rise_a} K in “{row.change.capture_a}” → {row.rise_b} K in “{row.change.capture_b}”"),
        (f"margin {short[0]} → {short[1]}", f"{row.margin_a} K → {row.margin_b} K"),
        (f"verdict {short[0]} → {short[1]}", f"{row.verdict_a} → {row.verdict_b}"),
        ("matched by", row.matched_by),
    ]
    return {"facts": facts, "budget": [], "why": list(row.change.why)}


def job_names(before: Analysis, after: Analysis) -> tuple[str, str]:
    """The two jobs by board and revision; by their folders besides where those are alike."""
    names = [f"{a.job.board.name} {a.job.board.revision}".strip() or a.job.folder.name for a in (before, after)]
    if names[0] == names[1]:
        names = [f"{name} ({a.job.folder.name})" for name, a in zip(names, (before, after), strict=True)]
    return names[0], names[1]


def short_names(before: Analysis, after: Analysis) -> tuple[str, str]:
    """Names for headings: the revisions where they differ and are short, else A and B."""
    one, other = (a.job.board.revision for a in (before, after))
    if one and other and one != other and max(len(one), len(other)) <= _SHORT_REVISION:
        return f"rev. {one}", f"rev. {other}"
    return "A", "B"


_SHORT_REVISION = 4  # letters of a revision that a heading has room for


def comparison_title(before: Analysis, after: Analysis) -> str:
    """The two jobs in one line, with the letters that headings call them by."""
    one, other = before.job.board, after.job.board
    short = short_names(before, after)
    if one.name and one.name == other.name and short != ("A", "B"):
        return f"{one.name}: revision {one.revision} → revision {other.revision}"
    names = job_names(before, after)
    return f"{names[0]} (A) → {names[1]} (B)"


def comparison_words(comparison: Comparison, rows: Sequence[ChangeRow]) -> tuple[tuple[str, str], ...]:
    """What the comparison found and how to read it, as (what, sentences)."""
    hotter = sum(row.change.changed and (row.change.own_change_k or 0) > 0 for row in rows)
    cooler = sum(row.change.changed and (row.change.own_change_k or 0) < 0 for row in rows)
    found = (
        f"{counted(len(rows), 'part')} matched, {len(comparison.added)} added, {len(comparison.removed)} removed, "
        f"{sum(row.change.match.moved_mm > MOVED_MM for row in rows)} moved, "
        f"{sum(row.change.rerated for row in rows)} with another limit. "
        f"{counted(sum(row.change.verdict_changed for row in rows), 'verdict')} changed; "
        f"{counted(hotter, 'part')} significantly hotter, {cooler} cooler."
    )
    read = (
        "Δ read is the change of the rise as it was read, with its standard uncertainty u (k = 1). Δ own is what is "
        "left of it beyond the shift that all parts share, where one was taken off. A part is called changed where q "
        f"is at most {comparison.false_discovery_rate:.0%}: among all parts called so, about that share of false "
        "alarms is to be expected (Benjamini and Hochberg)."
    )
    findings = tuple(("Finding", note) for note in comparison.notes)
    return ("Found", found), *findings, ("How to read it", read)


def comparison_text(before: Analysis, after: Analysis, comparison: Comparison) -> str:
    """The comparison for a terminal."""
    rows = change_rows(comparison)
    words = [f"{what}: {text}" for what, text in comparison_words(comparison, rows)]
    lines = [comparison_title(before, after), *words]
    told = [row for row in rows if not row.change.set_apart and (row.change.changed or row.change.verdict_changed)]
    apart = [row for row in rows if row.change.set_apart]
    for title, chosen in (("", told), ("set apart: read in one job only, or by a thermocouple in one only:", apart)):
        lines += ["", title] if title and chosen else [""] if chosen else []
        for row in chosen:
            verdicts = row.verdict_b if row.verdict_a == row.verdict_b else f"{row.verdict_a} → {row.verdict_b}"
            sizes = f"{row.delta:>7} K read (u {row.u} K)" if row.change.delta_rise_k is not None else "not compared"
            sizes += f", own {row.own:>6} K" if row.change.own_change_k is not None else ""
            lines.append(f"  {row.refdes_b:<8} {sizes:<37}  {verdicts:<22} {row.why}".rstrip())
    lines += ["", f"added: {_list(comparison.added)}; removed: {_list(comparison.removed)}"]
    return "\n".join(lines)


def _list(components: Sequence[Any]) -> str:
    return ", ".join(component.refdes for component in components) or "none"
