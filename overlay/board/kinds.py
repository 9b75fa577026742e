"""What kind of part a component is: said by the parts table, else told by its package, else by its designator."""

from __future__ import annotations

import re
from functools import lru_cache

from overlay.board.model import Component
from overlay.board.packages.names import named_package
from overlay.board.packages.parts import is_mechanical
from overlay.board.packages.words import normal

KINDS = (
    "resistor",
    "capacitor",
    "electrolytic",
    "tantalum",
    "film capacitor",
    "inductor",
    "transformer",
    "diode",
    "led",
    "transistor",
    "ic",
    "regulator",
    "crystal",
    "connector",
    "switch",
    "relay",
    "fuse",
    "thermistor",
    "optocoupler",
    "battery",
    "shield",
    "heatsink",
    "module",
    "mechanical",
)

# other words that a parts table may use for a kind
SYNONYMS = {
    "res": "resistor",
    "chip resistor": "resistor",
    "shunt": "resistor",
    "potentiometer": "resistor",
    "varistor": "resistor",
    "cap": "capacitor",
    "mlcc": "capacitor",
    "ceramic": "capacitor",
    "ceramic capacitor": "capacitor",
    "electrolytic capacitor": "electrolytic",
    "aluminium electrolytic": "electrolytic",
    "aluminum electrolytic": "electrolytic",
    "elko": "electrolytic",
    "tantalum capacitor": "tantalum",
    "film": "film capacitor",
    "foil capacitor": "film capacitor",
    "choke": "inductor",
    "coil": "inductor",
    "bead": "inductor",
    "ferrite": "inductor",
    "ferrite bead": "inductor",
    "rectifier": "diode",
    "zener": "diode",
    "tvs": "diode",
    "bridge": "diode",
    "lamp": "led",
    "mosfet": "transistor",
    "fet": "transistor",
    "bjt": "transistor",
    "igbt": "transistor",
    "integrated circuit": "ic",
    "microcontroller": "ic",
    "mcu": "ic",
    "ldo": "regulator",
    "voltage regulator": "regulator",
    "oscillator": "crystal",
    "resonator": "crystal",
    "header": "connector",
    "terminal block": "connector",
    "socket": "connector",
    "jack": "connector",
    "button": "switch",
    "ntc": "thermistor",
    "ptc": "thermistor",
    "opto": "optocoupler",
    "photocoupler": "optocoupler",
    "cell": "battery",
    "can": "shield",
    "heat sink": "heatsink",
    "heat-sink": "heatsink",
}

# class letters of reference designators: IEEE 315 / IEC 81346 usage and common practice
_LETTERS = {
    "R": "resistor",
    "RN": "resistor",
    "RA": "resistor",
    "RP": "resistor",
    "VR": "resistor",
    "RV": "resistor",
    "RS": "resistor",
    "RSH": "resistor",
    "MOV": "resistor",
    "POT": "resistor",
    "C": "capacitor",
    "CA": "capacitor",
    "CE": "electrolytic",
    "L": "inductor",
    "FB": "inductor",
    "FL": "inductor",
    "E": "",
    "T": "transformer",
    "TR": "transformer",
    "TX": "transformer",
    "D": "diode",
    "CR": "diode",
    "DZ": "diode",
    "ZD": "diode",
    "VD": "diode",
    "TVS": "diode",
    "BR": "diode",
    "DB": "diode",
    "LED": "led",
    "LD": "led",
    "DS": "led",
    "Q": "transistor",
    "VT": "transistor",
    "M": "",
    "U": "ic",
    "IC": "ic",
    "N": "ic",
    "AR": "ic",
    "VREG": "regulator",
    "REG": "regulator",
    "Y": "crystal",
    "X": "crystal",
    "XTAL": "crystal",
    "OSC": "crystal",
    "G": "crystal",
    "J": "connector",
    "P": "connector",
    "CN": "connector",
    "CON": "connector",
    "CONN": "connector",
    "JP": "connector",
    "XS": "connector",
    "XP": "connector",
    "TB": "connector",
    "H": "",
    "K": "relay",
    "RL": "relay",
    "RLY": "relay",
    "RY": "relay",
    "F": "fuse",
    "FU": "fuse",
    "PF": "fuse",
    "S": "switch",
    "SW": "switch",
    "BTN": "switch",
    "PB": "switch",
    "KEY": "switch",
    "RT": "thermistor",
    "TH": "thermistor",
    "NTC": "thermistor",
    "PTC": "thermistor",
    "OK": "optocoupler",
    "OC": "optocoupler",
    "OPT": "optocoupler",
    "PC": "optocoupler",
    "ISO": "optocoupler",
    "BT": "battery",
    "BAT": "battery",
    "SH": "shield",
    "HS": "heatsink",
    "MOD": "module",
    "FID": "mechanical",
    "TP": "mechanical",
    "MH": "mechanical",
    "MP": "mechanical",
}

