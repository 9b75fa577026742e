"""Bodies of two-terminal chips and chip arrays, told by a size code somewhere in the name.

Four digits mean different things: ``0603`` is 1.6 × 0.8 mm in the inch code and 0.6 × 0.3 mm in the metric one. The
rule: inch, unless an ``M`` alone is glued to the digits or the word Metric stands behind them, or the code exists as a
metric one only, or an inch code and its own metric twin stand together. Codes are looked up, never computed: 0603 by
inches would be 1.52 × 0.76 mm. Makers, series and remarks beside the code tell nothing of the size; the word of
another family does, and so does a coil's series, whose digits are tenths of a millimetre.
"""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Chip, Named, chips_by_inch, chips_by_metric, codes
from overlay.board.packages.words import words

# words and letters of the kinds that come as chips, alone or glued to the code
KIND_WORDS = {
    **dict.fromkeys(
        ["R", "RES", "RESISTOR", "RESISTORS", "RC", "RN", "SHUNT", "RV", "VAR", "VARISTOR", "MLV", "RSENSE"],
        "resistor",
    ),
    **dict.fromkeys(["C", "CAP", "CAPS", "CAPACITOR", "CAPACITORS", "CC", "MLCC", "CAPC"], "capacitor"),
    **dict.fromkeys(
        ["L", "IND", "INDUCTOR", "INDUCTORS", "FB", "BEAD", "FERRITE", "COIL", "CHOKE", "LC", "BLM"], "inductor"
    ),
    **dict.fromkeys(["D", "DIO", "DIODE", "TVS", "ESD"], "diode"),
    **dict.fromkeys(["LED", "CHIPLED", "LEDCHIP", "LEDC"], "led"),
    **dict.fromkeys(["F", "FUSE", "PPTC", "POLYFUSE", "PTCFUSE"], "fuse"),
    **dict.fromkeys(["NTC", "PTC", "RT", "TH", "THERMISTOR"], "thermistor"),
}
# glued in front of a code they say nothing of the size
_GENERIC = frozenset(
    [
        "CHIP",
        "SMR",
        "SMC",
        "SML",
        "SMD",
        "SMT",
        "SM",
        "S",
        "M",
        "Z",
        "CHIPR",
        "CHIPC",
        "CHIPL",
        "RCL",
        "INC",
        "EIA",
        "IPC",
        "SIZE",
        "CASE",
        "PASSIVE",
        "H",
        "HS",
        "BALUN",
    ]
)
_METRIC_PREFIX = frozenset(("RESC", "CAPC", "INDC", "LEDC", "DIOC", "BEADC", "FUSC"))
# words of other families: a code beside them is no chip's
_OTHER = re.compile(
    r"(?:^|[^A-Z])(?:T?SOT|SOD|T?SSOP|SOIC|M?SOP|SOP|[A-Z]{0,3}[QDS]FN|[A-Z]?SON|DSN|[A-Z]{0,3}BGA|[A-Z]{0,2}LGA|"
    r"[A-Z]{0,2}CSP|WLP|[A-Z]{0,2}QFP|MLP|MLF|PLCC|DIP|DIL|DO|TO|CHIPFET|POWER(?:PAK|DI|FLAT|SO)[A-Z]*|SC|MELF|"
    r"MINIMELF|"
    r"XTAL|CRYSTAL|OSC|OSCILLATOR|TCXO|QUARTZ|RESONATOR|SAW|"
    r"CONN|CONNECTOR|HEADER|HDR|SOCKET|PLUG|JACK|USB|JST|MOLEX|TYCO|SAMTEC|HARWIN|HIROSE|JAE|FCI|FPC|FFC|TERMINAL|"
    r"SW|SWITCH|BUTTON|TACT|KEY|KEYSTONE|ENCODER|RELAY|POT|TRIM|TRIMPOT|TRIMMER|POTENTIOMETER|MODULE|BAT|"
    r"BATTERY|HOLDER|"
    r"FUSEHOLDER|CLIP|SHIELD|HEATSINK|ELEC|CPOL|RADIAL|AXIAL|TRANSFORMER|XFMR|DISPLAY|LCD|OLED|MIC|BUZZER|SPEAKER|"
    r"PLCC2|TANT|TANTALUM|RGB|WS|APA|SK|LGT|CASTELLATED|EDGE|TESTPOINT)(?![A-Z])"
)
# coils named after their edge and height: the digits are no chip code
_COIL_MAKERS = re.compile(
    r"(?:^|[^A-Z])(?:WE-(?!C|RF|K|M[CK]|V|GF|SU|TM|LA|AC[AH]|CBF)|BOURNS|COILCRAFT|TAIYO|SUMIDA|TOKO|IHLP|CYNTEC|"
    r"CHANGJIANG|SUNLORD)"
)
# wirewound chip coils stand out beyond the code's size
_WOUND = re.compile(r"(?<=\d)CS(?![A-Z])|(?:^|[_\- ])(?:WE-KI|KI|LQW\d*[A-Z]*|WIREWOUND|WIRE-WOUND)(?=[_\- ])")
_CODE = re.compile(r"(?<![\d.])(?:01005|10251|\d{4})(?![\d.]|MM)")
_BEFORE, _BEHIND = re.compile(r"([A-Z]*)-?$"), re.compile(r"-?([A-Z]*)")
_PAD = re.compile(r"(?:PADS?|HOLE|EP)-?\d+(?:\.\d+)?X\d+(?:\.\d+)?(?:MM)?")
_ARRAY = re.compile(
    r"(?<![\dA-Z.])(?P<n>[2458])X(?P<code>\d{4})(?![\dX.])|(?<!\d)(?P<code2>\d{4})X(?P<n2>[2458])(?![\dX.])|"
    r"(?:ARRAY|RESNET|RNET|RPACK|NETWORK|RN)[-_ ]?(?P<code3>\d{4})[-_ ](?P<pins>8)(?!\d)"
)
# pitch from element to element in one body, by the code of one element (IPC-7351 convex arrays, from memory)
_ELEMENT_MM = {"0201": 0.4, "0402": 0.5, "0603": 0.8, "0612": 0.8, "1206": 1.27, "0805": 1.27}


