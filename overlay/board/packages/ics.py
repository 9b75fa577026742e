"""Bodies of transistors and ICs from their family, pin count and pitch (JEDEC, EIAJ), or sizes in the name."""

from __future__ import annotations

import re
from dataclasses import replace

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, Outlined, ics, lying, packages
from overlay.board.packages.words import key, labelled_mm, sizes_mm, words

DIMENSIONS = "dimensions in the package name"

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
    "SOP": ("SOIC", "SOICW"),
    "SOL": ("SOICW",),
    "SO": ("SOIC", "SOICW"),
    "SOJ": (),
    "TSOP": (),
}
_LEADLESS_ROWS = r"(?:X[12]|[A-Z]{0,2})(?:DFN|SON)"
_LEADLESS = r"(?:[UVWXTH]|HV|DHV|PV)?(?:QFN|MLF|MLP|LFCSP|LCC|LGA)|LFCSP|U?F?QFPN"
_BALLS = r"[A-Z]{0,3}BGA|[A-Z]{0,2}CSP|[A-Z]{0,2}WLB|PGA"
_GULL_WINGS = rf"(?:E|H|P|W|HT|ET)?(?:{'|'.join(_ROWS)})(?=[-_\s(\d]|$|[NW](?:[-_\s\d]|$))"
_FAMILY = re.compile(
    rf"(?:^|[_\-\s(]|(?<=\d))(?P<family>{_LEADLESS_ROWS}|{_LEADLESS}|(?:[HTLVCEP]|HT|HL|PT|PL)?QFP|{_BALLS}|"
    rf"{_GULL_WINGS}|(?:S|P|C|CER|SP|SM)?(?:DIP|DIL)|[PC]LCC)"
    r"(?P<letter>[NW](?=[-_\s]?\d))?(?P<pins>[-_\s(]?\d{1,4}(?![.\d]|MM))?(?P<tail>-?W(?:B|IDE)?(?![A-Z\d.])|[A-Z]*)"
)
# letters right behind the pins that name the same body; any others name another package of like name
_SAME_BODY = frozenset(
    ("", "N", "L", "LD", "LEAD", "LEADS", "EP", "P", "PIN", "PINS", "W", "WB", "WIDE", "M", "D", "X")
)
_WIDE = re.compile(r"(?:^|[_\-\s(])(?:WIDE|W|WB|300\s?MIL|300|7\.5\s?MM|7\.50\s?MM)(?:$|[_\-\s)])|^SOW|SOIC-?W|SOICW")
_EIAJ = re.compile(r"EIAJ|20[89]\s?-?MIL|(?:^|[_\-\s(])(?:208|209|5\.3\s?MM|5\.2\d?\s?MM|5\.3)(?:$|[_\-\s)])")
_PITCH = re.compile(
    r"(?:^|[_\-\s])P?(0\.\d+|1\.\d+|2\.54)\s?(?:MM|P)(?![\dX])|(?:^|[_\-\s])P(0\.\d+|1\.\d+|2\.54)(?![\dX])"
)
# other things that carry a family's word, and power packages named after a smaller one
_NO_PART = re.compile(r"^(?:HEATSINK|CLIP|SOCKET|ADAPTER|CONN|SW|JUMPER|TEST)|POWER[-_ ]?(?:PAK|DI|FLAT|SO)|LFPAK")
_NO_IC = re.compile(
    r"(?:^|_)SW_|SWITCH|^(?:OSC|CRYSTAL|XTAL|RELAY|CONVERTER|DCDC|DC-DC|TRANSFORMER|DISPLAY|LCD|SOCKET|HDR|HEADER|POT)"
)
# pins behind an underscore belong to the name before it
_LOOSE_PINS = re.compile(r"((?:SOT|SC|TO|TSOT)-?\d{2,3})[_ ](?=\d{1,2}(?:$|[_\-(L ]))")


def named_transistor(name: str) -> Named | None:
    """A package known by its name alone (SOT, TO, SOD, DO, SC and the like), read from a normal name."""
    if _NO_PART.search(name):
        return None
    for word in words(_LOOSE_PINS.sub(r"\1-", name)):
        found = _known(word) or _known(word.rpartition("/")[2])
        if found is not None:
            return _posed(found, name)
    return None


