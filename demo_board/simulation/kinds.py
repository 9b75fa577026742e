"""The kinds of boards that the simulation can make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """What boards of one kind have in common; ``recipe`` is (letter, package, how many)."""

    name: str
    size_mm: tuple[float, float]
    shape_px: tuple[int, int]
    mm_per_px: float
    recipe: tuple[tuple[str, str, int], ...]
    sources: int
    sides: tuple[str, ...] = ("top",)
    hfov_deg: float = 25.0
    tilt_deg: float = 6.0
    gap_mm: float = 0.5
    blur_told: bool = True
    tall_sources: bool = False
    lobes: bool = True


SMALL = (("R", "R0402", 1), ("C", "C0402", 1), ("R", "R0603", 1), ("C", "C0603", 1))


def _times(factors: Sequence[int], *more: tuple[str, str, int]) -> tuple[tuple[str, str, int], ...]:
    return tuple((a, b, n * k) for (a, b, n), k in zip(SMALL, factors, strict=True)) + more


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "digital", (76, 56), (240, 320), 0.30,
            _times((16, 22, 6, 4), ("U", "LQFP-64", 1), ("U", "QFN50P500X500X100-33", 2), ("U", "TSSOP-16", 1),
                   ("Y", "XTAL-3225", 1), ("U", "SOT-23-5", 2), ("C", "C0805", 4)), 9,
        ),
        Kind(
            "power", (100, 70), (240, 320), 0.38,
            _times((4, 4, 8, 6), ("L", "IND-1265", 1), ("C", "RADIAL-10X12", 3), ("K", "RELAY-15X10", 1),
                   ("Q", "TO-252", 3), ("D", "SMB", 2), ("D", "SMA", 2), ("C", "CAN-8X10", 2), ("R", "R2512", 2),
                   ("R", "R1206", 4), ("R", "R0805", 5), ("C", "C1206", 4), ("U", "SOIC-8", 2), ("J", "TERM-2P", 1)),
            10, tilt_deg=8.0,
        ),
        Kind(
            "mixed", (90, 64), (240, 320), 0.36,
            _times((8, 8, 10, 10), ("U", "SOIC-8", 3), ("U", "SOIC-16", 1), ("U", "TSSOP-16", 2), ("U", "LQFP-48", 1),
                   ("Q", "SOT-23", 5), ("U", "SOT-23-5", 3), ("U", "SOT-223", 1), ("R", "R0805", 6), ("C", "C0805", 5),
                   ("C", "TANT-7343", 2), ("Y", "XTAL-3225", 1), ("U", "SHIELD-22X16", 1)), 11, blur_told=False,
        ),
        Kind(
            "led", (150, 24), (240, 320), 0.52,
            _times((2, 2, 4, 4), ("D", "LED-2835", 24), ("R", "R1206", 6), ("Q", "SOT-23", 2), ("U", "SOIC-8", 1)), 28,
        ),
        Kind(
            "coarse", (96, 66), (120, 160), 0.80,
            _times((4, 4, 14, 15), ("R", "R0805", 6), ("R", "R1206", 5), ("R", "R2512", 2), ("U", "SOIC-8", 3),
                   ("U", "LQFP-64", 1), ("L", "IND-8040", 1), ("D", "SMB", 2), ("Q", "TO-252", 1),
                   ("C", "CAN-6X8", 2)), 9,
        ),
        Kind(
            "fine", (96, 68), (480, 640), 0.17,
            _times((14, 16, 8, 6), ("R", "R0805", 4), ("R", "R1206", 3), ("U", "SOIC-8", 2), ("U", "LQFP-48", 1),
                   ("Q", "SOT-23", 3), ("D", "SMA", 2), ("L", "IND-4018", 2), ("C", "C0805", 4)), 12,
        ),
        Kind(
            "two sides", (84, 60), (240, 320), 0.34,
            _times((16, 16, 12, 10), ("R", "R0805", 6), ("R", "R1206", 5), ("U", "SOIC-8", 4), ("U", "TSSOP-16", 2),
                   ("D", "SMA", 3), ("L", "IND-4018", 2), ("C", "TANT-7343", 2), ("Q", "SOT-23", 4)), 14,
            sides=("top", "bottom"),
        ),
        Kind(
            "tilted", (100, 76), (240, 320), 0.40,
            _times((6, 6, 12, 12), ("L", "IND-1265", 3), ("L", "IND-8040", 3), ("C", "RADIAL-10X12", 4),
                   ("K", "RELAY-15X10", 2), ("J", "TERM-2P", 1), ("C", "TANT-7343", 2), ("R", "R1206", 4),
                   ("R", "R0805", 3)), 9, hfov_deg=45.0, tilt_deg=15.0, gap_mm=1.0, tall_sources=True,
        ),
        Kind(
            "crowded", (104, 78), (480, 640), 0.17,
            _times((170, 190, 70, 70), ("R", "R0805", 20), ("C", "C0805", 20), ("U", "SOIC-8", 8), ("U", "LQFP-64", 2),
                   ("U", "TSSOP-16", 6), ("Q", "SOT-23", 20), ("U", "SOT-23-5", 10), ("D", "SMA", 6),
                   ("L", "IND-4018", 4), ("Y", "XTAL-3225", 2), ("C", "CAN-6X8", 2)), 30, gap_mm=0.35,
        ),
        Kind(
            "small", (60, 44), (120, 160), 0.45,
            _times((2, 2, 4, 4), ("R", "R0805", 3), ("R", "R1206", 3), ("U", "SOIC-8", 2), ("D", "SMA", 2),
                   ("U", "LQFP-48", 1), ("Y", "XTAL-3225", 1)), 6,
        ),
    )
}  # fmt: skip
