"""Hot spots: the parts, and the places of bare board, whose worked-out temperature stands out.

The rule. A part is a hot spot when it is warmer than the board around it by more than 1 K and 6 % of its rise above
ambient with a probability of at least one half, whether or not the picture peaks there (``standing_out.py``).
A place of bare board is one when it is a maximum of what is left of the frame without its parts, and its prominence
is at least five standard deviations of the noise, 1 K, and 6 % of its rise (``detection.py``). Shiny parts are none:
what they show is mostly what they mirror. All are ranked by their rise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from overlay.arrays import Array
from overlay.reading.attribution import LEAST_SHOWN, Bodies, candidates_at
from overlay.reading.detection import LEAST_PLACE_U_PX, LEAST_RISE_K, Scene, Spot, bare_spots
from overlay.reading.model import Candidate, HotSpot, SpotCode
from overlay.reasons import Reason
from overlay.registration.project import board_covariance, board_from_pixels, pixel_covariance, pixels_from_board
from overlay.uncertainty import combined_k
from overlay.view.terms import common_terms
from overlay.view.tops import Top

RULE = (
    "A part is listed when it is warmer than the board around it by more than 1 K and 6 % of its rise above ambient, "
    "more likely than not; a place of bare board when it stands out by as much, and by five times the noise. "
    "Parts too shiny to be read are not listed."
)
LISTED_FROM = 0.5  # more likely than not
MOST = 50  # a list that is still read; all parts stand in components.csv

# Prior odds that a place belongs to a body, against bare board's.
_BARE_ODDS = 0.02  # where a part was worked out to be hot, the board beside it is hardly meant
_BARE_ODDS_OF_BARE = 0.2  # heat is made in parts (common practice), and yet this place was taken for board
_LEAST_ODDS = 0.05  # of a part that was read and does not stand out
_UNREAD_ODDS = 0.5  # of a part that nobody could read: as likely as not
_LOWER_BOUND = Reason(SpotCode.LOWER_BOUND, "at least so hot: its pixels stand at the end of the instrument's range")
_UNKNOWN_REACH_MM = 2.5  # of a body that no table knows: half of all parts are larger than this (common practice)
_UNEVEN_K = 1.5  # peak over mean from which a face has a hottest place; the noise finds one on an even face, too
_SUMMIT_U_PX = 1.0  # how well that place is known
_PLACE_SHARE = 0.12  # of an even face's short side: its hottest place may be anywhere in the middle half


def find_hot_spots(scene: Scene, bodies: Bodies, bare_c: Array) -> tuple[HotSpot, ...]:
    """All hot spots, ranked by rise; ``bare_c`` (rows, cols) is the bare board's surface, nan where it is not seen."""
    listed = _listed(scene)
    spots = _of_parts(scene, bodies, _hottest(scene, listed))
    named: set[str | None] = {scene.tops[i].face.component.refdes for i in listed}
    shiny = {top.face.component.refdes for top, mirrors in zip(scene.tops, scene.shiny, strict=True) if mirrors}
    for spot in bare_spots(scene, bodies, bare_c, listed):
        names = _names_of_bare(scene, bodies, spot)
        if names[0].refdes not in named | shiny:
            spots.append(_of_board(scene, spot, names))
            named |= {names[0].refdes} - {None}
    ranked = sorted(spots, key=lambda hot: (-hot.rise_k, hot.candidates[0].refdes or ""))[:MOST]
    return tuple(replace(hot, rank=i + 1) for i, hot in enumerate(ranked))


def _listed(scene: Scene) -> list[int]:
    """Positions of the parts that stand out."""
    standing = scene.standing
    rise = standing.peak_c - scene.view.ambient_c
    with np.errstate(invalid="ignore"):
        out = (standing.probability >= LISTED_FROM) & (rise >= LEAST_RISE_K)
    return [int(i) for i in np.flatnonzero(out & ~scene.shiny)]


def _hottest(scene: Scene, listed: Sequence[int]) -> list[int]:
    """Of the parts that stand out those that can come into the list."""
    peak_c = scene.standing.peak_c[list(listed)]
    least_c = -np.inf if len(listed) <= MOST else np.sort(peak_c)[-MOST]
    return [i for i, own_c in zip(listed, peak_c.tolist(), strict=True) if own_c >= least_c]


