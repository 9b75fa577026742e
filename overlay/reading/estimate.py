"""One top face's radiance and temperature, by the way that suits its size.

Short side from 6 px: straight from the frame, away from the edges. Below: from the joint solution of all parts and
the board; between 3 and 6 px together with the part's best filled pixel as a second opinion. Below 3 px, and where
there is no joint solution, one opinion has to do, and its uncertainty says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from overlay.frames.frame import Array, Emissivity
from overlay.frames.radiometry import object_radiance, surface_temperature_c
from overlay.reading.little import Little
from overlay.reading.model import View
from overlay.reading.statistics import Peak
from overlay.reading.terms import common_terms, kelvin_per_radiance, private_terms
from overlay.reading.tops import SMALL_BELOW_PX, Top
from overlay.uncertainty import Budget, Term

# Peak over mean of an unresolved part, as a share of its rise above the board: a heated bar cooled at both ends has
# a parabola on it, whose peak is a third of the inner difference above the mean. Halved with one side resolved.
PEAK_OVER_MEAN = 0.12
PEAK_OVER_MEAN_U = 0.08
# Real lenses have tails that no Gaussian has: what is unmixed is never better than this.
LEAST_UNMIXED_U_K = 0.3
_DISAGREE_SIGMAS = 2.5


@dataclass(frozen=True, slots=True)
class Joint:
    """What the joint solution says of one part, in radiance leaving the board."""

    leaving: float  # mean of the visible top face
    u: float
    beneath: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """Peak and mean of one top face with the budget of the peak."""

    peak_c: float  # nan: no solution
    mean_c: float
    leaving: float  # at the peak
    leaving_u: float  # its private part
    at_px: tuple[float, float]
    pixel: tuple[int, int]
    budget: Budget
    why: tuple[str, ...]


def from_frame(view: View, top: Top, peak: Peak, emissivity: Emissivity, position_u: tuple[float, float]) -> Estimate:
    """A resolved face, read directly.

    ``position_u``: what another place within the registration's, and within the placement's uncertainty, would
    read, as radiances.
    """
    why = []
    radiances = {"noise": peak.noise, "control points": position_u[0], "position": position_u[1], "face edge": peak.rim}
    estimate = _estimate(view, top, emissivity, peak.leaving, peak.mean, radiances, (), peak.at_px, peak.pixel)
    rim_k = peak.rim * _gain(view, estimate.peak_c, emissivity)
    if rim_k > 0.5:
        why.append(
            f"gets hotter towards the edge of its top face: the hottest place may lie there, some {rim_k:.1f} K above"
        )
    return _with(estimate, why)


def from_few_pixels(
    view: View, top: Top, joint: Joint | None, little: Little | None, emissivity: Emissivity, around: float | None
) -> Estimate | None:
    """A face of a few pixels; None where neither way has an answer."""
    options = []
    if joint is not None:
        options.append(_from_joint(view, top, joint, emissivity))
    if little is not None and (joint is None or top.readable_px >= SMALL_BELOW_PX):
        options.append(_from_pixel(view, top, little, emissivity, around))
    options = [option for option in options if np.isfinite(option.peak_c)] or options[:1]
    if not options:
        return None
    if len(options) == 1:
        return options[0]
    return _agreed(view, top, options[0], options[1], emissivity)


def _from_joint(view: View, top: Top, joint: Joint, emissivity: Emissivity) -> Estimate:
    reflected = float(view.band.radiance(view.reflected_c))
    mean_c = float(surface_temperature_c(view.band, joint.leaving, emissivity.value, reflected))
    board_c = float(surface_temperature_c(view.band, joint.beneath, view.board_emissivity.value, reflected))
    share = 1.0 if top.long_readable_px < 2.0 * SMALL_BELOW_PX else 0.5
    excess = max(mean_c - board_c, 0.0) if np.isfinite(mean_c - board_c) else 0.0
    peak_c = mean_c + share * PEAK_OVER_MEAN * excess
    leaving = float(object_radiance(view.band, peak_c, emissivity.value, view.reflected_c))
    gain = _gain(view, peak_c, emissivity)
    u = max(joint.u, LEAST_UNMIXED_U_K / gain) if gain > 0.0 else joint.u
    over_mean = (Term("peak over mean", share * PEAK_OVER_MEAN_U * excess),) if excess > 0.0 else ()
    center = np.mean(top.face.polygon_px, axis=0)
    return _estimate(
        view,
        top,
        emissivity,
        leaving if np.isfinite(peak_c) else joint.leaving,
        joint.leaving,
        {"fill and blur": u},
        over_mean,
        (float(center[0]), float(center[1])),
        _pixel_at(view, center),
    )


def _from_pixel(view: View, top: Top, little: Little, emissivity: Emissivity, around: float | None) -> Estimate:
    floor = 0.0
    if around is not None:
        # one part alone cannot know its pads and neighbours
        floor = 0.2 * (1.0 - little.fill) * abs(little.leaving - around)
    radiances = {"fill and blur": float(np.hypot(little.fill_u, floor)), "noise": little.noise}
    radiances["control points"] = little.position_u
    return _estimate(view, top, emissivity, little.leaving, little.leaving, radiances, (), little.at_px, little.pixel)


def _agreed(view: View, top: Top, joint: Estimate, pixel: Estimate, emissivity: Emissivity) -> Estimate:
    """Both opinions weighed by their own variances; sharing frame and geometry, neither lowers the other's."""
    gain = _gain(view, joint.peak_c, emissivity)
    u_joint = float(np.hypot(joint.leaving_u, _term_k(joint.budget, "peak over mean") / gain))
    u_pixel = float(np.hypot(pixel.leaving_u, LEAST_UNMIXED_U_K / gain))
    weight = u_pixel**2 / (u_joint**2 + u_pixel**2)
    leaving = weight * joint.leaving + (1.0 - weight) * pixel.leaving
    u = weight * u_joint + (1.0 - weight) * u_pixel
    apart = abs(joint.leaving - pixel.leaving)
    radiances, why = {"fill and blur": u}, list(joint.why)
    if apart > _DISAGREE_SIGMAS * float(np.hypot(u_joint, u_pixel)):
        radiances["two ways of reading"] = 0.5 * apart
        why.append(
            f"all parts solved together, and its own best pixel, differ by {apart * gain:.1f} K: check the body's "
            "size, its place and the control points"
        )
    mean = float(object_radiance(view.band, joint.mean_c, emissivity.value, view.reflected_c))
    estimate = _estimate(view, top, emissivity, leaving, mean, radiances, (), pixel.at_px, pixel.pixel)
    return _with(estimate, why)


