"""Bodies known by the package's own name: SOT, SOD, TO, DO, SC and power outlines, and makers' outline codes."""

from __future__ import annotations

import re
from dataclasses import replace

from overlay.board.model import Body, Terminals
from overlay.board.packages.sizes import Named, Outlined, codes, ics, lying, packages, round_body
from overlay.board.packages.words import DIMENSIONS, body_sizes, key, rows_upright, words

# other things that carry a package's word
_NO_PART = re.compile(r"^(?:HEATSINK|CLIP|SOCKET|ADAPTER|CONN|SW|JUMPER|TEST)|SOCKET|HEAT[-_ ]?SINK|UNIVERSAL")
# SMA, SMB and SMC name coaxial connectors, too
_COAXIAL = re.compile(
    r"^SM[ABC](?=[-_ ])(?=.*(?:PTH|EDGE|HORIZONTAL|AMPHENOL|MOLEX|SAMTEC|LINX|JACK|FEMALE|CONN|RF|COAX|PLUG|RECEPT|"
    r"END[-_ ]?LAUNCH|VERT|STRAIGHT|R/?A))"
)
# pins behind an underscore belong to the name before it
_LOOSE_PINS = re.compile(r"((?:SOT|SC|TO|TSOT|SUPERSOT|POWERDI)-?\d{2,3})[_ ](?=\d{1,2}(?:$|[_\-(L ]))")
_JOINED = re.compile(r"(?<=POWERPAK)[-_ ](?=1212|SO-?8|SC-?7)|(?<=POWER)[-_ ](?=PAK|DI)")
_LYING = re.compile(r"HORIZONTAL|LYING|LAY(?:ING)?(?![A-Z])|TAB[-_ ]?(?:DOWN|UP)|(?:^|[_-])FLAT(?:$|[_-])")
_OUTLINE_CODE = re.compile(r"(?:^|[_\- ])(?P<code>[DR][A-Z]{2})\d{4}[A-Z]?(?![A-Z0-9])")
_LEADED_CODES = ("DG", "DB", "DC", "DRL")  # outline codes of packages with leads
_CAN = re.compile(
    r"(?:^|[_\- /])TO-?(?P<type>\d{1,3}(?:A[AD])?)(?:-\d{1,2}|/[A-Z]{2}|[A-D])?(?:_WINDOW|_LENS)?(?=$|[_\- ])"
)


def named_transistor(name: str) -> Named | None:
    """A package known by its name alone, read from a normal name."""
    if _NO_PART.search(name) or _COAXIAL.search(name):
        return None
    name = _JOINED.sub("", name)
    for word in words(_LOOSE_PINS.sub(r"\1-", name)):
        found = (
            packages().get(key(word))
            or _known(word)
            or _known(word.rpartition("/")[2])
            or _known(word.partition("/")[0])
        )
        if found is not None:
            return _posed(found, name)
    return _metal_can(name) or _outline_code(name)


def _known(word: str) -> Outlined | None:
    """The outline of a word such as ``SOT-23-5`` or ``TO-220-3``: its longest beginning that the table knows."""
    word = re.sub(r"^(?:PG|P|D|DIO|DIODE|Q|TR)[-_]+(?=[A-Z\d])", "", word)
    table = packages()
    pieces = word.split("-")
    for count in range(len(pieces), 0, -1):
        spelled = re.sub(r"(?<=\d)L(?:EAD|D)?$", "", key("".join(pieces[:count])))
        found = table.get(spelled)
        if found is not None:
            return found
        # one letter behind the number is a variant of pins or maker (TO92C, SOT23B)
        if (
            re.fullmatch(r"(?:SOT|TO|SOD|DO|SC)\d{2,3}[A-Z]", spelled)
            and (found := table.get(spelled[:-1])) is not None
        ):
            return found
        # a number that the table does not know beside this name makes it another package
        number = re.match(r"\d", pieces[count - 1]) and not re.fullmatch(r"\d+(?:PINS?|EP)|0?\d", pieces[count - 1])
        if number and not word.startswith(("DO", "SOD")):  # behind DO it is a lead pitch
            break
    return None


def _posed(outline: Outlined, name: str) -> Named | None:
    """Sizes in the name over the table's; standing or lying as the name says."""
    named = outline.named()
    sizes = body_sizes(name, bare=False, pair=False, upright=outline.turns)
    if _LYING.search(name) or re.match(r"TO-?(?:220|247|126)L(?![A-Z])", name):
        body = lying().get(outline.family)
        if body is None and (outline.terminals == "unknown" or outline.kind == "crystal"):
            return None  # a lying can or TO-92: where its body comes to rest the name does not say
        if body is not None:
            return Named(body, kind=outline.kind)
    elif "VERTICAL" in name and outline.kind == "diode":
        return None  # an axial part on end stands over one of its leads
    if sizes is not None and _alike(sizes[:2], outline):
        one, two, height = sizes
        one, two = rows_upright(one, two, (outline.x_mm,)) if outline.turns else (one, two)
        body = replace(named.body, length_mm=one, width_mm=two, height_mm=height or outline.height_mm)
        return replace(named, body=replace(body, source=DIMENSIONS))
    return named


def _alike(sizes: tuple[float, float], outline: Outlined) -> bool:
    """Whether sizes in a name may be the body's: a heat sink's or a board's copper beside it are far larger."""
    own, told = sorted((outline.x_mm, outline.y_mm)), sorted(sizes)
    return all(0.5 <= b / a <= 2.0 for a, b in zip(own, told, strict=True))


def _metal_can(name: str) -> Named | None:
    match = _CAN.search(name)
    known = None if match is None else codes("metal can").get(f"TO{match['type']}")
    if known is None or _LYING.search(name):
        return None
    x_mm, y_mm, height_mm = known
    source = f"metal can TO-{match['type']}" if match is not None else ""
    if x_mm != y_mm:
        return Named(Body(x_mm, y_mm, height_mm, source, terminals="none"), kind="transistor")
    return Named(round_body(x_mm, height_mm, source), kind="transistor")


def _outline_code(name: str) -> Named | None:
    """A maker's outline code: three letters before a four-digit drawing number."""
    match = _OUTLINE_CODE.search(name)
    return _outline_family(name) if match is None else body_of_outline_code(match["code"])


def body_of_outline_code(code: str, place: str = "") -> Named | None:
    """The body of an outline code, ``place`` telling where it stands; None where it is not known."""
    known = codes("outline code").get(code)
    if known is None:
        return None
    x_mm, y_mm, height_mm = known
    terminals: Terminals = "leads_x" if code.startswith(_LEADED_CODES) else "none"
    body = Body(x_mm, y_mm, height_mm, f"outline code {code}{place}", terminals=terminals)
    return Named(body, code.startswith("D"), "ic")


def _outline_family(name: str) -> Named | None:
    """One or two letters of a maker's two-row family before a drawing number that is the pin count (``PW0016A``)."""
    match = re.search(r"(?:^|[_\- ])(?P<code>D|DW|PW|DB|DBQ)(?P<pins>00\d\d)[A-Z]?(?![A-Z0-9])", name)
    table = {"D": "SOIC", "DW": "SOICW", "PW": "TSSOP", "DB": "SSOP", "DBQ": "QSOP"}
    if match is None:
        return None
    return next((o.named() for o in ics()[table[match["code"]]] if int(match["pins"]) in o.pins), None)
