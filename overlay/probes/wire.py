"""What a thermocouple's wire draws off, and how far it may be wrong.

Each leg is a long fin: heat ``G · rise`` leaves through ``G = (π/2)·√(h·k·d³)`` (straight-fin conduction, any
heat-transfer text), which lowers the part by ``rise · G/(G + 1/R_th)``.
"""

from __future__ import annotations

import math

from overlay.board.model import Component

# Film coefficient about a thin wire, W/(m² K) (common practice for still air).
_FILM_W_PER_M2K = 50.0
# Conductivity of the two legs, W/(m K): ROHM TechWeb, thermal-design articles, thermocouple types (2023).
_LEGS_W_PER_MK = {"K": (19.0, 30.0), "T": (385.0, 19.0)}
# Limits of error, °C and share of the reading: IEC 60584-1, classes 1 and 2 (the greater applies).
_TOLERANCES = {"K1": (1.5, 0.004), "K2": (2.5, 0.0075), "T1": (0.5, 0.004), "T2": (1.0, 0.0075)}
# Thermal resistance of chip resistors to their surroundings by their longer side, K/W: thin-film chip resistor
# datasheet ratings (0402 870, 0603 550, 0805 440, 1206 220, 1210 170, 2010 140, 2512 110).
_CHIP_K_PER_W = ((1.0, 870.0), (1.6, 550.0), (2.0, 440.0), (3.2, 220.0), (5.0, 140.0), (6.35, 110.0))


def wire_diameter_mm(awg: int) -> float:
    """Diameter of a wire of that gauge (ASTM B258: 0.127 mm · 92^((36 − n)/39), from memory)."""
    return float(0.127 * 92.0 ** ((36 - awg) / 39.0))


def fin_conductance_w_per_k(diameter_mm: float, kind: str = "K") -> float:
    """Heat that both legs of a thermocouple carry off, in W for each kelvin of rise."""
    diameter_m = diameter_mm / 1000.0
    legs = _LEGS_W_PER_MK[kind]
    return sum(math.pi / 2.0 * math.sqrt(_FILM_W_PER_M2K * k * diameter_m**3) for k in legs)


def wire_error_share(diameter_mm: float, resistance_k_per_w: float, kind: str = "K") -> float:
    """Share of a part's rise that the wire takes away, 0…1."""
    conductance = fin_conductance_w_per_k(diameter_mm, kind)
    return conductance / (conductance + 1.0 / resistance_k_per_w)


def part_wire_share(part: Component, rise_k: float, diameter_mm: float) -> float:
    """Share of a part's rise that a type K wire of that diameter takes away, 0…1; an unknown body counts as a 1206."""
    body, rating = part.body, part.rating
    sides = (3.2, 1.6) if body is None else (body.length_mm, body.width_mm)
    power = None if rating is None else rating.power_w
    return wire_error_share(diameter_mm, part_resistance_k_per_w(max(sides), min(sides), rise_k, power))


def tolerance_c(thermocouple: str, temperature_c: float) -> float:
    """Limits of error of a thermocouple class (``K1``, ``K2``, ``T1``, ``T2``), in °C."""
    fixed, share = _TOLERANCES[thermocouple]
    return max(fixed, share * abs(temperature_c))


def class_u_c(thermocouple: str, temperature_c: float) -> float:
    """Standard uncertainty that a thermocouple's class allows it: limits of error are rectangular, a/√3."""
    return tolerance_c(thermocouple, temperature_c) / math.sqrt(3.0)


def thermocouple_classes() -> tuple[str, ...]:
    """The classes `tolerance_c` knows."""
    return tuple(_TOLERANCES)


def part_resistance_k_per_w(longer_mm: float, shorter_mm: float, rise_k: float | None, power_w: float | None) -> float:
    """Thermal resistance of a part to its surroundings, in K/W.

    From its own rise and power where both are known (neighbours' heat makes that too high, which is the safe
    side), else from its size: chip resistors' published values, falling with the area for larger bodies.
    """
    if rise_k is not None and power_w is not None and rise_k > 1.0 and power_w > 0.0:
        return rise_k / power_w
    sizes, values = zip(*_CHIP_K_PER_W, strict=True)
    if longer_mm <= sizes[-1]:
        at = [math.log(size) for size in sizes]
        where = math.log(max(longer_mm, sizes[0]))
        index = next((i for i in range(1, len(at)) if where <= at[i]), len(at) - 1)
        share = (where - at[index - 1]) / (at[index] - at[index - 1])
        return float(math.exp((1 - share) * math.log(values[index - 1]) + share * math.log(values[index])))
    return float(values[-1] * min(1.0, sizes[-1] * 3.2 / max(longer_mm * shorter_mm, 1e-6)) ** 0.5)
