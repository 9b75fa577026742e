"""``comparison.pdf`` and ``comparison.html``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from overlay.board.model import Side
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
from overlay.report.content import cautions
from overlay.report.drawing import Drawing
from overlay.report.html import ENLARGED, details_script, figure, page
from overlay.report.palette import LOOKS
from overlay.report.svg import HATCHES, escaped, svg_text

_HEADINGS = (
    ("part", "refdes_b"),
    ("was", "refdes_a"),
    ("Δ rise K", "delta"),
    ("u K", "u"),
    ("own K", "own"),
    ("q", "q"),
    ("", "changed"),
    ("rise A K", "rise_a"),
    ("rise B K", "rise_b"),
    ("margin A K", "margin_a"),
    ("margin B K", "margin_b"),
    ("verdict A", "verdict_a"),
    ("verdict B", "verdict_b"),
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
    """The comparison on paper: changed verdicts first, both maps on one scale, the difference, the table."""
    from reportlab.lib.units import mm
    from reportlab.platypus import PageBreak, Spacer, Table

    from overlay.report.pdf_page import INNER_MM, build_pdf, heading, paragraph, table
    from overlay.report.pdf_paint import DrawingFlowable

    names = _names(before, after)
    rows = change_rows(comparison)
    story: list[Any] = [
        paragraph(f"{names[0]} → {names[1]}", 15.0, bold=True),
        paragraph(_summary(comparison, rows), 8.5),
        *(paragraph(note, 8.0, before=2) for note in comparison.notes),
    ]
    first = [row for row in rows if row.verdict_a != row.verdict_b or row.change.unprompted][:16]
    story += [paragraph("Changed verdicts, and what became hot that nobody changed", 9.5, bold=True, before=5)]
    story += [_pdf_table(first)] if first else [paragraph("None.", 8.0)]
    for side, one, other, difference in comparison_drawings(before, after, comparison, (92, 92), (INNER_MM, 120)):
        pair = Table([[DrawingFlowable(one), DrawingFlowable(other)]], [INNER_MM / 2 * mm] * 2)
        story += [PageBreak(), heading(f"{side.capitalize()} side: rise before and after, on one scale")]
        story += [pair, Spacer(1, 2 * mm), paragraph("Change of rise (hatched: significantly hotter)", 9.5, bold=True)]
        story += [DrawingFlowable(difference)]
    story += [PageBreak(), heading("All matched parts"), _pdf_table(rows)]
    story += [paragraph(f"Added: {_list(comparison.added)}. Removed: {_list(comparison.removed)}.", 8.0, before=4)]
    story += [Spacer(1, 4 * mm), heading("Cautions")]
    story += [paragraph(f"•  {text}", 8.0, before=2) for text in cautions(after)]
    story += [Spacer(1, 4 * mm), heading("Inputs")]
    for name, analysis in zip(names, (before, after), strict=True):
        story.append(paragraph(name, 8.5, bold=True, before=3))
        story.append(
            table(("file", "SHA-256"), [(item.file, item.sha256) for item in analysis.inputs], (66, 120), size=6.5)
        )
    return build_pdf(story, f"Comparison: {names[0]} → {names[1]}")


def _pdf_table(rows: Sequence[ChangeRow]) -> Any:
    from overlay.report.pdf_page import table

    widths = (13, 13, 12, 9, 11, 10, 13, 12, 12, 13, 13, 15, 15, 10, 15)
    shades = []
    for index, row in enumerate(rows):
        for column, verdict in ((11, row.verdict_a), (12, row.verdict_b)):
            look = LOOKS[verdict]  # type: ignore[index]
            shades.append((index, column, look.fill, look.ink))
    right = [index for index, (_, name) in enumerate(_HEADINGS) if name in _NUMBERS]
    cells = [[getattr(row, name) for _, name in _HEADINGS] for row in rows]
    headings = [text for text, _ in _HEADINGS]
    return table(headings, cells, widths, right=right, wrap=(14,), shades=shades, size=6.0)


def comparison_html(before: Analysis, after: Analysis, comparison: Comparison) -> str:
    """The comparison as one page that needs nothing from elsewhere."""
    names = _names(before, after)
    rows = change_rows(comparison)
    figures = []
    for side, one, other, difference in comparison_drawings(before, after, comparison, (150, 110), (190, 120)):
        figures.append(figure(f"diff-{side}", f"Change of rise, {side} side", svg_text(difference, f"diff-{side}")))
        figures.append(figure(f"a-{side}", f"{names[0]}, {side} side: rise", svg_text(one, f"a-{side}")))
        figures.append(figure(f"b-{side}", f"{names[1]}, {side} side: rise", svg_text(other, f"b-{side}")))
    headings = "".join(
        f'<th scope="col"{" class=n" if name in _NUMBERS else ""}>{text}</th>' for text, name in _HEADINGS
    )
    notes = "".join(f"<p>{escaped(note)}</p>" for note in comparison.notes)
    body = f"""<header><h1>{escaped(names[0])} → {escaped(names[1])}</h1>
