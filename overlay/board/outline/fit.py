"""Whether parts and outline belong together: parts off the board, another origin, a flip, another unit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Component, Outline
from overlay.board.outline.strokes import millimetres
from overlay.errors import Problem, Severity

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

MOST_OUTSIDE = 0.6  # of the parts off the board: its origin is another one
_FITS = 0.95  # of the parts inside after a change: the change explains it
_MOST_NAMED = 5  # parts off the board that are told one by one; more have one cause as a rule
_FEWEST = 3  # parts needed to say anything about all of them
_SMALL = 0.45  # parts that fill less than this share of the board, both ways, make its unit doubtful
# units mistaken for one another: millimetres of one unit over those of the other
_UNIT_FACTORS = (
    (1 / 25.4, "millimetres taken as inches"),
    (25.4, "inches taken as millimetres"),
    (25.4 / 96, "units of 1/96 inch taken as millimetres"),
    (25.4 / 90, "units of 1/90 inch taken as millimetres"),
    (25.4 / 72, "points (1/72 inch) taken as millimetres"),
    (0.0254, "mils taken as millimetres"),
    (1e-3, "micrometres taken as millimetres"),
    (0.1, "millimetres taken as centimetres"),
    (10.0, "centimetres taken as millimetres"),
)


def outline_problems(
    outline: Outline,
    components: Iterable[Component],
    file_of_placement: str,
    shift_mm: tuple[float, float] = (0.0, 0.0),
) -> list[Problem]:
    """Parts off the board, each with its line; or the one reason why nearly all are.

    Mechanical items are not asked: holes and fiducials of a panel lie where they like.

    Parameters
    ----------
    shift_mm
        The shift already in the outline, so that the one proposed is that to write into the job.

    Returns
    -------
    Warnings about single parts; one error where most of them lie outside, which proposes ``outline_shift_mm`` (or
    names the flip or the unit) that brings the outline into place.
    """
    parts = [component for component in components if not component.mechanical]
    if outline.from_bodies or not parts:
        return []
    centers = np.array([component.center_mm for component in parts], dtype=float)
    inside = _inside(outline.polygon, centers)
    outside = [part for part, within in zip(parts, inside, strict=True) if not within]
    if len(parts) >= _FEWEST and len(outside) >= MOST_OUTSIDE * len(parts):
        return [_misplaced(outline, centers, len(outside), file_of_placement, shift_mm)]
    problems = _doubtful_unit(outline, centers, file_of_placement)
    if len(outside) > _MOST_NAMED:
        return [*problems, _shifted_or_many(outline, parts, outside, centers, file_of_placement, shift_mm)]
    for part in outside:
        place = "lies in a cut-out of the board" if _in_hole(outline.polygon, part) else "lies outside the outline"
        what = f"{part.refdes} at {millimetres(part.center_mm)} {place}"
        problems.append(Problem("warning", file_of_placement, part.line, what, "check the part and the outline"))
    return problems


def _shifted_or_many(
    outline: Outline,
    parts: Sequence[Component],
    outside: Sequence[Component],
    centers: Array,
    file: str,
    shift_mm: tuple[float, float],
) -> Problem:
    """One warning for many parts off the board: with the shift that explains them, else with their names."""
    what = f"{len(outside)} of {len(parts)} parts lie outside the outline, which spans {_span(outline.polygon)}"
    shift, share, why = explained_shift(outline.polygon, centers)
    if share >= _FITS and share > 1 - len(outside) / len(parts):
        return Problem("warning", file, None, f"{what}: its origin is another", _shift_remedy(shift, shift_mm, why))
    names = ", ".join(part.refdes for part in outside[:_MOST_NAMED])
    what = f"{what}: {names} and {len(outside) - _MOST_NAMED} more"
    return Problem("warning", file, outside[0].line, what, "check these parts and the outline")


def _inside(area: Polygon | MultiPolygon, centers: Array) -> Any:
    """Which points lie on the board, or within a hair of its edge; array of bool, shape (n,)."""
    import shapely

    grown = area.buffer(0.01)
    shapely.prepare(grown)
    return shapely.covers(grown, shapely.points(centers))


def _in_hole(area: Polygon | MultiPolygon, part: Component) -> bool:
    import shapely

    point = shapely.Point(part.center_mm)
    return any(shapely.Polygon(polygon.exterior).covers(point) for polygon in shapely.get_parts(area))


def _misplaced(outline: Outline, centers: Array, outside: int, file: str, shift_mm: tuple[float, float]) -> Problem:
    from shapely.affinity import scale

    area = outline.polygon
    what = f"{outside} of {len(centers)} parts lie outside the outline, which spans {_span(area)}"
    in_cut = int((_inside(_filled(area), centers) & ~_inside(area, centers)).sum())
    if in_cut >= MOST_OUTSIDE * len(centers):
        what = f"{in_cut} of {len(centers)} parts lie in a cut-out of the outline, which spans {_span(area)}"
        return Problem("error", file, None, what, "remove the drawing's frame from the outline file")
    flipped = scale(area, 1.0, -1.0, origin=(0.0, 0.0))
    shift, share, why = explained_shift(area, centers)
    if _inside(flipped, centers).mean() >= _FITS and not (share >= _FITS and _alike(area, flipped)):
        remedy = "its y axis points the other way: mirror the outline in y (in the drawing or its export)"
        return Problem("error", file, None, what, remedy)
    others = [(scale(area, factor, factor, origin=(0.0, 0.0)), mistake) for factor, mistake in _UNIT_FACTORS]
    others = [(other, mistake) for other, mistake in others if _fills(other, centers)]
    if share >= _FITS and (_share_filled(area, centers) > _SMALL or not others):
        return Problem("error", file, None, f"{what}: its origin is another", _shift_remedy(shift, shift_mm, why))
    for other, mistake in others:
        if _inside(other, centers).mean() >= _FITS:
            return Problem("error", file, None, what, f"its size fits {mistake}: correct the outline's unit")
    if best_shift(flipped, centers)[1] >= _FITS > share:
        remedy = "mirrored in y it would fit, at another origin: mirror the outline in the drawing or its export"
        return Problem("error", file, None, what, remedy)
    for other, mistake in others:
        if best_shift(other, centers)[1] >= _FITS:
            remedy = f"its size fits {mistake}, at another origin: correct the outline's unit"
            return Problem("error", file, None, what, remedy)
    if share > 1 - MOST_OUTSIDE:
        remedy = f"{_shift_remedy(shift, shift_mm, why)}, which brings {share:.0%} of them inside"
    else:
        remedy = "check that the outline is that of this board, its unit and its origin"
    return Problem("error", file, None, what, remedy)


def _doubtful_unit(outline: Outline, centers: Array, file: str) -> list[Problem]:
    """A problem where the parts would fit much better if the outline's unit were another."""
    from shapely.affinity import scale

    if len(centers) < 2 * _FEWEST or _share_filled(outline.polygon, centers) > _SMALL:
        return []
    for factor, mistake in _UNIT_FACTORS:
        other = scale(outline.polygon, factor, factor, origin=(0.0, 0.0))
        if factor < 1 and _fills(other, centers) and _inside(other, centers).mean() >= _FITS:
            what = f"the outline spans {_span(outline.polygon)}, far more than the parts; its size fits {mistake}"
            severity: Severity = "error" if factor < 0.2 else "warning"
            return [Problem(severity, file, None, what, "correct the outline's unit")]
    return []


