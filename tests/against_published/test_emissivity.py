"""Emissivity maps from heated, unpowered boards, and defaults against published ranges.

Method: JEDEC JEP138, 1999 (heated stage, from memory). The error table was worked out independently of this project's
code.
"""

import numpy as np
import pytest

from overlay.frames.emissivity import BOARD, DEFAULTS, map_from_cold_frames
from overlay.frames.radiometry import Band, object_radiance, surface_temperature_c

BAND = Band(8.0, 14.0)


@pytest.mark.parametrize(
    ("emissivity", "first", "second", "first_c", "second_c"),
    [
        (0.60, 190.611850, 250.2440276, 33.499532, 53.179056),
        (0.10, 167.2872876, 177.2259838, 24.820979, 28.601697),
    ],
)
def test_check_pair_of_two_temperatures(
    emissivity: float, first: float, second: float, first_c: float, second_c: float
) -> None:
    frames = [object_radiance(BAND, stage_c, np.array([[emissivity]]), 23.0) for stage_c in (40.0, 70.0)]
    assert frames[0][0, 0] == pytest.approx(first, abs=5e-7)
    assert frames[1][0, 0] == pytest.approx(second, abs=5e-8)
    assert BAND.temperature_c(first) == pytest.approx(first_c, abs=1e-6)
    assert BAND.temperature_c(second) == pytest.approx(second_c, abs=1e-6)
    assert map_from_cold_frames(BAND, frames, [40.0, 70.0], 23.0).value[0, 0] == pytest.approx(emissivity, abs=1e-9)
    assert map_from_cold_frames(BAND, frames[:1], [40.0], 23.0).value[0, 0] == pytest.approx(emissivity, abs=1e-9)


def error_k(
    emissivity: float,
    *,
    stage_believed_c: float = 60.0,
    believed_c: float = 23.0,
    room_then_c: float = 23.0,
    map_offset_c: float = 0.0,
    offset_c: float = 0.0,
) -> float:
    """Error of a part at 85 °C read with a map taken at 60 °C, one thing being wrong."""
    cold = object_radiance(BAND, 60.0, np.array([[emissivity]]), 23.0)
    cold = BAND.radiance(BAND.temperature_c(cold) + map_offset_c)
    found = map_from_cold_frames(BAND, [cold], [stage_believed_c], believed_c)
    leaving = object_radiance(BAND, 85.0, emissivity, room_then_c)
    leaving = BAND.radiance(BAND.temperature_c(leaving) + offset_c)
    return float(surface_temperature_c(BAND, leaving, found.value[0, 0], BAND.radiance(believed_c))) - 85.0


# stage 1 K hotter than believed; reflected believed 24; reflected rises 1 K; +0.05 K noise in the map's frame;
# +0.5 K offset of the camera in both frames; in the measurement only
ERRORS = {
    0.95: "-1.57 +0.03 +0.03 -0.08 -0.29 +0.52",
    0.80: "-1.57 +0.14 +0.16 -0.09 -0.34 +0.59",
    0.60: "-1.57 +0.37 +0.42 -0.12 -0.45 +0.73",
    0.30: "-1.57 +1.35 +1.47 -0.22 -0.86 +1.26",
    0.10: "-1.57 +6.1 +5.6 -0.60 -2.4 +3.35",
    0.05: "-1.57 +17.9 +11.6 -1.16 -4.4 +6.4",
}


@pytest.mark.parametrize("emissivity", ERRORS)
def test_what_a_wrong_map_does_to_a_reading(emissivity: float) -> None:
    found = [
        error_k(emissivity, stage_believed_c=59.0),
        error_k(emissivity, believed_c=24.0),
        error_k(emissivity, room_then_c=24.0),
        error_k(emissivity, map_offset_c=0.05),
        error_k(emissivity, map_offset_c=0.5, offset_c=0.5),
        error_k(emissivity, offset_c=0.5),
    ]
    for value, printed in zip(found, ERRORS[emissivity].split(), strict=True):
        decimals = len(printed.partition(".")[2])
        assert value == pytest.approx(float(printed), abs=0.5 * 10.0**-decimals + 1e-9)


def test_noise_of_a_map_of_two_temperatures() -> None:
    emissivity = np.array([[0.95, 0.60, 0.10, 0.05]])
    frames = [object_radiance(BAND, stage_c, emissivity, 23.0) for stage_c in (40.0, 70.0)]
    found = map_from_cold_frames(BAND, frames, [40.0, 70.0], 23.0, stage_u_c=0.0, noise_c=0.05)
    percent = 100.0 * (found.u / found.value)[0]
    for value, printed in zip(percent, ["0.25", "0.36", "1.9", "3.7"], strict=True):
        assert value == pytest.approx(float(printed), abs=0.5 * 10.0 ** -len(printed.partition(".")[2]))


# Ranges for 8–14 µm: optical constants in the refractiveindex.info database (floors), measurements on packages
# (Infrared and Laser Engineering 2017(9) 208, abstract), Fortescue et al., Spacecraft Systems Engineering, Table 11.3
# (metals), the rest common practice.
RANGES = {
    "ic": (0.90, 0.97),
    "transistor": (0.90, 0.97),
    "resistor": (0.85, 0.95),
    "capacitor": (0.7, 0.95),
    "inductor": (0.6, 0.95),
    "led": (0.85, 0.92),
    "electrolytic": (0.02, 0.2),
    "shield": (0.02, 0.2),
    "heatsink": (0.02, 0.2),
    "crystal": (0.02, 0.2),
}


@pytest.mark.parametrize("kind", RANGES)
def test_defaults_lie_within_published_ranges_and_their_uncertainty_does_not_exceed_them(kind: str) -> None:
    low, high = RANGES[kind]
    assert low <= DEFAULTS[kind].value <= high
    assert DEFAULTS[kind].u <= (high - low)
    assert 0.85 <= BOARD.value <= 0.92  # between mask over copper and mask over laminate (common practice)
