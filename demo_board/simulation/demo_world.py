"""The demo's invented board: power and telemetry for a tide gauge at the end of a pier, revision B."""

from __future__ import annotations

from typing import Any

import numpy as np

from demo_board.simulation.catalogue import PACKAGES, Layout, build
from demo_board.simulation.world import Array, Board, Copper, Part, Patch, World

BOARD = Board(
    96.0,
    64.0,
    corner_mm=3.0,
    holes=((4.0, 4.0, 3.2), (92.0, 4.0, 3.2), (4.0, 60.0, 3.2), (92.0, 60.0, 3.2), (48.0, 5.0, 2.4)),
    spread_w_per_k=0.0075,
    air_w_per_m2k=13.0,
    copper=(
        Copper((2.0, 34.0, 34.0, 62.0), 1.8, 0.90),
        Copper((14.0, 8.0, 44.0, 24.0), 2.2, 0.89),
        Copper((48.0, 34.0, 72.0, 60.0), 1.6, 0.91),
    ),
)

# refdes, package, value, wanted place, rotation: put down in this order, each at the nearest free place
TOP: list[tuple[str, str, str, tuple[float, float], float]] = [
    ("J1", "TERM-2P", "24 V in", (7.5, 32.0), 90),
    ("J2", "HDR-1X6", "gauge", (72.0, 4.5), 0),
    ("J3", "COAX-3", "antenna", (92.0, 36.0), 0),
    ("U7", "SHIELD-22X16", "TELEMETRY-M1", (80.0, 49.0), 0),
    ("U3", "LQFP-144", "DSP-240", (58.0, 47.0), 0),
    ("U2", "LQFP-64", "MCU-32L", (56.0, 21.0), 0),
    ("L1", "IND-8040", "22uH", (39.0, 50.0), 0),
    ("C1", "CAN-8X10", "220uF/35V", (14.0, 56.0), 0),
    ("C2", "CAN-8X10", "220uF/35V", (24.5, 56.0), 0),
    ("C3", "RADIAL-10X12", "470uF/16V", (10.5, 13.0), 0),
    ("U5", "SOT-223", "REG-5V0", (23.5, 14.0), 0),
    ("Q1", "TO-252", "NMOS-60V", (37.0, 12.5), 0),
    ("U1", "SOIC-8", "BUCK-2A", (28.5, 46.5), 0),
    ("D1", "SMB", "TVS-33V", (18.5, 33.0), 0),
    ("D2", "SMA", "SCH-3A", (19.0, 41.0), 0),
    ("D3", "SMA", "SCH-3A", (29.5, 38.0), 90),
    ("R17", "R0805", "4R7", (37.5, 40.5), 0),
    ("C9", "C0805", "1nF/100V", (40.7, 40.5), 0),
    ("R31", "R0603", "6k8", (8.0, 48.0), 90),
    ("R21", "R1206", "R050", (31.0, 25.5), 0),
    ("TH1", "R0603", "NTC-10k", (31.0, 28.0), 0),
    ("F1", "FUSE-2410", "T2A", (17.0, 25.5), 0),
    ("U6", "TSSOP-16", "ADC-16", (76.0, 22.0), 0),
    ("U4", "SOT-23-5", "REF-2V5", (85.0, 23.0), 90),
    ("U9", "SENS-P7", "BARO-1", (87.0, 14.0), 0),
    ("Y1", "XTAL-3225", "16MHz", (47.0, 13.0), 0),
    ("Y2", "XTAL-3225", "26MHz", (73.5, 36.0), 90),
    ("L2", "IND-4018", "10uH", (46.0, 30.0), 0),
    ("Q2", "SOT-23", "NMOS-S", (66.0, 12.0), 0),
    ("Q3", "SOT-23", "PMOS-S", (24.0, 30.5), 90),
    ("D4", "LED0603", "green", (90.0, 27.0), 90),
    ("D5", "LED0603", "amber", (90.0, 22.0), 90),
    ("R44", "R0402", "330R", (87.5, 29.5), 0),
    ("R45", "R0402", "330R", (87.5, 18.5), 0),
]
FILL_TOP = [
    *[("R", n, "R0603", (30 + 3 * (n % 7), 33 + 2 * (n % 3))) for n in range(1, 9)],
    *[("R", n, "R0402", (49 + 4 * (n % 6), 31.5)) for n in range(9, 17)],
    *[("C", n, "C0603", (46 + 5 * (n % 6), 12 + 3 * (n % 5))) for n in range(4, 9)],
    *[("C", n, "C0402", (48 + 4 * (n % 7), 33.5)) for n in range(10, 20)],
    *[("C", n, "C0805", (44 + 2 * (n % 3), 44 + 3 * (n % 4))) for n in range(20, 23)],
]
BOTTOM: list[tuple[str, str, str, tuple[float, float], float]] = [
    ("U8", "SOIC-8", "RS485-T", (24.0, 44.0), 90),
    ("U10", "SOIC-8", "EE-256K", (60.0, 44.0), 0),
    ("R40", "R1206", "120R", (34.0, 50.0), 0),
    ("C30", "TANT-7343", "100uF/10V", (44.0, 20.0), 0),
    ("C31", "TANT-7343", "100uF/10V", (58.0, 20.0), 90),
    ("D8", "SMA", "TVS-12V", (16.0, 50.0), 90),
    ("Q4", "SOT-23", "NMOS-S", (70.0, 30.0), 0),
    ("R41", "R2512", "68R", (78.0, 46.0), 0),
]
FILL_BOTTOM = [
    *[("R", n, "R0603", (20 + 6 * (n % 8), 30 + 3 * (n % 2))) for n in range(50, 58)],
    *[("C", n, "C0603", (22 + 6 * (n % 8), 36)) for n in range(40, 47)],
    *[("C", n, "C0402", (52 + 3 * (n % 5), 50 + 2 * (n % 2))) for n in range(47, 52)],
]

