"""A small board in front of a camera, its frame computed from known temperatures.

The picture is drawn on a grid of sub-pixels, blurred there and averaged over each pixel: nothing of it is shared
with the code that reads it, except the band's radiance.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from overlay.board.model import Board, Body, Component, Outline, Side
from overlay.frames.frame import Emissivity, EmissivityMap
from overlay.frames.radiometry import Band, Sight, apparent_temperature_c, leaving_radiance
from overlay.reading.model import FrameReading
from overlay.reading.read_components import read_view
from overlay.registration.faces import project_faces
from overlay.registration.fit import fit_registration
from overlay.registration.model import ControlPoint
from overlay.unmixing.unmix import Unmixed
from overlay.view.model import View
from tests.truth.worlds.instrument import blurred

BAND = Band(8.0, 14.0)
AMBIENT_C = 23.0
SUB = 4  # sub-pixels a side: edges at quarters of a pixel are drawn exactly


@dataclass(frozen=True)
class Part:
    """A part as the camera should see it; ``temperature_c`` a number, or a function of (along, across) in mm."""

    refdes: str
    center_mm: tuple[float, float]
    size_mm: tuple[float, float]
    temperature_c: float | Callable[[np.ndarray, np.ndarray], np.ndarray] = 40.0
    emissivity: float = 0.94  # true
    believed: float | None = None  # None: the true one
    u: float = 0.02
    shape: str = "box"
    terminals: str = "none"
    side: Side = "top"
    mechanical: bool = False
    leads_mm: float = 0.0  # width of the bare metal around it
    mirrors_c: float | None = None  # what it mirrors, where that is not the room


@dataclass(frozen=True)
class Setting:
    """How the picture is taken."""

    px_per_mm: float = 5.0
    size_mm: tuple[float, float] = (40.0, 30.0)
    board_c: float | Callable[[np.ndarray, np.ndarray], np.ndarray] = 35.0
    board_emissivity: float = 0.92
    noise_c: float = 0.05
    blur_px: float = 1.3
    sight: Sight = field(default_factory=lambda: Sight(air_c=AMBIENT_C))
    seed: int = 1
    shift_px: tuple[float, float] = (0.0, 0.0)  # of the control points against the truth
    beyond_c: float = AMBIENT_C  # the table around the board


def component(part: Part, line: int) -> Component:
    body = Body(*part.size_mm, 0.0, "test", shape=part.shape, terminals=part.terminals)  # type: ignore[arg-type]
    return Component(
        part.refdes, part.center_mm, 0.0, part.side, "", "", "", part.mechanical, line, kind="ic", body=body
    )


def places_to_click(setting: Setting) -> list[tuple[float, float]]:
    """The board's corners and two places inside, mm."""
    width, height = setting.size_mm
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    return [*corners, (width / 3, height / 2), (width / 2, height / 3)]