<p>{escaped(_summary(comparison, rows))}</p>{notes}</header>
<main>
<section class="pictures" aria-label="Pictures">{"".join(figures)}</section>
<aside id="detail" aria-live="polite"><h2>Point at a part</h2>
<p>Pictures and tables answer each other. Click, or press Enter on a row, to keep a part;
a heading sorts its table.</p></aside>
<section class="parts" aria-label="Parts"><h2>All matched parts, changed verdicts first</h2>
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
{details_script({row.refdes_b: _detail(row) for row in rows})}"""
    return page(f"Comparison: {names[0]} → {names[1]}", body, "margin_map.css", "margin_map.js")


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


def _detail(row: ChangeRow) -> dict[str, Any]:
    facts = [
        ("change as read", f"{row.delta} K, u {row.u} K (k = 1)"),
        ("own change", f"{row.own} K beyond what all parts did (q {row.q}) {row.changed}"),
        ("rise", f"{row.rise_a} K in “{row.change.capture_a}” → {row.rise_b} K in “{row.change.capture_b}”"),
        ("margin", f"{row.margin_a} K → {row.margin_b} K"),
        ("verdict", f"{row.verdict_a} → {row.verdict_b}"),
        ("matched by", row.matched_by),
    ]
    return {"facts": facts, "budget": [], "why": list(row.change.why)}


def _names(before: Analysis, after: Analysis) -> tuple[str, str]:
    names = [f"{a.job.board.name} {a.job.board.revision}".strip() or a.job.folder.name for a in (before, after)]
    if names[0] == names[1]:
        names = [f"{name} ({a.job.folder.name})" for name, a in zip(names, (before, after), strict=True)]
    return names[0], names[1]


def _summary(comparison: Comparison, rows: Sequence[ChangeRow]) -> str:
    verdicts = sum(row.verdict_a != row.verdict_b for row in rows)
    hotter = sum(row.change.changed and (row.change.own_change_k or 0) > 0 for row in rows)
    cooler = sum(row.change.changed and (row.change.own_change_k or 0) < 0 for row in rows)
    moved = sum(row.change.match.moved_mm > 0.05 for row in rows)
    rerated = sum(row.change.rerated for row in rows)
    return (
        f"{len(rows)} parts matched, {len(comparison.added)} added, {len(comparison.removed)} removed, {moved} moved, "
        f"{rerated} re-rated. {verdicts} verdicts changed; {hotter} parts significantly hotter, {cooler} cooler "
        f"(false discovery rate held to {comparison.false_discovery_rate:.0%}, Benjamini–Hochberg)."
    )


def comparison_text(before: Analysis, after: Analysis, comparison: Comparison) -> str:
    """The comparison for a terminal."""
    rows = change_rows(comparison)
    lines = [f"{' → '.join(_names(before, after))}", _summary(comparison, rows), *comparison.notes, ""]
    for row in rows:
        if row.change.changed or row.verdict_a != row.verdict_b:
            verdicts = row.verdict_b if row.verdict_a == row.verdict_b else f"{row.verdict_a} → {row.verdict_b}"
            sizes = f"{row.delta:>7} K (u {row.u}), own {row.own:>6} K"
            lines.append(f"  {row.refdes_b:<8} {sizes}  {verdicts:<22} {row.why}".rstrip())
    lines.append(f"added: {_list(comparison.added)}; removed: {_list(comparison.removed)}")
    return "\n".join(lines)


def _list(components: Sequence[Any]) -> str:
    return ", ".join(component.refdes for component in components) or "none"
