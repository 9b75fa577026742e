"""What the surface does to the radiation: each pixel's emissivity, and each top face's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.arrays import Array, read_only
from overlay.frames.emissivity import SHINY_BELOW
from overlay.frames.frame import Emissivity, EmissivityMap
from overlay.view.model import View
from overlay.view.overlaps import Overlaps, Weights
from overlay.view.shares import painted
from overlay.view.tops import DIRECT_FROM_PX, SMALL_BELOW_PX, Top

# Of tinned caps, pads and leads: bright tin 0.05, matt solder up to 0.25 (common practice).
METAL_EMISSIVITY = 0.10
# Share of a face's area for which an emissivity map must have values before it counts.
_LEAST_MAPPED = 0.5
# What an insulator's emissivity loses towards the side: glass 0.876 upright, 0.849 at 45°, 0.776 at 60°; PVC 0.956,
# 0.946, 0.906 (Fresnel's equations with published optical constants). Their mean, from 45° on.
_LOSS_BY_ANGLE = ([40.0, 45.0, 60.0, 70.0], [0.0, 0.02, 0.075, 0.17])
STEEPEST_DEG = 60.0
"""Beyond this a surface shows too much of what it mirrors to be read."""


@dataclass(frozen=True, slots=True, eq=False)
class Emission:
    """Emissivity of every pixel, and the share of it that is metal ends or, from a map, bare metal; (rows, cols)."""

    value: Array
    metal: Array

    def __post_init__(self) -> None:
        read_only(self)


def pixel_emissivity(view: View, tops: Sequence[Top], sigma_px: float) -> Emission:
    """Emissivity of every pixel, mixed among surfaces as the blurred pixel mixes their radiation.

    Mixed in this way a board of one temperature has one temperature all over the surface map; painted with
    sharp edges it would show a ridge along every body. Where the view has an emissivity map, that is taken.
    """
    import shapely

    shape = view.registration.shape_px
    board = view.board_emissivity.value
    regions, values = [], []
    for top, hidden in zip(tops, shapely.is_empty([top.visible for top in tops]), strict=True):
        if hidden:
            continue
        # Ends of a few pixels are not told apart: painted a little aside, they would make spots out of nothing.
        ends = top.ends if top.readable_px >= DIRECT_FROM_PX else ()
        regions += [top.seen if ends else top.visible, *ends]
        values += [(view.emissivity[top.face.component.refdes].value - board, 0.0)]
        values += [(METAL_EMISSIVITY - board, 1.0)] * len(ends)
    planes = painted(regions, np.array(values).reshape(-1, 2), shape, sigma_px)
    surface, metal = board + planes[0], planes[1]
    surface = np.clip(surface, 0.01, 1.0)
    if view.emissivity_map is not None:
        mapped = view.emissivity_map.value
        surface = np.where(np.isfinite(mapped), np.clip(mapped, 0.01, 1.0), surface)
        metal = np.where(np.isfinite(mapped), mapped < SHINY_BELOW, metal)
    return Emission(surface, metal)


def steepness_deg(view: View, tops: Sequence[Top]) -> Array:
    """Angles (n,) between faces' normals and the line of sight; 0 where no camera is known."""
    camera = view.registration.camera
    if camera is None or not tops:
        return np.zeros(len(tops))
    away = camera.position_mm() - np.array([(*top.face.component.center_mm, top.face.z_mm) for top in tops])
    return np.asarray(np.degrees(np.arccos(np.clip(away[:, 2] / np.linalg.norm(away, axis=1), -1.0, 1.0))))


def seen_from_aside(emissivity: Emissivity, angle_deg: float) -> Emissivity:
    """An emissivity with what the angle of sight takes from it as a further uncertainty."""
    loss = float(np.interp(angle_deg, *_LOSS_BY_ANGLE))
    if loss <= 0.0 or emissivity.value < SHINY_BELOW:
        return emissivity
    return replace(emissivity, u=float(np.hypot(emissivity.u, loss)))


def top_emissivities(view: View, tops: Sequence[Top], inner: Overlaps) -> tuple[Emissivity, ...]:
    """Emissivity of each top face: the map's mean over it where it is resolved, else what the tables say.

    ``inner`` are the pixels of the faces away from their edges.
    """
    stated = [
        seen_from_aside(view.emissivity[top.face.component.refdes], angle)
        for top, angle in zip(tops, steepness_deg(view, tops).tolist(), strict=True)
    ]
    mapped = view.emissivity_map
    if mapped is None:
        return tuple(stated)
    return tuple(
        _mapped(mapped, weights, told) if top.readable_px >= SMALL_BELOW_PX else told
        for top, weights, told in zip(tops, inner, stated, strict=True)
    )


def _mapped(mapped: EmissivityMap, inner: Weights, stated: Emissivity) -> Emissivity:
    """The map's mean over a face; what is ``stated`` where the map knows too little of it.

    The map's uncertainty is mostly that of the stage's temperature and common to its pixels: it is averaged, not
    divided by the root of their number.
    """
    value, u = mapped.value[inner.rows, inner.cols], mapped.u[inner.rows, inner.cols]
    known = np.isfinite(value) & np.isfinite(u)
    if not len(inner.weight) or inner.weight[known].sum() < _LEAST_MAPPED * inner.weight.sum():
        return stated
    share = inner.weight[known] / inner.weight[known].sum()
    mean, mean_u = float(share @ value[known]), float(share @ u[known])
    return Emissivity(mean, mean_u, mapped.source, common_u=min(mapped.common_share * mean, mean_u))
