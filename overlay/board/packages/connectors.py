"""Bodies of connectors from pins and pitch, and of a few whose size is the same from every maker."""

from __future__ import annotations

import re
from dataclasses import dataclass

from overlay.board.model import Body
from overlay.board.packages.sizes import Named
from overlay.board.packages.words import labelled_mm, sizes_mm

_ROWS = re.compile(
    r"(?:^|[_\- ]|(?<=HEADER)|(?<=HDR)|(?<=PIN)|(?<=PINS))(?P<rows>0?[12])X(?P<count>\d{1,2})(?=$|[_\- ]|P(?:\d|$|_))"
)
_PIN_WORDS = re.compile(
    r"PIN[-_ ]?(?:HEADER|SOCKET|ROW|S(?![A-Z]))|(?:^|[_\- ])(?:PINS?|HEADER|HDR|HDRV|SIP|CONN-100MIL|JP)|SOCKET|"
    r"^(?:0\dX|\dX(?:0\d|[4-9]|\d\d))"
)
_ROUND_PINS = re.compile(r"^MA(?P<count>\d{2})-(?P<rows>[12])(?=$|[_\-W])")
_PITCH = re.compile(
    r"P?(?P<pitch>[12]\.\d{1,2}|[12])MM|(?P<hundredths>127|200)MM|P(?P<bare>[12]\.\d{1,2})|"
    r"(?:^|[_\- ])(?P<free>1\.27|2\.00?|2\.54)(?=$|[_\- ])|(?P<mil>50|100)[-_ ]?MIL"
)
# width of one row and of each further one, where it is not the pitch (a public footprint library's drawn bodies)
_WIDTH_MM = {
    ("header", 1.0): (1.3, 1.0),
    ("header", 1.27): (2.1, 1.3),
    ("socket", 1.0): (1.5, 1.0),
    ("socket", 1.27): (2.54, 0.5),
}
# the part number of a maker: its receptacle is as that maker draws it
_MAKERS_OWN = re.compile(r"(?<![A-Z0-9])(?=[A-Z0-9.-]*\d{3})[A-Z0-9.]{3,}[A-Z0-9.-]{3,}(?![A-Z0-9])")
_NO_BLOCK = re.compile(
    r"HORIZONTAL|FAN|HALF|(?:^|[_\- ])(?:RA|R/A|RIGHT|ANGLE[D]?|HOR|LOCK[A-Z]*|SHROUD[A-Z]*|BOX|IDC|LATCH|RJ|USB|"
    r"HDMI|SATA|FPC|FFC|"
    r"DIP|SW|SWITCH|RELAY|TERMINAL[A-Z]*|SCREW[A-Z]*|LONGPADS|EDGE|3M|TEXTOOL|SAMTEC|HARWIN|MOLEX|JST|HIROSE|"
    r"JAE|PHOENIX[A-Z]*|WAGO|WUERTH|"
    r"TE|AMP|TYCO)(?=$|[_\- \d])"
)
_USB = re.compile(
    r"USB[-_ ]?(?:TYPE[-_ ]?)?C(?![A-Z])|USB[-_ ]?(?:MICRO[-_ ]?B|MINI[-_ ]?B|MICROB|MINIB)|MICRO[-_ ]?USB|"
    r"MINI[-_ ]?USB|USB[-_ ]?C[-_ ]"
)


@dataclass(frozen=True, slots=True)
class _Series:
    """A connector series whose housing grows by the pitch: (pins − 1) × pitch + ends long, and so wide and high."""

    pattern: re.Pattern[str]
    pitch_mm: float
    ends_mm: float
    width_mm: float
    height_mm: float