def named_ic(name: str) -> Named | None:
    """An IC by its family's word, read from a normal name; sizes in the name win over the tables."""
    match = _FAMILY.search(name)
    if match is None or _NO_PART.search(name) or _NO_IC.search(name):
        return None
    family, tail = match["family"], match["tail"].lstrip("-")
    before = re.search(r"(\d{1,3})[-_\s]?(?:LD|LEAD|PINS?)?[-_\s]?$", name[: match.start("family")])
    count = match["pins"] or (before[1] if before else "")
    pins = int(re.sub(r"\D", "", count)) if count else 0
    balls = re.fullmatch(_BALLS, family) is not None
    leadless = re.fullmatch(rf"{_LEADLESS_ROWS}|{_LEADLESS}", family) is not None
    rows = re.fullmatch(_LEADLESS_ROWS, family) is not None
    quad = "QFP" in family or family.endswith("LCC")
    named = _sizes_of(name, bare=not balls, pair=leadless, upright=not (balls or quad or leadless) or rows)
    if balls or leadless:
        if named is None:
            return None
        one, two, height = named
        return Named(Body(one, two, height or (0.9 if leadless else None), DIMENSIONS, terminals="none"), rows, "ic")
    if named is None and tail not in _SAME_BODY:
        return None
    if quad:
        return _quad(name, family, pins, named)
    if "DIP" in family or "DIL" in family:
        return _dual_in_line(name, pins, named)
    if named is None and (
        (family == "SO" and tail == "L" and pins in (14, 16)) or (family in ("HSOP", "PSOP", "HSOIC") and pins != 8)
    ):
        return None  # wide to some, "leads" to others; slugs of copper come in bodies of their own
    wide = tail.startswith("W") or match["letter"] == "W" or _WIDE.search(name) is not None or family.startswith("WSO")
    return _rows(name, family, pins, named, wide)


def _known(word: str) -> Outlined | None:
    """The outline of a word such as ``SOT-23-5`` or ``TO-220-3``: its longest beginning that the table knows."""
    word = re.sub(r"^(?:PG|P)-(?=[A-Z])", "", word)
    table = packages()
    pieces = word.split("-")
    for count in range(len(pieces), 0, -1):
        found = table.get(re.sub(r"(?<=\d)L(?:EAD|D)?$", "", key("".join(pieces[:count]))))
        if found is not None:
            return found
        # a number that the table does not know beside this name makes it another package
        number = re.match(r"\d", pieces[count - 1]) and not re.fullmatch(r"\d+(?:PINS?|EP)", pieces[count - 1])
        if number and not word.startswith("DO"):  # behind DO it is a lead pitch
            break
    return None


def _posed(outline: Outlined, name: str) -> Named | None:
    """Sizes in the name over the table's; standing or lying as the name says."""
    named = outline.named()
    sizes = _sizes_of(name, bare=False, pair=False, upright=outline.turns)
    if re.search(r"HORIZONTAL|LYING|TABDOWN|TABUP|(?:^|[_-])FLAT(?:$|[_-])", name):
        body = lying().get(outline.family)
        if body is None and (outline.terminals == "unknown" or outline.kind == "crystal"):
            return None  # a lying can or TO-92: where its body comes to rest the name does not say
        if body is not None:
            return Named(body, kind=outline.kind)
    elif "VERTICAL" in name and outline.kind == "diode":
        return None  # an axial part on end stands over one of its leads
    if sizes is not None:
        one, two, height = sizes
        one, two = _rows_upright(one, two, (outline.x_mm,)) if outline.turns else (one, two)
        body = replace(named.body, length_mm=one, width_mm=two, height_mm=height or outline.height_mm)
        return replace(named, body=replace(body, source=DIMENSIONS))
    return named


def _sizes_of(name: str, *, bare: bool, pair: bool, upright: bool) -> tuple[float, float, float | None] | None:
    """Body along x and y from ``XxY``, from labels ``L… W…`` (L lies along upright rows), or four digits of tenths."""
    sizes = sizes_mm(name, bare=bare)
    if sizes is not None:
        return sizes
    long, wide = labelled_mm(name, "L"), labelled_mm(name, "W")
    if long is not None and wide is not None:
        return (wide, long, labelled_mm(name, "H")) if upright else (long, wide, labelled_mm(name, "H"))
    if pair and (match := re.search(r"(?:DFN|SON|QFN)-?(\d\d)(\d\d)(?:$|[-_])", name)):
        one, two = int(match[1]) / 10, int(match[2]) / 10
        if one >= 0.6 and two >= 0.4:
            return one, two, None
    return None


