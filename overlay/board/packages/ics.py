"""Bodies of ICs from their family, pin count and pitch (JEDEC, EIAJ), or from sizes in the name."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, ics
from overlay.board.packages.words import DIMENSIONS, Sizes, body_sizes, labelled_mm, rows_upright

# families with two rows of leads, longest spelling first, and the tables that hold their bodies in order of trust
_ROWS: dict[str, tuple[str, ...]] = {
    "TSSOP": ("TSSOP",),
    "MSOP": ("MSOP",),
    "VSSOP": ("MSOP",),
    "UMAX": ("MSOP",),
    "USOP": ("MSOP",),
    "QSOP": ("QSOP",),
    "SSOP": ("SSOP",),
    "SOIC": ("SOIC", "SOICW"),
    "DSO": ("SOIC", "SOICW"),
    "SOP": ("SOIC", "SOICW"),
    "SOL": ("SOICW",),
    "SO": ("SOIC", "SOICW"),
    "SOJ": (),
    "TSOP": ("TSOP",),
}
_LEADLESS_ROWS = r"(?:X[12]|[A-Z]{0,3})(?:DFN|SON)"
_LEADLESS = r"(?:[A-Z]{0,4})(?:QFN|MLF|MLP|LFCSP|LCC|LGA)|LFCSP|U?F?QFPN"
_BALLS = r"[A-Z]{0,3}BGA|[A-Z]{0,2}CSP|[A-Z]{0,2}WLB|PGA"
_GULL_WINGS = rf"(?:E|H|P|W|HT|ET|POWER|L(?=T?SSOP))?(?:{'|'.join(_ROWS)})(?=[-_\s(\d]|$|[NW](?:[-_\s\d]|$))"
_FAMILY = re.compile(
    rf"(?:^|[_\-\s(]|(?<=\d))(?P<family>[PC]LCC|{_LEADLESS_ROWS}|{_LEADLESS}|(?:[HTLVCEPS]|HT|HL|PT|PL)?QFP|{_BALLS}|"
    rf"{_GULL_WINGS}|(?:S|P|C|CER|SP|SM)?(?:DIP|DIL))"
    r"(?P<letter>[NW](?=[-_\s]?\d))?(?:_VQ|_VD)?(?P<pins>[-_\s(]?[NGJ]?\d{1,4}(?![.\d]|MM))?"
    r"(?P<tail>-?W(?:B|IDE)?(?![A-Z\d.])|[A-Z]*)"
)
# letters right behind the pins that name the same body (with an exposed pad, narrow, a maker's own); any others name
# another package of like name
_SAME_BODY = frozenset(
    [
        "",
        "N",
        "NB",
        "L",
        "LD",
        "LEAD",
        "LEADS",
        "E",
        "EP",
        "P",
        "PIN",
        "PINS",
        "W",
        "WB",
        "WIDE",
        "M",
        "D",
        "X",
        "A",
        "ML",
    ]
)
_WIDE = re.compile(
    r"(?:^|[_\-\s(])(?:WIDE|W|WB|300\s?MIL|300|7\.5\d?\s?MM|W7\.5\d?(?:MM)?)(?:$|[_\-\s)])|^SOW|SOIC-?W|SOICW"
)
_EIAJ = re.compile(r"EIAJ|20[89]\s?-?MIL|(?:^|[_\-\s(])(?:208|209|W?5\.3\d?\s?(?:MM)?|5\.2\d?\s?MM)(?:$|[_\-\s)])")
_PITCH = re.compile(
    r"(?:^|[_\-\s])(?:P(?:ITCH)?)?(0\.\d+|1\.\d+|2\.54)\s?(?:MM|P)(?![\dX])|(?:^|[_\-\s])P(?:ITCH)?(0\.\d+|"
    r"1\.\d+|2\.54)(?![\dX])"
)
_WIDTH_MM = re.compile(
    r"(?:^|[_\-\s])W?(\d{1,2}(?:\.\d+)?)\s?MM(?:$|[_\-\s])|(?:^|[_\-\s])W(\d{1,2}(?:\.\d+)?)(?:$|[_\-\s])"
)
# other things that carry a family's word, and power packages named after a smaller one
_NO_IC = re.compile(
    r"(?:^|_)SW_|SWITCH|SOCKET|ADAPTER|HEAT[-_ ]?SINK|CONVERTER|DC-?DC|POWER[-_ ]?(?:PAK|DI|FLAT)|LFPAK|"
    r"^(?:OSC|CRYSTAL|XTAL|RELAY|TRANSFORMER|DISPLAY|LCD|HDR|HEADER|POT|CLIP|CONN|JUMPER|TEST)"
)
# body of a no-lead quad beyond its pads, by their pitch: side = pads a side × pitch + this (MO-220, from memory)
_QUAD_BEYOND_MM = {0.5: 1.0, 0.4: 1.2, 0.65: 1.5}
_NARROW_MM = {14: (2.5, 3.0), 16: (2.5, 3.5), 20: (2.5, 4.5), 24: (3.5, 5.5)}
_PLCC_BEYOND_MM = 2.6  # likewise for J-leaded quads of 1.27 mm pitch (JEDEC MS-018, from memory)


@dataclass(frozen=True, slots=True)
class _Ic:
    """What the pieces of an IC's name say."""

    name: str
    family: str
    pins: int
    sizes: Sizes | None
    wide: bool
    pitch_mm: float | None


