"""What parts look like in a frame: their bodies and their metal, blurred, each picture of height one.

Pictures are drawn for many parts at once: one by one, calls would cost ten times what the arithmetic does. Lengths
along a body's own axes are in standard deviations of the blur.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlay.arrays import Array, Index, Mask, read_only
from overlay.registration.least_squares import Projection
from overlay.registration.targets import Targets

BLUR_PX = 0.7
"""Standard deviation of optics and pixel together: a width at half maximum of 1.4 px, and the pixel's own square."""
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

    def inside(self, beside_px: Array) -> tuple[Array, Array]:
        """Coordinates x, y (n, …) along each body of pixels (n, …, 2) beside its place."""
        shape = (len(self), *(1,) * (beside_px.ndim - 2))
        a, b, c, d = (self.across[:, i, j].reshape(shape) for i in (0, 1) for j in (0, 1))
        u, v = beside_px[..., 0], beside_px[..., 1]
        return a * u + b * v, c * u + d * v


def sighted(targets: Targets, seen_by: Sightline) -> Sighted:
    """Targets as a camera sees them."""
    place = seen_by.pixels(targets.center_mm)
    slopes = seen_by.projection.board_jacobian(seen_by.parameters, targets.center_mm)[:, :, :2]
    forward = np.nan_to_num(slopes @ targets.axes.transpose(0, 2, 1), nan=0.0)  # columns: px per mm along x and y
    singular = np.abs(np.linalg.det(forward)) < 1e-12
    forward[singular] = np.eye(2) * 1e-3
    place[singular] = np.nan
    scale = np.linalg.norm(forward, axis=1) / BLUR_PX
    # a disc is as wide on every side
    scale[targets.round] = scale[targets.round].mean(axis=1, keepdims=True)
    foot = seen_by.pixels(targets.center_mm * np.array([1.0, 1.0, 0.0]))
    return Sighted(
        place_px=place,
        lean_px=np.nan_to_num(foot - place),
        across=np.linalg.inv(forward) * scale[:, :, None],
        half=targets.half_mm * scale,
        cap=targets.cap_mm * scale[:, 0],
        pad=targets.pad_mm * scale[:, 0],
        lead=targets.lead_mm * scale,
        round=targets.round,
    )


def bodies(parts: Sighted, x: Array, y: Array) -> tuple[Array, Array]:
    """Pictures (n, …) of bodies and of all their metal, at places (n, …) along each body."""
    body, caps, pads, leads_x, leads_y = _pieces(parts, x, y)
    return body, caps + pads + leads_x + leads_y


def details(parts: Sighted, x: Array, y: Array) -> list[Array]:
    """As `bodies`, but each metal by itself, and a wide body's slopes of temperature.

    Seven: body, its slopes along x and y, end caps, pads, leads along x and along y. `has_details` tells which are
    not 0 all over.
    """
    body, *metal = _pieces(parts, x, y)
    slopes = []
    for axis, along in enumerate((x, y)):
        slope = np.zeros_like(body)
        wide = np.flatnonzero(has_details(parts)[:, 1 + axis])
        slope[wide] = body[wide] * along[wide] / _column(parts.half[wide, axis], x)
        slopes.append(slope)
    return [body, *slopes, *metal]


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


def whole(parts: Sighted, x: Array, y: Array) -> Array:
    """Pictures (n, …) of whole bodies, metal and all."""
    drawn = np.empty_like(x)
    disc, box = np.flatnonzero(parts.round), np.flatnonzero(~parts.round)
    drawn[disc] = smooth_step(_column(parts.half[disc, 0], x) - np.hypot(x[disc], y[disc]))
    half = parts.half[box]
    drawn[box] = _strip(x[box], half[:, 0]) * _strip(y[box], half[:, 1])
    return drawn


def _pieces(parts: Sighted, x: Array, y: Array) -> list[Array]:
    """Body, end caps, pads, leads along x and along y; 0 where a part has none."""
    half = parts.half
    box = np.flatnonzero(~parts.round)
    pieces = [np.zeros_like(x) for _ in range(5)]
    along, across = np.empty_like(x), np.empty_like(x)
    along[box], across[box] = _strip(x[box], half[box, 0]), _strip(y[box], half[box, 1])

    capped = np.flatnonzero((parts.cap > 0.0) & ~parts.round)
    core = along.copy()
    core[capped] = _strip(x[capped], half[capped, 0] - parts.cap[capped])
    pieces[0][box] = core[box] * across[box]
    pieces[1][capped] = (along[capped] - core[capped]) * across[capped]

    for number, at, own, axis, more, other in (
        (2, x, along, 0, parts.pad, across),
        (3, x, along, 0, parts.lead[:, 0], across),
        (4, y, across, 1, parts.lead[:, 1], along),
    ):
        has = np.flatnonzero((more > 0.0) & ~parts.round)
        pieces[number][has] = (_strip(at[has], half[has, axis] + more[has]) - own[has]) * other[has]

    disc = np.flatnonzero(parts.round)
    if len(disc):
        r = np.hypot(x[disc], y[disc])
        pieces[0][disc] = smooth_step(_column(half[disc, 0], x) - r)
        pieces[3][disc] = smooth_step(_column(half[disc, 0] + parts.lead[disc, 0], x) - r) - pieces[0][disc]
    return pieces


def _strip(at: Array, half: Array) -> Array:
    """A blurred strip of that half width (n,) about 0, at places (n, …)."""
    half = _column(half, at)
    return smooth_step(at + half) - smooth_step(at - half)


def _column(value: Array, like: Array) -> Array:
    """One value a part (n,), to be used with places (n, …)."""
    return value.reshape(len(value), *(1,) * (like.ndim - 1))


def smooth_step(at: Array) -> Array:
    """A blurred step's height, the normal distribution's integral, to 1e-7: at half the cost of an exact one.

    References
    ----------
    Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.26 (from memory; a test holds it against scipy).
    """
    away = np.abs(at)
    t = 1.0 / (1.0 + 0.3275911 / 2.0**0.5 * away)
    tail = 1.061405429 * t
    for factor in (-1.453152027, 1.421413741, -0.284496736, 0.254829592):
        tail += factor
        tail *= t
    away *= away
    away *= -0.5
    tail *= np.exp(away, out=away)
    tail *= 0.5
    return np.asarray(np.where(at > 0.0, 1.0 - tail, tail))