def named_chip(name: str, kind: str = "") -> Named | None:
    """A chip by its size code, read from a normal name.

    ``kind`` tells how high a chip is where the name does not (a bare ``0603``), and whether digits behind a series
    may be a coil's edge and height.
    """
    name = _PAD.sub("", name)
    if kind == "crystal" or _OTHER.search(name):
        return None
    said = next((KIND_WORDS[word] for word in re.findall(r"[A-Z]+", name) if word in KIND_WORDS), "")
    found = [each for match in _CODE.finditer(name) if (each := _chip_at(name, match)) is not None]
    read = _agreed(found, {match[0] for match in _CODE.finditer(name)})
    if read is None:
        return None
    chip, by_metric = read
    if not _certain(name, chip, [match[0] for match in _CODE.finditer(name)], said or kind):
        return None
    kind = said or kind
    if (wound := _WOUND.search(name)) is not None and chip.inch in codes("wirewound"):
        x_mm, y_mm, height_mm = codes("wirewound")[chip.inch]
        source = f"wirewound chip of size {chip.inch} ({wound[0].strip('-_ ')})"
        return Named(Body(x_mm, y_mm, height_mm, source, terminals="ends"), kind="inductor")
    code = f"{chip.metric} (metric)" if by_metric or not chip.inch else f"{chip.inch} (inch)"
    body = Body(chip.length_mm, chip.width_mm, chip.height_mm(kind), f"chip size code {code}", terminals="ends")
    return Named(body, kind=said)


def _agreed(found: list[tuple[Chip, bool]], told: set[str]) -> tuple[Chip, bool] | None:
    """The one chip that all codes of a name mean, and whether it was read as metric; None where they disagree."""
    if len({chip.metric for chip, _ in found}) <= 1:
        return found[0] if found else None
    # an inch code beside its own metric twin was read twice in inch; else one that says Metric counts
    twins = [chip for chip, _ in found if chip.metric in told]
    metric = [chip for chip, by_metric in found if by_metric]
    if len({chip.metric for chip in twins or metric}) != 1:
        return None
    return (twins or metric)[0], bool(metric)