def _share_filled(area: Polygon | MultiPolygon, centers: Array) -> float:
    """The larger share, along x or y, of the board's size that the parts span."""
    west, south, east, north = area.bounds
    span = np.ptp(centers, axis=0)
    return float(max(span[0] / (east - west), span[1] / (north - south)))


def _fills(area: Polygon | MultiPolygon, centers: Array) -> bool:
    """Whether the parts span more than half of the board both ways."""
    west, south, east, north = area.bounds
    span = np.ptp(centers, axis=0)
    return bool(min(span[0] / (east - west), span[1] / (north - south)) > 0.5)


def _filled(area: Polygon | MultiPolygon) -> Any:
    import shapely

    return shapely.union_all([shapely.Polygon(polygon.exterior) for polygon in shapely.get_parts(area)])


def best_shift(area: Polygon | MultiPolygon, centers: Array) -> tuple[tuple[float, float], float]:
    """The shift of the outline that brings most parts inside, and the share that then lies inside.

    Of all shifts that serve equally the middle one is taken: only how far parts stay from the edge could tell more.

    Returns
    -------
    (shift x, shift y) in mm, rounded to 0.01 mm, and a share of 0…1.
    """
    import shapely

    low, high = centers.min(axis=0), centers.max(axis=0)
    west, south, east, north = area.bounds
    spare = np.array([east - west, north - south]) - (high - low)
    middle = (low + high) / 2 - np.array([west + east, south + north]) / 2
    shapely.prepare(area)

    def count(shifts: Array) -> Array:
        moved = centers[None, :, :] - shifts[:, None, :]
        return np.asarray(shapely.contains_xy(area, moved[..., 0], moved[..., 1]).sum(axis=1), dtype=float)

    best, half = middle, np.maximum(np.abs(spare) / 2, 1.0)
    for _ in range(3):  # a grid, made finer round the middle of the best
        steps = np.linspace(-1.0, 1.0, 21)
        grid = best + np.stack(np.meshgrid(steps * half[0], steps * half[1]), axis=-1).reshape(-1, 2)
        counts = count(grid)
        top = grid[counts == counts.max()]
        center = top.mean(axis=0)
        best = top[int(np.hypot(*(top - center).T).argmin())]
        half = half / 8
    share = float(count(best[None, :])[0]) / len(centers)
    rounded = np.round(best, 2) + 0.0
    return (float(rounded[0]), float(rounded[1])), share