# rises over ambient at full load, K; whoever is not here gets no power
FULL_LOAD_RISE_K = {
    "R17": 101.0, "R31": 83.0, "R21": 60.0, "D3": 50.0, "U1": 44.0, "L1": 46.0, "U5": 47.0, "Q1": 34.0, "U3": 33.0,
    "U2": 17.0, "D2": 35.0, "R44": 32.0, "U7": 24.0, "R40": 58.0, "U8": 30.0, "R41": 42.0,
}  # fmt: skip
# share of the full load's power that is there while the telemetry idles
IDLE_SHARE = {
    "R17": 0.12, "R31": 1.0, "R21": 0.05, "D3": 0.15, "U1": 0.3, "L1": 0.15, "U5": 0.35, "Q1": 0.05, "U3": 0.25,
    "U2": 0.7, "D2": 0.2, "R44": 1.0, "U7": 0.1, "R40": 0.3, "U8": 0.4, "R41": 0.3,
}  # fmt: skip
DIES = {"U3": (0.17, -0.12, 0.16, 0.16), "U2": (0.0, 0.05, 0.2, 0.2), "U1": (0.0, 0.0, 0.25, 0.25)}
MOVED_IN_C = ("R17", "R31", "U5", "Q3")
# what stands in revision C in their place, and what is new: package, value, wanted place, rotation
ADDED_IN_C = {
    "R17": ("R0805", "2R2", (36.5, 42.0), 0.0),
    "R60": ("R0805", "2R2", (36.5, 37.0), 0.0),
    "R31": ("R1206", "6k8", (6.5, 44.0), 90.0),
    "U5": ("SOT-223", "REG-5V0", (25.0, 20.0), 0.0),
    "Q3": ("SOT-23", "PMOS-S", (24.0, 32.0), 90.0),
    "D9": ("SMA", "TVS-33V", (44.0, 58.0), 0.0),
}
RATINGS_IN_C: list[dict[str, object]] = [
    {
        "refdes": "R60",
        "limit_c": 155,
        "limit_at": "surface",
        "rated_power_w": 0.5,
        "emissivity": 0.89,
        "emissivity_u": 0.02,
        "note": "snubber, second half",
    },
    {"refdes": "R43", "limit_c": 155, "limit_at": "surface"},
    {"refdes": "D9", "limit_c": 150, "limit_at": "surface"},
]
FIDUCIALS = (("FID1", (8.0, 61.5), "top"), ("FID2", (88.0, 7.5), "top"), ("FID3", (3.0, 22.0), "top"))

