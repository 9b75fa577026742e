"""Each top face's radiance and temperature, by the way that suits its size.

Short side from 6 px: straight from the frame, away from the edges. Below: from the joint solution of all parts and
the board; between 3 and 6 px together with the part's best filled pixel as a second opinion. Below 3 px, and where
there is no joint solution, one opinion has to do, and its uncertainty says so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array
from overlay.frames.frame import Emissivity
from overlay.frames.radiometry import object_radiance, surface_temperature_c
from overlay.reading import tuned
from overlay.reading.model import ReadingCode
from overlay.reading.plain import Plain, within
from overlay.reading.single_pixel import Little
from overlay.reading.statistics import Peak
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName
from overlay.view.model import View
from overlay.view.terms import common_terms, kelvin_per_radiance, private_terms
from overlay.view.tops import SMALL_BELOW_PX, Top


@dataclass(frozen=True, slots=True)
class Joint:
    """What the joint solution says of one part, in radiance leaving the board."""

    leaving: float  # mean of the visible top face
    u: float
    beneath: float


@dataclass(frozen=True, slots=True)
class Opinion:
    """Peak and mean radiance of a top face as one way of reading has them."""

    leaving: float  # at the peak
    mean: float
    u: Mapping[TermName, float]  # standard uncertainties of ``leaving`` by name
    at_px: tuple[float, float]
    pixel: tuple[int, int]
    peak_over_mean_u_k: float = 0.0
    kelvin_per_unit: float = 1.0
    followed: float = 0.0  # part of ``leaving`` that was followed to the edge of the face
    why: tuple[Reason, ...] = ()


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
    why: tuple[Reason, ...]


def from_frame(peak: Peak, position_u: tuple[float, float]) -> Opinion:
    """A resolved face, read directly.

    ``position_u``: what another place within the registration's, and within the placement's uncertainty, would
    read, as radiances.
    """
    u = {
        TermName.NOISE: peak.noise,
        TermName.FILL_AND_BLUR: tuned.PUT_BACK_U * peak.lowered,
        TermName.CONTROL_POINTS: position_u[0],
        TermName.POSITION: position_u[1],
        TermName.FACE_EDGE: tuned.FOLLOWED_U * peak.rim,
    }
    return Opinion(peak.leaving, peak.mean, u, peak.at_px, peak.pixel, followed=peak.rim)


def from_few_pixels(top: Top, joint: Opinion | None, little: Little | None, around: float | None) -> Opinion | None:
    """A face of a few pixels; None where neither way has an answer."""
    if joint is None:
        return None if little is None else _from_pixel(top, little, around)
    if little is None or top.readable_px < SMALL_BELOW_PX:
        return joint
    return _agreed(joint, _from_pixel(top, little, around))


def from_joint(
    view: View, tops: Sequence[Top], solved: Mapping[str, Joint], emissivity: Sequence[Emissivity]
) -> list[Opinion | None]:
    """What the joint solution says of each face; None where it says nothing."""
    known = [i for i, top in enumerate(tops) if top.face.component.refdes in solved]
    result: list[Opinion | None] = [None] * len(tops)
    if not known:
        return result
    joints = [solved[tops[i].face.component.refdes] for i in known]
    value = np.array([emissivity[i].value for i in known])
    mean, beneath = np.array([j.leaving for j in joints]), np.array([j.beneath for j in joints])
    reflected = float(view.band.radiance(view.reflected_c))
    mean_c = surface_temperature_c(view.band, mean, value, reflected)
    board_c = surface_temperature_c(view.band, beneath, view.board_emissivity.value, reflected)
    unresolved = np.array([tops[i].long_readable_px < 2.0 * SMALL_BELOW_PX for i in known])
    excess = np.where(unresolved, 1.0, 0.5) * np.nan_to_num(np.maximum(mean_c - board_c, 0.0))
    peak_c = mean_c + tuned.PEAK_OVER_MEAN * excess
    leaving = object_radiance(view.band, peak_c, value, view.reflected_c)
    gain = kelvin_per_radiance(view, peak_c, value)
    u = np.fmax([j.u for j in joints], tuned.LEAST_UNMIXED_U_K / gain)
    for k, i in enumerate(known):
        if not math.isfinite(peak_c[k]):
            result[i] = Opinion(
                joints[k].leaving, joints[k].leaving, {TermName.FILL_AND_BLUR: joints[k].u}, *_middle(view, tops[i])
            )
            continue
        result[i] = Opinion(
            float(leaving[k]),
            joints[k].leaving,
            {TermName.FILL_AND_BLUR: float(u[k])},
            *_middle(view, tops[i]),
            peak_over_mean_u_k=float(tuned.PEAK_OVER_MEAN_U * excess[k]),
            kelvin_per_unit=float(gain[k]),
        )
    return result


def _from_pixel(top: Top, little: Little, around: float | None) -> Opinion:
    alone = 0.0 if around is None else tuned.ALONE_U * (1.0 - little.fill) * abs(little.leaving - around)
    u = {
        TermName.FILL_AND_BLUR: math.hypot(little.fill_u, alone, tuned.PUT_BACK_U * little.lowered),
        TermName.NOISE: little.noise,
        TermName.CONTROL_POINTS: little.position_u,
        # from the middle of the pixel to the corner of the face
        TermName.FACE_EDGE: tuned.FOLLOWED_U * little.tilt * max(0.0, 0.5 * top.readable_px - 0.5),
    }
    return Opinion(little.leaving, little.leaving, u, little.at_px, little.pixel)


def _agreed(joint: Opinion, pixel: Opinion) -> Opinion:
    """Both opinions weighed by their own variances; sharing frame and geometry, neither lowers the other's."""
    gain = joint.kelvin_per_unit
    u_joint = math.hypot(_private(joint), joint.peak_over_mean_u_k / gain)
    u_pixel = math.hypot(_private(pixel), tuned.LEAST_UNMIXED_U_K / gain)
    weight = u_pixel**2 / (u_joint**2 + u_pixel**2)
    apart = abs(joint.leaving - pixel.leaving)
    u, why = {TermName.FILL_AND_BLUR: weight * u_joint + (1.0 - weight) * u_pixel}, joint.why
    if apart > tuned.DISAGREE_SIGMAS * math.hypot(u_joint, u_pixel):
        u[TermName.TWO_WAYS] = 0.5 * apart
        why += (
            Reason(
                ReadingCode.TWO_WAYS_DIFFER,
                f"all parts solved together, and its own best pixel, differ by {apart * gain:.1f} K: check the "
                "body's size, its place and the control points",
            ),
        )
    leaving = weight * joint.leaving + (1.0 - weight) * pixel.leaving
    return replace(pixel, leaving=leaving, mean=joint.mean, u=u, why=why)