def named_ic(name: str) -> Named | None:
    """An IC by its family's word, read from a normal name; sizes in the name win over the tables."""
    match = _FAMILY.search(name)
    if match is None or _NO_IC.search(name):
        return None
    family, tail = match["family"], match["tail"].lstrip("-")
    if tail in ("TSSOP", "MSOP"):
        return None
    before = re.search(r"(?:^|[-_\s])(\d{1,3})[-_\s]?(?:LD|LEAD|PINS?|BALL)?[-_\s]?$", name[: match.start("family")])
    count = match["pins"] or (before[1] if before else "")
    balls = re.fullmatch(_BALLS, family) is not None
    leadless = re.fullmatch(rf"{_LEADLESS_ROWS}|{_LEADLESS}", family) is not None and family[1:] != "LCC"
    rows = re.fullmatch(_LEADLESS_ROWS, family) is not None
    quad = "QFP" in family or family.endswith("LCC")
    pitch = _PITCH.search(name)
    sizes = body_sizes(name, bare=not balls, pair=leadless, upright=not (balls or quad or leadless) or rows)
    if sizes is None and balls:
        # whole numbers without a unit are rows and columns of balls, others are not
        bare = body_sizes(name, bare=True, pair=False, upright=False)
        sizes = bare if bare is not None and not all(side.is_integer() for side in bare[:2]) else None
    ic = _Ic(
        name,
        family,
        int(re.sub(r"\D", "", count)) if count else 0,
        sizes,
        tail.startswith("W") or match["letter"] == "W" or _WIDE.search(name) is not None or family.startswith("WSO"),
        None if pitch is None else float(pitch[1] or pitch[2]),
    )
    if balls or leadless:
        return _leadless(ic, rows, balls)
    if ic.sizes is None and tail not in _SAME_BODY and match["pins"]:
        return None
    if quad:
        return _quad(ic)
    if "DIP" in family or "DIL" in family:
        return _dual_in_line(ic)
    unclear = (family == "SO" and tail == "L" and ic.pins in (14, 16)) or (
        family in ("HSOP", "PSOP", "HSOIC", "POWERSO") and ic.pins != 8
    )
    if ic.sizes is None and unclear:
        return None  # wide to some, "leads" to others; slugs of copper come in bodies of their own
    return _rows(ic)


