"""Draws a foreign world and writes it as a job folder, as a practitioner would have it, with its truth beside it."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from tests.truth.worlds.described import Described, describe
from tests.truth.worlds.instrument import Instrument, exitance, frame_c
from tests.truth.worlds.instrument import temperature_c as apparent_c
from tests.truth.worlds.kinds import KINDS, Kind
from tests.truth.worlds.solids import TOP, Array, Eye, Hits, cast, look_at
from tests.truth.worlds.world import Part, World, make_world, temperature_c, top_rise_k

SHINY_BELOW = 0.35
_AMBIENT_MAX_C = 60.0
_EDGE_PX = 5
_TRUTH = [
    "refdes",
    "peak_c",
    "a_careful_expert_would_call_it",
    "visible_share",
    "short_side_px",
    "true_emissivity",
    "true_verdict",
    "center_x_mm",
    "center_y_mm",
    "length_mm",
    "width_mm",
    "rotation_deg",
]


def make_folder(place: Path, name: str, seed: int) -> Path:
    """Write the job folder of one world; the same name and seed give the same folder."""
    kind = KINDS[name]
    random = np.random.default_rng([seed, sum(map(ord, name)), 31])
    world = make_world(kind, random)
    eye = _eye(kind, random)
    finer = 4 if kind.shape_px[0] <= 120 else 3
    hits = cast(eye, list(world.solids), world.size_mm, finer)
    surface, bright = temperature_c(world, hits)
    frame = _frame(world, surface, bright, finer, random)
    told = describe(world, eye, _peaks(world, hits, surface), random)
    place.mkdir(parents=True, exist_ok=True)
    np.save(place / "frame.npy", frame.astype(np.float32))
    _write_job(place, world, eye, told, random)
    _write_truth(place, world, eye, hits, told)
    return place


def _eye(kind: Kind, random: np.random.Generator) -> Eye:
    rows, cols = kind.shape_px
    width, height = kind.size_mm
    hfov = kind.hfov_deg * float(random.uniform(0.95, 1.05))
    half = np.tan(np.radians(hfov) / 2)
    room = float(random.uniform(1.1, 1.18))
    distance = room * max(width / 2 / half, height / 2 / (half * rows / cols))
    target = (width / 2 + float(random.normal(0, 1)), height / 2 + float(random.normal(0, 1)))
    tilt, towards = float(random.uniform(*kind.tilt_deg)), float(random.uniform(0, 360))
    roll = float(random.normal(0, 3))
    corners = np.array([[0, 0, 0], [width, 0, 0], [width, height, 0], [0, height, 0]], dtype=np.float64)
    while True:  # step back until the whole board is in sight
        eye = look_at(target, distance, hfov, kind.shape_px, tilt, towards, roll)
        seen = eye.pixels(corners)
        if seen.min() > _EDGE_PX and (seen.max(axis=0) < [cols - _EDGE_PX, rows - _EDGE_PX]).all():
            return eye
        distance *= 1.02


def _frame(world: World, surface: Array, bright: Array, finer: int, random: np.random.Generator) -> Array:
    kind = world.kind
    rows = np.linspace(-1.0, 1.0, surface.shape[0])[:, None]
    room = exitance(world.room_c + 1.5 * rows)  # the room is not one temperature
    leaving = bright * exitance(surface) + (1 - bright) * room
    instrument = Instrument(
        blur_px=float(random.uniform(1.3, 1.9)),
        skirt=kind.skirt,
        skirt_px=kind.skirt_px,
        noise_k=float(random.uniform(0.05, 0.09)),
        offset_k=float(random.uniform(-1.5, 1.5)),
        gain=1 + float(random.uniform(-0.006, 0.006)),
        range_end_c=kind.range_end_c,
        dead=kind.dead,
    )
    shown = frame_c(leaving, finer, instrument, world.ambient_c, random)
    if kind.frame_emissivity < 1:
        share = kind.frame_emissivity
        shown = apparent_c((exitance(shown) - (1 - share) * exitance(world.room_c)) / share)
    return shown


def _peaks(world: World, hits: Hits, surface: Array) -> dict[str, float]:
    """True peak of each visible top face, metal ends left out; of a hidden one that of the whole face."""
    peaks = {part.refdes: world.ambient_c + top_rise_k(world, part) for part in world.parts}
    for refdes in peaks:
        share = visible_share(hits, refdes)
        mine = [i for i, solid in enumerate(world.solids) if solid.owner == refdes and solid.listed]
        ends = world.solids[mine[0]].skin.ends
        seen = np.isin(hits.solid, mine) & (hits.face == TOP) & (np.abs(hits.u) <= 1 - 2 * ends)
        if 0.0 < share < 0.97 and seen.any():
            peaks[refdes] = float(surface[seen].max())
    return peaks


def visible_share(hits: Hits, refdes: str) -> float:
    """Share of a top face that nothing hides, of the face inside the frame."""
    alone = hits.tops_alone.get(refdes, 0)
    return hits.tops_seen.get(refdes, 0) / alone if alone else 0.0


def short_px(eye: Eye, part: Part) -> float:
    """Short side of a top face in pixels."""
    x, y = part.center_mm
    length, width, height = part.package.size_mm
    turn = np.radians(part.turn_deg)
    along = np.array([np.cos(turn), np.sin(turn), 0]) * length / 2
    across = np.array([-np.sin(turn), np.cos(turn), 0]) * width / 2
    middle = np.array([x, y, part.base_mm + height])
    ends = eye.pixels(np.stack([middle + along, middle - along, middle + across, middle - across]))
    return float(min(np.linalg.norm(ends[0] - ends[1]), np.linalg.norm(ends[2] - ends[3])))


def _write_csv(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(header)
        writer.writerows(rows)


def _write_job(place: Path, world: World, eye: Eye, told: Described, random: np.random.Generator) -> None:
    kind, (width, height) = world.kind, world.size_mm
    _write_csv(
        place / "placement.csv", ["Designator", "Value", "Package", "X", "Y", "Rotation", "Side"], told.placement
    )
    bodies = ["package", "length_mm", "width_mm", "height_mm", "shape", "emissivity", "emissivity_u"]
    _write_csv(place / "bodies.csv", bodies, told.bodies)
    _write_csv(place / "parts.csv", ["refdes", "limit_c", "limit_at"], told.limits)
    _write_csv(place / "points.csv", ["pixel_x", "pixel_y", "at", "board_x_mm", "board_y_mm"], told.points)
    ring = f"M 0 0 L {width} 0 L {width} {-height} L 0 {-height} Z"
    (place / "outline.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width + 20}mm" height="{height + 20}mm" '
        f'viewBox="-10 {-height - 10} {width + 20} {height + 20}">'
        f'<path d="{ring}" fill="none" stroke="black"/></svg>\n',
        encoding="utf-8",
    )
    hfov = np.degrees(2 * np.arctan(eye.shape_px[1] / 2 / eye.focal_px))
    told_hfov = hfov * (1 + float(random.normal(0, 0.004)))
    distance = float(np.linalg.norm(eye.place_mm - [width / 2, height / 2, 0.0])) / 1000
    lines = [
        "format = 1",
        "",
        "[board]",
        f'name = "Invented board: {kind.name}"',
        'placement = "placement.csv"',
        'placement_units = "mm"',
        'outline = "outline.svg"',
        'parts = "parts.csv"',
        'bodies = "bodies.csv"',
        "",
        "[requirement]",
        f"ambient_max_c = {_AMBIENT_MAX_C}",
        "",
        "[camera]",
        "netd_c = 0.07",
        f"hfov_deg = {told_hfov:.2f}" if kind.hfov_told else "# hfov_deg is not known",
        "",
        "[[capture]]",
        'name = "load"',
        'frame = "frame.npy"',
        'control_points = "points.csv"',
        f"ambient_c = {world.ambient_c + float(random.normal(0, 0.2)):.1f}",
        f"reflected_c = {world.room_c + float(random.normal(0, 0.5)):.1f}",
        "humidity_percent = 45",
        f"distance_m = {distance * (1 + float(random.normal(0, 0.02))):.3f}",
    ]
    if kind.frame_emissivity < 1:
        lines += [f"frame_emissivity = {kind.frame_emissivity}", f"frame_reflected_c = {world.room_c:.1f}"]
    (place / "job.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def _write_truth(place: Path, world: World, eye: Eye, hits: Hits, told: Described) -> None:
    limits = {refdes: limit for refdes, limit, _ in told.limits}
    rows, sources = [], []
    for part in world.parts:
        peak, share, px = told.peaks[part.refdes], visible_share(hits, part.refdes), short_px(eye, part)
        emissivity = next(s.skin.emissivity for s in world.solids if s.owner == part.refdes)
        shown = float(apparent_c(emissivity * exitance(peak) + (1 - emissivity) * exitance(world.room_c)))
        call = "partial" if share < 0.7 else "readable"
        call = "clipped" if shown > world.kind.range_end_c - 3 else call
        call = "shiny" if emissivity < SHINY_BELOW else "hidden" if share < 0.15 else call
        if part.is_source and share >= 0.5 and emissivity >= SHINY_BELOW and px >= 1.0:
            sources.append((peak, part.refdes))
        margin = limits[part.refdes] - (_AMBIENT_MAX_C + peak - world.ambient_c) if part.refdes in limits else np.nan
        verdict = "" if np.isnan(margin) else "over" if margin < 0 else "near" if margin < 10 else "clear"
        where = [*part.center_mm, *part.package.size_mm[:2], part.turn_deg]
        row = [part.refdes, f"{peak:.2f}", call, f"{share:.2f}", f"{px:.1f}", f"{emissivity:.2f}", verdict]
        rows.append([*row, *(f"{value:.3f}" for value in where)])
    _write_csv(place / "truth.csv", _TRUTH, rows)
    facts = {
        "kind": world.kind.name,
        "about": world.kind.about,
        "sources": [refdes for _, refdes in sorted(sources, reverse=True)],
        "all_sources": [part.refdes for part in world.parts if part.is_source],
        "refuse": world.kind.refuse,
        "pixel_from_board": eye.homography().tolist(),
    }
    (place / "truth.json").write_text(json.dumps(facts, indent=1) + "\n", encoding="utf-8")
