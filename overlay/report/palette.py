"""Colours and second cues: one place, for every face of a report.

Verdict colours stay apart under the common kinds of colour blindness and in grey print (they differ in
lightness), and each has a hatch of its own besides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from overlay.frames.frame import Array
from overlay.margin.model import Verdict

Hatch = Literal["", "cross", "rising", "dots", "level"]


@dataclass(frozen=True, slots=True)
class Look:
    """How a verdict is drawn: fill and ink as ``#rrggbb``, a hatch, and what it means."""

    fill: str
    ink: str
    hatch: Hatch
    dashed: bool
    meaning: str


LOOKS: dict[Verdict, Look] = {
    "over": Look("#a3195b", "#ffffff", "cross", False, "above its limit"),
    "undecided": Look("#e07b39", "#1d1d1b", "rising", False, "limit within the uncertainty"),
    "near": Look("#f2cf63", "#1d1d1b", "dots", False, "within its limit, but less margin than wanted"),
    "clear": Look("#cfe3ea", "#1d1d1b", "", False, "margin as wanted"),
    "unseen": Look("#ffffff", "#1d1d1b", "", True, "no trustworthy reading"),
    "unrated": Look("#dadada", "#1d1d1b", "level", False, "no limit known"),
}

INK = "#1d1d1b"
FAINT = "#8a8f94"
PAPER = "#ffffff"
BOARD = "#f3f1ea"

# Places on the temperature scale, dark to light so that grey print keeps the order; own choice.
_SCALES: dict[str, tuple[str, ...]] = {
    "dusk": ("#0b1026", "#25305f", "#5b3a86", "#a6407c", "#dd6a55", "#f2aa4c", "#fbf3c4"),
    "slate": ("#101214", "#f6f6f4"),
}
SCALES = tuple(_SCALES)


def rgb(color: str) -> tuple[float, float, float]:
    """``#rrggbb`` as three numbers 0…1."""
    return tuple(int(color[index : index + 2], 16) / 255 for index in (1, 3, 5))  # type: ignore[return-value]


def scale_colors(name: str = "dusk", steps: int = 256) -> NDArray[np.uint8]:
    """A temperature scale as ``steps`` colours from cold to hot, shape (steps, 3)."""
    stops = np.array([rgb(color) for color in _SCALES[name]])
    at = np.linspace(0.0, len(stops) - 1.0, steps)
    channels = [np.interp(at, np.arange(len(stops)), stops[:, channel]) for channel in range(3)]
    return np.asarray(np.rint(255 * np.stack(channels, axis=1)), dtype=np.uint8)


def steps_of(temperature_c: Array, low_c: float, high_c: float) -> NDArray[np.uint8]:
    """A frame as numbers of `scale_colors`, shape (rows, cols); what lies outside low…high takes the end colours."""
    span = max(high_c - low_c, 1e-6)
    index = np.clip((np.nan_to_num(temperature_c, nan=low_c) - low_c) / span * 255.0, 0.0, 255.0)
    return np.asarray(np.rint(index), dtype=np.uint8)
