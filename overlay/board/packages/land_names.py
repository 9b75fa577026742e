"""The grammars of IPC-7351 (and IPC-7251) land-pattern names: a name taken apart into its numbers.

Numbers are hundredths of a millimetre; only where one run of digits stands before the ``X`` it holds two lengths in
tenths, of equal digit counts. Sources: excerpt of the "IPC-7351B Naming Convention for Standard SMT Land Patterns"
(BGA, capacitors), public notes on its number format, and public board files that state name and dimensions together.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LandPattern:
    """A land-pattern name taken apart; what the name does not say is None.

    ``across_mm`` and ``along_mm`` are the numbers as they stand: a lead span for gull wings, a body for no-leads.
    """

    family: str
    across_mm: float
    along_mm: float | None = None
    height_mm: float | None = None
    pitch_mm: float | None = None
    pins: int | None = None
    density: str = ""
    along_is_body: bool = False  # the later style: pins first, then the body's side along the rows


# lead length and exposed pad of later styles, a heat slug, pins, density, and a library's own remark behind a separator
_TAIL = (
    r"(?:[ABCMNL]?L\d+(?:X\d+)?(?:T\d+(?:X\d+)*)?)?(?:_HS)?(?:-(?P<pins>\d+)L?(?:_\d+)?(?:[TP]\d+(?:[XT]\d+)*)?)?"
    r"[-_]?(?P<density>[ABCMNL])?(?:[-_ (].*)?"
)
_PAIR = re.compile(
    r"(?P<family>RESC|CAPCP|CAPC|INDCP|INDC|DIOC|LEDC|FUSC|BEADC|VARC|THRMC|"
    r"RESM|CAPMP|CAPM|INDMP|INDM|INDPM|INDP|DIOMN|DIONM|DIOM|LEDM|FUSM|RESMELF|DIOMELF|SODFL|SOD)"
    r"(?P<pair>\d{4}|\d{5}|\d{6}|\d{8})(?:X(?P<height>\d{1,4}))?" + _TAIL
)
_SPAN = re.compile(
    r"(?P<family>(?:[A-Z]{0,3}?(?:SOIC|SOP|SOJ|SON|SOTFL|SOT)|SO|TO|[A-Z]{0,3}?DFN|CFP))"
    r"(?P<pitch>\d{1,4})P(?P<across>\d{2,4})(?:X(?P<along>\d{2,4}))??(?:X(?P<height>\d{1,4}))?" + _TAIL
)
# the package's own name, pins and pitch, then span and height
_NAMED = re.compile(
    r"(?P<family>SOT)\d{2,3}-(?P<pins>\d)P(?P<pitch>\d{2,3})_(?P<across>\d{3,4})X(?P<height>\d{2,4})(?:L.*)?"
)
# bodies of no-lead packages without a pitch
_BODY = re.compile(
    r"(?P<family>[A-Z]{0,3}?(?:QFN|SON|DFN))(?P<across>\d{3,4})X(?P<along>\d{3,4})(?:X(?P<height>\d{2,4}))?" + _TAIL
)
# an older order: pitch, then the spans with their letters, then pins
_SPANS = re.compile(
    r"(?P<family>[A-Z]{0,2}QFP)[-_](?P<pitch>\d{2,3})P[-_](?P<across>\d{3,4})L1[-_](?P<along>\d{3,4})L2[-_](?P<pins>\d+)"
    r"N?(?:[-_ ].*)?"
)
_INLINE = re.compile(
    r"(?P<family>DIP)(?P<pitch>254|178)P(?P<across>762|1524|"
    r"1016)X(?P<height>\d{2,4})-(?P<pins>\d+)(?P<density>[ABCMNL])?(?:[-_ ].*)?"
)
_QUAD = re.compile(
    r"(?P<family>[A-Z]{0,3}?(?:QFP|QFN|LCC)|(?:RES|CAP|IND|FUS)CA[A-Z]{1,2}|OSC[A-Z]{1,2}|XTAL)"
    r"(?P<pitch>\d{1,4})P(?P<across>\d{2,4})X(?P<along>\d{2,4})(?:X(?P<height>\d{1,4}))?" + _TAIL
)
_C_STYLE = re.compile(
    r"(?P<family>[A-Z]{0,3}?(?:SOIC|SOP|SO|SON|DFN|QFN|QFP))(?P<pins>\d{1,3})P(?P<pitch>\d{2,3})_"
    r"(?P<along>\d{2,4})X(?P<across>\d{2,4})X(?P<height>\d{2,4})(?:L\d+X\d+)?(?:T\d+X\d+)?(?P<density>[ABCMNL])?"
)
_BGA = re.compile(
    r"(?P<family>[A-Z]{0,2}BGAS?)(?P<pins>\d+)[CN]?(?P<pitch>\d{2,3})P\d+X\d+_"
    r"(?P<across>\d{2,4})X(?P<along>\d{2,4})X(?P<height>\d{2,4})(?P<density>[ABCMNL])?"
)
_PLAIN = re.compile(
    r"(?P<family>XTAL|OSC[A-Z]{0,2}|CAPCWR|CAPAE)(?P<across>\d{2,4})X(?:(?P<along>\d{2,4})X)?"
    r"(?P<height>\d{2,4})" + _TAIL
)
_RADIAL = re.compile(
    r"(?P<family>CAPPRD|CAPRD|LEDRD|INDRD|VARRD)\d+W\d+D(?P<across>\d+)H(?P<height>\d+)(?P<density>[ABCMNL])?"
)
_AXIAL = re.compile(r"(?P<family>RESAD|DIOAD|CAPAD|INDAD)\d+W\d+L(?P<across>\d+)D(?P<along>\d+)(?P<density>[ABCMNL])?")
_DIP = re.compile(
    r"(?P<family>[CP]?DIPS?)(?P<across>\d{3,4})W\d+P(?P<pitch>\d+)L(?P<along>\d+)H(?P<height>\d+)Q(?P<pins>\d+)"
    r"(?P<density>[ABCMNL])?"
)

_GRAMMARS = (_BGA, _C_STYLE, _QUAD, _NAMED, _SPAN, _BODY, _SPANS, _INLINE, _PLAIN, _RADIAL, _AXIAL, _DIP)
_START = re.compile(
    r"(?<=[_\- ])(?=(?:RES|CAP|IND|DIO|LED|FUS|SO|TS|SSOP|VSOP|MSOP|TO|QF|[A-Z]QFN|[A-Z]QFP|DF|BGA|XTAL|"
    r"OSC)[A-Z]*\d{2,8}[PX]\d)"
)


def decode_land_pattern(name: str) -> LandPattern | None:
    """Take a name apart; None where it is no land-pattern name.

    >>> pattern = decode_land_pattern("SOIC127P600X175-8N")
    >>> pattern.family, pattern.pitch_mm, pattern.across_mm, pattern.height_mm, pattern.pins
    ('SOIC', 1.27, 6.0, 1.75, 8)
    """
    name = _standard(name.strip().upper())
    if match := _PAIR.fullmatch(name):
        sides = _tenths(match["pair"])
        if sides is None:
            return None
        return LandPattern(
            match["family"], *sides, _height(match["height"]), None, _whole(match["pins"]), match["density"] or ""
        )
    for grammar in _GRAMMARS:
        if match := grammar.fullmatch(name):
            cells = match.groupdict()
            across = _hundredths(cells["across"])
            assert across is not None
            if across <= 0.0:
                return None
            return LandPattern(
                cells["family"],
                across,
                _hundredths(cells.get("along")),
                _height(cells.get("height")),
                _hundredths(cells.get("pitch")),
                _whole(cells.get("pins")),
                cells.get("density") or "",
                grammar is _C_STYLE,
            )
    return None


def _standard(name: str) -> str:
    """A name in the standard's own spelling: without a maker before it, a stray X behind P, or a missing P."""
    start = _START.search(name)
    name = name[start.start() :] if start is not None else name
    name = re.sub(r"(?<=\d)PX(?=\d)", "P", name)
    name = re.sub(r"^([A-Z]{0,3}(?:QFN|QFP|SON|DFN|SOP|SOIC))\d{1,3}_(?=\d{2,3}P\d{3,4}X)", r"\1", name)
    name = re.sub(r"^([A-Z]{1,3}SOP|SOIC|SOP)(\d{2,3}P\d{3,4})_(\d{1,2})$", r"\1\2-\3", name)
    return re.sub(
        r"^((?:T|S|TS|SS|M|V)?SO(?:IC|P|T|N|J)?(?:127|100|80|65|64|50|40))X(?=\d{3,4}X\d{2,3}-)", r"\1P", name
    )


def _tenths(pair: str) -> tuple[float, float] | None:
    """Two lengths in one run of digits; runs of odd count only where they are a size code."""
    if pair == "10251":
        return 10.2, 5.1
    if len(pair) % 2:
        return None
    half = len(pair) // 2
    length, width = int(pair[:half]) / 10, int(pair[half:]) / 10
    return (length, width) if length > 0.0 and width > 0.0 else None


def _hundredths(digits: str | None) -> float | None:
    return None if digits is None else int(digits) / 100


def _height(digits: str | None) -> float | None:
    """A height; less than a tenth of a millimetre was meant in another unit and says nothing."""
    height = _hundredths(digits)
    return None if height is None or height < 0.1 else height


def _whole(digits: str | None) -> int | None:
    return None if digits is None else int(digits)