_B, _E = r"(?:^|[_\- .,;/(])", r"(?=$|[_\- .,;/)\d])"  # beginning and end of a word in names and descriptions
# words that tell a kind, the particular before the general; a header for a battery is no battery
_WORDS = tuple(
    (re.compile(pattern), kind)
    for pattern, kind in (
        (r"HEAT[-_ ]?SINK|^HS(?=[_-])|K[UÜ]HLK[OÖ]RPER", "heatsink"),
        (rf"SHIELD(?!ED)|EMI[-_ ]?CAN|RF[-_ ]?CAN|{_B}SHIELDING[-_ ](?:CAN|COVER|FRAME)", "shield"),
        (
            rf"HEADER|CONNECTOR|{_B}CONN|TERMINAL[-_ ]?BLOCK|SOCKET|USB[-_ ]C|USB3|HDMI|"
            rf"{_B}(?:USB|JST|RJ45|RJ11|MOLEX|FFC|FPC|RECEPTACLE|JACK){_E}",
            "connector",
        ),
        (r"MODULE|WROOM|WROVER", "module"),
        (r"BATTERY|COIN[-_ ]?CELL|CR2032|CR1220", "battery"),
        (rf"{_B}RELAY|{_B}RELAIS", "relay"),
        (rf"TRANSFORMER|{_B}XFMR", "transformer"),
        (r"OPTO(?!N)|PHOTOCOUPLER", "optocoupler"),
        (rf"THERMISTOR|{_B}(?:NTC|PTC(?!.*FUSE)){_E}", "thermistor"),
        (rf"{_B}(?:POLY|PPTC|PTC[-_ ]RESET|RESETTABLE[-_ ])?FUSE", "fuse"),
        (rf"CRYSTAL|OSCILLATOR|{_B}(?:XTAL|TCXO|VCXO|XO|OSC){_E}|RESONATOR|{_B}QUARTZ", "crystal"),
        (
            rf"{_B}(?:SW(?=[_-])|BUTTON|SWITCH|TACT(?=[_-])|PUSH[-_ ]?BUTTON|TACTILE){_E}"
            r"(?!ING|.*(?:REG|LOAD|POWER|ANALOG))",
            "switch",
        ),
        (rf"{_B}LED(?=[_\- \d]|$)(?!.*(?:DRIVER|DRVR))", "led"),
        (
            rf"{_B}CP_ELEC|CP_RADIAL|CP_AXIAL|CAPAE|CAPPR|ELECTROLYTIC|{_B}ELKO|{_B}CAP[-_ ,]+ALU?M|"
            r"ALUMIN(?:I)?UM[-_ ]+(?:ELEC|POLY|CAP)",
            "electrolytic",
        ),
        (rf"TANTAL|{_B}CAP[-_ ,]+TANT", "tantalum"),
        (rf"{_B}CAP[-_ ,]+FILM|FILM[-_ ]+CAP", "film capacitor"),
        (rf"FERRITE|{_B}BEADS?{_E}|INDUCTOR|{_B}CHOKE", "inductor"),
    )
)

# packages in which a part named U is a regulator more often than not (common practice)
_POWER_PACKAGE = re.compile(
    r"SOT-?223|TO-?220|TO-?252|TO-?263|TO-?261|D2?PAK|DDPAK|SOT-?89|TO228P|TO254P|SOT230P|TO-?92"
)
_CAN_FROM_MM = 3.0  # a round capacitor from this height up is a can


def kind_of_refdes(refdes: str) -> str:
    """The kind that a reference designator's letters say, empty where they say none.

    >>> kind_of_refdes("R17"), kind_of_refdes("LED3"), kind_of_refdes("?")
    ('resistor', 'led', '')
    """
    match = re.match(r"[A-Z]+", refdes.strip().upper())
    return _LETTERS.get(match[0], "") if match else ""


def known_kind(text: str) -> str | None:
    """The kind that a word of the parts table means; None where it is none of `KINDS` nor a synonym."""
    word = re.sub(r"[\s_]+", " ", text.strip().lower())
    for candidate in (word, word.removesuffix("s")):
        if candidate in KINDS:
            return candidate
        if candidate in SYNONYMS:
            return SYNONYMS[candidate]
    return None


@lru_cache(maxsize=4096)
def kind_of_words(text: str) -> str:
    """The kind that words of a package's name or of a description tell; empty where none do.

    >>> kind_of_words("CRYSTAL 25MHZ 18PF SMD"), kind_of_words("CAP ALUM 100UF 20% 35V"), kind_of_words("IC MUX")
    ('crystal', 'electrolytic', '')
    """
    name = normal(text)
    return next((kind for pattern, kind in _WORDS if pattern.search(name)), "")


def kind_of(component: Component) -> str:
    """One of `KINDS`, or empty where nothing tells: parts table, else package, else designator."""
    if component.rating is not None and component.rating.kind:
        return component.rating.kind
    if component.kind in KINDS:
        return component.kind
    name = normal(component.package)
    if component.mechanical or is_mechanical(name):
        return "mechanical"
    lettered = kind_of_refdes(component.refdes)
    said = kind_of_words(component.package)
    named = named_package(component.package, lettered)
    said = said or ("" if named is None else named.kind)
    if said == "diode" and lettered in ("led", "connector", "transistor", "ic", "thermistor", "resistor"):
        said = lettered  # a diode's package holds other parts too
    if said in ("ic", "transistor") and lettered:
        said = lettered  # families of packages, not of parts: an optocoupler comes in them as well
    if said == "resistor" and lettered in ("thermistor", "fuse", "inductor"):
        said = lettered
    if said in ("", "ic") and lettered == "ic" and _POWER_PACKAGE.search(name):
        return "regulator"
    said = said or lettered
    body = component.body
    if said == "capacitor" and body is not None and body.shape == "round" and (body.height_mm or 0.0) >= _CAN_FROM_MM:
        return "electrolytic"
    return said
