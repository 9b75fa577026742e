"""Whether a part's top may be bare metal: what its kind, package, value and body say.

Rules cover kinds of package, in the words that placement files and land-pattern libraries use for them (common
practice); they lean towards metal, since a mirror taken for plastic reads cold and looks safe, while a plastic part
taken for metal only asks for its finish.
"""

from __future__ import annotations

import re

from overlay.board.model import Component
from overlay.board.packages.words import normal

_START, _END = r"(?:^|[_\s-])", r"(?=[_\s-]|$)"
# Transistors and amplifiers in metal cans: outlines TO-3, TO-5, TO-18 and their kin (JEDEC Publication 95, from
# memory); a P behind the number means plastic.
_METAL_CAN = re.compile(rf"{_START}TO-?(?:3|5|8|18|39|46|52|66|71|72|78|99|100|20[4-6][A-Z]*){_END}")
_CAN = re.compile(rf"{_START}(?:METAL|CAN){_END}")
_LIDDED = re.compile(rf"LID(?:DED)?{_END}|{_START}(?:METAL|CLCC|CQFP|CPGA|FC-?C?BGA|LGA)(?=\d|[_\s-]|$)")
_SHELL = re.compile(
    rf"{_START}(?:MICRO|MINI)?-?(?:USB|HDMI|DISPLAYPORT|RJ-?\d\d|SMA|SMP|MMCX|MCX|U\.?FL|BNC|COAX|D-?SUB|D[BE]-?\d|SD|SIM|"
    rf"SFP|XLR|M12)|SHIELDED|{_START}(?:SHELL|CAGE|METAL|SD-?CARD|MICROSD|NANOSIM){_END}"
)
# Tabs, lugs and press-fit terminals are tinned brass or copper.
_TERMINAL = re.compile(rf"TAB-?UP|{_START}(?:FASTON|LUG|BLADE|BUS-?BAR|PRESS-?FIT|SPADE|CLIP){_END}")
_SHUNT = re.compile(rf"SHUNT|{_START}(?:CSR?|CURRENT-?SENSE|METAL|BUS-?BAR){_END}")
_SHUNT_BELOW_OHM = 0.01  # what carries so little resistance is a strip of metal, often bare (common practice)


def may_be_metal(component: Component) -> str:
    """What bare metal a part's top may be, in words; empty where nothing points to it."""
    name = normal(component.package)
    kind = component.kind
    if kind == "connector":
        return "the shell of a connector" if _SHELL.search(name) or _TERMINAL.search(name) else ""
    if kind == "resistor":
        ohm = ohms(component.value)
        is_shunt = bool(_SHUNT.search(name)) or (ohm is not None and 0.0 < ohm < _SHUNT_BELOW_OHM)
        return "the strip of a shunt" if is_shunt else ""
    if kind == "relay":
        body = component.body
        round_can = body is not None and body.shape == "round"
        return "the can of a relay" if round_can or _METAL_CAN.search(name) or _CAN.search(name) else ""
    if _METAL_CAN.search(name):
        return "a metal can"
    if _TERMINAL.search(name):
        return "a metal tab"
    if kind in ("ic", "regulator", "transistor", "optocoupler", "") and _LIDDED.search(name):
        return "the lid of a package"
    return ""


def ohms(value: str) -> float | None:
    """A resistance as values are written: ``R002``, ``0R005``, ``2m``, ``5 mΩ``, ``0.01``; None where it is none.

    >>> ohms("R002"), ohms("5mR"), ohms("0.01 Ω"), ohms("4k7"), ohms("1M")
    (0.002, 0.005, 0.01, None, None)
    """
    match = re.match(r"\s*(\d*)[Rr](\d+)(?![A-Za-z0-9])", value)
    if match:
        return float(f"{match[1] or 0}.{match[2]}")
    match = re.match(r"\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*(m?)\s*(?:Ω|Ohms?|ohms?|OHMS?|[Rr])?(?![A-Za-z0-9])", value)
    if match:
        return float(match[1].replace(",", ".")) * (0.001 if match[2] else 1.0)
    return None