def _of_parts(scene: Scene, bodies: Bodies, listed: Sequence[int]) -> list[HotSpot]:
    """Parts that stand out, each at the hottest place of its visible face."""
    import shapely

    if not listed:
        return []
    view, tops = scene.view, [scene.tops[i] for i in listed]
    readings = [scene.readings.get(top.face.component.refdes) for top in tops]
    z_mm = np.array([top.face.z_mm for top in tops])
    middle = shapely.get_coordinates(shapely.point_on_surface([top.face.visible_px for top in tops]))
    board_mm = board_from_pixels(view.registration, middle, z_mm)
    spread_px = np.maximum(LEAST_PLACE_U_PX, _PLACE_SHARE * np.array([top.short_px for top in tops]))
    for k, (i, reading) in enumerate(zip(listed, readings, strict=True)):
        uneven_k = scene.standing.peak_c[i] - scene.standing.mean_c[i]
        if reading is not None and reading.peak_at_mm is not None and uneven_k >= _UNEVEN_K:
            board_mm[k], spread_px[k] = reading.peak_at_mm, _SUMMIT_U_PX
    pixel = pixels_from_board(view.registration, np.column_stack([board_mm, z_mm]))
    px_per_mm = np.array([top.px_per_mm for top in tops])
    position_u = _position_u_mm(scene, pixel, z_mm, spread_px, px_per_mm)
    covariances = _board_covariances(scene, pixel)
    spots = []
    for k, (i, reading) in enumerate(zip(listed, readings, strict=True)):
        place_px = (float(pixel[k, 0]), float(pixel[k, 1]))
        names = _names_of_part(scene, bodies, i, place_px, covariances[k])
        temperature = float(scene.standing.peak_c[i])
        u = reading.u_c if reading is not None and reading.u_c is not None else float(scene.standing.u_c[i])
        spots.append(
            HotSpot(
                rank=0,
                pixel=place_px,
                board_mm=(float(board_mm[k, 0]), float(board_mm[k, 1])),
                z_mm=float(z_mm[k]),
                position_u_mm=float(position_u[k]),
                temperature_c=temperature,
                u_c=u,
                rise_k=temperature - view.ambient_c,
                candidates=names,
                why=tuple(_why_part(scene, i, names)),
            )
        )
    return spots


def _board_covariances(scene: Scene, places_px: Array) -> Array:
    """Covariances (n, 2, 2) of the registration at the board under pixels (n, 2), in px²; nan where none is."""
    board_mm = board_from_pixels(scene.view.registration, places_px)
    return pixel_covariance(scene.view.registration, np.column_stack([board_mm, np.zeros(len(board_mm))]))


def _names_of_part(
    scene: Scene, bodies: Bodies, i: int, place_px: tuple[float, float], board: Array
) -> tuple[Candidate, ...]:
    """The part with its probability; of the rest, partners it cannot be told from by theirs; bare board.

    Where its own place is open (control points far off the mark), all bodies within reach share what it has, by
    the mass of the place on each and by how much each stands out. ``board`` (2, 2) is the registration's covariance.
    """
    own, probability = scene.tops[i].face.component.refdes, scene.standing.probability
    odds = np.maximum(probability, _LEAST_ODDS)
    shares: dict[str | None, float] = {}
    if np.isfinite(board).all():
        still = LEAST_PLACE_U_PX**2 * 0.25 * np.eye(2)
        near = candidates_at(bodies, place_px, still, board, odds, _BARE_ODDS)
        shares = {name.refdes: float(probability[i]) * name.probability for name in near}
    else:
        shares = {own: float(probability[i])}
    rest = 1.0 - sum(shares.values())
    for group in scene.joint.inseparable:
        if own in group:
            for k, top in enumerate(scene.tops):
                name = top.face.component.refdes
                if name in group and name != own:
                    given = rest * float(probability[k])
                    shares[name] = shares.get(name, 0.0) + given
                    rest -= given
    shares[None] = shares.get(None, 0.0) + rest
    return _ranked(shares)


def _names_of_bare(scene: Scene, bodies: Bodies, spot: Spot) -> tuple[Candidate, ...]:
    """Whom a maximum of the bare board may belong to after all."""
    view = scene.view
    board_mm = board_from_pixels(view.registration, np.array([spot.place_px]))
    if not np.isfinite(board_mm).all():
        return (Candidate(None, 1.0),)
    known = np.isfinite(scene.standing.mean_c)
    odds = np.where(known, np.maximum(scene.standing.probability, _LEAST_ODDS), _UNREAD_ODDS)
    odds = np.where(scene.shiny, _LEAST_ODDS, odds)
    board = _board_covariances(scene, np.array([spot.place_px]))[0]
    names = candidates_at(bodies, spot.place_px, spot.covariance_px2, board, odds, _BARE_ODDS_OF_BARE)
    return _with_unknown_body(scene, np.asarray(board_mm[0]), names)


