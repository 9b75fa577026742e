"""``margin_map.html``: one file, offline, with linked pictures and table."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

import overlay
from overlay.board.model import Side
from overlay.heat.model import PartHeat
from overlay.job.analysis import Analysis, CaptureAnalysis
from overlay.margin.budget import coverage_factor
from overlay.margin.model import VERDICTS
from overlay.plain_text import visible, visible_json
from overlay.reading.hotspots import RULE
from overlay.report.board_map import margin_map
from overlay.report.columns import columns_of
from overlay.report.content import PartRow, cautions, hot_spot_words, kelvin, part_rows, probability, sentences
from overlay.report.frame_map import frame_map
from overlay.report.heat_words import CAVEAT, heat_words, share_words, sources_of
from overlay.report.opening import AREA_HEADINGS, area_rows, opening, record_lines
from overlay.report.palette import LOOKS
from overlay.report.results import summary
from overlay.report.svg import HATCHES, escaped, svg_text
from overlay.report.tasks import tasks


def margin_map_html(analysis: Analysis) -> str:
    """The report as one HTML page that needs nothing from elsewhere."""
    rows = part_rows(analysis)
    board, k = analysis.job.board, coverage_factor(analysis.job.settings.requirement.confidence)
    name = f"{board.name} {board.revision}".strip() or analysis.job.path.parent.name
    sides: list[Side] = list(dict.fromkeys(row.component.side for row in rows))
    maps = [
        figure(
            f"map-{side}", f"Margin map, {side} side", svg_text(margin_map(board, rows, side, 190, 120), f"map-{side}")
        )
        for side in sides
    ]
    frames = [
        figure(
            f"frame-{index}",
            f"Frame “{capture.name}”, {capture.settings.side} side",
            svg_text(frame_map(capture, rows, 190, 110), f"frame-{index}"),
        )
        for index, capture in enumerate(analysis.captures)
    ]
    body = f"""<header>
