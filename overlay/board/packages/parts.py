"""Bodies of cans, axial parts, lamps, crystals, inductors and connectors from what their names say."""

from __future__ import annotations

import re

from overlay.board.model import Body
from overlay.board.packages.sizes import Named, cans, codes, round_body
from overlay.board.packages.words import labelled_mm, sizes_mm

DIMENSIONS = "dimensions in the package name"

_CAN = re.compile(r"(?:^|[_-])(?:CP_ELEC|C_ELEC|CAP_ELEC|CAP-ELEC|ELEC|CAPAE|ELCO|ALCAP|CP_SMD)(?=[_\-\s])")
_DISC = re.compile(r"(?:^|[_\-\s])(?:DISC|DISK)(?=[_\-\s])")
_CRYSTAL = re.compile(r"^(?:CRYSTAL|XTAL|OSC|OSCILLATOR|RESONATOR|X|Y|QUARTZ|TCXO)(?=[_\-\s\d]|$)")
_LED = re.compile(r"(?:^|[_\-\s])LED(?=[_\-\s\d]|$)|^(?:SMD|PLCC2?)[-_]?(?:5050|2835|3528|3020)")
_INDUCTOR = re.compile(r"^(?:L|IND|INDUCTOR|POWER_INDUCTOR|CHOKE)(?=[_\-\s\d])")
_SWITCH = re.compile(r"^(?:SW|TACT|SWITCH|BUTTON|KEY)(?=[_\-\s])")
_HEADER = re.compile(
    r"(?<![A-Z])PIN[_-]?(?P<kind>HEADER|SOCKET)S?[_-](?P<rows>[12])X(?P<count>\d{2})[_-]P(?P<pitch>\d\.\d+)MM"
)
_AXIAL_CODE = re.compile(
    r"(?:DIN|^|AXIAL[-_])(?P<code>0(?:204|207|309|411|414|516|617))(?:/\d+(?P<end>V)?|(?=[_\-\s]|$))"
)
_USB = re.compile(r"USB[-_ ]?(?:TYPE[-_ ]?)?C(?![A-Z])|USB[-_ ]?MICRO[-_ ]?B|MICRO[-_ ]?USB|USB[-_ ]?C[-_ ]")
_HOLDS_ANOTHER = re.compile(r"HOLDER|CLIP|SOCKET|ADAPTER")  # sizes are those of what it holds
_MECHANICAL = re.compile(
    r"^MOUNT|MOUNTING[-_ ]?HOLE|FIDUCIAL|(?:^|[_-])FID|TEST[-_ ]?P(?:OINT|AD)|LOGO|SYMBOL|NET[-_ ]?TIE|"
    r"SOLDER[-_ ]?JUMPER|SOLDERWIRE|^HOLE|TOOLING|MOUSE[-_ ]?BITE|BADGE|CARD[-_ ]?EDGE|KEEP[-_ ]?OUT"
)


def is_mechanical(name: str) -> bool:
    """Whether a normal name is that of a hole, a mark or a bare pad, which has no body."""
    return _MECHANICAL.search(name) is not None


def named_can(name: str) -> Named | None:
    """An aluminium can for surface mounting: diameter by height, or the square base's side twice."""
    if _CAN.search(name) is None:
        diameter = labelled_mm(name, "BD")
        if diameter is None or "CAP" not in name:
            return None
        return Named(round_body(diameter, labelled_mm(name, "H"), DIMENSIONS), kind="electrolytic")
    base = re.search(r"(\d+(?:\.\d+)?)X(\d+(?:\.\d+)?)(?:MM)?[_-]?H(\d+(?:\.\d+)?)", name)
    if base is not None and base[1] == base[2]:
        side, height = float(base[1]), float(base[3])
        nearest = min(cans("smd"), key=lambda can: abs((can.base_mm or 0.0) - side))
        known = abs((nearest.base_mm or 0.0) - side) <= 0.25
        body = round_body(nearest.diameter_mm if known else side, height, DIMENSIONS)
        return Named(body, kind="electrolytic")
    sizes = sizes_mm(name, bare=True)
    if sizes is not None and 2.0 <= sizes[0] <= 50.0 and 2.0 <= sizes[1] <= 100.0:
        return Named(round_body(sizes[0], sizes[1], DIMENSIONS), kind="electrolytic")
    diameter = labelled_mm(name, "D")
    if diameter is None:
        return None
    return Named(round_body(diameter, labelled_mm(name, "H"), DIMENSIONS), kind="electrolytic")


def named_radial(name: str) -> Named | None:
    """A part with leads on one side, by labelled sizes: round can, disc, or block."""
    polar = name.startswith(("CP", "CAP-TH", "CAPP", "ELCO", "C-POL"))
    if _DISC.search(name):
        length, width = labelled_mm(name, "D"), labelled_mm(name, "W")
        return None if length is None or width is None else _box(length, width, None, _first_kind(name))
    diameter = labelled_mm(name, "BD") or (labelled_mm(name, "D") if "RADIAL" in name or "ROUND" in name else None)
    if diameter is not None and not name.startswith("LED"):
        height = labelled_mm(name, "H")
        if height is None and polar:
            height = next((can.height_mm for can in cans("radial") if abs(can.diameter_mm - diameter) < 0.26), None)
        kind = "electrolytic" if polar else _first_kind(name)
        return Named(round_body(diameter, height, DIMENSIONS), kind=kind)
    if "RECT" in name or "BOX" in name or "FILM" in name:
        length, width = labelled_mm(name, "L"), labelled_mm(name, "W")
        if length is not None and width is not None:
            return _box(length, width, labelled_mm(name, "H"), "film capacitor" if name[0] == "C" else "")
    return None