def second_opinion(opinion: Opinion | None, plain: Plain | None) -> Opinion | None:
    """The opinion, moved towards the plain reading where that contradicts it, or knows far better."""
    if opinion is None or plain is None or plain.leaving is None:
        return opinion
    u = math.hypot(_private(opinion), opinion.peak_over_mean_u_k / opinion.kelvin_per_unit)
    apart = abs(opinion.leaving - plain.leaving)
    contradicted = apart > tuned.PLAIN_SIGMAS * math.hypot(u, plain.u)
    if not contradicted and u <= tuned.PLAIN_BETTER * plain.u:
        return opinion
    weight = plain.u**2 / (u**2 + plain.u**2)
    leaving = weight * opinion.leaving + (1.0 - weight) * plain.leaving
    terms = {
        TermName.FILL_AND_BLUR: weight * u + (1.0 - weight) * plain.u,
        TermName.TWO_WAYS: tuned.PLAIN_APART_U * apart,
    }
    why = opinion.why
    if contradicted:
        why += (
            Reason(
                ReadingCode.TWO_WAYS_DIFFER,
                f"its own pixels, and all parts solved together, differ by {apart / plain.kelvin:.1f} K: "
                "the reading lies between; check the body's size, its place and the control points",
            ),
        )
    return replace(opinion, leaving=leaving, u=terms, peak_over_mean_u_k=0.0, why=why)


def of_unknown_size(opinion: Opinion | None, plain: Plain | None, beyond: float) -> Opinion | None:
    """The opinion of a part whose body nobody knows: as large as that its pixels show it, or as small as was drawn.

    ``beyond`` is the radiance by which the places differ that it may well reach.
    """
    if opinion is None or plain is None:
        return opinion
    half = 0.5 * (opinion.leaving - plain.shown)
    known = opinion.u.get(TermName.FILL_AND_BLUR, 0.0)
    terms = {**opinion.u, TermName.FILL_AND_BLUR: math.hypot(known, half), TermName.BODY_UNKNOWN: beyond}
    return replace(opinion, leaving=plain.shown + half, mean=min(opinion.mean, plain.shown + half), u=terms)