def explained_shift(area: Polygon | MultiPolygon, centers: Array) -> tuple[tuple[float, float], float, str]:
    """The shift of the outline that brings most parts inside, as exact as an explanation makes it.

    Placements are counted from a corner of the board or from its middle as a rule: where one of these, moved to
    their origin, encloses as many parts as the best shift, it is taken.

    Returns
    -------
    (shift x, shift y) in mm, the share of the parts that then lies inside, and what is moved to the placements'
    origin, in words; empty where nothing explains the shift.
    """
    from shapely.affinity import translate

    west, south, east, north = area.bounds
    middle = (west + east) / 2, (south + north) / 2
    best, most = best_shift(area, centers)
    for (x, y), words in (
        ((west, south), "its lower left corner"),
        ((west, north), "its upper left corner"),
        (middle, "its middle"),
        ((east, south), "its lower right corner"),
        ((east, north), "its upper right corner"),
    ):
        share = float(_inside(translate(area, -x, -y), centers).mean())
        if share >= max(most - 1e-9, _FITS):
            return (-x, -y), share, f"{words} at the origin of the placement"
    return best, most, ""


def _alike(area: Polygon | MultiPolygon, flipped: Polygon | MultiPolygon) -> bool:
    """Whether an outline is the same when its y axis is turned round, but for where it lies."""
    from shapely.affinity import translate

    (west, south, _, _), (other_west, other_south, _, _) = area.bounds, flipped.bounds
    moved = translate(flipped, west - other_west, south - other_south)
    return bool(moved.symmetric_difference(area).area < 0.02 * area.area)


def _shift_remedy(shift: tuple[float, float], present: tuple[float, float], why: str = "") -> str:
    x, y = shift[0] + present[0] + 0.0, shift[1] + present[1] + 0.0
    if why:
        return f"outline_shift_mm = [{x:.3f}, {y:.3f}] in [board] brings it into place ({why})"
    return (
        f"about outline_shift_mm = [{x:.2f}, {y:.2f}] would bring it into place (give the exact shift if you know it)"
    )


def _span(area: Polygon | MultiPolygon) -> str:
    west, south, east, north = area.bounds
    return f"x {west:.2f} … {east:.2f}, y {south:.2f} … {north:.2f} mm"
