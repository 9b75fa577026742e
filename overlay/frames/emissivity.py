"""Emissivity of a board's surfaces: what the tables say, defaults by kind of part, and maps from cold frames.

Ranges behind the defaults: published optical constants give smooth-surface levels, practice the rest; each entry
names its basis. A default is a start; a table row or a map of the very board is better and always wins.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from overlay.board.model import Body, Component
from overlay.errors import input_error
from overlay.frames.finish import may_be_metal
from overlay.frames.frame import Array, Emissivity, EmissivityMap
from overlay.frames.radiometry import Band
from overlay.frames.sampling import bilinear

# Below this a surface shows the room rather than itself. At ε = 0.5 a reflected temperature 2 K wrong makes
# 1.3 K on a part at 85 °C, at 0.1 already 11 K, and an emissivity 0.02 wrong makes 2 K and 10 K.
SHINY_BELOW = 0.5

# A value from a table without its uncertainty: the width of a careful choice from a list (common practice).
TABLE_U = 0.03

# One moulded package has 0.97 (QFN compound, 40 to 200 °C: Infrared and Laser Engineering 2017(9) 208, abstract seen),
# smooth polymers 0.93 to 0.96 (from optical constants), polished or laser-marked tops down to 0.90 (common practice):
# the middle of 0.90 to 0.97, whose ends lie within one and a half u.
_MOULD = Emissivity(0.93, 0.03, "moulded epoxy, 0.90 to 0.97")
_METAL = Emissivity(0.08, 0.05, "bare or tinned metal; mirrors the room")
_CAN = Emissivity(0.08, 0.05, "bare aluminium top of a can (polished aluminium 0.08: Fortescue et al., Table 11.3)")
_PLASTIC = Emissivity(0.92, 0.04, "plastic housing (common practice)")
_CERAMIC = Emissivity(0.85, 0.08, "ceramic body; no measurement found, titanate films as a proxy")
_UNKNOWN = Emissivity(0.90, 0.06, "unknown kind of part: plastic or ceramic assumed (common practice)")

# By kind, the careful choice: what may well be bare metal counts as bare metal until a table says otherwise.
DEFAULTS: dict[str, Emissivity] = {
    "resistor": Emissivity(0.89, 0.04, "chip resistor's glass or epoxy coat; soda-lime glass 0.88"),
    "capacitor": _CERAMIC,
    "electrolytic": _CAN,
    "tantalum": _MOULD,
    "film capacitor": _PLASTIC,
    "inductor": Emissivity(0.80, 0.12, "ferrite, unpainted; magnetite 0.61 to haematite 0.88 as bounds"),
    "transformer": Emissivity(0.88, 0.07, "tape, varnish or ferrite (common practice)"),
    "diode": _MOULD,
    "led": Emissivity(0.88, 0.05, "glass or silicone lens; soda-lime glass 0.88"),
    "transistor": _MOULD,
    "ic": _MOULD,
    "regulator": _MOULD,
    "crystal": Emissivity(0.08, 0.05, "metal lid; nickel 0.02 to 0.2"),
    "connector": _PLASTIC,
    "switch": _PLASTIC,
    "relay": _PLASTIC,
    "fuse": _CERAMIC,
    "thermistor": Emissivity(0.88, 0.06, "ceramic or glass body (common practice)"),
    "optocoupler": _MOULD,
    "battery": Emissivity(0.08, 0.05, "bare cell can; a sleeve would have 0.92"),
    "shield": Emissivity(0.08, 0.05, "tinned steel or nickel-silver shield"),
    "heatsink": Emissivity(0.08, 0.05, "bare aluminium; anodised it would have 0.85"),
    "module": Emissivity(0.08, 0.05, "shield can over a module, until a table says otherwise"),
    "mechanical": _METAL,
    "": _UNKNOWN,
}

# Solder mask lies over laminate (0.92 ± 0.03) and over copper planes (0.85 ± 0.07); a board is a mixture.
BOARD = Emissivity(0.90, 0.04, "solder mask over laminate and copper (common practice)")

_TALL_ROUND_MM = 3.0  # a round capacitor from this height up is a can
_SQUARE_CAN_MM = 4.0  # and so is one in a square box, if it is about as high as wide: tables often give a can's base
# Side by side, and height by side: cans are 0.7 to 1.4 times as high as wide (common practice).
_SQUARE, _AS_HIGH = 1.1, 0.7
_TOLD_BY_BODY = ("capacitor", "")  # kinds whose body tells whether their top is the bare metal of a can
# The middle of that span.
_BODILESS = Emissivity(0.85, 0.15, "body unknown: plastic, ceramic or a sleeve assumed, 0.7 to 0.97")
POSE_U_PX = 0.5  # how well two poses agree after each has been registered by hand
_LEAST_SPAN_K = 5.0  # between stage and reflected, or two stage temperatures: below it a map is all noise


def default_emissivity(component: Component) -> Emissivity:
    """The default for a part's kind (`board.kinds`), package and body, with a wide standard uncertainty."""
    metal = may_be_metal(component)
    if metal:
        return Emissivity(_METAL.value, _METAL.u, f"its top may be {metal}, bare, and no file declares its finish")
    kind, body = component.kind, component.body
    if kind in _TOLD_BY_BODY and body is None:
        return _BODILESS
    if kind == "capacitor" and body is not None and _is_can(body):
        return DEFAULTS["electrolytic"]
    return DEFAULTS.get(kind, _UNKNOWN)