# wire-to-board housings and terminal blocks (makers' drawings, from memory); n is the pins of one row
_SERIES = (
    _Series(
        re.compile(
            r"JST[^A-Z]*XH(?![A-Z]).*?(?:[-_ ]B?(?P<n>\d{1,2})B?-XH|1X(?P<m>\d{2}))|"
            r"(?<![A-Z])B(?P<k>\d{1,2})B-XH"
        ),
        2.5,
        4.9,
        5.75,
        7.0,
    ),
    _Series(
        re.compile(
            r"JST[^A-Z]*PH(?![A-Z]).*?(?:[-_ ]B?(?P<n>\d{1,2})B?-PH|1X(?P<m>\d{2}))|"
            r"(?<![A-Z])B(?P<k>\d{1,2})B-PH(?!D)"
        ),
        2.0,
        3.9,
        4.5,
        6.0,
    ),
    _Series(
        re.compile(r"(?:KK(?!-?396)|6410|254P).*?(?:-0?(?P<n>\d{1,2})(?=$|[_\- ])|1X(?P<m>\d{2}))"), 2.54, 2.5, 6.0, 8.5
    ),
)


def named_connector(name: str) -> Named | None:
    """Pin rows by rows, pins and pitch; housings of known series; common USB sockets and the barrel jack."""
    if (rows := _pin_rows(name)) is not None:
        return rows
    for series in _SERIES:
        match = series.pattern.search(name)
        if match is not None and "HORIZONTAL" not in name and not re.search(r"SMD|-SM\d", name):
            pins = int(next(group for group in match.groups() if group))
            if 2 <= pins <= 24:
                long = round((pins - 1) * series.pitch_mm + series.ends_mm, 2)
                source = "usual housing of this series, by pins and pitch"
                body = Body(long, series.width_mm, series.height_mm, source, estimated=True, terminals="none")
                return Named(body, kind="connector")
    if re.search(r"VERTICAL|PLUG|(?<!FE)MALE|TYPE-?A(?![A-Z])", name) or sizes_mm(name, bare=False) is not None:
        return None
    if _USB.search(name) and not _MAKERS_OWN.search(name):
        if "MINI" in name:
            return Named(Body(7.7, 9.2, 3.9, "usual mini-B receptacle", estimated=True), kind="connector")
        if "MICRO" in name:
            return Named(Body(7.5, 5.5, 2.5, "usual micro-B receptacle", estimated=True), kind="connector")
        return Named(Body(8.94, 7.3, 3.2, "usual USB-C receptacle", estimated=True), kind="connector")
    if re.search(r"BARREL[-_ ]?JACK|DC[-_ ]?JACK|(?:^|[_\- ])PWRJ", name):
        return Named(Body(14.5, 9.0, 11.0, "usual DC barrel jack", estimated=True), kind="connector")
    if re.search(r"(?:^|[_\- ])U\.?FL(?=$|[_\- ])", name) and "MMCX" not in name:
        return Named(Body(2.9, 3.0, 1.25, "usual miniature coaxial receptacle", estimated=True), kind="connector")
    return None


def _pin_rows(name: str) -> Named | None:
    """A block of one pitch a pin: 2.5 mm high under pins, 8.5 mm as a socket (from memory)."""
    match = _ROWS.search(name) or _ROUND_PINS.search(name)
    if match is None or _NO_BLOCK.search(name) or (_PIN_WORDS.search(name) is None and match.re is _ROWS):
        return None
    rows, count = int(match["rows"]), int(match["count"])
    found = _PITCH.search(name)
    if found is None:
        pitch = labelled_mm(name, "P") or 2.54
    else:
        told = found["pitch"] or found["bare"] or found["free"]
        hundredths = found["hundredths"] or {"50": "127"}.get(found["mil"], "254")
        pitch = float(told) if told else int(hundredths) / 100
    if count < 1 or not 1.0 <= pitch <= 2.6:
        return None
    pitch = 2.54 if abs(pitch - 2.54) < 0.05 else pitch
    socket = "SOCKET" in name or "FEMALE" in name
    height = (8.5 if socket else 2.5) if pitch == 2.54 else None
    one_row, each_further = _WIDTH_MM.get(("socket" if socket else "header", pitch), (pitch, pitch))
    width = round(one_row + (rows - 1) * each_further, 2)
    if socket and "SMD" in name:
        width = max(width, 2.5)  # feet bent to either side of a contact need that much (common practice)
    source = "pin rows and pitch in the package name"
    body = Body(width, count * pitch, height, source, estimated=pitch != 2.54, terminals="none")
    return Named(body, True, "connector")
