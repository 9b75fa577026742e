"""The uncertainty budget of a reading, term by term, in kelvin.

With J the radiance that leaves the board, T = W⁻¹([J − (1−ε)·W_reflected]/ε): each input's standard uncertainty
times its sensitivity, signs kept. Inputs that are one draw for all parts of a frame carry a key of their own and
are shared; all else is private to the part (JCGM 100:2008, 5.1.2 and 5.2.2, clause numbers from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import apparent_temperature_c, sight_partials
from overlay.reading.model import View
from overlay.uncertainty import Budget, Term

# The noise of a camera is stated for a surface at 30 °C (common practice).
NOISE_AT_C = 30.0


def noise_radiance(view: View) -> float:
    """Standard deviation of one pixel's noise, as radiance that leaves the board."""
    return view.noise_c * float(view.band.slope(NOISE_AT_C)) / view.sight.gain


def kelvin_per_radiance(view: View, surface_c: float, emissivity: float) -> float:
    """Change of the surface temperature for a unit change of the radiance that leaves it: 1/(ε·W′)."""
    return 1.0 / (emissivity * float(view.band.slope(surface_c)))


def camera_u_c(view: View, apparent_c: float) -> float:
    """Standard uncertainty of the camera's scale at a reading: the larger limit, taken as a rectangle (a/√3)."""
    return max(view.accuracy_c, view.accuracy_percent / 100.0 * abs(apparent_c)) / math.sqrt(3.0)


def common_terms(view: View, surface_c: float, leaving: float, emissivity: Emissivity, refdes: str) -> Budget:
    """Terms of the measurement equation: camera, emissivity, reflected, air and window.

    Camera, reflected temperature, air and window are shared by all parts of the capture. The emissivity of a part
    is the same draw in every capture that sees it.
    """
    band, sight = view.band, view.sight
    gain = kelvin_per_radiance(view, surface_c, emissivity.value)
    apparent = float(apparent_temperature_c(band, sight, leaving))
    partials = sight_partials(band, sight, apparent)
    contrast = float(band.radiance(surface_c) - band.radiance(view.reflected_c))
    terms = [
        Term("camera", gain * float(partials.apparent_c) * camera_u_c(view, apparent), f"camera:{view.capture}"),
        Term("emissivity", -contrast * gain * emissivity.u, f"emissivity:{refdes or 'board'}"),
        Term(
            "reflected",
            -(1.0 - emissivity.value) * float(band.slope(view.reflected_c)) * gain * view.reflected_u_c,
            f"reflected:{view.capture}",
        ),
        Term("air", gain * float(partials.air_transmittance) * sight.air_transmittance_u, f"air:{view.capture}"),
        Term(
            "window",
            gain * float(partials.window_transmittance) * sight.window_transmittance_u,
            f"window:{view.capture}",
        ),
    ]
    return tuple(term for term in terms if term.contribution_k != 0.0)


def private_terms(view: View, surface_c: float, emissivity: float, radiances: Mapping[str, float]) -> Budget:
    """Terms of the part alone, from standard uncertainties of its leaving radiance by name; zeros are left out."""
    gain = kelvin_per_radiance(view, surface_c, emissivity)
    return tuple(Term(name, gain * u) for name, u in radiances.items() if u > 0.0)