def _leadless(ic: _Ic, rows: bool, balls: bool) -> Named | None:
    if ic.sizes is not None:
        one, two, height = ic.sizes
        return Named(Body(one, two, height or (None if balls else 0.9), DIMENSIONS, terminals="none"), rows, "ic")
    if balls or rows or "LGA" in ic.family:
        # ten pads or more on two sides come 3 mm wide, others in many sizes
        if rows and ic.pins in (10, 14) and ic.pitch_mm in (None, 0.4, 0.5):
            source = "usual side of a two-row no-lead body of its pins"
            return Named(Body(3.0, 3.0, 0.9, source, estimated=True, terminals="none"), True, "ic")
        return None
    if "DHVQFN" in ic.family and ic.pins in _NARROW_MM:
        one, two = _NARROW_MM[ic.pins]
        return Named(Body(one, two, 0.9, "JEDEC MO-241 (from memory)", terminals="none"), False, "ic")
    if re.search(r"(?:^|[_\- ])[RS]-P[A-Z]{3,4}-N|RECT", ic.name):
        return None  # the standard's letters for a square or a rectangle: which one they do not say
    pitch = ic.pitch_mm or 0.5
    if pitch not in _QUAD_BEYOND_MM or ic.pins % 4 or not 20 <= ic.pins <= 80:
        return None  # sixteen and fewer come in 3 and 4 mm
    side = float(round(ic.pins / 4 * pitch + _QUAD_BEYOND_MM[pitch] + 0.01))
    source = f"no-lead quad of {ic.pins} pins, pitch {pitch:g} mm{'' if ic.pitch_mm else ' (usual)'}"
    return Named(Body(side, side, 0.9, source, estimated=True, terminals="none"), False, "ic")


def _rows(ic: _Ic) -> Named | None:
    base = next(base for base in _ROWS if ic.family.endswith(base))
    tables = _ROWS[base]
    if ic.sizes is not None:
        own = [outline for table in tables for outline in ics()[table]]
        widths = {outline.x_mm for outline in own} | {"SSOP": {3.9, 4.4, 7.5}, "SO": {5.3}}.get(base[-4:], set())
        one, two = rows_upright(ic.sizes[0], ic.sizes[1], tuple(widths))
        alike = min(own, key=lambda outline: abs(outline.x_mm - one), default=None)
        height = ic.sizes[2] or (None if alike is None else alike.height_mm)
        return Named(Body(one, two, height, DIMENSIONS, terminals="leads_x"), True, "ic")
    width = _WIDTH_MM.search(ic.name)
    if width is not None and 2.0 <= (mm := float(width[1] or width[2])) <= 12.0:
        return _of_width(ic, base, mm)
    if base in ("SOIC", "SOP", "SO", "DSO"):
        if ic.wide and ic.pins == 8:
            tables = ("EIAJ",)
        elif ic.wide:
            tables = ("SOICW",)
        elif _EIAJ.search(ic.name):
            tables = ("EIAJ",)
    elif ic.wide or (base == "SSOP" and "4.4" in ic.name):
        return None
    if base == "DSO" and ic.pins not in (8, 14, 16):
        return None  # with a slug of copper or without
    if base == "VSSOP" and ic.pins == 8 and ic.pitch_mm is None:
        return None  # 3 × 3 mm to one maker, 2 × 2.3 mm to the next
    return _looked_up(tables, ic)


def _of_width(ic: _Ic, base: str, width_mm: float) -> Named | None:
    """A two-row package whose body's width the name gives: length from the tables, else from pins and pitch."""
    order = [table for table in (*_ROWS[base], "SOIC", "SOICW", "EIAJ", "QSOP", "TSSOP", "SSOP") if table in ics()]
    for table in order:
        pitched = base not in ("SOIC", "SO", "SOP", "DSO") or table in ("SOIC", "SOICW", "EIAJ")
        for outline in ics()[table] if pitched else ():
            if ic.pins in outline.pins and abs(outline.x_mm - width_mm) <= 0.25 and _pitched(outline.pitch_mm, ic):
                return outline.named()
    pitch = ic.pitch_mm or (1.27 if base in ("SOIC", "SO", "SOP", "DSO") else 0.65 if base != "TSOP" else 0.8)
    length = round(ic.pins / 2 * pitch + 0.4, 2)
    if ic.pins < 8:
        return None
    source = "width in the package name, length from pins and pitch"
    return Named(Body(width_mm, length, 1.5, source, estimated=True, terminals="leads_x"), True, "ic")


