"""What hides a body's top face: every part of another body that stands higher.

A ray that ends on a top face at height z comes down from above, so only what stands above z can be in its way: of a
body with a taller top that is the prism from z upwards. Seen by the camera the prism is the convex hull of its
section at z and its top face. No order of distance is needed, which fails for long bodies.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from overlay.arrays import Array

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

    from overlay.registration.stacking import Stack

    Indices = NDArray[np.intp]

_LEAST_SHARE = 1e-3  # of a face: less than that is rounding at a common edge


def visible_faces(
    sections_mm: Sequence[Array],
    stack: Stack,
    pixels: Callable[[Array], Array],
    shape_px: tuple[int, int],
) -> tuple[list[Polygon | MultiPolygon], list[dict[int, float]], Array]:
    """What is left of top faces inside the frame, and which bodies hide how much of them.

    Parameters
    ----------
    sections_mm
        Convex outlines (k, 2) of the bodies on the board.
    stack
        How high each stands, and who is over whom. A roof of unknown height hides what lies beneath its own outline.
    pixels
        Takes board points (m, 3) to pixels (m, 2); nan where they are not seen.
    shape_px
        (rows, cols) of the frame.

    Returns
    -------
    visible
        One polygon or several for each face, empty where nothing is seen.
    hidden
        For each face the share of it that other bodies hide, by their index.
    inside : (n,)
        Share of each face that lies inside the frame, hidden or not.
    """
    import shapely

    rows, cols = shape_px
    low_mm, high_mm = stack.top_mm, stack.reach_mm
    frame = shapely.box(-0.5, -0.5, cols - 0.5, rows - 0.5)
    tops = _polygons(sections_mm, low_mm, pixels)
    areas = shapely.area(tops)
    left, top, right, bottom = shapely.bounds(tops).T  # nan where nothing is seen
    cut = ~((left >= -0.5) & (top >= -0.5) & (right <= cols - 0.5) & (bottom <= rows - 0.5))
    visible = tops.copy()
    visible[cut] = shapely.intersection(tops[cut], frame)
    inside = shapely.area(visible) / np.maximum(areas, 1e-12)
    hidden: list[dict[int, float]] = [{} for _ in sections_mm]
    hiders = np.flatnonzero((high_mm > 0) | stack.roof)
    if len(hiders):
        tall = high_mm[hiders]
        top_of_hider = np.where(np.isfinite(tall), tall, 0.0)
        outer = _hulls([sections_mm[int(i)] for i in hiders], np.zeros(len(hiders)), top_of_hider, pixels)
        faces, found = shapely.STRtree(outer).query(visible)
        pairs = (hiders[found] != faces) & stack.over(hiders[found], faces)
        faces, above = faces[pairs], hiders[found[pairs]]
        shadows = _hulls(
            [sections_mm[int(i)] for i in above],
            low_mm[faces],
            np.where(np.isfinite(high_mm[above]), np.maximum(high_mm[above], low_mm[faces]), low_mm[faces]),
            pixels,
        )
        shares = shapely.area(shapely.intersection(shadows, visible[faces])) / np.maximum(areas[faces], 1e-12)
        for pair in np.flatnonzero(shares > _LEAST_SHARE):
            hidden[faces[pair]][int(above[pair])] = float(shares[pair])
            visible[faces[pair]] = shapely.difference(visible[faces[pair]], shadows[pair])
    return [_surface(shape) for shape in visible], hidden, inside


def _surface(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """Only what has an area: faces that merely touch leave points and lines behind."""
    import shapely

    if isinstance(shape, shapely.Polygon | shapely.MultiPolygon):
        return shape
    parts = [part for part in getattr(shape, "geoms", ()) if isinstance(part, shapely.Polygon)]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()


def _polygons(sections_mm: Sequence[Array], z_mm: Array, pixels: Callable[[Array], Array]) -> Array:
    """Outlines at their heights as seen; empty where a corner is not seen."""
    import shapely

    uv_px, index = _seen(sections_mm, z_mm, pixels)
    lost = np.unique(index[~np.isfinite(uv_px).all(axis=1)])
    uv_px[np.isin(index, lost)] = 0.0
    rings = shapely.linearrings(uv_px, indices=index)
    polygons = shapely.polygons(rings)
    polygons[lost] = shapely.Polygon()
    # a long face under much lens distortion may touch itself
    crossed = ~shapely.is_valid(polygons)
    polygons[crossed] = shapely.convex_hull(polygons[crossed])
    return np.asarray(polygons)


def _hulls(sections_mm: Sequence[Array], low_mm: Array, high_mm: Array, pixels: Callable[[Array], Array]) -> Array:
    """Silhouettes of prisms between two heights; empty where a corner is not seen."""
    import shapely

    if not len(sections_mm):
        return np.empty(0, dtype=object)
    low, index = _seen(sections_mm, low_mm, pixels)
    high, _ = _seen(sections_mm, high_mm, pixels)
    order = np.argsort(np.concatenate([index, index]), kind="stable")
    uv_px, index = np.concatenate([low, high])[order], np.concatenate([index, index])[order]
    lost = np.unique(index[~np.isfinite(uv_px).all(axis=1)])
    uv_px[np.isin(index, lost)] = 0.0
    hulls = shapely.convex_hull(shapely.multipoints(uv_px, indices=index))
    hulls[lost] = shapely.Polygon()
    return np.asarray(hulls)


def _seen(sections_mm: Sequence[Array], z_mm: Array, pixels: Callable[[Array], Array]) -> tuple[Array, Indices]:
    """All corners of all outlines as pixels, and the outline each belongs to."""
    counts = [len(section) for section in sections_mm]
    index = np.repeat(np.arange(len(counts)), counts)
    xyz_mm = np.column_stack([np.concatenate(sections_mm), np.repeat(z_mm, counts)])
    return pixels(xyz_mm), index
