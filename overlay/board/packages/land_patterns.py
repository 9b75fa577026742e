"""The body behind an IPC-7351 (and IPC-7251) land-pattern name.

Decimals are usually truncated in such names (1.25 mm becomes 12), so sizes with a code of their own are looked up.
"""

from __future__ import annotations

import re
from dataclasses import replace

from overlay.board.model import Body
from overlay.board.packages.land_names import LandPattern, decode_land_pattern
from overlay.board.packages.sizes import Named, cans, chips_by_inch, chips_by_metric, ics, packages, round_body

SOURCE = "land-pattern name, IPC-7351"


_KINDS = (
    ("CAPMP", "tantalum"),
    ("CAPAE", "electrolytic"),
    ("CAPPRD", "electrolytic"),
    ("RES", "resistor"),
    ("CAP", "capacitor"),
    ("IND", "inductor"),
    ("BEAD", "inductor"),
    ("DIO", "diode"),
    ("SOD", "diode"),
    ("LED", "led"),
    ("FUS", "fuse"),
    ("VAR", "resistor"),
    ("THRM", "thermistor"),
    ("XTAL", "crystal"),
    ("OSC", "crystal"),
    ("SOT", ""),
    ("TO", ""),
)

_HIGHEST = 1.3  # of a chip over its width: capacitors are at most square, and tolerances add to it
# lead span → body width of gull-wing packages, from the family tables; between them by straight lines
_SPANS_MM = (1.6, 2.1, 2.35, 2.8, 4.9, 6.0, 6.4, 7.8, 8.1, 10.3)
_WIDTHS_MM = (1.2, 1.25, 1.3, 1.6, 3.0, 3.9, 4.4, 5.3, 6.1, 7.5)


def body_from_land_pattern(name: str) -> Named | None:
    """The body behind a land-pattern name; None where it is none, or tells no body."""
    pattern = decode_land_pattern(name)
    if pattern is None or re.match(r"[A-Z]{3,5}\d{4}[-_ (]+\d{4,5}\)?$", name.strip().upper()):
        return None  # with a second code beside it, what the first means is told by both (`chips`)
    kind = next((kind for prefix, kind in _KINDS if pattern.family.startswith(prefix)), "ic")
    found = _body(pattern, kind)
    if found is None or min(found.body.length_mm, found.body.width_mm) <= 0.0:
        return None
    return replace(found, kind=kind)


def _body(pattern: LandPattern, kind: str) -> Named | None:
    family, height = pattern.family, pattern.height_mm
    if family == "CAPAE":
        return Named(_can(pattern.across_mm, height))
    if pattern.along_mm is not None and pattern.pitch_mm is None and not family.endswith(("QFN", "SON", "DFN")):
        return _two_terminal(pattern, kind)
    if family.endswith("RD"):
        return Named(round_body(pattern.across_mm, height, SOURCE.replace("7351", "7251")))
    if family.startswith(("XTAL", "OSC", "CAPCWR")):
        if pattern.along_mm is None:
            return None  # one number and a height: no body
        return Named(Body(pattern.across_mm, pattern.along_mm, height, SOURCE, terminals="none"))
    if "DIP" in family:
        return _dual_in_line(pattern)
    if family.endswith(("QFN", "SON", "DFN")) or "BGA" in family:
        if pattern.along_mm is None:
            return None
        turns = not family.endswith("QFN") and "BGA" not in family
        return Named(Body(pattern.across_mm, pattern.along_mm, height, SOURCE, terminals="none"), turns)
    if family[:3] in ("RES", "CAP", "IND", "FUS"):
        return Named(_array(pattern), turns=True)
    if pattern.along_mm is not None and family.endswith(("QFP", "LCC")):
        return _quad(pattern)
    return _gull_wing(pattern)


def _two_terminal(pattern: LandPattern, kind: str) -> Named:
    family, height = pattern.family, pattern.height_mm
    length, width = pattern.across_mm, pattern.along_mm or 0.0
    if "MELF" in family:
        return Named(Body(length, width, width, SOURCE, terminals="ends"))
    if family.endswith("AD"):
        return Named(Body(length, width, width, SOURCE.replace("7351", "7251"), terminals="none"))
    if family.startswith("XTAL") or family.startswith("OSC"):
        return Named(Body(length, width, height, SOURCE, terminals="none"))
    if family == "CAPCWR":
        return Named(Body(length, width, height, SOURCE))
    if family.endswith("C") or family.endswith("CP"):
        code = f"{length * 10:02.0f}{width * 10:02.0f}"
        chip = chips_by_metric().get(code)
        inch = chips_by_inch().get(code)
        # the prefix of the standard before an inch code: 0805 is no metric one, a metric 0402 is not 0.5 mm high, and
        # without a height nothing says that the digits are the standard's
        too_high = height is not None and height > _HIGHEST * width
        if inch is not None and (height is None or (too_high and height <= _HIGHEST * inch.width_mm)):
            height = inch.height_mm(kind) if height is None else height
            source = f"chip size code {inch.inch} (inch) behind a land-pattern prefix"
            doubt = chip is not None
            return Named(Body(inch.length_mm, inch.width_mm, height, source, estimated=doubt, terminals="ends"))
        if chip is not None:
            length, width = chip.length_mm, chip.width_mm
            height = chip.height_mm(kind) if height is None else height
        return Named(Body(length, width, height, SOURCE, terminals="ends"))
    if family.startswith(("SOD", "DIOM", "DIONM")):
        for outline in packages().values():
            if outline.kind == "diode" and outline.span_mm is not None:
                low, high = outline.span_mm
                # a truncated tenth: the width as written, or up to a tenth and a rounding more
                if low - 0.06 <= length <= high and abs(outline.y_mm - width - 0.05) <= 0.16:
                    source = f"{SOURCE}; body {outline.source}"
                    return Named(Body(outline.x_mm, outline.y_mm, height, source, terminals="leads_x"))
        if family.startswith("SOD"):
            # the name gives the span over the leads; each sticks out by a seventh of it (small outline diodes)
            return Named(Body(length * 5 / 7, width, height, SOURCE, estimated=True, terminals="leads_x"))
    return Named(Body(length, width, height, SOURCE, terminals="leads_x"))