def _rows_upright(one: float, two: float, widths_mm: tuple[float, ...]) -> tuple[float, float]:
    """Sides across and along the rows: a name that puts the family's width second is turned round."""
    first = any(abs(one - width) <= 0.15 for width in widths_mm)
    second = any(abs(two - width) <= 0.15 for width in widths_mm)
    return (two, one) if second and not first else (one, two)


def _rows(
    name: str, family: str, pins: int, named: tuple[float, float, float | None] | None, wide: bool
) -> Named | None:
    base = next(base for base in _ROWS if family.endswith(base))
    tables = _ROWS[base]
    if named is not None:
        own = [outline for table in tables for outline in ics()[table]]
        widths = {outline.x_mm for outline in own} | {"SSOP": {3.9, 4.4, 7.5}, "SO": {5.3}}.get(base[-4:], set())
        one, two = _rows_upright(named[0], named[1], tuple(widths))
        alike = min(own, key=lambda outline: abs(outline.x_mm - one), default=None)
        height = named[2] or (None if alike is None else alike.height_mm)
        return Named(Body(one, two, height, DIMENSIONS, terminals="leads_x"), True, "ic")
    if base in ("SOIC", "SOP", "SO"):
        if wide and pins == 8:
            tables = ("EIAJ",)
        elif wide:
            tables = ("SOICW",)
        elif _EIAJ.search(name):
            tables = ("EIAJ",)
    elif wide or (base == "SSOP" and "4.4" in name):
        return None
    return _looked_up(name, tables, pins)


def _looked_up(name: str, tables: tuple[str, ...], pins: int) -> Named | None:
    """The outline of that pin count, and of that pitch where the name gives one."""
    match = _PITCH.search(name)
    pitch = float(match[1] or match[2]) if match else None
    for table in tables:
        for outline in ics()[table]:
            assert outline.pitch_mm is not None
            if pins in outline.pins and (pitch is None or abs(pitch - outline.pitch_mm) < 0.04):
                return outline.named()
    return None


def _quad(name: str, family: str, pins: int, named: tuple[float, float, float | None] | None) -> Named | None:
    # 1.4 mm thick, 1.0 mm thick (JEDEC MS-026); other quads vary
    height = 1.6 if "LQFP" in family else 1.2 if "TQFP" in family else None
    if named is not None:
        body = Body(named[0], named[1], named[2] or height, DIMENSIONS, terminals="leads_all")
        return Named(body, False, "ic")
    if family.endswith("LCC"):
        return _looked_up(name, ("PLCC",), pins) if pins > 6 else None
    if height is None and pins not in (32, 44, 48):
        return None  # thick quads of many pins come in several sizes
    found = _looked_up(name, ("QFP",), pins)
    return None if found is None else replace(found, body=replace(found.body, height_mm=height))


def _dual_in_line(name: str, pins: int, named: tuple[float, float, float | None] | None) -> Named | None:
    row_mm = labelled_mm(name, "W")
    if re.search(r"(?:^|[_\-\s])(?:300|7\.62)(?:MIL|MM)?(?:$|[_\-\s])|SPDIP|SDIP", name):
        row_mm = 7.62
    elif re.search(r"(?:^|[_\-\s])(?:600|15\.24)(?:MIL|MM)?(?:$|[_\-\s])", name):
        row_mm = 15.24
    if named is not None:
        return Named(Body(named[0], named[1], named[2] or 5.33, DIMENSIONS, terminals="leads_x"), True, "ic")
    fitting = [outline for outline in ics()["DIP"] if pins in outline.pins]
    if row_mm is not None:
        wide = row_mm > 13.0
        fitting = [outline for outline in fitting if (outline.x_mm > 10.0) == wide]
    # 24 and 28 pins come 300 and 600 mil wide: without a word on it, nobody knows
    return fitting[0].named() if len(fitting) == 1 else None
