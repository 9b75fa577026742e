"""What a fit of the heat has to go by: bodies with their temperature, and places of bare board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, read_only


@dataclass(frozen=True, slots=True)
class SeenBody:
    """A part whose temperature was read in one state."""

    refdes: str
    center_mm: tuple[float, float]
    size_mm: tuple[float, float]  # along its own axes
    turn_deg: float
    height_mm: float
    rise_k: float  # mean of its top face over ambient
    u_k: float  # standard uncertainty, without what the frame shares

    @property
    def surface_m2(self) -> float:
        """Top and walls."""
        length, width = self.size_mm
        return (length * width + 2.0 * (length + width) * self.height_mm) * 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class SeenState:
    """One state of load as its captures show it: one, or one of either side."""

    captures: tuple[str, ...]
    bodies: tuple[SeenBody, ...]
    places_mm: Array  # (n, 2) of bare board
    rise_k: Array  # (n,)
    ambient_c: float
    input_power_w: float | None = None
    input_power_u_w: float = 0.0

    def __post_init__(self) -> None:
        read_only(self)

    def beneath_k(self, bodies: Sequence[SeenBody]) -> Array:
        """Rise (n,) of the bare board around bodies."""
        return self.board_k(np.array([body.center_mm for body in bodies]), nearest=8) if bodies else np.zeros(0)

    def board_k(self, at_mm: Array, nearest: int) -> Array:
        """Rise (n,) of the bare board at places (n, 2): the mean of so many ``nearest`` places that are seen."""
        from scipy.spatial import cKDTree

        tree = cKDTree(self.places_mm, compact_nodes=False, balanced_tree=False)  # asked only once: built fast
        _, near = tree.query(at_mm, k=range(1, min(nearest, len(self.places_mm)) + 1))
        return np.asarray(self.rise_k[near].mean(axis=1))


def film_w_per_m2k(rise_k: Array, length_m: float, ambient_c: float, *, faces: int) -> Array:
    """Coefficient of free convection and radiation of a level surface, both faces together or the upper alone.

    Laminar free convection 1.32·(ΔT/L)^¼ over a warm plate and 0.59·(ΔT/L)^¼ under one (simplified equations for air at
    one atmosphere: Holman, Heat Transfer, ch. 7, from memory); radiation 4·ε·σ·T³ with ε = 0.9 (common practice).
    """
    rise = np.maximum(rise_k, 1.0)
    kelvin = ambient_c + 273.15 + 0.5 * rise
    radiation = 4.0 * 0.9 * 5.670374419e-8 * kelvin**3
    convection = 1.32 + (0.59 if faces == 2 else 0.0)
    return np.asarray(convection * (rise / length_m) ** 0.25 + faces * radiation)