def _can(base_mm: float, height_mm: float | None) -> Body:
    """A can on a square base of that side; its diameter is what is seen from above."""
    nearest = min(cans("smd"), key=lambda can: abs((can.base_mm or 0.0) - base_mm))
    if abs((nearest.base_mm or 0.0) - base_mm) <= 0.25:
        return round_body(nearest.diameter_mm, height_mm, SOURCE)
    return round_body(base_mm * 0.96, height_mm, SOURCE, estimated=True)


def _array(pattern: LandPattern) -> Body:
    """A chip array: the side that holds half of the pads lies along the rows."""
    one, other = pattern.across_mm, pattern.along_mm or pattern.across_mm
    rows = (pattern.pins or 8) / 2 * (pattern.pitch_mm or 0.0)
    along, across = (one, other) if abs(one - rows) < abs(other - rows) else (other, one)
    return Body(across, along, pattern.height_mm, SOURCE, terminals="ends")


def _dual_in_line(pattern: LandPattern) -> Named | None:
    if pattern.along_mm is None:
        fitting = [
            o for o in ics()["DIP"] if o.pins == (pattern.pins,) and (o.x_mm > 10.0) == (pattern.across_mm > 13.0)
        ]
        return fitting[0].named() if len(fitting) == 1 else None
    width = 6.35 if 7.0 <= pattern.across_mm <= 8.5 else 13.8 if 14.5 <= pattern.across_mm <= 16.5 else None
    if width is None:
        return None
    source = f"{SOURCE.replace('7351', '7251')}; width JEDEC MS-001"
    return Named(Body(width, pattern.along_mm, pattern.height_mm, source, terminals="leads_x"), turns=True)


def _quad(pattern: LandPattern) -> Named | None:
    assert pattern.along_mm is not None
    if pattern.family.endswith("LCC"):
        outline = next(
            (o for o in ics()["PLCC"] if o.fits(pattern.across_mm, pattern.pitch_mm or 0.0, pattern.pins or 0)), None
        )
        leads = pattern.across_mm - outline.x_mm if outline is not None else 0.9
    else:
        outline, leads = None, 2.0  # JEDEC MS-026: a foot of 1 mm on each side
    across = pattern.along_mm if pattern.along_is_body else pattern.across_mm - leads
    along = pattern.along_mm if pattern.along_is_body else pattern.along_mm - leads
    estimated = pattern.family.endswith("LCC") and outline is None
    return Named(Body(across, along, pattern.height_mm, SOURCE, estimated=estimated, terminals="leads_all"))


def _gull_wing(pattern: LandPattern) -> Named | None:
    """The body between two rows of leads, from span, pitch and pin count."""
    span, pitch, pins = pattern.across_mm, pattern.pitch_mm or 0.0, pattern.pins
    if pins is not None and pins % 2 and pins > 7:
        pins -= 1  # the exposed pad is counted
    if pattern.family.startswith(("SOT", "TO")):
        for outline in packages().values():
            # the row's pitch of a tab package is given with or without its missing middle lead: the span tells
            tab = pattern.family == "TO" and outline.spans(span)
            if not outline.kind and pins is not None and (tab or outline.fits(span, pitch, pins)):
                body = outline.named().body
                return Named(
                    replace(body, height_mm=pattern.height_mm, source=f"{SOURCE}; body {outline.source}"), True
                )
        return None
    for family in ics().values():
        for outline in family:
            if outline.terminals == "leads_x" and pins is not None and outline.fits(span, pitch, pins):
                body = Body(
                    outline.x_mm,
                    outline.y_mm,
                    pattern.height_mm,
                    f"{SOURCE}; body {outline.source}",
                    terminals="leads_x",
                )
                return Named(body, turns=True)
    # J leads fold under the body and stick out by some 0.4 mm (common practice)
    width = span - 0.8 if pattern.family.endswith("SOJ") else _width_of_span(span)
    along = pattern.along_mm if pattern.along_mm is not None else None if pins is None else pins / 2 * pitch
    if width is None or along is None:
        return None
    exact = pattern.along_mm is not None
    source = f"{SOURCE}; width from the lead span" if exact else f"{SOURCE}; from lead span, pitch and pin count"
    return Named(Body(width, along, pattern.height_mm, source, estimated=True, terminals="leads_x"), turns=True)


def _width_of_span(span_mm: float) -> float | None:
    import numpy as np

    if not _SPANS_MM[0] <= span_mm <= 16.0:
        return None
    if span_mm > _SPANS_MM[-1]:
        return round(span_mm - (_SPANS_MM[-1] - _WIDTHS_MM[-1]), 2)
    return round(float(np.interp(span_mm, _SPANS_MM, _WIDTHS_MM)), 2)