def view_of(parts: Sequence[Part], setting: Setting | None = None, emissivity_map: EmissivityMap | None = None) -> View:
    """The view of a board 3 px inside its frame, seen straight from above."""
    setting = setting or Setting()
    s, (width, height) = setting.px_per_mm, setting.size_mm
    rows, cols = round(height * s) + 6, round(width * s) + 6
    # board (0, 0) is the lower left corner, 3 px inside the frame
    y, x = np.mgrid[0 : rows * SUB, 0 : cols * SUB]
    x_mm = ((x + 0.5) / SUB - 0.5 - 2.5) / s
    y_mm = height - ((y + 0.5) / SUB - 0.5 - 2.5) / s
    room = float(BAND.radiance(AMBIENT_C))
    board_c = setting.board_c(x_mm, y_mm) if callable(setting.board_c) else np.full(x.shape, setting.board_c)
    e = setting.board_emissivity
    picture = e * BAND.radiance(board_c) + (1.0 - e) * room
    on_board = (x_mm > 0.0) & (x_mm < width) & (y_mm > 0.0) & (y_mm < height)
    picture = np.where(on_board, picture, BAND.radiance(setting.beyond_c))
    for part in parts:
        if part.side != "top":
            continue
        u, v = x_mm - part.center_mm[0], y_mm - part.center_mm[1]
        if part.shape == "round":
            within = np.hypot(u, v) <= part.size_mm[0] / 2.0
        else:
            within = (np.abs(u) <= part.size_mm[0] / 2.0) & (np.abs(v) <= part.size_mm[1] / 2.0)
        if part.leads_mm > 0.0:
            reach = np.array(part.size_mm) / 2.0 + part.leads_mm
            metal = (np.abs(u) <= reach[0]) & (np.abs(v) <= reach[1]) & ~within
            picture = np.where(metal, 0.1 * BAND.radiance(board_c) + 0.9 * room, picture)
        own = part.temperature_c(u, v) if callable(part.temperature_c) else np.full(x.shape, part.temperature_c)
        surface = np.full(x.shape, part.emissivity)
        if part.terminals == "ends":
            surface = np.where(np.abs(u) > (0.5 - 0.22) * part.size_mm[0], 0.10, surface)
        mirrored = room if part.mirrors_c is None else float(BAND.radiance(part.mirrors_c))
        picture = np.where(within, surface * BAND.radiance(own) + (1.0 - surface) * mirrored, picture)
    apparent = apparent_temperature_c(BAND, setting.sight, blurred(picture, setting.blur_px, SUB))
    apparent = apparent + np.random.default_rng(setting.seed).normal(0.0, setting.noise_c, apparent.shape)

    components = tuple(component(part, i + 2) for i, part in enumerate(parts))
    board = Board(
        "test", "A", components, Outline(shapely.box(0, 0, width, height), "test"), Path("placement.csv"), "mm", "test"
    )
    points = tuple(
        ControlPoint(
            (2.5 + a * s + setting.shift_px[0], 2.5 + (height - b) * s + setting.shift_px[1]), (a, b), 0.0, 0.1, None, 2
        )
        for a, b in places_to_click(setting)
    )
    registration = fit_registration(points, "top", (rows, cols))
    emissivity = {
        part.refdes: Emissivity(part.emissivity if part.believed is None else part.believed, part.u, "test")
        for part in parts
    }
    return View(
        capture="test",
        band=BAND,
        sight=setting.sight,
        board=board,
        registration=registration,
        faces=project_faces(registration, board),
        apparent_c=apparent,
        leaving_radiance=leaving_radiance(BAND, setting.sight, apparent),
        emissivity=emissivity,
        board_emissivity=Emissivity(0.92, 0.03, "test"),
        emissivity_map=emissivity_map,
        ambient_c=AMBIENT_C,
        reflected_c=AMBIENT_C,
        reflected_u_c=1.0,
        accuracy_c=2.0,
        accuracy_percent=2.0,
        noise_c=setting.noise_c,
        blur_px=setting.blur_px,
    )


def unsolved(view: View) -> Unmixed:
    """A joint solution that has nothing to say, so that the rest can be looked at by itself."""
    none = np.zeros(0)
    return Unmixed(
        refdes=(),
        leaving=none,
        leaving_u=none,
        beneath=none,
        beneath_high=none,
        short_px=none,
        shift_mm=np.zeros((0, 2)),
        clipped=(),
        settled=(),
        inseparable=(),
        bare=np.array(view.leaving_radiance),
        board_share=np.ones(view.leaving_radiance.shape),
        registration=view.registration,
        refined=False,
        blur_px=1.3 if view.blur_px is None else view.blur_px,
        blur_source="test",
        notes=(),
    )


class Bench:
    """Parts, the view of them, and what is read: without the joint solution unless that is asked for."""

    ambient_c = AMBIENT_C
    band = BAND

    @staticmethod
    def part(refdes: str, center_mm: tuple[float, float], size_mm: tuple[float, float], *more: Any, **kw: Any) -> Part:
        return Part(refdes, center_mm, size_mm, *more, **kw)

    @staticmethod
    def view(*parts: Part, emissivity_map: EmissivityMap | None = None, **setting: Any) -> View:
        return view_of(parts, Setting(**setting), emissivity_map)

    def read(self, *parts: Part, joint: bool = False, **setting: Any) -> FrameReading:
        view = self.view(*parts, **setting)
        return read_view(view, None if joint else unsolved(view))

    @staticmethod
    def unsolved(view: View) -> Unmixed:
        return unsolved(view)