def _estimate(
    view: View,
    top: Top,
    emissivity: Emissivity,
    leaving: float,
    mean: float,
    radiances: dict[str, float],
    further: Budget,
    at_px: tuple[float, float],
    pixel: tuple[int, int],
) -> Estimate:
    reflected = float(view.band.radiance(view.reflected_c))
    peak_c, mean_c = (
        float(surface_temperature_c(view.band, value, emissivity.value, reflected)) for value in (leaving, mean)
    )
    budget: Budget = ()
    u = float(np.sqrt(sum(value**2 for value in radiances.values())))
    if np.isfinite(peak_c):
        budget = (
            *common_terms(view, peak_c, leaving, emissivity, top.face.component.refdes),
            *private_terms(view, peak_c, emissivity.value, radiances),
            *further,
        )
    return Estimate(peak_c, mean_c, leaving, u, at_px, pixel, budget, ())


def _with(estimate: Estimate, why: list[str]) -> Estimate:
    return replace(estimate, why=(*estimate.why, *why))


def _gain(view: View, surface_c: float, emissivity: Emissivity) -> float:
    return kelvin_per_radiance(view, surface_c, emissivity.value) if np.isfinite(surface_c) else 0.0


def _term_k(budget: Budget, name: str) -> float:
    return sum(term.contribution_k for term in budget if term.name == name)


def _pixel_at(view: View, place: Array) -> tuple[int, int]:
    rows, cols = view.registration.shape_px
    return min(max(round(place[1]), 0), rows - 1), min(max(round(place[0]), 0), cols - 1)