def bounded(opinion: Opinion | None, plain: Plain | None) -> Opinion | None:
    """The opinion within what the face's pixels allow at all."""
    if opinion is None or plain is None:
        return opinion
    u = _private(opinion)
    if u <= 0.0:
        return opinion
    leaving, left_u = within(opinion.leaving, u, plain)
    if left_u >= tuned.HARDLY_BOUNDED * u and abs(leaving - opinion.leaving) < (1.0 - tuned.HARDLY_BOUNDED) * u:
        return opinion
    why = opinion.why
    if abs(leaving - opinion.leaving) > max(u, tuned.BOUND_WORTH_SAYING_K / opinion.kelvin_per_unit):
        why += (
            Reason(ReadingCode.BOUNDED, "held to what its own pixels can have come from: the rest is too uncertain"),
        )
    terms = {name: value * left_u / u for name, value in opinion.u.items()}
    return replace(opinion, leaving=leaving, mean=min(opinion.mean, leaving), u=terms, why=why)


def estimates_of(
    view: View, tops: Sequence[Top], opinions: Sequence[Opinion | None], emissivity: Sequence[Emissivity]
) -> list[Estimate | None]:
    """Temperatures and budgets of all faces that somebody has an opinion of."""
    told = [i for i, opinion in enumerate(opinions) if opinion is not None]
    chosen = [opinion for opinion in opinions if opinion is not None]
    result: list[Estimate | None] = [None] * len(tops)
    if not told:
        return result
    surfaces = [emissivity[i] for i in told]
    value = np.array([surface.value for surface in surfaces])
    leaving = np.array([opinion.leaving for opinion in chosen])
    reflected = float(view.band.radiance(view.reflected_c))
    peak_c = surface_temperature_c(view.band, leaving, value, reflected)
    mean = np.array([opinion.mean for opinion in chosen])
    # where two ways of reading were weighed, the mean of one may lie above what both make of the peak
    mean_c = np.fmin(surface_temperature_c(view.band, mean, value, reflected), peak_c)
    gain = kelvin_per_radiance(view, peak_c, value)
    common = common_terms(view, peak_c, leaving, surfaces, [tops[i].face.component.refdes for i in told])
    for k, (i, opinion) in enumerate(zip(told, chosen, strict=True)):
        budget: Budget = ()
        why = opinion.why
        if math.isfinite(peak_c[k]):
            budget = (*common[k], *private_terms(float(gain[k]), opinion.u))
            if opinion.peak_over_mean_u_k > 0.0:
                budget += (Term(TermName.PEAK_OVER_MEAN, opinion.peak_over_mean_u_k),)
            if tops[i].face.component.body is None:
                elsewhere_k = tuned.BODILESS_SHARE_OF_RISE * abs(float(peak_c[k]) - view.ambient_c)
                budget += (Term(TermName.BODY_UNKNOWN, max(elsewhere_k, tuned.BODILESS_LEAST_K)),)
            edge_k = opinion.followed * float(gain[k])
            if edge_k > tuned.EDGE_WORTH_SAYING_K:
                why += (
                    Reason(
                        ReadingCode.HOTTEST_AT_EDGE,
                        f"hottest at the edge of its top face: {edge_k:.1f} K of the value are followed to there",
                    ),
                )
        result[i] = Estimate(
            peak_c=float(peak_c[k]),
            mean_c=float(mean_c[k]),
            leaving=opinion.leaving,
            leaving_u=_private(opinion),
            at_px=opinion.at_px,
            pixel=opinion.pixel,
            budget=budget,
            why=why,
        )
    return result


def _private(opinion: Opinion) -> float:
    return math.sqrt(math.fsum(u**2 for u in opinion.u.values()))


def _middle(view: View, top: Top) -> tuple[tuple[float, float], tuple[int, int]]:
    """Place of a face's middle, and its pixel."""
    rows, cols = view.registration.shape_px
    center: Array = np.mean(top.face.polygon_px, axis=0)
    pixel = (min(max(round(center[1]), 0), rows - 1), min(max(round(center[0]), 0), cols - 1))
    return (float(center[0]), float(center[1])), pixel
