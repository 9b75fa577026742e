"""Bodies of two-terminal parts named by a size code: chips, chip arrays, MELF and moulded tantalum.

Four digits mean different things: ``0603`` is 1.6 × 0.8 mm in the inch code and 0.6 × 0.3 mm in the metric one. The
rule: inch, unless an ``M`` is glued to the digits or the word Metric stands behind them, or the code exists as a
metric one only. Codes are looked up, never computed: 0603 by inches would be 1.52 × 0.76 mm.
"""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Chip, Named, Tantalum, chips_by_inch, chips_by_metric, codes, tantalums
from overlay.board.packages.words import words

_KINDS = {
    "R": "resistor",
    "RES": "resistor",
    "RESISTOR": "resistor",
    "RC": "resistor",
    "RN": "resistor",
    "RM": "resistor",
    "C": "capacitor",
    "CAP": "capacitor",
    "CAPACITOR": "capacitor",
    "CC": "capacitor",
    "MLCC": "capacitor",
    "L": "inductor",
    "IND": "inductor",
    "INDUCTOR": "inductor",
    "FB": "inductor",
    "BEAD": "inductor",
    "FERRITE": "inductor",
    "D": "diode",
    "DIO": "diode",
    "DIODE": "diode",
    "LED": "led",
    "CHIPLED": "led",
    "F": "fuse",
    "FUSE": "fuse",
    "NTC": "thermistor",
    "PTC": "thermistor",
    "RT": "thermistor",
    "TH": "thermistor",
    "THERMISTOR": "thermistor",
    "RV": "resistor",
    "VAR": "resistor",
    "VARISTOR": "resistor",
}
_LAND_PATTERN = ("RESC", "CAPC", "INDC", "LEDC")  # before these the code is metric
# words that say nothing about the body beside a chip's code
_IDLE_WORDS = """
CHIP SM SMD SMT METRIC INCH IMPERIAL EIA IPC IEC N M K A B L H S HS HAND SOLDER HANDSOLDER HANDSOLDERING HANDSOLDERED
REFLOW WAVE PASSIVE PASSIVES DEVICE PAD PADS NOM NOMINAL MIN MAX MOST LEAST DENSITY STANDARD STD POL POLARIZED NONPOL
NP RED GREEN BLUE YELLOW WHITE ORANGE AMBER CLEAR RGB REVERSEMOUNT REVERSE MOUNT CASTELLATED TYPE SIZE CASE PACKAGE
PKG FOOTPRINT CERAMIC THICK THIN FILM JUMPER RD BI TIGHT NARROW NO SILK NOSILK TERMINAL COMMON AUTO AUTOPLACE X5R X7R
C0G NP0 TOP BOT BOTTOM GENERIC
"""
_IDLE = frozenset(_IDLE_WORDS.split())
_CODE = re.compile(
    r"(?P<word>RESC|CAPC|INDC|LEDC|RES|CAP|IND|LED|CHIP|SMD|SMT|DIO|FUSE|BEAD|RC|CC|FB|[RCLDF])?-?(?P<code>01005|10251|\d{4})"
    r"(?P<metric>-?M(?:ETRIC)?)?(?:-?(?P<tail>[A-Z]{1,3}\d?))?"
)
_PAD = re.compile(r"(?:PAD|HOLE|PADS?)\d+(?:\.\d+)?X\d+(?:\.\d+)?(?:MM)?")
_ARRAY = re.compile(r"(?<![\dA-Z.])([24])X(0402|0603)(?![\dX.])")
_MELF = re.compile(r"(?<![A-Z])(?:(MINI|MICRO)[-_ ]?)?MELF|(?<![A-Z])MM[ABU](?![A-Z])")
_TANTALUM = re.compile(
    r"TANTALUM|(?<![A-Z])(?:CP|TANT?|CT)(?![A-Z])|EIA[-_ ]?\d{4}[-_]\d\d|(?<![A-Z])CASE[-_ ]?[A-EVXY](?![A-Z])"
)
_EIA = re.compile(r"(?<!\d)(1608|2012|3216|3528|6032|7343|7360|7361)(?:[-_](\d\d)(?!\d))?(?!\d)")
_LETTER = re.compile(
    r"(?:(?:CASE|SIZE|TANTALUM|TANT?|CT|KEMET|AVX|VISHAY|CP)[-_ ]*(?:CASE[-_ ]*)?)(?P<letter>[A-EPRSTUVWXY])(?:$|[-_ ])"
)
_NO_CAPACITOR = re.compile(r"LED|PLCC|CRYSTAL|XTAL|^OSC|^L[-_ ]?\d|^IND|^SMD[-_]?\d|^D[-_]|^R[-_ \d]|DIODE|FUSE")
_ONLY_TANTALUM = frozenset(("3528", "6032", "7343", "7360", "7361"))


