"""Packages of the foreign worlds: sizes of the trade, rounded; names as placement files have them."""

from __future__ import annotations

from dataclasses import dataclass

from tests.truth.worlds.solids import Shape


@dataclass(frozen=True, slots=True)
class Package:
    """A package as it really is; heights of rods are their thickness."""

    name: str
    size_mm: tuple[float, float, float]
    letter: str
    shape: Shape = "box"
    emissivity: float = 0.93
    ends: float = 0.0  # share of the length at each end that is bare metal
    pads: bool = False
    heats: bool = True  # may make heat
    told_mm: tuple[float, float] | None = None  # length and width that a data sheet gives, where they are not the top's

    @property
    def tall(self) -> bool:
        return self.size_mm[2] > 4.0


def _chip(name: str, size: tuple[float, float, float], letter: str, emissivity: float = 0.9) -> Package:
    return Package(name, size, letter, ends=0.22, pads=True, emissivity=emissivity, heats=letter == "R")


PACKAGES = {
    package.name: package
    for package in (
        _chip("R_0402", (1.0, 0.5, 0.35), "R"),
        _chip("C_0402", (1.0, 0.5, 0.5), "C"),
        _chip("R_0603", (1.6, 0.8, 0.45), "R"),
        _chip("C_0603", (1.6, 0.8, 0.8), "C"),
        _chip("R_0805", (2.0, 1.25, 0.55), "R"),
        _chip("C_0805", (2.0, 1.25, 0.9), "C"),
        _chip("R_1206", (3.2, 1.6, 0.55), "R"),
        _chip("R_2512", (6.35, 3.2, 0.6), "R"),
        Package("SOD-123", (2.7, 1.6, 1.1), "D"),
        Package("SMB", (4.4, 3.6, 2.3), "D"),
        Package("SOT-23", (2.9, 1.3, 1.0), "Q"),
        Package("SOT-223", (6.5, 3.5, 1.6), "Q"),
        Package("TO-252", (6.6, 6.1, 2.3), "Q"),
        Package("TO-263", (10.0, 9.2, 4.5), "Q"),
        Package("TO-220_Vertical", (10.0, 4.5, 16.0), "Q"),
        Package("TO-92", (4.6, 4.6, 5.0), "Q", "cylinder"),
        Package("SOIC-8", (4.9, 3.9, 1.6), "U"),
        Package("QFN-32_5x5", (5.0, 5.0, 0.9), "U", emissivity=0.94),
        Package("LQFP-64_10x10", (10.0, 10.0, 1.5), "U", emissivity=0.94),
        Package("DIP-8_W7.62", (9.6, 6.4, 3.4), "U"),
        Package("IND_10x10", (10.2, 10.2, 5.0), "L"),
        Package("L_Drum_D8", (8.0, 8.0, 10.0), "L", "cylinder"),
        Package("XFMR_EE20", (18.0, 18.0, 17.0), "T", told_mm=(21.5, 19.5)),
        Package("RELAY_19x15", (19.0, 15.2, 15.0), "K"),
        Package("R_Axial_DIN0207_P10", (6.3, 2.4, 2.4), "R", "rod", emissivity=0.92),
        Package("R_Axial_DIN0414_P15", (11.9, 4.4, 4.4), "R", "rod", emissivity=0.92),
        Package("D_DO-41_P10", (5.2, 2.7, 2.7), "D", "rod"),
        Package("CP_Radial_D10_P5", (10.0, 10.0, 18.0), "C", "cylinder", emissivity=0.2, heats=False),
        Package("CP_Radial_D6.3_P2.5", (6.3, 6.3, 11.0), "C", "cylinder", emissivity=0.2, heats=False),
        Package("Film_18x7_P15", (18.0, 7.0, 12.5), "C", heats=False),
        Package("Terminal_2P_5.08", (10.2, 9.0, 11.0), "J", heats=False),
        Package("HDR_2x5", (12.7, 5.0, 8.6), "J", emissivity=0.92, heats=False),
        # bare metal that nothing declares
        Package("QFN-48_Lidded", (7.0, 7.0, 1.2), "U", emissivity=0.12),
        Package("LGA-40_Metal_Lid", (9.0, 9.0, 2.0), "U", emissivity=0.1),
        Package("Shunt_2512_Metal", (6.35, 3.2, 0.8), "R", emissivity=0.12),
        Package("USB_A_Receptacle", (14.0, 13.1, 7.0), "J", emissivity=0.12, heats=False),
        Package("Crystal_SMD_5032", (5.0, 3.2, 1.1), "Y", emissivity=0.12, heats=False),
        Package("TO-39-3", (9.2, 9.2, 6.5), "Q", "cylinder", emissivity=0.12),
        Package("HEATSINK_25x16", (25.0, 16.0, 20.0), "HS", emissivity=0.12, heats=False),
        Package("HEATSINK_BAR_60x12", (60.0, 12.0, 14.0), "HS", emissivity=0.86, heats=False),
    )
}
