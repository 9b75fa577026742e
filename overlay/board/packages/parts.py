"""Bodies of crystals, coils, trimmers, switches and connectors from what their names say."""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, codes
from overlay.board.packages.words import DIMENSIONS, labelled_mm, sizes_mm

_CRYSTAL = re.compile(
    r"(?:^|[_\- ])(?:CRYSTAL|XTAL|OSC|OSCILLATOR|RESONATOR|QUARTZ|TCXO|WE-XTAL|NDK|ABRACON|TXC|EPSON)(?=[_\-\s\d]|$)|"
    r"^[XY]\d?(?=[_\-\s]|\d{4})"
)
# series of wound parts whose digits are the edge and the height (makers' own, from memory)
_COIL_SERIES = re.compile(
    r"(?:^|[_\- ])(?:SRR|SRP|SRN|SRU|SDR|NRS?|NRH|FNR|SWPA|MWSA|XFL|XAL|XEL|LPS|MSS|MSD|LQS|PD|PDA|PDF|HCI|HCC|"
    r"HCF|TPC|MAPI|"
    r"LHMI|XHMI|SPC|VLS|VLF|VLCF|SLF|CLF|LTF|RLF|SPM|CDRH|IND|MD|SMNR|DFE|FDSD|FDV|FDVE|FXL|ANR|AWPR|CKCS|"
    r"PSPMAA|ASPI|MPI|"
    r"HPI|HTQ|HNR|SHP|SPI|YNR|WPN|LVS|LVF|DJNR|BWVS|CYA|SWRB|PNL|MLP|WCI|UNS?)"
    r"(?:[-_ ]?)(?P<digits>\d{3,6})(?!\d)"
)
# shielded drum cores: whole millimetres of edge and height, or the height in tenths behind D
_DRUM = re.compile(r"CDRH(?P<edge>\d)(?:D(?P<tenths>\d\d)|(?P<whole>\d)(?!\d))")
_INCH_SERIES = re.compile(r"IHLP[-_ ]?(?P<one>\d\d)(?P<two>\d\d)")  # sides in hundredths of an inch
_INDUCTOR = re.compile(r"^(?:L|IND|INDUCTOR|POWER_INDUCTOR|CHOKE)(?=[_\-\s\d])")
_SWITCH = re.compile(r"^(?:SW\d*|TACT|SWITCH|BUTTON|BTN|PB|PUSH|KEY)(?=[_\-\s])")
_HOLDS_ANOTHER = re.compile(r"HOLDER|CLIP|SOCKET|ADAPTER|FUSE-?BLOCK")  # sizes are those of what it holds
_KEY_CAP = re.compile(r"CHERRY|MX|KEYCAP|KAILH|ALPS[-_ ]MATIAS")
_MECHANICAL = re.compile(
    r"^MOUNT|MOUNTING[-_ ]?HOLE(?!S)|FIDUCIAL|(?:^|[_-])FID|TEST[-_ ]?P(?:OINT|AD)|LOGO|SYMBOL|NET[-_ ]?TIE|"
    r"SOLDER[-_ ]?JUMPER|SOLDERWIRE|^HOLE|TOOLING|MOUSE[-_ ]?BITE|BADGE|CARD[-_ ]?EDGE|KEEP[-_ ]?OUT|"
    r"STAND[-_ ]?OFF|^TP(?:[-_]|$)|(?:^|[_-])SJ(?:[-_]|$)|(?:^|-)JUMPER[-_ ]?(?:SMD[-_]\dX\d|SOLDER|"
    r"\d(?:[-_ ](?:N[CO]|PTH|0\d{3})|-0\d{3}))|"
    r"^OSHW|^WEEE|CREATIVE[-_ ]COMMONS|FAB[-_ ]?FRAME|FACEPLATE|ORDERING[-_ ]INSTR|POLARITY[-_ ](?:MARK|CENTER)|"
    r"SERIAL[-_ ]?NUMBER|"
    r"^BARCODE_|REF[-_ ]ONLY"
)


def is_mechanical(name: str) -> bool:
    """Whether a normal name is that of a hole, a mark or a bare pad, which has no body."""
    return _MECHANICAL.search(name) is not None


def named_crystal(name: str, kind: str = "") -> Named | None:
    """A crystal or oscillator by sizes (in tenths where whole numbers), else by its metric size code."""
    if _CRYSTAL.search(name) is None and kind != "crystal":
        return None
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        one, two, height = sizes
        if one.is_integer() and two.is_integer() and min(one, two) >= 12 and "MM" not in name:
            one, two = one / 10, two / 10  # no crystal is 20 × 16 mm: 2.0 × 1.6
        return Named(Body(one, two, height or 0.9, DIMENSIONS, terminals="none"), kind="crystal")
    if (labelled := _labelled(name, "crystal")) is not None:
        return labelled
    for code, (x_mm, y_mm, height_mm) in codes("crystal").items():
        if re.search(rf"(?<!\d){code}(?!\d)", name):
            return Named(Body(x_mm, y_mm, height_mm, f"crystal size code {code}", terminals="none"), kind="crystal")
    return None