# cells of the parts table: who, then what is known of them; ψJT and limits are made up like everything here
RATINGS: list[dict[str, object]] = [
    {"refdes": "R1-R8, R50-R57", "limit_c": 155, "limit_at": "surface", "rated_power_w": 0.1},
    {"refdes": "R9-R16, R44, R45", "limit_c": 155, "limit_at": "surface", "rated_power_w": 0.063},
    {"refdes": "R17", "limit_c": 155, "limit_at": "surface", "rated_power_w": 0.5,
     "emissivity": 0.89, "emissivity_u": 0.02, "note": "snubber of the buck"},
    {"refdes": "R21", "limit_c": 170, "limit_at": "surface", "rated_power_w": 0.5, "note": "current sense"},
    {"refdes": "R31", "limit_c": 155, "limit_at": "surface", "rated_power_w": 0.33, "note": "bleeder on the 24 V rail"},
    {"refdes": "R40", "limit_c": 155, "limit_at": "surface"},
    {"refdes": "R41", "limit_c": 155, "limit_at": "surface"},
    {"refdes": "C4-C22, C40-C51", "limit_c": 125, "limit_at": "surface"},
    {"refdes": "C1, C2", "kind": "electrolytic", "limit_c": 105, "endurance_h": 5000, "endurance_c": 105},
    {"refdes": "C3", "kind": "electrolytic", "limit_c": 85, "endurance_h": 2000, "endurance_c": 85,
     "emissivity": 0.92, "emissivity_u": 0.03, "note": "plastic sleeve"},
    {"refdes": "C30, C31", "kind": "tantalum", "limit_c": 105},
    {"refdes": "D1, D8", "limit_c": 150, "limit_at": "surface"},
    {"refdes": "D2, D3", "limit_c": 150, "limit_at": "junction", "psi_jt_k_per_w": 18},
    {"refdes": "U1", "limit_c": 125, "limit_at": "junction", "psi_jt_k_per_w": 9},
    {"refdes": "U2", "limit_c": 105, "limit_at": "junction", "psi_jt_k_per_w": 3},
    {"refdes": "U3", "limit_c": 115, "limit_at": "junction", "psi_jt_k_per_w": 2.0, "emissivity": 0.94,
     "emissivity_u": 0.02},
    {"refdes": "U5", "limit_c": 125, "limit_at": "junction", "psi_jt_k_per_w": 15},
    {"refdes": "U8", "limit_c": 150, "limit_at": "junction", "psi_jt_k_per_w": 9},
    {"refdes": "U4, U6, U10", "limit_c": 85, "limit_at": "ambient"},
    {"refdes": "U7", "limit_c": 85, "limit_at": "surface", "note": "tinned lid"},
    {"refdes": "Q1", "limit_c": 175, "limit_at": "junction", "psi_jt_k_per_w": 3},
    {"refdes": "Q2-Q4", "limit_c": 150, "limit_at": "surface"},
    {"refdes": "L1", "limit_c": 125, "limit_at": "surface", "emissivity": 0.9, "emissivity_u": 0.03},
    {"refdes": "Y1, Y2", "limit_c": 85, "limit_at": "ambient"},
    {"refdes": "D4, D5", "limit_c": 100, "limit_at": "surface"},
    {"refdes": "F1", "limit_c": 125, "limit_at": "surface"},
    {"refdes": "J1", "limit_c": 105, "limit_at": "surface"},
]  # fmt: skip