def _is_can(body: Body) -> bool:
    height = body.height_mm or 0.0
    if body.shape == "round":
        return height >= _TALL_ROUND_MM
    short, long = sorted((body.length_mm, body.width_mm))
    return height >= max(_SQUARE_CAN_MM, _AS_HIGH * long) and long <= _SQUARE * short


def emissivity_of(component: Component) -> Emissivity:
    """Emissivity of a part's top face: parts table, else bodies table, else the default of its kind."""
    rating, body = component.rating, component.body
    if rating is not None and rating.emissivity is not None:
        return Emissivity(rating.emissivity, _table_u(rating.emissivity_u), f"parts table, line {rating.line}", True)
    if body is not None and body.emissivity is not None:
        return Emissivity(body.emissivity, _table_u(body.emissivity_u), "bodies table", True)
    return default_emissivity(component)


def map_from_cold_frames(
    band: Band,
    leaving: Sequence[Array],
    stage_c: Sequence[float],
    reflected_c: float,
    *,
    stage_u_c: float = 0.5,
    reflected_u_c: float = 1.0,
    noise_c: float = 0.06,
    source: str = "emissivity map",
) -> EmissivityMap:
    """Emissivity of every pixel, from frames of the unpowered board held at an even, known temperature.

    With one frame ε = (S − W_r)/(W₁ − W_r); with two ε = (S₂ − S₁)/(W₂ − W₁), where what is reflected drops out
    as long as it did not change.

    Parameters
    ----------
    leaving : one or two arrays (rows, cols)
        Radiance that leaves the board (`radiometry.leaving_radiance`), in one pose.
    stage_c, stage_u_c
        Temperature of the board in each frame, and its standard uncertainty (taken as independent between them).
    reflected_c, reflected_u_c
        Reflected apparent temperature then; not used with two frames.
    noise_c
        Standard deviation of a pixel's noise.
    source
        The frames' names, for messages and for the map.

    Returns
    -------
    EmissivityMap
        nan where no emissivity within (0, 1] explains the frames (up to 1 + 2u is taken as 1). The uncertainty's
        share of ε grows as ε falls. The camera's own offset is not in it: it is common to these frames and to
        the measurement, where the reading carries it in full, and largely cancels.

    Raises
    ------
    InputError
        If there is not one or two frames with as many temperatures, shapes differ, or temperatures lie too
        close together.

    References
    ----------
    JEDEC JEP138, 1999 (heated stage, from memory); Marinetti & Cesaratto, NDT&E Int. 51 (2012) 127–134 (two
    temperatures, unknown but constant surroundings).
    """
    if len(leaving) not in (1, 2) or len(leaving) != len(stage_c):
        what = f"{len(leaving)} frames and {len(stage_c)} temperatures"
        raise input_error(source, None, what, "give one or two frames of the unpowered board, a temperature for each")
    if len({frame.shape for frame in leaving}) > 1:
        raise input_error(source, None, "the two frames differ in size", "take both with the same camera and pose")
    if len(leaving) == 2:
        value, variance, common = _from_two(band, leaving, stage_c, stage_u_c, noise_c, source)
    else:
        one = (stage_c[0], reflected_c, stage_u_c, reflected_u_c, noise_c, source)
        value, variance, common = _from_one(band, leaving[0], *one)
    u = np.sqrt(variance)
    valid = np.isfinite(value) & (value > 0.0) & (value <= 1.0 + 2.0 * u)
    temperatures = " and ".join(f"{value:g}" for value in stage_c)
    return EmissivityMap(
        np.where(valid, np.minimum(value, 1.0), np.nan),
        np.where(valid, u, np.nan),
        f"{source}: the unpowered board at {temperatures} °C",
        common,
    )