def _with_unknown_body(scene: Scene, board_mm: Array, names: tuple[Candidate, ...]) -> tuple[Candidate, ...]:
    """What is taken for bare board beside a part whose size nobody knows may well be that part."""
    unknown = [top.face.component for top in scene.tops if top.face.component.body is None]
    if not unknown:
        return names
    away_mm = [float(np.hypot(*(np.asarray(part.center_mm) - board_mm))) for part in unknown]
    nearest = int(np.argmin(away_mm))
    odds = float(np.exp(-away_mm[nearest] / _UNKNOWN_REACH_MM))
    share = odds / (odds + _BARE_ODDS_OF_BARE)
    shares = {name.refdes: name.probability for name in names}
    bare = shares.get(None, 0.0)
    refdes = unknown[nearest].refdes
    shares[None] = bare * (1.0 - share)
    shares[refdes] = shares.get(refdes, 0.0) + bare * share
    return _ranked(shares)


def _is_saturated(scene: Scene, top: Top) -> bool:
    reading = scene.readings.get(top.face.component.refdes)
    return reading is not None and reading.state == "saturated"


def _of_board(scene: Scene, spot: Spot, names: tuple[Candidate, ...]) -> HotSpot:
    """A place of bare board, or of a part that nobody could read."""
    view, first = scene.view, names[0]
    top = next((top for top in scene.tops if top.face.component.refdes == first.refdes), None)
    z_mm = 0.0 if top is None else top.face.z_mm
    board_mm = board_from_pixels(view.registration, np.array([spot.place_px]), z_mm)[0]
    pixel = pixels_from_board(view.registration, np.array([[*board_mm, z_mm]]))
    px_per_mm = 1.0 / view.registration.mm_per_px if top is None else top.px_per_mm
    spread_px = np.sqrt([np.trace(spot.covariance_px2) / 2.0])
    here = (np.array([spot.surface_c]), np.array([spot.leaving]))
    why = []
    if first.refdes is None:
        text = "lies on bare board: a trace, a via field, a pad, or a part on the other side shining through"
        why.append(Reason(SpotCode.ON_BARE_BOARD, text))
    return HotSpot(
        rank=0,
        pixel=(float(pixel[0, 0]), float(pixel[0, 1])),
        board_mm=(float(board_mm[0]), float(board_mm[1])),
        z_mm=float(z_mm),
        position_u_mm=float(_position_u_mm(scene, pixel, z_mm, spread_px, np.array([px_per_mm]))[0]),
        temperature_c=spot.surface_c,
        u_c=combined_k(common_terms(view, *here, [view.board_emissivity], ["board"])[0]),
        rise_k=spot.surface_c - view.ambient_c,
        candidates=names,
        why=(*why, *_doubt(names)),
    )


def _why_part(scene: Scene, i: int, names: tuple[Candidate, ...]) -> list[Reason]:
    top, standing = scene.tops[i], scene.standing
    refdes = top.face.component.refdes
    reading = scene.readings.get(refdes)
    why: list[Reason] = []
    if standing.probability[i] < 0.9:
        text = (
            f"stands out by {standing.mean_c[i] - standing.around_c[i]:.1f} K only, which may be its surroundings' "
            "doing: it may be warmed by them"
        )
        why.append(Reason(SpotCode.FAINT, text))
    if reading is not None and reading.state == "small" and reading.apparent_peak_c is not None:
        text = f"the frame shows {reading.apparent_peak_c:.1f} °C; {refdes} is small, its temperature was worked out"
        why.append(Reason(SpotCode.WORKED_OUT, text))
    if _is_saturated(scene, top):
        why.append(_LOWER_BOUND)
    if reading is not None and reading.state == "hidden":
        text = f"{top.face.visible:.0%} of {refdes} are in sight: its temperature was worked out from these"
        why.append(Reason(SpotCode.WORKED_OUT, text))
    return [*why, *_doubt(names)]


def _doubt(names: tuple[Candidate, ...]) -> list[Reason]:
    if len(names) < 2 or names[0].probability >= 0.8:
        return []
    other = names[1].refdes or "the bare board beside it"
    return [Reason(SpotCode.MAY_BE_OTHER, f"may also lie on {other}: more or better control points would tell")]


def _position_u_mm(scene: Scene, places: Array, z_mm: float | Array, spread_px: Array, px_per_mm: Array) -> Array:
    """Standard uncertainties (n,) of places (n, 2) on the board, the root mean square of both directions."""
    of_registration = np.trace(board_covariance(scene.view.registration, places, z_mm), axis1=1, axis2=2) / 2.0
    return np.asarray(np.sqrt(of_registration + (spread_px / px_per_mm) ** 2))


def _ranked(shares: dict[str | None, float]) -> tuple[Candidate, ...]:
    """Candidates, the likeliest first, without what is too little to show; they sum to 1."""
    kept = {name: share for name, share in shares.items() if share >= LEAST_SHOWN}
    whole = sum(kept.values())
    order: Sequence[str | None] = sorted(kept, key=lambda name: (-kept[name], name or ""))
    return tuple(Candidate(name, kept[name] / whole) for name in order)
