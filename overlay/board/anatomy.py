"""What of a package is body and what is metal: end caps, bare pads, leads. Told here, once, for all who ask.

A chip's caps lie inside its box and its pads beyond them; the leads of a gull-wing package lie outside. All of them
mirror the room. Figures without another source are common practice; their spread from maker to maker is told beside
them, so that whoever reads temperatures can carry it.
"""

from __future__ import annotations

from overlay.board.model import Component, Terminals

PLACEMENT_U_MM = 0.06
"""Place of one part on its board against the placement, along either axis (machine-placed parts, common practice)."""

CAP_SHARE, CAP_SHARE_U = 0.22, 0.03
"""Length of one metal end over the chip's: a fifth to a quarter, and how much one size code differs from the rest."""

LEAD_MM = 0.95
"""How far leads reach beyond a gull-wing body: 1.0 mm for SOIC, TSSOP and QFP (half of span less width in JEDEC
MS-012, MO-153, MS-026), 0.5 mm for SOT-23 and SOD-123."""

TOE_MM = 0.25
"""Land beyond the tip of a lead: toes of land patterns are 0.2 to 0.6 mm (IPC-7351, from memory)."""

_LONGEST_PAD_MM = 0.6  # bare solder beyond the end of a large chip (IPC-7351 toes, from memory)
_LONGEST_CHIP_MM = 7.2
"""Longer two-terminal parts (size 2816 and beyond) are wound or moulded: they have no caps."""

_TWO_TERMINAL = ("resistor", "capacitor", "inductor", "fuse", "thermistor", "diode", "led")
_LEAST_ASPECT = 1.15
"""A body of unknown metal that is hardly longer than wide does not tell which sides are its ends."""


def pad_mm(length_mm: float) -> float:
    """Bare pad beyond the end of a chip: 0.25 mm for an 0402, some 0.5 mm for a 2512 (IPC-7351 toe, from memory)."""
    return min(_LONGEST_PAD_MM, 0.18 + 0.07 * length_mm)


def terminals_of(component: Component) -> Terminals:
    """Where a component shows metal; for boxes that do not tell, two-terminal kinds of a chip's size have ends."""
    body = component.body
    if body is None:
        return "none"
    if body.terminals != "unknown":
        return body.terminals
    longest, shortest = max(body.length_mm, body.width_mm), min(body.length_mm, body.width_mm)
    chip = component.kind in _TWO_TERMINAL and longest <= _LONGEST_CHIP_MM and longest >= _LEAST_ASPECT * shortest
    return "ends" if chip and body.shape == "box" else "none"


def cap_mm(component: Component) -> float:
    """Length of one metal end inside the body, 0 where it has none."""
    if component.body is None or terminals_of(component) != "ends":
        return 0.0
    return CAP_SHARE * component.body.length_mm


def leads_mm(component: Component) -> tuple[float, float]:
    """How far leads reach beyond the body along the package's x and y axis, 0 where there are none."""
    terminals = terminals_of(component)
    return (
        LEAD_MM if terminals in ("leads_x", "leads_all") else 0.0,
        LEAD_MM if terminals in ("leads_y", "leads_all") else 0.0,
    )


def skirt_mm(component: Component) -> float:
    """How far metal may reach beyond the body: pads or leads with their lands; 0 where none is known of."""
    body = component.body
    if body is None or body.terminals in ("none", "unknown"):
        return 0.0
    return _LONGEST_PAD_MM if body.terminals == "ends" else LEAD_MM + TOE_MM


def skirt_at_most_mm(component: Component) -> float:
    """Metal that even a body of unknown terminals may have around it; 0 where it is known to have none."""
    body = component.body
    return 0.0 if body is None or body.terminals == "none" else _LONGEST_PAD_MM