def resample_map(given: EmissivityMap, map_pixel: Array, pixel_u: float = 0.0) -> EmissivityMap:
    """An emissivity map in another pose.

    Parameters
    ----------
    map_pixel : (rows, cols, 2)
        For every pixel of the wanted frame, the place (x, y) of the same surface in the map's pixels; nan where
        there is none.
    pixel_u
        Standard uncertainty of that place, in px: across an edge of ε it becomes an uncertainty of ε.

    Returns
    -------
    EmissivityMap
        (rows, cols), bilinear; nan outside the given map and beside its invalid pixels.
    """
    slope_y, slope_x = np.gradient(given.value)
    u = np.hypot(given.u, pixel_u * np.hypot(slope_x, slope_y)) if pixel_u > 0.0 else given.u
    return EmissivityMap(bilinear(given.value, map_pixel), bilinear(u, map_pixel), given.source, given.common_share)


def _from_one(
    band: Band,
    leaving: Array,
    stage_c: float,
    reflected_c: float,
    stage_u_c: float,
    reflected_u_c: float,
    noise_c: float,
    file: str,
) -> tuple[Array, Array, float]:
    _refuse_close(stage_c, reflected_c, "the board's temperature and the reflected one", file)
    reflected = float(band.radiance(reflected_c))
    span = float(band.radiance(stage_c)) - reflected
    value = (leaving - reflected) / span
    common = abs(float(band.slope(stage_c)) * stage_u_c / span)
    variance = (
        (_noise(band, leaving, noise_c) / span) ** 2
        + (value * common) ** 2
        + ((1.0 - value) * float(band.slope(reflected_c)) * reflected_u_c / span) ** 2
    )
    return value, variance, common


def _from_two(
    band: Band, leaving: Sequence[Array], stage_c: Sequence[float], stage_u_c: float, noise_c: float, file: str
) -> tuple[Array, Array, float]:
    _refuse_close(stage_c[0], stage_c[1], "the board's two temperatures", file)
    span = float(band.radiance(stage_c[1]) - band.radiance(stage_c[0]))
    value = (leaving[1] - leaving[0]) / span
    noise = np.hypot(_noise(band, leaving[0], noise_c), _noise(band, leaving[1], noise_c))
    stage = math.hypot(float(band.slope(stage_c[0])), float(band.slope(stage_c[1]))) * stage_u_c
    common = abs(stage / span)
    return value, (noise / span) ** 2 + (value * common) ** 2, common


def _noise(band: Band, leaving: Array, noise_c: float) -> Array:
    return band.slope(band.temperature_c(leaving)) * noise_c


def _refuse_close(one_c: float, other_c: float, names: str, file: str) -> None:
    if abs(one_c - other_c) < _LEAST_SPAN_K:
        what = f"{names} ({one_c:g} and {other_c:g} °C) lie within {_LEAST_SPAN_K:g} K"
        raise input_error(file, None, what, "heat the unpowered board evenly by 20 K or more and take the frame again")


def _table_u(u: float | None) -> float:
    return TABLE_U if u is None else u
