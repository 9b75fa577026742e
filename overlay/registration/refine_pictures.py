"""What parts look like in a frame: their bodies and their metal, blurred, each picture of height one.

Pictures are drawn for many parts at once: one by one, calls would cost ten times what the arithmetic does. Places of
all parts stand in flat arrays, and beside them which part each is of. Lengths along a body's own axes are in standard
deviations of the blur; pictures are in single precision, whose steps are a ten-thousandth of any frame's noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlay.arrays import Array, Index, Mask, read_only
from overlay.registration.least_squares import Projection
from overlay.registration.targets import Targets

Single = NDArray[np.float32]
Places = Index | slice
"""Some of many places, or all."""
BLUR_PX = 0.7
"""Standard deviation of optics and pixel together: a width at half maximum of 1.4 px, and the pixel's own square."""
_UNSEEN = 5.3  # standard deviations of blur from an edge, from where on it makes 1e-7
_WIDE = 7.0 / BLUR_PX  # bodies wider than 7 px may have a slope of temperature across them


@dataclass(frozen=True, slots=True, eq=False)
class Sightline:
    """A camera (or flat model) at one set of its parameters."""

    projection: Projection
    parameters: Array

    def __post_init__(self) -> None:
        read_only(self)

    def pixels(self, xyz_mm: Array) -> Array:
        """Pixels (n, 2) of board points (n, 3)."""
        return self.projection.pixels(self.parameters, xyz_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Sighted:
    """Targets as one camera sees them, n of them."""

    place_px: Array  # (n, 2); nan where it is not seen
    lean_px: Array  # (n, 2) of the place on the board beneath, from the place
    across: Array  # (n, 2, 2): a pixel d beside the place lies at ``across @ d`` of the body
    half: Array  # (n, 2)
    cap: Array  # (n,) end caps within the body
    pad: Array  # (n,) beyond it
    lead: Array  # (n, 2)
    round: Mask

    def __post_init__(self) -> None:
        read_only(self)

    def __len__(self) -> int:
        return len(self.round)

    def at(self, which: Index) -> Sighted:
        """Some of them, in any order and as often as wished."""
        return Sighted(*(np.take(getattr(self, name), which, axis=0) for name in self.__slots__))

    @property
    def outer(self) -> Array:
        """Half extents (n, 2) with pads and leads."""
        out = self.half + self.lead
        out[:, 0] += self.pad
        return out

    @property
    def radius_px(self) -> Array:
        """Radius (n,) of a circle that holds each target with its metal."""
        return np.asarray(np.linalg.norm(self.outer, axis=1) * BLUR_PX)

    def inside(self, which: Index, beside_px: Array) -> tuple[Array, Array]:
        """Coordinates x, y (m,) of pixels (m, 2) beside the places of those targets (m,) along their bodies."""
        a, b, c, d = (self.across[:, i, j][which] for i in (0, 1) for j in (0, 1))
        u, v = beside_px.T
        return a * u + b * v, c * u + d * v


def sighted(targets: Targets, seen_by: Sightline) -> Sighted:
    """Targets as a camera sees them."""
    feet_mm = targets.center_mm * np.array([1.0, 1.0, 0.0])
    both, slopes = seen_by.projection.places(seen_by.parameters, np.concatenate([targets.center_mm, feet_mm]))
    place, foot = both[: len(targets)], both[len(targets) :]
    # columns: px per mm along x and y
    forward = np.nan_to_num(slopes[: len(targets), :, :2] @ targets.axes.transpose(0, 2, 1))
    turned = forward[:, 0, 0] * forward[:, 1, 1] - forward[:, 0, 1] * forward[:, 1, 0]
    singular = np.abs(turned) < 1e-12
    forward[singular], turned[singular] = np.eye(2) * 1e-3, 1e-6
    place[singular] = np.nan
    scale = np.hypot(forward[:, 0], forward[:, 1]) / BLUR_PX
    # a disc is as wide on every side
    scale[targets.round] = scale[targets.round].mean(axis=1, keepdims=True)
    inverse = forward[:, ::-1, ::-1].transpose(0, 2, 1) * np.array([[1.0, -1.0], [-1.0, 1.0]]) / turned[:, None, None]
    return Sighted(
        place_px=place,
        lean_px=np.nan_to_num(foot - place),
        across=inverse * scale[:, :, None],
        half=targets.half_mm * scale,
        cap=targets.cap_mm * scale[:, 0],
        pad=targets.pad_mm * scale[:, 0],
        lead=targets.lead_mm * scale,
        round=targets.round,
    )


def bodies(parts: Sighted, part: Index, x: Single, y: Single) -> tuple[Single, Single]:
    """Pictures (m,) of bodies and of all their metal, at places x, y (m,) along the body of each place's part (m,)."""
    along, across = extents(parts, part, x, y)
    body, *metals = _pieces(parts, part, x, y, along, across)
    metal = np.zeros_like(x)
    for places, picture in metals:
        metal[places] += picture
    return body[1], metal


def details(
    parts: Sighted, part: Index, x: Single, y: Single, along: Single, across: Single
) -> list[tuple[Places, Single]]:
    """As `bodies`, but each metal by itself, and a wide body's slopes of temperature.

    Seven: body, its slopes along x and y, end caps, pads, leads along x and along y; each as the places at which parts
    are that have it (`has_details`), and what is drawn there. ``along`` and ``across`` are the parts' `extents`.
    """
    body, *metals = _pieces(parts, part, x, y, along, across)
    slopes = []
    for axis, at in enumerate((x, y)):
        wide = np.flatnonzero(has_details(parts)[:, 1 + axis][part])
        slopes.append((wide, body[1][wide] * at[wide] / _single(parts.half[:, axis])[part[wide]]))
    return [body, *slopes, *metals]


def has_details(parts: Sighted) -> Mask:
    """Which of its `details` (n, 7) each part has."""
    box = ~parts.round[:, None]
    return np.column_stack(
        [
            np.ones(len(parts), dtype=bool),
            (2.0 * parts.half > _WIDE) & box,
            (np.column_stack([parts.cap, parts.pad]) > 0.0) & box,
            (parts.lead[:, :1] > 0.0),
            (parts.lead[:, 1:] > 0.0) & box,
        ]
    )


def extents(parts: Sighted, part: Index, x: Single, y: Single) -> tuple[Single, Single]:
    """Blurred strips along and across whole bodies, metal and all: their product is the picture; a disc and 1."""
    length, width = _single(parts.half.T)
    along, across = _strip(x, length[part]), _strip(y, width[part])
    disc = np.flatnonzero(parts.round[part])
    if len(disc):
        along[disc] = smooth_step(length[part[disc]] - np.hypot(x[disc], y[disc]))
        across[disc] = 1.0
    return along, across


def _pieces(
    parts: Sighted, part: Index, x: Single, y: Single, along: Single, across: Single
) -> list[tuple[Places, Single]]:
    """Body, end caps, pads, leads along x and along y: the places of parts that have them, and what is drawn there."""
    half, cap, pad, lead = (_single(lengths) for lengths in (parts.half, parts.cap, parts.pad, parts.lead))
    body, box = along * across, ~parts.round
    capped = np.flatnonzero(((parts.cap > 0.0) & box)[part])
    of = part[capped]
    core = _strip(x[capped], half[of, 0] - cap[of]) * across[capped]
    caps = body[capped] - core
    body[capped] = core
    beyond = []
    for at, own, axis, more, other in (
        (x, along, 0, pad, across),
        (x, along, 0, lead[:, 0], across),
        (y, across, 1, lead[:, 1], along),
    ):
        has = np.flatnonzero(((more > 0.0) & box)[part])
        of = part[has]
        beyond.append((has, (_strip(at[has], half[of, axis] + more[of]) - own[has]) * other[has]))
    pads, leads_x, leads_y = beyond
    disc = np.flatnonzero(((lead[:, 0] > 0.0) & parts.round)[part])
    if len(disc):
        of = part[disc]
        around = smooth_step(half[of, 0] + lead[of, 0] - np.hypot(x[disc], y[disc])) - body[disc]
        boxed, leads = leads_x
        leads_x = np.concatenate([boxed, disc]), np.concatenate([leads, around])
    return [(slice(None), body), (capped, caps), pads, leads_x, leads_y]


def _single(values: Array) -> Single:
    return values.astype(np.float32)


def _strip(at: Single, half: Single) -> Single:
    """Blurred strips of those half widths about 0, at places."""
    away = np.abs(at)
    far = half + away
    strip = smooth_step(half - away)
    near = np.flatnonzero(far < _UNSEEN)  # elsewhere the other edge is too far off to be seen
    strip[near] -= smooth_step(-far[near])
    return strip


def smooth_step(at: Single) -> Single:
    """A blurred step's height, the normal distribution's integral, to 3e-7: at a quarter of the cost of an exact one.

    References
    ----------
    Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26 (from memory; a test holds it against scipy).
    """
    away = np.abs(at)
    t = away * np.float32(0.3275911 / 2.0**0.5)
    t += np.float32(1.0)
    np.reciprocal(t, out=t)
    tail = t * np.float32(1.061405429)
    for factor in (-1.453152027, 1.421413741, -0.284496736, 0.254829592):
        tail += np.float32(factor)
        tail *= t
    away *= away
    away *= np.float32(-0.5)
    tail *= np.exp(away, out=away)
    tail *= np.float32(-0.5)
    tail += np.float32(0.5)  # from the middle to the place's distance
    np.copysign(tail, at, out=tail)
    tail += np.float32(0.5)
    return tail