<h1>{escaped(name)}</h1>
{"".join(f"<p><b>{escaped(what)}.</b> {escaped(text)}</p>" for what, text in opening(analysis, rows))}
{_counts(analysis)}
</header>
<main>
{_work_list(rows, analysis)}
<section class="pictures" aria-label="Pictures">{"".join(maps)}{"".join(frames)}</section>
<aside id="detail" aria-live="polite"><h2>Point at a part</h2>
<p>Pictures and tables answer each other. Click, or press Enter on a row, to keep a part;
a heading sorts its table.</p></aside>
<section class="parts" aria-label="Parts">
<h2>All parts by margin</h2>
<form id="filter"><label>Search <input type="search" id="words" autocomplete="off"></label>
<label>Side <select id="side"><option value="">both</option><option>top</option><option>bottom</option></select></label>
<span class="verdicts">{"".join(_choice(verdict) for verdict in VERDICTS)}</span>
<output id="shown"></output></form>
<div class="scroll tall"><table id="parts"><thead><tr>{_headings()}</tr></thead>
<tbody>{"".join(_row(row) for row in rows)}</tbody></table></div>
</section>
{"".join(_hot_spots(capture, k) for capture in analysis.captures)}
{"".join(_heat(capture) for capture in analysis.captures)}
{_areas(analysis)}
{_record(analysis)}
<section><h2>Cautions</h2><ul>{"".join(f"<li>{escaped(text)}</li>" for text in cautions(analysis))}</ul></section>
<section><h2>Inputs</h2><p>board-overlay {escaped(overlay.__version__)}</p><table><tbody>
{"".join(f"<tr><td>{escaped(i.file)}</td><td><code>{i.sha256}</code></td></tr>" for i in analysis.inputs)}
</tbody></table></section>
</main>
{ENLARGED}
{HATCHES}
{details_script({row.refdes: part_detail(row) for row in rows})}"""
    return page(f"Margin map: {name}", body, "margin_map.css", "margin_map.js")


def page(title: str, body: str, stylesheet: str, script: str) -> str:
    """A whole page whose own style and script are the only ones its policy lets run."""
    folder = resources.files("overlay.report") / "page"
    css, code = ((folder / file).read_text(encoding="utf-8") for file in (stylesheet, script))
    policy = (
        f"default-src 'none'; img-src data:; style-src {_hash(css)}; script-src {_hash(code)}; "
        "base-uri 'none'; form-action 'none'"
    )
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escaped(title)}</title>
<style>{css}</style>
</head>
<body>
{body}
<script>{code}</script>
</body>
</html>
"""


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def json_text(values: Any) -> str:
    """JSON text that cannot end the script element it stands in."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return visible_json(text).replace("<", "\\u003c")


def details_script(details: Mapping[str, Mapping[str, Any]]) -> str:
    """What the panel says of each part, for the page's script; texts that return are written once.

    A detail is as `part_detail` gives it; its texts stand as numbers of a list.
    """
    texts: dict[str, int] = {}

    @cache
    def number(text: str) -> int:
        return texts.setdefault(visible(text), len(texts))

    def numbered(value: Any) -> Any:
        return number(value) if isinstance(value, str) else [numbered(item) for item in value]

    parts = {
        name: [numbered(detail["facts"]), numbered(detail["budget"]), numbered(detail["why"])]
        for name, detail in details.items()
    }
    packed = json_text({"texts": list(texts), "parts": parts})
    return f'<script type="application/json" id="details">{packed}</script>'


def figure(name: str, caption: str, drawing: str) -> str:
    """A drawing under its caption, with a button that enlarges it."""
    words = escaped(caption)
    button = f'<button type="button" class="enlarge" aria-label="Enlarge: {words}">Enlarge</button>'
    return f'<figure id="{name}"><figcaption>{words}{button}</figcaption>{drawing}</figure>'


ENLARGED = (
    '<dialog id="enlarged" aria-label="Enlarged picture"><form method="dialog"><button>Close</button></form></dialog>'
)


def _counts(analysis: Analysis) -> str:
    tiles = "".join(
        f'<li class="tile {verdict}"><b>{count}</b> {verdict}<small>{escaped(LOOKS[verdict].meaning)}</small></li>'  # type: ignore[index]
        for verdict, count in summary(analysis).items()
    )
    return f'<ul class="tiles">{tiles}</ul>'


def _choice(verdict: str) -> str:
    box = f'<input type="checkbox" name="verdict" value="{verdict}" checked>'
    return f'<label class="choice {verdict}">{box}{verdict}</label>'


def _headings() -> str:
    return "".join(
        f'<th scope="col"{" class=n" if column.number else ""}>{escaped(column.heading)}</th>'
        for column in columns_of("page")
    )


def _row(row: PartRow) -> str:
    cells = []
    for column in columns_of("page"):
        text = escaped(column.cell(row, "page"))
        if column.key == "refdes":
            cells.append(f'<th scope="row">{text}</th>')
        elif column.key == "verdict":
            cells.append(f'<td><span class="mark {row.verdict}">{text}</span></td>')
        else:
            cells.append(f"<td{' class=n' if column.number else ' class=w' if column.prose else ''}>{text}</td>")
    data = f'data-part="{escaped(row.refdes)}" data-verdict="{row.verdict}" data-side="{row.side}"'
    return f'<tr tabindex="0" {data}>{"".join(cells)}</tr>\n'


def part_detail(row: PartRow) -> dict[str, Any]:
    """What the panel says of a part; all of it text."""
    margin, part = row.margin, row.component
    facts: list[tuple[str, str]] = [("verdict", f"{row.verdict}: {LOOKS[row.verdict].meaning}")]
    if margin.margin_c is not None:
        words = f"{kelvin(margin.margin_c)} K, U {kelvin(row.expanded_c)} K (k = {row.k:.2f})"
        facts.append(("margin", f"{words}, within its limit with {probability(margin.probability_within)}"))
        facts.append(("limit", f"{kelvin(margin.limit_c)} °C ({margin.limit_at}), {margin.limit_source}"))
    if margin.projected_c is not None:
        facts.append(
            ("projected", f"{kelvin(margin.projected_c)} °C, to the bare rating {kelvin(margin.rating_margin_c)} K")
        )
    if row.reading is not None:
        facts.append(("read", f"peak {row.peak} °C ({row.state}) in “{row.capture}”, rise {kelvin(row.rise_k)} K"))
        if row.trusted is None and row.reading.apparent_peak_c is not None:
            facts.append(
                ("the frame shows there", f"{kelvin(row.reading.apparent_peak_c)} °C apparent, not its temperature")
            )
    if row.heat is not None:
        facts.append(("heat", heat_words(row.heat)))
    facts.append(("part", ", ".join(filter(None, (part.kind, part.package, part.part_number, row.side)))))
    if margin.load_ratio is not None:
        facts.append(("load", f"{margin.load_ratio:.0%} of the power allowed there"))
    if margin.life_h is not None:
        facts.append(("life", f"{margin.life_h:,.0f} h estimated".replace(",", "\N{NARROW NO-BREAK SPACE}")))
    if row.reading is not None and row.reading.emissivity is not None:
        reading = row.reading
        facts.append(
            ("emissivity", f"{reading.emissivity:.2f} ± {reading.emissivity_u or 0.0:.2f}, {reading.emissivity_source}")
        )
    budget = row.margin.budget or (() if row.reading is None else row.reading.budget)
    terms = [[term.name, f"{abs(term.contribution_k):.2f}"] for term in budget]
    return {"facts": facts, "budget": terms, "why": [sentences([text]) for text in row.why]}


def _hot_spots(capture: CaptureAnalysis, k: float) -> str:
    spots = capture.reading.hot_spots
    if not spots:
        return ""
    lines = "".join(
        f'<tr data-part="{escaped(spot.candidates[0].refdes or "") if spot.candidates else ""}">'
        + "".join(f"<td class=n>{text}</td>" for text in _spot_numbers(spot, k))
        + f"<td>{escaped(hot_spot_words(spot))}</td><td>{escaped(sentences(spot.why))}</td></tr>"
        for spot in spots
    )
    headings = "".join(
        f"<th scope=col{'' if text in _SPOT_WORDS else ' class=n'}>{text}</th>" for text in _SPOT_HEADINGS
    )
    return (
        f"<section><h2>Hot spots in “{escaped(capture.name)}”</h2><p>{escaped(RULE)}</p>"
        f"<div class=scroll><table><thead><tr>{headings}</tr></thead><tbody>{lines}</tbody></table></div></section>"
    )


def _areas(analysis: Analysis) -> str:
    rows = area_rows(analysis)
    if not rows:
        return ""
    head = "".join(f"<th scope=col>{escaped(text)}</th>" for text in AREA_HEADINGS)
    lines = "".join(f"<tr>{''.join(f'<td>{escaped(cell)}</td>' for cell in row)}</tr>" for row in rows)
    body = f"<table><thead><tr>{head}</tr></thead><tbody>{lines}</tbody></table>"
    return f"<section><h2>Laminate, and surfaces to touch</h2><div class=scroll>{body}</div></section>"


def _work_list(rows: Sequence[PartRow], analysis: Analysis) -> str:
    found = tasks(rows, analysis.areas)
    if not found:
        return ""
    items = "".join(f"<li>{escaped(task.words)}</li>" for task in found)
    return f"<section><h2>What to do next</h2><ol>{items}</ol></section>"


def _record(analysis: Analysis) -> str:
    lines = record_lines(analysis.job.settings.record)
    known = "".join(f"<tr><td>{escaped(what)}</td><td>{escaped(value)}</td></tr>" for what, value in lines if value)
    missing = ", ".join(what for what, value in lines if not value)
    remark = f"<p>Not recorded: {escaped(missing)}.</p>" if missing else ""
    return f"<section><h2>Test record</h2><table><tbody>{known}</tbody></table>{remark}</section>"


def _heat(capture: CaptureAnalysis) -> str:
    """What makes the heat: the sources by their share, and what each owes to others."""
    if capture.heat is None:
        return ""
    start = f"<section><h2>What makes the heat in “{escaped(capture.name)}”</h2>"
    if capture.heat.why:
        return f"{start}<p>Cannot be told: {escaped('; '.join(capture.heat.why))}.</p></section>"
    lines = "".join(
        f'<tr data-part="{escaped(name)}"><td>{escaped(name)}</td><td>{escaped(share_words(source))}</td>'
        f"<td>{escaped(heat_words(source)) if isinstance(source, PartHeat) else ''}</td></tr>"
        for name, source in sources_of(capture.heat)
    )
    return (
        f"{start}<p>{escaped(CAVEAT)}</p><div class=scroll><table><thead><tr><th scope=col>source</th>"
        f"<th scope=col>share</th><th scope=col>its temperature</th></tr></thead>"
        f"<tbody>{lines}</tbody></table></div></section>"
    )


_SPOT_WORDS = ("candidates", "remarks")
_SPOT_HEADINGS = ("rank", "°C", "U K", "rise K", "x mm", "y mm", "u mm", *_SPOT_WORDS)


def _spot_numbers(spot: Any, k: float) -> Iterable[str]:
    place: Sequence[float] = (*spot.board_mm, spot.position_u_mm)
    temperatures = (kelvin(spot.temperature_c), kelvin(k * spot.u_c), kelvin(spot.rise_k))
    return (str(spot.rank), *temperatures, *(f"{value:.2f}" for value in place))