def named_chip(name: str, kind: str = "") -> Named | None:
    """A chip by its size code, read from a normal name.

    ``kind`` tells how high a chip is where the name does not (a bare ``0603``).
    """
    found: Chip | None = None
    metric = False
    said = ""
    for word in words(_PAD.sub("", name.replace("/", " "))):
        pieces = [word] if _CODE.fullmatch(word) else word.split("-")
        for piece in pieces:
            match = _CODE.fullmatch(piece)
            chip, by_metric = (
                (None, False)
                if match is None
                else _chip_of(match["code"], bool(match["metric"]) or match["word"] in _LAND_PATTERN)
            )
            if match is not None and chip is not None:
                tail = match["tail"] or ""
                if found is not None and found != chip:
                    # two codes that disagree: the one that says Metric counts, else nobody knows
                    if by_metric == metric:
                        return None
                    found = chip if by_metric else found
                else:
                    found = chip
                metric = metric or by_metric
                said = said or _KINDS.get(match["word"] or "", "") or _KINDS.get(tail, "")
                if tail and tail not in _IDLE and tail not in _KINDS and len(tail) > 1:
                    return None
            elif piece in _KINDS:
                said = said or _KINDS[piece]
            elif piece and piece not in _IDLE and not re.fullmatch(r"[A-Z]|[A-Z]?\d|\d+%", piece):
                return None
    if found is None:
        return None
    if re.search(r"\d[-_ ]?METRIC", name):
        metric = True
    kind = said or kind
    code = f"{found.metric} (metric)" if metric or not found.inch else f"{found.inch} (inch)"
    body = Body(found.length_mm, found.width_mm, found.height_mm(kind), f"chip size code {code}", terminals="ends")
    return Named(body, kind=said)


def _chip_of(code: str, says_metric: bool) -> tuple[Chip | None, bool]:
    """The chip of a code, and whether the code was taken as metric."""
    inch, metric = chips_by_inch().get(code), chips_by_metric().get(code)
    if says_metric and metric is not None:
        return metric, True
    if inch is not None:
        return inch, False
    return metric, metric is not None


def named_array(name: str) -> Named | None:
    """An array of chips in one body (``R_Array_Convex_4x0603``)."""
    match = _ARRAY.search(name)
    if match is None:
        return None
    x_mm, y_mm, height_mm = codes("array")[f"{match[1]}X{match[2]}"]
    source = f"chip array of {match[1]} × {match[2]} (inch)"
    kind = "capacitor" if name.startswith(("C_", "CAP")) else "resistor"
    return Named(Body(x_mm, y_mm, height_mm, source, terminals="ends"), True, kind)


def named_melf(name: str) -> Named | None:
    """A resistor in a metal electrode face body; diodes stand in the table of packages."""
    match = _MELF.search(name)
    if match is None:
        return None
    size = {None: "0207", "MINI": "0204", "MICRO": "0102"}[match[1]] if name.startswith("R") else ""
    for code, (length, diameter, height) in codes("melf resistor").items():
        if re.search(rf"(?<!\d){code}(?!\d)", name) or code == size:
            return Named(Body(length, diameter, height, f"MELF size {code}", terminals="ends"), kind="resistor")
    return None


def named_tantalum(name: str, kind: str = "") -> Named | None:
    """A moulded tantalum capacitor by EIA number, or by a case letter that means the same to every maker."""
    if _NO_CAPACITOR.search(name):
        return None
    marked = _TANTALUM.search(name) is not None
    number = _EIA.search(name)
    if number is not None and (marked or number[1] in _ONLY_TANTALUM or number[2]):
        if number[2]:
            found = [case for case in tantalums() if case.eia == f"{number[1]}-{number[2]}"]
            return _moulded(found[0], f"EIA {found[0].eia}") if found else None
        found = [case for case in tantalums() if case.eia.startswith(number[1])]
        letter = _LETTER.search(name)
        lettered = [case for case in found if letter is not None and case.letter == letter["letter"]]
        if lettered:
            return _moulded(lettered[0], f"EIA {lettered[0].eia}")
        if not marked and number[1] == "3528" and kind not in ("capacitor", "tantalum", ""):
            return None
        case = found[0]  # all cases of one number share length and width, not the height
        height = case.height_mm if len(found) == 1 else None
        return _moulded(Tantalum(number[1], "", case.length_mm, case.width_mm, 0.0), f"EIA {number[1]}", height)
    letter = _LETTER.search(name)
    if letter is None or not (marked or re.match(r"(?:SIZE|CASE)", name)):
        return None
    lettered = [case for case in tantalums() if case.letter == letter["letter"] and case.letter in "ABCD"]
    return _moulded(lettered[0], f"EIA {lettered[0].eia}, case {letter['letter']}") if lettered else None


def _moulded(case: Tantalum, source: str, height_mm: float | None = None) -> Named:
    height = height_mm if height_mm is not None else case.height_mm or None
    # the terminals fold under the mould: from above they show beyond its ends, not on it
    return Named(Body(case.length_mm, case.width_mm, height, source, terminals="leads_x"), kind="tantalum")
