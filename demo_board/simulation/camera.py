"""From a scene to a frame: rays, blur, pixels, air, window, the instrument's own faults; and the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from demo_board.simulation.heat import FACE
from demo_board.simulation.rays import Scene
from demo_board.simulation.world import Array

SHADE_MM = 1.5
SOURCE_K = 3.0  # a part this much above the board beneath it, by its own power, is a heat source


@dataclass(frozen=True)
class Instrument:
    """What the camera does to a true picture. ``offset_c`` is common to the frame and unknown to its user."""

    blur_px: float = 1.3  # full width at half maximum of the optics
    tail: float = 0.0  # share of the light that goes into a halo four times as wide
    air: float = 0.9985  # transmittance
    window: float = 1.0
    window_reflects: float = 0.0
    window_c: float = 23.0
    offset_c: float = 0.0
    gain: float = 1.0  # of the distance to 23 °C
    uneven_c: float = 0.1
    netd_c: float = 0.05
    step_c: float = 0.01  # quantisation


@dataclass(frozen=True)
class PartTruth:
    """What a perfect reading of one part would be."""

    refdes: str
    emissivity: float
    height_mm: float
    peak_c: float | None
    mean_c: float | None
    peak_at_mm: tuple[float, float] | None
    visible: float
    pixels_across: float  # short side of the top face
    hidden: bool
    shiny: bool
    source: bool  # makes heat of its own, and enough to stand out from the board beneath it
    shaded: bool  # a hotter part stands so close that this one need not be a maximum of its own


def leaving_picture(scene: Scene, per_side: int = 3, refine: int = 4) -> Array:
    """Mean leaving radiance of sub-pixels, (rows·per_side, cols·per_side); refine² rays where there is an edge."""
    rows, cols = scene.pose.shape_px
    height, width = rows * per_side, cols * per_side
    picture, identity = np.empty((height, width)), np.empty((height, width), dtype=np.int64)
    x = (np.arange(width) + 0.5) / per_side - 0.5
    strip = max(1, 400_000 // width)
    for start in range(0, height, strip):
        y = (np.arange(start, min(start + strip, height)) + 0.5) / per_side - 0.5
        hits = scene.cast(np.tile(x, len(y)), np.repeat(y, width))
        picture[start : start + len(y)] = hits.radiance.reshape(len(y), width)
        identity[start : start + len(y)] = hits.identity.reshape(len(y), width)
    edge = np.zeros(picture.shape, dtype=bool)
    for axis in (0, 1):
        differs = np.diff(identity, axis=axis) != 0
        pad = ((0, 1), (0, 0)) if axis == 0 else ((0, 0), (0, 1))
        edge |= np.pad(differs, pad) | np.pad(differs, [(b, a) for a, b in pad])
    i, j = np.nonzero(edge)
    offsets = ((np.arange(refine) + 0.5) / refine - 0.5) / per_side
    for at in range(0, len(i), 400_000):
        rows_here, cols_here = i[at : at + 400_000], j[at : at + 400_000]
        total = np.zeros(len(rows_here))
        for dy in offsets:
            y = (rows_here + 0.5) / per_side - 0.5 + dy
            for dx in offsets:
                total += scene.cast(x[cols_here] + dx, y).radiance
        picture[rows_here, cols_here] = total / refine**2
    return picture


def frame_c(scene: Scene, instrument: Instrument, seed: int, per_side: int = 3, refine: int = 4) -> Array:
    """Apparent temperature as the camera reports it, (rows, cols) in °C, its own emissivity setting being 1."""
    picture = leaving_picture(scene, per_side, refine)
    return expose(picture, scene, instrument, seed, per_side)


def expose(picture: Array, scene: Scene, instrument: Instrument, seed: int, per_side: int) -> Array:
    """A frame of a picture of leaving radiance; several exposures of one picture differ in their noise alone."""
    rows, cols = scene.pose.shape_px
    sigma = instrument.blur_px / 2.354820045 * per_side
    blurred = ndimage.gaussian_filter(picture, sigma, mode="nearest") if sigma > 0 else picture
    if instrument.tail:
        halo = ndimage.gaussian_filter(picture, 4 * sigma, mode="nearest")
        blurred = (1 - instrument.tail) * blurred + instrument.tail * halo
    signal = blurred.reshape(rows, per_side, cols, per_side).mean(axis=(1, 3))
    table, room = scene.table, scene.room
    signal = instrument.air * signal + (1 - instrument.air) * float(table.exitance(room.ambient_c))
    emits = 1 - instrument.window - instrument.window_reflects
    signal = instrument.window * signal + emits * float(table.exitance(instrument.window_c))
    signal += instrument.window_reflects * float(table.exitance(room.ambient_c))
    apparent = table.temperature_c(signal)
    fixed = np.random.default_rng(1234)  # the unevenness belongs to the camera, not to the shot
    random = np.random.default_rng(seed)
    bowl = ndimage.zoom(fixed.normal(0, 1, (4, 5)), (rows / 4, cols / 5), order=3, mode="nearest", grid_mode=True)
    noise = random.normal(0, 1, (rows, cols)) * instrument.netd_c * float(table.slope(30.0)) / table.slope(apparent)
    reading = 23.0 + instrument.gain * (apparent - 23.0) + instrument.offset_c + instrument.uneven_c * bowl + noise
    return np.round(reading / instrument.step_c) * instrument.step_c


def truths(scene: Scene, powers_w: Array) -> dict[str, PartTruth]:
    """The truth of every part on the seen side, found by sending a ray to every point of its face."""
    world, pose = scene.world, scene.pose
    line = np.linspace(-0.5, 0.5, FACE) * 0.995
    u, v = (a.ravel() for a in np.meshgrid(line, line))
    uv = np.stack([u, v], axis=1)
    seen = [k for k, part in enumerate(world.parts) if part.side == pose.side]
    points = np.concatenate(
        [np.column_stack([world.parts[k].face_mm(uv), np.full(len(uv), world.parts[k].size_mm[2])]) for k in seen]
    )
    px = pose.project(points)
    order = np.argsort(px[:, 1], kind="stable")
    identity = np.empty(len(px), dtype=np.int64)
    identity[order] = scene.cast(px[order, 0], px[order, 1]).identity
    rows, cols = pose.shape_px
    framed = (px[:, 0] > -0.5) & (px[:, 0] < cols - 0.5) & (px[:, 1] > -0.5) & (px[:, 1] < rows - 0.5)
    out = {}
    for number, k in enumerate(seen):
        part, here = world.parts[k], slice(number * len(uv), (number + 1) * len(uv))
        top = (identity[here] // 4 == k) & (identity[here] % 4 != 1) & framed[here]
        face = np.hypot(u, v) <= 0.495 if part.round else np.ones(len(u), dtype=bool)
        visible = float((top & face).sum() / face.sum())
        bare = top & face & (np.abs(u) <= 0.5 - part.cap_share + 1e-9)
        temperature = scene.heat.face_at(k, u, v)
        peak = int(np.argmax(np.where(bare, temperature, -np.inf)))
        at = part.face_mm(uv[peak : peak + 1])[0]
        corners = pose.project(np.column_stack([part.corners_mm(), np.full(4, part.size_mm[2])]))
        sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
        out[part.refdes] = PartTruth(
            part.refdes,
            part.emissivity,
            part.size_mm[2],
            float(temperature[peak]) if bare.any() else None,
            float(temperature[bare].mean()) if bare.any() else None,
            (float(at[0]), float(at[1])) if bare.any() else None,
            visible,
            float(sides.min()),
            visible < 0.5,
            part.metal_top,
            bool(powers_w[k] > 0 and scene.heat.part_c[k] - scene.heat.under_c[k] > SOURCE_K),
            _shaded(scene, k),
        )
    return out


def _shaded(scene: Scene, k: int) -> bool:
    parts, part_c = scene.world.parts, scene.heat.part_c
    low, high = parts[k].corners_mm().min(axis=0), parts[k].corners_mm().max(axis=0)
    for n, other in enumerate(parts):
        if n != k and other.side == parts[k].side and part_c[n] > part_c[k]:
            corners = other.corners_mm()
            gap = np.maximum(np.maximum(low - corners.max(axis=0), corners.min(axis=0) - high), 0)
            if np.hypot(*gap) < SHADE_MM:
                return True
    return False