def named_inductor(name: str, kind: str = "") -> Named | None:
    """A wound part by sizes in its name, or by a series whose digits are its edge and height."""
    if (inch := _INCH_SERIES.search(name)) is not None:
        one, two = (round(int(inch[side]) * 0.254 * 1.05, 2) for side in ("one", "two"))
        return Named(Body(one, two, None, "series with sides in inch", estimated=True), kind="inductor")
    if (drum := _DRUM.search(name)) is not None:
        side = int(drum["edge"]) + (0.7 if drum["tenths"] else 0.3)
        height = int(drum["tenths"]) / 10 if drum["tenths"] else int(drum["whole"]) + 0.3
        return Named(Body(side, side, height, "drum core by its series", estimated=True), kind="inductor")
    for code, (x_mm, y_mm, height_mm) in codes("drum").items():
        if re.search(rf"(?:^|[_\- ]){code}(?!\d)", name):
            return Named(Body(x_mm, y_mm, height_mm, f"drum core {code}", estimated=True), kind="inductor")
    match = _COIL_SERIES.search(name)
    if match is None and kind == "inductor":
        match = re.search(r"(?:^|[_\- ])[A-Z]{1,6}-?(?P<digits>\d{4,6})(?!\d)", name)
    if match is not None and (body := _coil(match["digits"])) is not None:
        return Named(body, kind="inductor")
    if (edge := re.search(r"(?:^|[_\- ])[A-Z]{2,4}-?(?P<edge>[2-9]\d)XX(?![A-Z]{2})", name)) is not None and name[
        0
    ] == "L":
        mm = int(edge["edge"]) / 10  # a series of one edge and several heights
        return Named(Body(mm, mm, None, "edge in the series' name", estimated=True), kind="inductor")
    if _INDUCTOR.search(name) is None and not (kind == "inductor" and "MM" in name):
        return None
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        return Named(Body(*sizes, DIMENSIONS), kind="inductor")
    return _labelled(name, "inductor")


def _coil(digits: str) -> Body | None:
    """Edge and height in a series' digits: 6045 is 6.0 × 6.0 × 4.5 mm, 1265 12 × 12 × 6.5, 201610 2.0 × 1.6 × 1.0."""
    source = "edge and height in the series' name"
    if len(digits) == 6:
        long, wide, height = (int(digits[place : place + 2]) / 10 for place in (0, 2, 4))
        fits = 1.0 <= wide <= long <= 2.5 * wide and 0.3 <= height <= 1.5 * wide
        return Body(long, wide, height, source) if fits else None
    if len(digits) == 5 and digits[0] == "1":
        edge, height = int(digits[:3]) / 10, int(digits[3:]) / 10
    elif len(digits) == 4 and digits in ("2012", "2016", "2520", "3225", "3216", "4532"):
        return Body(int(digits[:2]) / 10, int(digits[2:]) / 10, None, "sides in the series' name")
    elif len(digits) == 4:
        edge, height = int(digits[:2]) / 10, int(digits[2:]) / 10
        if digits[0] == "1" and edge < 2.0:
            edge, height = edge * 10, height if height > 1.5 else height * 10
        elif edge < 2.0:
            return None
    elif len(digits) == 3 and digits[0] == "1":
        edge, height = float(digits[:2]), float(digits[2])
    else:
        return None
    # a coil is seldom as high as it is wide, and never a sheet
    return Body(edge, edge, height, source, estimated=True) if 0.15 * edge <= height <= 1.05 * edge else None


def named_trimmer(name: str) -> Named | None:
    """A trimmer by its series and style: which side it stands on."""
    if re.search(r"TRIM|POT|BOURNS", name) is None:
        return None
    for code, (x_mm, y_mm, height_mm) in codes("trimmer").items():
        if re.search(rf"(?<!\d){code}(?![A-Z\d])", name) is not None:
            source = f"trimmer of series {code}"
            return Named(Body(x_mm, y_mm, height_mm, source, estimated=True, terminals="none"), kind="resistor")
    return None


def named_switch(name: str) -> Named | None:
    """A switch by sizes in its name."""
    sizes = sizes_mm(name, bare=True) if _SWITCH.search(name) and not _KEY_CAP.search(name) else None
    return None if sizes is None else Named(Body(*sizes, DIMENSIONS, terminals="none"), kind="switch")


def named_by_sizes(name: str) -> Named | None:
    """Any other name that states ``WxL(xH)mm``, or labelled length and width."""
    if _HOLDS_ANOTHER.search(name) or _KEY_CAP.search(name):
        return None
    sizes = sizes_mm(name, bare=False)
    if sizes is not None:
        return Named(Body(*sizes, DIMENSIONS))
    return _labelled(name, "")


def _labelled(name: str, kind: str) -> Named | None:
    length, width = labelled_mm(name, "L"), labelled_mm(name, "W")
    if length is None or width is None:
        return None
    return Named(Body(length, width, labelled_mm(name, "H"), DIMENSIONS), kind=kind)
