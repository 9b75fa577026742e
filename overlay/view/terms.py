"""The uncertainty budget of readings, term by term, in kelvin.

With J the radiance that leaves the board, T = W⁻¹([J − (1−ε)·W_reflected]/ε): each input's standard uncertainty
times its sensitivity, signs kept. Inputs that are one draw for all parts of a frame carry a key of their own and
are shared; all else is private to the part (JCGM 100:2008, 5.1.2 and 5.2.2, clause numbers from memory).
Arrays are of shape (n,), one entry a reading: a frame's readings are worked out together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from overlay.arrays import Array
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import apparent_temperature_c, sight_partials
from overlay.uncertainty import Budget, Term, TermName
from overlay.view.model import View

# The noise of a camera is stated for a surface at 30 °C (common practice).
NOISE_AT_C = 30.0


def noise_radiance(view: View) -> float:
    """Standard deviation of one pixel's noise, as radiance that leaves the board."""
    return view.noise_c * float(view.band.slope(NOISE_AT_C)) / view.sight.gain


def kelvin_per_radiance(view: View, surface_c: Array, emissivity: Array) -> Array:
    """Change of the surface temperature for a unit change of the radiance that leaves it: 1/(ε·W′)."""
    return np.asarray(1.0 / (emissivity * view.band.slope(surface_c)))


def kelvin_per_emissivity(view: View, surface_c: Array, emissivity: Array) -> Array:
    """Change of the surface temperature for a unit change of its emissivity: −[W(T) − W_reflected]/(ε·W′)."""
    contrast = view.band.radiance(surface_c) - view.band.radiance(view.reflected_c)
    return np.asarray(-contrast * kelvin_per_radiance(view, surface_c, emissivity))


def camera_u_c(view: View, apparent_c: Array) -> Array:
    """Standard uncertainty of the camera's scale at a reading: the larger limit, taken as a rectangle (a/√3)."""
    limit = np.maximum(view.accuracy_c, view.accuracy_percent / 100.0 * np.abs(apparent_c))
    return np.asarray(limit / math.sqrt(3.0))


def common_terms(
    view: View, surface_c: Array, leaving: Array, emissivity: Sequence[Emissivity], names: Sequence[str]
) -> tuple[Budget, ...]:
    """Terms of the measurement equation: camera, emissivity, heated stage, reflected, air and window.

    Camera, reflected temperature, air and window are shared by all parts of the capture. The emissivity of a part
    is the same draw in every capture that sees it. ``names`` are designators, ``board`` for the board itself; a
    reading without a temperature (nan) has no terms.
    """
    band, sight = view.band, view.sight
    value, value_u = np.array([e.value for e in emissivity]), np.array([e.u for e in emissivity])
    common_u = np.array([e.common_u for e in emissivity])
    gain, per_emissivity = kelvin_per_radiance(view, surface_c, value), kelvin_per_emissivity(view, surface_c, value)
    apparent = apparent_temperature_c(band, sight, leaving)
    partials = sight_partials(band, sight, apparent)
    columns = (
        (TermName.CAMERA, gain * partials.apparent_c * camera_u_c(view, apparent)),
        (TermName.COLOUR_SCALE, gain * partials.apparent_c * view.colour_scale_u_c),
        (TermName.EMISSIVITY, per_emissivity * np.sqrt(value_u**2 - common_u**2)),
        (TermName.STAGE, per_emissivity * common_u),
        (TermName.REFLECTED, -(1.0 - value) * band.slope(view.reflected_c) * gain * view.reflected_u_c),
        (TermName.AIR, gain * partials.air_transmittance * sight.air_transmittance_u),
        (TermName.WINDOW, gain * partials.window_transmittance * sight.window_transmittance_u),
    )
    rows = np.column_stack([column for _, column in columns]).tolist()
    budgets = []
    for row, part, surface in zip(rows, names, emissivity, strict=True):
        keys = {TermName.EMISSIVITY: f"emissivity:{part}", TermName.STAGE: f"heated stage:{surface.source}"}
        terms = []
        for (name, _), contribution in zip(columns, row, strict=True):
            if math.isfinite(contribution) and contribution != 0.0:
                terms.append(Term(name, contribution, keys.get(name, f"{name}:{view.capture}")))
        budgets.append(tuple(terms))
    return tuple(budgets)


def private_terms(kelvin_per_unit: float, radiances: Mapping[TermName, float]) -> Budget:
    """Terms of the part alone, from standard uncertainties of its leaving radiance by name; zeros are left out."""
    return tuple(Term(name, kelvin_per_unit * u) for name, u in radiances.items() if u > 0.0)