PACKAGES.setdefault("SENS-P7", ((3.6, 3.0, 1.1), 60.0, {"emissivity": 0.93}))


def demo_world(seed: int = 20) -> World:
    """Revision B, laid out, with true emissivities that differ a little from what tables say."""
    random = np.random.default_rng(seed)
    layout = Layout(BOARD)

    def put(refdes: str, package: str, value: str, at: tuple[float, float], turn: float, side: str, gap: float) -> None:
        more: dict[str, Any] = {"value": value}
        if refdes in DIES:
            more |= {"die": DIES[refdes], "inner_share": 1.3 if refdes == "U3" else 0.3}
        part = build(refdes, package, at, turn, side, **more)
        spread = 0.02 if part.metal_top else 0.012
        emissivity = float(np.clip(part.emissivity + random.normal(0, spread), 0.03, 0.98))
        length, width, height = part.size_mm
        grow = 1 + random.normal(0, 0.006, 2)
        size = (length * grow[0], width * (grow[0] if part.round else grow[1]), height)
        placed = layout.add(Part(**{**vars(part), "emissivity": emissivity, "size_mm": size}), gap)
        if placed is None:
            raise ValueError(f"no room left for {refdes}")

    for row in TOP:
        put(*row, "top", 0.6)
    for letter, number, package, at in FILL_TOP:
        put(f"{letter}{number}", package, _value(letter, number), at, 90.0 * (number % 2), "top", 0.9)
    for row in BOTTOM:
        put(*row, "bottom", 0.6)
    for letter, number, package, at in FILL_BOTTOM:
        put(f"{letter}{number}", package, _value(letter, number), at, 90.0 * (number % 2), "bottom", 0.9)
    rings = [
        Patch((x, y), 0.0, (d + 2.4, d + 2.4), side, 0.12, True)
        for x, y, d in BOARD.holes
        for side in ("top", "bottom")
    ]
    dots = [Patch(at, 0.0, (1.0, 1.0), side, 0.1, True) for _, at, side in FIDUCIALS]
    return World(BOARD, tuple(layout.parts), tuple(rings + dots))


def _value(letter: str, number: int) -> str:
    if letter == "R":
        return ("10k", "4k7", "100k", "1k", "22R")[number % 5]
    return ("100nF", "1uF", "10nF", "22pF")[number % 4]


def revision_c(seed: int = 21) -> World:
    """Revision C: the snubber split in two, the bleeder larger and elsewhere, a regulator moved, a diode added.

    R41 is the same part in the same place under a new designator, R43. A new unit: its surfaces differ a little.
    """
    random = np.random.default_rng(seed)
    before = demo_world()
    layout = Layout(BOARD)
    for part in before.parts:
        if part.refdes in MOVED_IN_C:
            continue
        emissivity = float(np.clip(part.emissivity + random.normal(0, 0.006), 0.03, 0.98))
        refdes = "R43" if part.refdes == "R41" else part.refdes
        layout.add(Part(**{**vars(part), "refdes": refdes, "emissivity": emissivity}), exact=True)
    old = {part.refdes: part for part in before.parts}
    for refdes, (package, value, at, turn) in ADDED_IN_C.items():
        surface = old[refdes].emissivity if refdes in old else 0.9
        part = build(refdes, package, at, turn, value=value, emissivity=float(surface + random.normal(0, 0.006)))
        if layout.add(part, 0.6) is None:
            raise ValueError(f"no room left for {refdes}")
    return World(BOARD, tuple(layout.parts), before.patches)


def powers_in_c(world: World, powers_of_b_w: dict[str, float]) -> Array:
    """The same powers as in revision B, the snubber's shared by its two halves."""
    powers = dict(powers_of_b_w)
    powers["R17"] = powers["R60"] = powers_of_b_w["R17"] / 2
    powers["R43"] = powers.pop("R41")
    return np.array([powers.get(part.refdes, 0.0) for part in world.parts])