def _pitched(pitch_mm: float | None, ic: _Ic) -> bool:
    return ic.pitch_mm is None or (pitch_mm is not None and abs(ic.pitch_mm - pitch_mm) < 0.04)


def _looked_up(tables: tuple[str, ...], ic: _Ic) -> Named | None:
    """The outline of that pin count, and of that pitch where the name gives one."""
    for table in tables:
        for outline in ics()[table]:
            if ic.pins in outline.pins and _pitched(outline.pitch_mm, ic):
                return outline.named()
    return None


def _quad(ic: _Ic) -> Named | None:
    # 1.4 mm thick, 1.0 mm thick (JEDEC MS-026); other quads vary
    height = 1.6 if "LQFP" in ic.family else 1.2 if "TQFP" in ic.family else None
    if ic.sizes is not None:
        body = Body(ic.sizes[0], ic.sizes[1], ic.sizes[2] or height, DIMENSIONS, terminals="leads_all")
        return Named(body, False, "ic")
    if ic.family.endswith("LCC"):
        known = _looked_up(("PLCC",), ic) if ic.pins > 6 else None
        if known is not None or ic.pins < 20 or ic.pins % 8 != 4:
            return known
        side = round(ic.pins / 4 * 1.27 + _PLCC_BEYOND_MM, 1)
        return Named(Body(side, side, 4.4, "J-leaded quad by pins", estimated=True, terminals="leads_all"), False, "ic")
    side_mm = re.search(r"(?:^|[_\-\s])(\d{1,2}(?:\.\d)?)MM(?:$|[_\-\s])", ic.name)
    if side_mm is not None and float(side_mm[1]) >= 4.0:
        side = float(side_mm[1])
        return Named(Body(side, side, height, DIMENSIONS, terminals="leads_all"), False, "ic")
    if height is None and ic.pins not in (32, 44, 48, 64, 208):
        return None  # thick quads of many pins come in several sizes
    found = _looked_up(("QFP",), ic)
    return None if found is None else replace(found, body=replace(found.body, height_mm=height))


def _dual_in_line(ic: _Ic) -> Named | None:
    row_mm = labelled_mm(ic.name, "W")
    if re.search(r"(?:^|[_\-\s])(?:300|7\.62)(?:MIL|MM)?(?:$|[_\-\s])|SPDIP|SDIP", ic.name):
        row_mm = 7.62
    elif re.search(r"(?:^|[_\-\s])(?:600|15\.24)(?:MIL|MM)?(?:$|[_\-\s])", ic.name):
        row_mm = 15.24
    if ic.sizes is not None:
        return Named(Body(*ic.sizes[:2], ic.sizes[2] or 5.33, DIMENSIONS, terminals="leads_x"), True, "ic")
    fitting = [outline for outline in ics()["DIP"] if ic.pins in outline.pins]
    if row_mm is not None and min(abs(row_mm - 7.62), abs(row_mm - 15.24)) > 0.8:
        return None  # rows of another distance: another body
    if re.search(r"(?:DIP|DIL)-\d+-\d+", ic.name):
        return None  # as many places as the second number says, or anything up to it
    if row_mm is not None:
        fitting = [outline for outline in fitting if (outline.x_mm > 10.0) == (row_mm > 13.0)]
    if not fitting and row_mm in (None, 7.62) and ic.pins % 2 == 0 and 4 <= ic.pins <= 20:
        source = "dual in line by pins and pitch"
        body = Body(6.35, ic.pins / 2 * 2.54, 5.33, source, estimated=True, terminals="leads_x")
        return Named(body, True, "ic")
    # 24 and 28 pins come 300 and 600 mil wide: without a word on it, nobody knows
    return fitting[0].named() if len(fitting) == 1 else None
