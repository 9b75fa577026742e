"""Units of length in placement files: words, suffixes, headings, and statements in prose."""

from __future__ import annotations

import re
from dataclasses import dataclass

from overlay.board.exchange.model import MM_OF_UNIT

_MM = MM_OF_UNIT | {"cm": 10.0, "m": 1000.0, "nm": 1e-6}  # nm and m are written by programs, cm by people
_WORDS = {
    "mm": "mm millimeter millimeters millimetre millimetres milimeter milimeters metric metrisch"
    " millimètres 毫米 公制 мм",
    "um": "um µm μm micron microns micrometer micrometers micrometre micrometres",
    "mil": "mil mils mill mills thou thous th 密尔 мил",
    "inch": "in inch inches zoll pouce pouces pulgadas \" '' ” 英寸 インチ",
    "cm": "cm centimeter centimeters centimetre centimetres",
    "nm": "nm nanometer nanometers nanometre nanometres",
}
_UNIT_OF = {word: unit for unit, words in _WORDS.items() for word in words.split()}
# inch or mil: the words do not tell which
_IMPERIAL = ("imperial", "english", "英制")
_LONG = "|".join(sorted((re.escape(word) for word in (*_UNIT_OF, *_IMPERIAL)), key=len, reverse=True))
_EDGE = r"(?![A-Za-z])"
_NUMBER = r"\d+(?:\.\d+)?(?:\s*/\s*\d+)?"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of length: its name, and how many millimetres it is (None: imperial, but which?)."""

    name: str
    mm: float | None


@dataclass(frozen=True, slots=True)
class UnitWords:
    """Where a file states a unit: the unit, and the place in words for the reader."""

    unit: Unit
    where: str
    line: int


def known_unit(name: str) -> Unit:
    """The unit of a settings key: mm, um, mil, inch."""
    return Unit(name, _MM[name])


def unit_of_word(text: str) -> Unit | None:
    """The unit a phrase names, such as ``mm``, ``Inches``, ``1/1000 inch``; None for anything else.

    >>> unit_of_word("Mils"), unit_of_word("0.001 inch"), unit_of_word("ohm")
    (Unit(name='mil', mm=0.0254), Unit(name='mil', mm=0.0254), None)
    """
    match = re.fullmatch(rf"(?:({_NUMBER})\s*)?({_LONG})\.?", _figured(text.strip().casefold()))
    if match is None:
        return None
    factor, word = match.groups()
    if word in _IMPERIAL:
        return Unit(word, None)
    unit = _UNIT_OF[word]
    return Unit(unit, _MM[unit]) if factor is None else _multiple(factor, unit)


_PARTS = {"tenth": "1/10", "hundredth": "1/100", "thousandth": "1/1000"}
_IN_WORDS = re.compile(rf"\b({'|'.join(_PARTS)})s?\s+(?:of\s+)?(?:an?\s+)?", re.IGNORECASE)


def _figured(text: str) -> str:
    """``thousandths of an inch`` in figures."""
    return _IN_WORDS.sub(lambda match: _PARTS[match.group(1).casefold()] + " ", text)


def _multiple(factor: str, unit: str) -> Unit | None:
    """``1/1000`` of an inch is a mil; ``0.01 mm`` stays a unit of its own."""
    over, _, under = factor.partition("/")
    if under and float(under) == 0.0:
        return None
    size = float(over) / float(under or 1) * _MM[unit]
    if size <= 0.0:
        return None
    for name, mm in _MM.items():
        if abs(size - mm) < 1e-9 * mm:
            return Unit(name, mm)
    return Unit(f"{factor} {unit}", size)


_BRACKETED = re.compile(rf"[(\[{{<（【]\s*(?:in\s+)?((?:{_NUMBER}\s*)?(?:{_LONG}))\.?\s*[)\]}}>）】]", re.IGNORECASE)
_TRAILING = re.compile(rf"(?:[\s_\-/,.:]+(?:in\s+)?)((?:{_NUMBER}\s*)?(?:{_LONG}))\.?$", re.IGNORECASE)
_GLUED = re.compile(r"(?<=[xXyY])(mm|mils?|inch|inches|um|µm|μm)$", re.IGNORECASE)


def heading_unit(heading: str) -> tuple[str, Unit | None]:
    """A heading without the unit it carries, and that unit.

    >>> heading_unit("Center-X(mil)"), heading_unit("X_mm")[0], heading_unit("Comment")
    (('Center-X', Unit(name='mil', mm=0.0254)), 'X', ('Comment', None))
    """
    text = heading.strip()
    for pattern in (_BRACKETED, _TRAILING, _GLUED):
        match = pattern.search(text)
        if match is not None:
            unit = unit_of_word(match.group(1))
            if unit is not None:
                return (text[: match.start()] + " " + text[match.end() :]).strip(), unit
    return text, None


_KEY = r"(?<![A-Za-z])u?units?|uom|einheit(?:en)?|maßeinheit|unités?|unidad(?:es)?|unità|单位|単位|единиц[аы]"
_FILL = (
    "used|of|measure(?:ment)?s?|for|are|is|in|mode|system|type|setting|x|y|and|linear|length|file|report|the"
    "|coordinates?|positions?|placements?|locations?|dimensions?|output|this|all|as|verwendet|utilisées?"
)
_AFTER_KEY = re.compile(
    rf"(?:{_KEY})(?P<fill>(?:[^\w\d]|_)*(?:(?:{_FILL})(?![A-Za-z])(?:[^\w\d\"]|_)*)*?)"
    rf"(?P<unit>(?:{_NUMBER}\s*)?(?:{_LONG})){_EDGE}",
    re.IGNORECASE,
)
_BEFORE_KEY = re.compile(rf"(?<![\w.])(?P<unit>{_LONG})\s+(?:{_KEY}){_EDGE}", re.IGNORECASE)
_MATTER = (
    r"dimensions?|coordinates?|coords?|positions?|locations?|measurements?|distances?|values|numbers|centroids?"
    r"|lengths?|placements?|pick\s*(?:and|&|n)\s*place|files?|reports?|lists?|data|x\s*(?:[,/&]|and)?\s*y|abmessungen|maße|koordinaten|coordonnées|坐标|座標"
)
_IN_PROSE = re.compile(
    rf"(?<![A-Za-z])(?:{_MATTER})(?![A-Za-z])[^\d.;\n]{{0,40}}?(?:(?<![A-Za-z])(?:in|are|is|as|en)\s+|[:=(\[]\s*)"
    rf"(?!in\s+\w)(?P<unit>{_LONG}){_EDGE}",
    re.IGNORECASE,
)
# ``X, Y - thou`` in a list of what is in which unit
_OF_XY = re.compile(rf"(?<![A-Za-z])x\s*(?:[,/&]|and)?\s*y\s*[-\u2013]\s*(?P<unit>{_LONG}){_EDGE}", re.IGNORECASE)
_SYSTEM = re.compile(
    rf"(?<![A-Za-z])(?:format|system|measurements?|measure|mode)\s*[:=,\t]\s*\"?(?P<unit>{_LONG}){_EDGE}", re.IGNORECASE
)
_OTHER_MATTER = re.compile(
    r"(?:drill|hole|thickness|text|stencil|grid|snap|trace|track|clearance|height|angle|rotation|angular|tolerance"
    r"|copper|stackup|stack-up|via|pad|mask|paste|font|line|width|size|diameter|spacing|temperature|schematic|"
    r"sheet|page"
    r"|paper)"
    r"(?:s|'s)?[\s_\-]*$",
    re.IGNORECASE,
)
_CHOICE = re.compile(rf"[(\[]\s*(?:{_LONG})(?:\s*(?:[/|,]|or)\s*(?:{_LONG}))+\s*[)\]]", re.IGNORECASE)


def stated_unit(line: str) -> Unit | None:
    """The unit a line of prose states for the coordinates; None where it states none.

    A unit word alone is no statement: ``Board thickness 1.6 mm`` or ``Drill units: inch`` say nothing of them.

    >>> stated_unit("Units used: mil").name, stated_unit("# X,Y in mils.  rotation in degrees.").name
    ('mil', 'mil')
    >>> stated_unit("Minimum track: 6 mil"), stated_unit("Drill units: inch")
    (None, None)
    """
    text = line.strip().strip("#*;%/'|!=-<>").strip()
    if len(text) > 400:
        return None
    alone = unit_of_word(text.strip("\"'()[]{}:,;.\t -").strip())
    if alone is not None and alone.name != "inch":
        return alone
    if alone is not None and re.fullmatch(r"\W*inch(es)?\W*", text, re.IGNORECASE):
        return alone
    text = _CHOICE.sub(" ", _figured(text))
    for pattern in (_AFTER_KEY, _BEFORE_KEY, _IN_PROSE, _OF_XY, _SYSTEM):
        for match in pattern.finditer(text):
            if _OTHER_MATTER.search(text[: match.start()]) or _is_choice(text, match):
                continue
            unit = unit_of_word(match.group("unit"))
            if unit is not None and not _is_preposition(text, match):
                return unit
    return None


def _is_choice(text: str, match: re.Match[str]) -> bool:
    """``mm or mil`` leaves open which."""
    return re.match(rf"\s*(?:[/|]|or\s)\s*(?:{_LONG}){_EDGE}", text[match.end("unit") :], re.IGNORECASE) is not None


def _is_preposition(text: str, match: re.Match[str]) -> bool:
    """``in`` is the inch only where nothing goes on after it: ``Units: in``, not ``coordinates: in mm``."""
    if match.group("unit").casefold() != "in":
        return False
    rest = text[match.end("unit") :]
    return re.match(r"\s+\w", rest) is not None