def named_axial(name: str) -> Named | None:
    """A part with a lead at either end, lying (seen along its side) or on end (round from above)."""
    length, diameter = labelled_mm(name, "L"), labelled_mm(name, "BD") or labelled_mm(name, "D")
    match = _AXIAL_CODE.search(name)
    if match is not None and ("/" in match[0] or "AXIAL" in name or "DIN" in match[0]):
        source = f"axial size {match['code']} (DIN)"
        code_length, code_diameter, _ = codes("axial")[match["code"]]
        length, diameter = length or code_length, diameter or code_diameter
    elif "AXIAL" not in name and (labelled_mm(name, "BD") is None or labelled_mm(name, "W") is not None):
        return None
    else:
        source = DIMENSIONS
    if length is None or diameter is None:
        return None
    if "VERTICAL" in name or (match is not None and match["end"]):
        return Named(round_body(diameter, None, source), kind=_first_kind(name))
    return Named(Body(length, diameter, diameter, source, terminals="none"), kind=_first_kind(name))


def named_led(name: str) -> Named | None:
    """A lamp by its diameter or by a size code of lamps (chip codes are read elsewhere)."""
    if _LED.search(name) is None:
        return None
    if "HORIZONTAL" in name or "SIDE" in name:
        return None  # lies beside its leads: where, the name does not say
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        return _box(*sizes, "led")
    diameter = labelled_mm(name, "BD") or labelled_mm(name, "D")
    if diameter is None and (match := re.search(r"(?:^|[_\-\s]|LED)(3|5|8|10)(?:\.0)?MM(?:$|[_\-\s])", name)):
        diameter = float(match[1])
    if diameter is not None:
        # the dome, not the rim that lies low on the board, is what is seen; usual heights from memory
        height = labelled_mm(name, "H") or {3.0: 5.3, 5.0: 8.7}.get(diameter)
        return Named(round_body(diameter, height, DIMENSIONS), kind="led")
    return _coded(name, "led", "lamp size code")


def named_crystal(name: str) -> Named | None:
    """A crystal or oscillator by sizes, else by its metric size code."""
    if _CRYSTAL.search(name) is None:
        return None
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        return _box(*sizes, "crystal")
    return _labelled(name, "crystal") or _coded(name, "crystal", "crystal size code")


def named_inductor(name: str) -> Named | None:
    """A power inductor by sizes in its name; makers' series names tell nothing here."""
    if _INDUCTOR.search(name) is None:
        return None
    sizes = sizes_mm(name, bare=True)
    if sizes is not None:
        return Named(Body(*sizes, DIMENSIONS), kind="inductor")
    return _labelled(name, "inductor")


def named_connector(name: str) -> Named | None:
    """A pin header by rows, pins and pitch; common USB sockets and the barrel jack by usual sizes."""
    if match := _HEADER.search(name):
        if "HORIZONTAL" in name:
            return None
        pitch, rows, count = float(match["pitch"]), int(match["rows"]), int(match["count"])
        # the insulator is a block of one pitch a pin; 2.5 mm high under pins, 8.5 mm as a socket (from memory)
        height = (8.5 if match["kind"] == "SOCKET" else 2.5) if pitch == 2.54 else None
        if count == 0:
            return None
        source = "pin rows and pitch in the package name"
        body = Body(rows * pitch, count * pitch, height, source, estimated=pitch != 2.54, terminals="none")
        return Named(body, True, "connector")
    if re.search(r"VERTICAL|PLUG|MALE", name) or sizes_mm(name, bare=False) is not None:
        return None
    if _USB.search(name):
        if "MICRO" in name:
            return Named(Body(7.5, 5.5, 2.5, "usual micro-B receptacle", estimated=True), kind="connector")
        return Named(Body(8.94, 7.3, 3.2, "usual USB-C receptacle", estimated=True), kind="connector")
    if re.search(r"BARREL[-_ ]?JACK|DC[-_ ]?JACK", name):
        return Named(Body(14.5, 9.0, 11.0, "usual DC barrel jack", estimated=True), kind="connector")
    return None


def named_switch(name: str) -> Named | None:
    """A switch by sizes in its name."""
    sizes = sizes_mm(name, bare=True) if _SWITCH.search(name) else None
    return None if sizes is None else _box(*sizes, "switch")


def named_by_sizes(name: str) -> Named | None:
    """Any other name that states ``WxL(xH)mm``, or labelled length and width."""
    if _HOLDS_ANOTHER.search(name):
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


def _box(x_mm: float, y_mm: float, height_mm: float | None, kind: str) -> Named:
    return Named(Body(x_mm, y_mm, height_mm, DIMENSIONS, terminals="none"), kind=kind)


def _coded(name: str, family: str, words: str) -> Named | None:
    for code, (x_mm, y_mm, height_mm) in codes(family).items():
        if re.search(rf"(?<!\d){code}(?!\d)", name):
            return Named(Body(x_mm, y_mm, height_mm, f"{words} {code}", terminals="none"), kind=family)
    return None


def _first_kind(name: str) -> str:
    letter = re.match(r"[A-Z]+", name)
    return {"R": "resistor", "C": "capacitor", "L": "inductor", "D": "diode", "RV": "resistor", "F": "fuse"}.get(
        letter[0] if letter else "", ""
    )
