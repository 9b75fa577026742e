"""The kinds of foreign world, and what is awkward about each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Wrong = Literal["", "sizes", "turned", "forgotten", "revision", "mirrored"]
Parts = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """How a kind of world is drawn and described. Temperatures with ``_k`` are rises over ambient."""

    name: str
    about: str
    size_mm: tuple[float, float]
    parts: Parts
    sources: int
    own_k: tuple[float, float] = (12.0, 60.0)  # rise of a source's top over the board beneath
    base_k: float = 6.0
    shape_px: tuple[int, int] = (120, 160)
    hfov_deg: float = 32.0
    hfov_told: bool = True
    tilt_deg: tuple[float, float] = (0.0, 8.0)
    clicks: int = 8
    click_px: float = 0.7
    only_corners: bool = False
    size_u: float = 0.02  # standard deviation of the sizes told, cut at 5 % …
    height_u: float = 0.08  # … and of the heights, cut at 20 %
    wrong: Wrong = ""
    emissivity_told: bool = True
    board_emissivity: float = 0.92
    coated: bool = False
    bar: bool = False
    sink: bool = False  # a bare heat sink over the back of an upright transistor: they overlap in plan
    clustered: bool = False
    cables: int = 0
    jaws: bool = False
    stray: int = 0
    traces: int = 0
    trace_k: float = 0.0
    bench_k: float = 0.5
    room_k: float = 0.5
    frame_emissivity: float = 1.0
    range_end_c: float = 1000.0
    skirt: float = 0.035
    skirt_px: float = 5.0
    dead: int = 0
    refuse: bool = False  # nothing of it may be read


_CHIPS: Parts = (("R_0805", 8), ("C_0805", 8), ("R_0603", 6), ("C_0603", 6), ("R_1206", 4), ("SOD-123", 3))
_MIXED: Parts = (
    *_CHIPS,
    ("SOT-23", 3),
    ("SOT-223", 2),
    ("SOIC-8", 3),
    ("TO-252", 2),
    ("LQFP-64_10x10", 1),
    ("R_2512", 2),
    ("SMB", 2),
    ("IND_10x10", 1),
    ("HDR_2x5", 1),
)
_LEADED: Parts = (
    ("R_Axial_DIN0207_P10", 8),
    ("R_Axial_DIN0414_P15", 1),
    ("D_DO-41_P10", 4),
    ("TO-92", 4),
    ("TO-220_Vertical", 2),
    ("DIP-8_W7.62", 2),
    ("CP_Radial_D10_P5", 2),
    ("CP_Radial_D6.3_P2.5", 2),
    ("Film_18x7_P15", 1),
    ("L_Drum_D8", 1),
    ("Terminal_2P_5.08", 2),
    ("R_1206", 3),
)
_TALL: Parts = (*_LEADED, ("XFMR_EE20", 1), ("RELAY_19x15", 1), ("R_0805", 6), ("C_0805", 4), ("R_2512", 1))

_PLAIN = Kind("plain", "surface-mount parts, everything told", (80.0, 58.0), _MIXED, 9)

KINDS = {
    kind.name: kind
    for kind in (
        _PLAIN,
        Kind("leaded", "rods, cylinders and tall boxes; walls as warm as tops", (90.0, 64.0), _TALL, 10),
        replace(
            _PLAIN,
            name="tilt",
            about="30 degrees of tilt, five clicks, no field of view",
            parts=_TALL,
            size_mm=(90.0, 64.0),
            tilt_deg=(29.0, 31.0),
            clicks=5,
            hfov_told=False,
            sources=10,
        ),
        replace(
            _PLAIN,
            name="finned",
            about="transistors under a raised finned bar, a bare heat sink, no field of view",
            size_mm=(100.0, 66.0),
            parts=(
                *_CHIPS,
                ("TO-263", 4),
                ("R_2512", 3),
                ("HEATSINK_25x16", 1),
                ("CP_Radial_D10_P5", 2),
                ("Terminal_2P_5.08", 1),
            ),
            bar=True,
            hfov_told=False,
            sources=9,
        ),
        Kind(
            "supply",
            "few parts stand out, many are tall; a sink overlaps a transistor; no emissivity is told",
            (92.0, 60.0),
            _TALL,
            5,
            own_k=(8.0, 40.0),
            base_k=11.0,
            sink=True,
            emissivity_told=False,
        ),
        Kind(
            "relay",
            "a large board with few warm parts, unlisted cables, seven clicks, frame at emissivity 0.95",
            (130.0, 86.0),
            (*_LEADED, ("RELAY_19x15", 5), ("TO-92", 2), ("D_DO-41_P10", 2), ("SOD-123", 4)),
            5,
            own_k=(4.0, 30.0),
            base_k=1.5,
            shape_px=(240, 320),
            hfov_deg=45.0,
            clicks=7,
            click_px=0.8,
            cables=2,
            frame_emissivity=0.95,
            wrong="forgotten",
        ),
        replace(
            _PLAIN,
            name="cables",
            about="cables in front of the board, vise jaws over its edges, 320 x 240",
            cables=2,
            jaws=True,
            shape_px=(240, 320),
        ),
        replace(_PLAIN, name="strays", about="bodies that no file lists: a clip, jumper wires, labels", stray=5),
        replace(
            _PLAIN,
            name="dense",
            about="0402 and 0603 beside hot parts, 160 x 120",
            clustered=True,
            sources=14,
            parts=(
                ("R_0402", 14),
                ("C_0402", 14),
                ("R_0603", 12),
                ("C_0603", 10),
                ("SOT-223", 2),
                ("SOIC-8", 2),
                ("TO-252", 2),
                ("R_2512", 2),
                ("QFN-32_5x5", 2),
            ),
            size_mm=(66.0, 48.0),
        ),
        replace(_PLAIN, name="idle", about="an idle board: rises of 1 to 6 K", own_k=(3.0, 6.0), base_k=0.8, sources=6),
        replace(
            _PLAIN,
            name="warm bench",
            about="a warm bench around the board and a warm room above it",
            bench_k=24.0,
            room_k=4.0,
        ),
        replace(_PLAIN, name="sizes", about="sizes off by 15 %, heights by 30 %", wrong="sizes"),
        replace(_PLAIN, name="turned", about="three parts listed a quarter turn off", wrong="turned"),
        replace(_PLAIN, name="forgotten", about="three packages that no table knows", wrong="forgotten"),
        replace(
            _PLAIN,
            name="revision",
            about="another revision's placement: four parts in twenty fit",
            wrong="revision",
            only_corners=True,
            refuse=True,
        ),
        replace(
            _PLAIN, name="mirrored", about="a mirrored placement", wrong="mirrored", only_corners=True, refuse=True
        ),
        replace(
            _PLAIN,
            name="metal",
            about="bare metal that nothing declares",
            emissivity_told=False,
            sources=11,
            parts=(
                *_MIXED,
                ("QFN-48_Lidded", 1),
                ("LGA-40_Metal_Lid", 1),
                ("Shunt_2512_Metal", 2),
                ("USB_A_Receptacle", 1),
                ("Crystal_SMD_5032", 2),
                ("TO-39-3", 1),
            ),
            size_mm=(92.0, 62.0),
        ),
        replace(
            _PLAIN,
            name="coated",
            about="conformal coating over everything: ends and pads do not mirror",
            coated=True,
            board_emissivity=0.9,
            emissivity_told=False,
        ),
        replace(
            _PLAIN,
            name="clipped",
            about="the instrument's range ends at 110 degrees",
            own_k=(40.0, 150.0),
            range_end_c=110.0,
        ),
        replace(_PLAIN, name="skirt", about="a lens with a wide skirt, dead pixels", skirt=0.09, skirt_px=8.0, dead=5),
        replace(
            _PLAIN,
            name="rough",
            about="four rough clicks, frame taken at emissivity 0.95",
            clicks=4,
            click_px=1.0,
            frame_emissivity=0.95,
        ),
        replace(_PLAIN, name="trace", about="a hot trace that no file knows", traces=1, trace_k=30.0),
    )
}