def _chip_at(name: str, match: re.Match[str]) -> tuple[Chip, bool] | None:
    """The chip of one code, and whether it was read as metric; None where what is glued to it makes it no code."""
    code = match[0]
    before, behind = _BEFORE.search(name[: match.start()]), _BEHIND.match(name[match.end() :])
    assert before is not None
    assert behind is not None
    glued = before[1] if name[match.start() - 1 : match.start()] != "-" else ""
    tail = behind[1] if name[match.end() : match.end() + 1] != "-" else ""
    if glued and glued not in KIND_WORDS and glued not in _GENERIC and glued not in _METRIC_PREFIX:
        return None
    if len(tail) > 3 and tail != "METRIC" and tail not in KIND_WORDS:
        return None
    inch, metric = chips_by_inch().get(code), chips_by_metric().get(code)
    says_metric = (
        behind[1] in ("M", "METRIC") or glued in _METRIC_PREFIX or re.match(r"[-_ ]METRIC", name[match.end() :])
    )
    if says_metric and metric is not None:
        return metric, True
    if inch is not None:
        return inch, False
    return None if metric is None else (metric, True)


def _certain(name: str, chip: Chip, written: list[str], kind: str) -> bool:
    """Whether digits that could as well be a coil's edge and height, or a part's number, are a chip's code here."""
    if any(code.startswith("0") for code in written) or re.search(r"\d[-_ ]?METRIC|\(\d{4}\)|\d{4}_\d{4}", name):
        return True
    if _COIL_MAKERS.search(name):
        return False
    strange = [word for word in words(name) if not _told(word)]
    common = chip.inch in ("1206", "1210", "1812", "2010", "2220", "2512") and kind != "inductor"
    return not strange or common or (bool(kind) and kind != "inductor")


def _told(word: str) -> bool:
    """Whether a word is a code, a kind, or too short to name a series."""
    return (
        (
            re.fullmatch(r"(?:[A-Z]{0,8}-?)?\d{4,5}(?:[-A-Z]{0,8})?|[A-Z0-9]{1,3}|[\d.]+%?", word) is not None
            and (
                _CODE.search(word) is None
                or (re.match(r"[A-Z]*", word) or [""])[0] in (*KIND_WORDS, *_GENERIC, *_METRIC_PREFIX, "")
            )
        )
        or word in KIND_WORDS
        or word in _GENERIC
        or word in ("METRIC", "HANDSOLDER", "HANDSOLDERING")
    )


def named_array(name: str) -> Named | None:
    """An array of chips in one body (``R_Array_Convex_4x0603``)."""
    match = _ARRAY.search(name)
    if match is None:
        return None
    code = match["code"] or match["code2"] or match["code3"]
    count = int(match["n"] or match["n2"] or 4)
    kind = "capacitor" if name.startswith(("C_", "CAP")) else "resistor"
    known = codes("array").get(f"{count}X{code}")
    if known is not None:
        x_mm, y_mm, height_mm = known
        return Named(
            Body(x_mm, y_mm, height_mm, f"chip array of {count} × {code} (inch)", terminals="ends"), True, kind
        )
    if match["code3"] and code == "1206":
        x_mm, y_mm = 1.6, 3.2  # the code of the whole array, eight terminals on its long sides
        return Named(Body(x_mm, y_mm, 0.6, "chip array of size 1206", terminals="ends"), True, kind)
    chip, pitch = chips_by_inch().get(code), _ELEMENT_MM.get(code)
    if chip is None or pitch is None:
        return None
    across = min(chip.length_mm, chip.width_mm) if code == "0612" else chip.length_mm
    pitch = 0.64 if count in (5, 8) and code == "0603" else pitch  # more elements stand closer
    source = f"chip array of {count} × {code} (inch), from its pitch"
    body = Body(across, round(count * pitch, 2), chip.height_mm(kind), source, estimated=True, terminals="ends")
    return Named(body, True, kind)
