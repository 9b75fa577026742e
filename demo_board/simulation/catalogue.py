"""Kinds of parts as the simulation builds them, and a layout that puts them on a board without overlaps.

Body sizes are nominal ones of the trade (JEDEC MS-012, MS-013, MS-026, MO-153, MO-178; EIA chip codes); resistances
to the board and shares of metal are plausible values of our own.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy import ndimage

from demo_board.simulation.world import Array, Board, Part

# package → (size at 0°: x, y, height; K/W to the board; further fields of Part)
PACKAGES: dict[str, tuple[tuple[float, float, float], float, dict[str, Any]]] = {
    "R0402": ((1.0, 0.5, 0.35), 250, {"cap_share": 0.21, "toe_mm": 0.28, "inner_share": 0.4, "emissivity": 0.89}),
    "R0603": ((1.6, 0.8, 0.45), 180, {"cap_share": 0.20, "toe_mm": 0.35, "inner_share": 0.4, "emissivity": 0.89}),
    "R0805": ((2.0, 1.25, 0.55), 130, {"cap_share": 0.19, "toe_mm": 0.40, "inner_share": 0.4, "emissivity": 0.89}),
    "R1206": ((3.2, 1.6, 0.55), 90, {"cap_share": 0.15, "toe_mm": 0.45, "inner_share": 0.4, "emissivity": 0.89}),
    "R2512": ((6.35, 3.2, 0.6), 40, {"cap_share": 0.10, "toe_mm": 0.55, "inner_share": 0.45, "emissivity": 0.89}),
    "C0402": ((1.0, 0.5, 0.5), 95, {"cap_share": 0.24, "toe_mm": 0.28, "inner_share": 0.3, "emissivity": 0.85}),
    "C0603": ((1.6, 0.8, 0.8), 70, {"cap_share": 0.22, "toe_mm": 0.35, "inner_share": 0.3, "emissivity": 0.85}),
    "C0805": ((2.0, 1.25, 1.0), 50, {"cap_share": 0.22, "toe_mm": 0.40, "inner_share": 0.3, "emissivity": 0.85}),
    "C1206": ((3.2, 1.6, 1.6), 36, {"cap_share": 0.18, "toe_mm": 0.45, "inner_share": 0.3, "emissivity": 0.85}),
    "C1210": ((3.2, 2.5, 2.0), 30, {"cap_share": 0.18, "toe_mm": 0.45, "inner_share": 0.3, "emissivity": 0.85}),
    "LED0603": ((1.6, 0.8, 0.6), 90, {"cap_share": 0.18, "toe_mm": 0.35, "emissivity": 0.92}),
    "LED-2835": ((3.5, 2.8, 0.8), 14, {"die": (0.0, 0.0, 0.2, 0.2), "inner_share": 0.3, "emissivity": 0.92}),
    "SMA": ((4.3, 2.6, 2.4), 30, {"leads": "x", "lead_mm": 0.5, "lead_share": 0.6, "lead_pitch_mm": 2.6}),
    "SMB": ((4.3, 3.6, 2.3), 25, {"leads": "x", "lead_mm": 0.6, "lead_share": 0.6, "lead_pitch_mm": 3.6}),
    "SOT-23": ((1.3, 2.9, 1.1), 90, {"leads": "x", "lead_mm": 0.55, "lead_share": 0.35, "lead_pitch_mm": 1.2}),
    "SOT-23-5": ((1.6, 2.9, 1.3), 75, {"leads": "x", "lead_mm": 0.6, "lead_share": 0.42, "lead_pitch_mm": 0.95}),
    "SOT-223": ((3.5, 6.5, 1.7), 20, {"leads": "x", "lead_mm": 1.7, "lead_share": 0.4, "lead_pitch_mm": 2.3}),
    "TO-252": ((6.54, 6.1, 2.3), 12, {"leads": "y", "lead_mm": 1.8, "lead_share": 0.5, "lead_pitch_mm": 3.2}),
    "SOIC-8": ((3.9, 4.9, 1.65), 42, {"leads": "x", "lead_mm": 1.05, "lead_share": 0.33, "lead_pitch_mm": 1.27}),
    "SOIC-16": ((3.9, 9.9, 1.65), 22, {"leads": "x", "lead_mm": 1.05, "lead_share": 0.33, "lead_pitch_mm": 1.27}),
    "TSSOP-16": ((4.4, 5.0, 1.1), 30, {"leads": "x", "lead_mm": 1.0, "lead_share": 0.4, "lead_pitch_mm": 0.65}),
    "LQFP-48": ((7.0, 7.0, 1.5), 18, {"leads": "xy", "lead_mm": 1.0, "lead_share": 0.45, "lead_pitch_mm": 0.5}),
    "LQFP-64": ((10.0, 10.0, 1.5), 16, {"leads": "xy", "lead_mm": 1.0, "lead_share": 0.45, "lead_pitch_mm": 0.5}),
    "LQFP-144": ((20.0, 20.0, 1.5), 12, {"leads": "xy", "lead_mm": 1.0, "lead_share": 0.45, "lead_pitch_mm": 0.5}),
    "QFN50P500X500X100-33": ((5.0, 5.0, 0.9), 8, {}),
    "IND-4018": ((4.0, 4.0, 1.8), 30, {"emissivity": 0.9}),
    "IND-8040": ((8.0, 8.0, 4.0), 36, {"emissivity": 0.9}),
    "IND-1265": ((12.4, 12.4, 6.5), 10, {"emissivity": 0.9}),
    "CAN-6X8": ((6.3, 6.3, 7.7), 45, {"round": True, "emissivity": 0.08, "wall_emissivity": 0.1}),
    "CAN-8X10": ((8.0, 8.0, 10.2), 35, {"round": True, "emissivity": 0.08, "wall_emissivity": 0.1}),
    "RADIAL-10X12": ((10.0, 10.0, 12.5), 30, {"round": True, "emissivity": 0.92}),
    "TANT-7343": ((7.3, 4.3, 2.9), 20, {"emissivity": 0.93}),
    "XTAL-3225": ((3.2, 2.5, 0.8), 40, {"emissivity": 0.08}),
    "SHIELD-22X16": ((22.0, 16.0, 3.0), 6, {"emissivity": 0.08, "wall_emissivity": 0.1}),
    "TERM-2P": ((10.0, 8.2, 10.0), 40, {"emissivity": 0.92}),
    "HDR-1X6": ((15.2, 2.5, 8.5), 60, {"emissivity": 0.93}),
    "RELAY-15X10": ((15.0, 10.0, 10.0), 25, {"emissivity": 0.93}),
    "FUSE-2410": ((6.1, 2.5, 2.1), 30, {"cap_share": 0.15, "toe_mm": 0.5, "inner_share": 0.3, "emissivity": 0.88}),
    "COAX-3": ((3.0, 3.0, 1.4), 40, {"emissivity": 0.08}),
}
KINDS = {
    "R": "resistor", "C": "capacitor", "L": "inductor", "D": "diode", "Q": "transistor", "U": "ic", "Y": "crystal",
    "J": "connector", "F": "fuse", "K": "relay",
}  # fmt: skip


def _deft(package: str) -> dict[str, Any]:
    size, to_board, more = PACKAGES[package]
    fields: dict[str, Any] = {"size_mm": size, "to_board_k_per_w": float(to_board), "emissivity": 0.94}
    return fields | more


def build(
    refdes: str, package: str, at_mm: tuple[float, float], rotation_deg: float = 0.0, side: str = "top", **more: Any
) -> Part:
    """A part of the catalogue at a place; ``more`` overrides any of its fields."""
    kind = KINDS.get(refdes.rstrip("0123456789"), "")
    return Part(refdes, package, at_mm, rotation_deg, side, **({"kind": kind} | _deft(package) | more))


class Layout:
    """Free room on both sides of a board, in cells of a quarter of a millimetre."""

    CELL = 0.25

    def __init__(self, board: Board, rim_mm: float = 1.2) -> None:
        self.board, self.parts = board, list[Part]()
        rows, cols = round(board.height_mm / self.CELL), round(board.width_mm / self.CELL)
        self.x = board.origin_mm[0] + (np.arange(cols) + 0.5) * self.CELL
        self.y = board.origin_mm[1] + (np.arange(rows) + 0.5) * self.CELL
        gx, gy = np.meshgrid(self.x, self.y)
        blocked = ~board.inside(gx, gy)
        reach = ndimage.distance_transform_edt(np.pad(~blocked, 1))[1:-1, 1:-1] * self.CELL
        self.taken = dict.fromkeys(("top", "bottom"), reach < rim_mm)

    def reach_mm(self, part: Part, gap_mm: float) -> Array:
        """Half extents of what a part occupies, leads and pads included, (2,)."""
        out = np.array([part.toe_mm, 0.0])
        out += part.lead_mm * np.array(["x" in part.leads, "y" in part.leads])
        half = np.array(part.size_mm[:2]) / 2 + out
        return np.abs(part.axes().T) @ half + gap_mm / 2

    def add(self, part: Part, gap_mm: float = 0.5, *, exact: bool = False) -> Part | None:
        """Put a part at the free place nearest to where it wants to be; None where none is left."""
        half = self.reach_mm(part, gap_mm)
        taken = self.taken[part.side]
        at = np.asarray(part.center_mm)
        if not exact:
            count = np.pad(np.cumsum(np.cumsum(taken, axis=0), axis=1), ((1, 0), (1, 0)))
            nx, ny = (min(int(np.ceil(2 * h / self.CELL)), n) for h, n in zip(half, taken.T.shape, strict=True))
            inside = count[ny:, nx:] - count[:-ny, nx:] - count[ny:, :-nx] + count[:-ny, :-nx]
            free = inside == 0
            if not free.any():
                return None
            cx, cy = (
                self.x[: free.shape[1]] + (nx - 1) * self.CELL / 2,
                self.y[: free.shape[0]] + (ny - 1) * self.CELL / 2,
            )
            far = np.hypot(cx[None, :] - at[0], cy[:, None] - at[1])
            i, j = np.unravel_index(np.argmin(np.where(free, far, np.inf)), free.shape)
            at = np.array([cx[j], cy[i]])
        placed = Part(**{**vars(part), "center_mm": (round(float(at[0]), 3), round(float(at[1]), 3))})
        rows = np.abs(self.y - at[1]) < half[1]
        cols = np.abs(self.x - at[0]) < half[0]
        taken[np.ix_(rows, cols)] = True
        self.parts.append(placed)
        return placed
