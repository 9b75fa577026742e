"""A part's temperature over the pages of a stack, from the one page that was read in full."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.frames.optics import gaussian_sigma_px
from overlay.frames.radiometry import surface_temperature_c
from overlay.reading.model import FrameReading, Reading, ReadingCode
from overlay.reasons import Reason
from overlay.view.model import View
from overlay.view.regions import pixel_blocks_of, pixel_weights_of
from overlay.view.surroundings import bare_board, outline_px
from overlay.view.tops import inner_of, tops_of

_MOST_CONTRAST = 6.0  # of a part against what its pixels show of it
_LEAST_CONTRAST_SHARE = 0.01  # of the radiance, below which part and board are alike


def part_curves(view: View, pages: Iterable[Array], reading: FrameReading) -> dict[str, Array]:
    """Surface peak of each read part on every page, by refdes, each (pages,) in °C.

    Parameters
    ----------
    view
        Of the page that ``reading`` came from.
    pages
        Leaving radiance (rows, cols) of all pages, in that page's pixels, one by one.

    A part's pixels and those of the board around it are followed over time; where the part stands against the
    board by more on the page that was read in full (blur undone, peak over mean), it does so by the same factor on
    the others.
    """
    import shapely

    sigma = gaussian_sigma_px(reading.blur_px)
    tops = tops_of([face for face in view.faces if np.isfinite(face.polygon_px).all()], reading.blur_px)
    bare = bare_board(view, tops, outline_px(view), sigma)
    inner = inner_of(tops)
    regions = [left if left.area >= 1.0 else top.seen for left, top in zip(inner, tops, strict=True)]
    shape = view.registration.shape_px
    own = pixel_weights_of(regions, shape)
    hulls = shapely.convex_hull(np.array([shapely.MultiPoint(top.face.base_px) for top in tops], dtype=object))
    reach = 2.0 * np.array([top.px_per_mm for top in tops])
    board = pixel_blocks_of(shapely.buffer(hulls, reach, quad_segs=4), shape).overlaps(bare)
    readings = {item.refdes: item for item in reading.readings}
    followed = np.array([(own.means(page), board.means(page)) for page in pages]).reshape(-1, 2, len(tops))
    reflected = float(view.band.radiance(view.reflected_c))
    curves = {}
    for index, (top, area_px) in enumerate(zip(tops, own.area_px, strict=True)):
        item = readings.get(top.face.component.refdes)
        if item is None or item.peak_c is None or item.emissivity is None or area_px <= 0.0:
            continue
        final = _leaving(view, item)
        leaving = _scaled(followed[:, 0, index], followed[:, 1, index], final)
        curves[item.refdes] = surface_temperature_c(view.band, leaving, item.emissivity, reflected)
    return curves


def settled_reading(
    view: View, reading: FrameReading, settled: Mapping[str, tuple[float, tuple[float, ...], float]], words: str
) -> FrameReading:
    """The readings carried from the last page to where the board settles.

    ``settled`` has for each part what is still to come in K, what one standard uncertainty of each common time
    constant does to it, and its own standard uncertainty, in K. Peak, mean and the board around a part are carried
    alike: the slow modes that are still to come belong to the whole board.
    """
    from overlay.uncertainty import Term, TermName, combined_k

    carried = []
    for item in reading.readings:
        ahead = settled.get(item.refdes)
        if ahead is None or item.peak_c is None:
            carried.append(item)
            continue
        remaining, common, own = ahead
        terms = [Term(TermName.SETTLING, value, f"settling {i}:{view.capture}") for i, value in enumerate(common)]
        budget = (*item.budget, *terms, Term(TermName.SETTLING, own))
        carried.append(
            replace(
                item,
                peak_c=item.peak_c + remaining,
                mean_c=None if item.mean_c is None else item.mean_c + remaining,
                ring_c=None if item.ring_c is None else item.ring_c + remaining,
                ring_u_c=None if item.ring_u_c is None else math.hypot(item.ring_u_c, own, *common),
                last_peak_c=item.peak_c,
                leaving_radiance=_leaving(view, item, remaining),
                budget=budget,
                u_c=combined_k(budget),
                why=(
                    *item.why,
                    Reason(
                        ReadingCode.SETTLED_VALUE,
                        f"{remaining:+.1f} K still to come when the record ended; {words}",
                    ),
                ),
            )
        )
    by_name = {item.refdes: item for item in carried}
    spots = tuple(
        replace(
            spot,
            temperature_c=spot.temperature_c + ahead,
            rise_k=spot.rise_k + ahead,
        )
        for spot in reading.hot_spots
        for ahead in [_ahead(by_name.get((spot.candidates[0].refdes if spot.candidates else None) or ""))]
    )
    ranked = tuple(
        replace(spot, rank=rank)
        for rank, spot in enumerate(sorted(spots, key=lambda spot: (-round(spot.rise_k, 3), spot.rank)), start=1)
    )
    return replace(reading, readings=tuple(carried), hot_spots=ranked)


def _ahead(item: Reading | None) -> float:
    if item is None or item.peak_c is None or item.last_peak_c is None:
        return 0.0
    return item.peak_c - item.last_peak_c


def _leaving(view: View, item: Reading, warmer_k: float = 0.0) -> float:
    """Radiance that leaves a part at its peak, or at ``warmer_k`` above it."""
    assert item.peak_c is not None
    assert item.emissivity is not None
    reflected = float(view.band.radiance(view.reflected_c))
    return item.emissivity * float(view.band.radiance(item.peak_c + warmer_k)) + (1.0 - item.emissivity) * reflected


def _scaled(on_body: Array, on_board: Array, final: float) -> Array:
    """The part's own radiance on every page, ending at ``final``; nan for the board where none of it is seen."""
    if np.isnan(on_board).any():
        return np.asarray(on_body + (final - on_body[-1]))
    seen = on_body[-1] - on_board[-1]
    if abs(seen) < _LEAST_CONTRAST_SHARE * abs(on_board[-1]):
        return np.asarray(on_body + (final - on_body[-1]))
    factor = float(np.clip((final - on_board[-1]) / seen, 1.0 / _MOST_CONTRAST, _MOST_CONTRAST))
    scaled = on_board + factor * (on_body - on_board)
    return np.asarray(scaled + (final - scaled[-1]))
