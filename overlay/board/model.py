"""What a board is made of: components with bodies and ratings, inside an outline."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from overlay.errors import Source

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon

Side = Literal["top", "bottom"]
Shape = Literal["box", "round"]
# Where a data sheet's limit holds; ``terminal``: a lead, a tab, an LED's solder point; ``hot spot``: inside a winding,
# a capacitor's core, a connector's contact.
LimitAt = Literal["surface", "junction", "ambient", "terminal", "hot spot"]
DeratesBy = Literal["ambient", "terminal", "surface"]
Level = Literal["A", "B"]
Terminals = Literal["none", "ends", "leads_x", "leads_y", "leads_all", "unknown"]


# cells of the parts table that mean something only together
LIMIT_CELLS = ("limit_c", "limit_at", "limit_at_stated", "limit_u_c", "limit_source")


@dataclass(frozen=True, slots=True)
class Body:
    """What a camera sees of a package: a box, or an upright cylinder.

    Parameters
    ----------
    length_mm, width_mm
        Along the package's x and y axis at rotation 0; equal, the diameter, for ``round``.
    height_mm
        Top face above the board, or None where neither name nor table tells.
    source
        Where the size comes from, in words (``bodies.csv, line 4``; ``chip size code``).
    row
        The row of the bodies table that gives it; None where the package's name does.
    estimated
        True where the size was worked out from pitch and pin count rather than looked up.
    terminals
        Where metal shows: ``ends`` (caps of a two-terminal chip, inside the box), ``leads_x``
        (leads beyond the faces at ±x), ``leads_y``, ``leads_all``, ``none``, ``unknown``.
    emissivity, emissivity_u
        Of the top face, from bodies.csv; None where that does not say.
    level
        How the package lies at rotation 0: IPC-7351 level ``A`` (pin 1 of two-row and quad packages upper left) or
        ``B`` (lower left); decided once, where the body is.
    """

    length_mm: float
    width_mm: float
    height_mm: float | None
    source: str
    shape: Shape = "box"
    estimated: bool = False
    terminals: Terminals = "unknown"
    emissivity: float | None = None
    emissivity_u: float | None = None
    row: Source | None = None
    level: Level = "A"


@dataclass(frozen=True, slots=True)
class Rating:
    """A row of the parts table, as far as it concerns one component; absent cells are None.

    ``further`` holds the part's other rows, whose limits hold elsewhere (junction *and* ambient).
    ``limit_at_stated`` is False where the cell is blank, so that ``surface`` is a guess.
    """

    line: int
    kind: str = ""
    limit_c: float | None = None
    limit_at: LimitAt = "surface"
    psi_jt_k_per_w: float | None = None
    power_w: float | None = None
    power_u_w: float | None = None
    height_mm: float | None = None
    emissivity: float | None = None
    emissivity_u: float | None = None
    note: str = ""
    # further columns by which derating lines and life are worked out
    rated_power_w: float | None = None
    endurance_h: float | None = None
    endurance_c: float | None = None
    psi_u_k_per_w: float | None = None
    limit_u_c: float | None = None
    limit_source: str = ""
    limit_at_stated: bool = True
    derates_by: DeratesBy | None = None  # which temperature the data sheet's derating line is drawn over
    derating_points: tuple[tuple[float, float], ...] = ()  # that line: °C and the share of the rating allowed there
    current_a: float | None = None  # at the required load; of a capacitor its ripple
    rated_current_a: float | None = None
    theta_jc_k_per_w: float | None = None  # junction to the case or tab that a contact reading names
    theta_u_k_per_w: float | None = None
    further: tuple[Rating, ...] = ()

    @property
    def rows(self) -> tuple[Rating, ...]:
        """All rows of the part, each with what it leaves blank filled from those before it, without ``further``."""
        alone = replace(self, further=()) if self.further else self
        return (alone, *(replace(alone, **_limit_cells(row, self)) for row in self.further))


def _limit_cells(row: Rating, first: Rating) -> dict[str, Any]:
    """What a further row says itself: its limit, and the resistance and power that carry it."""
    cells: dict[str, Any] = {name: getattr(row, name) for name in ("line", *LIMIT_CELLS)}
    leaders = (("psi_jt_k_per_w", "psi_u_k_per_w"), ("theta_jc_k_per_w", "theta_u_k_per_w"), ("power_w", "power_u_w"))
    for leader, companion in leaders:
        source = first if getattr(row, leader) is None else row
        cells |= {leader: getattr(source, leader), companion: getattr(source, companion)}
    return cells


@dataclass(frozen=True, slots=True)
class Component:
    """One placed part.

    ``center_mm`` (the middle of the body) and ``rotation_deg`` are seen from the top side, counter-clockwise,
    for parts on both sides. ``part_number`` is the placement's part number, else its value.
    ``height_mm`` (parts table first, then body) is None where nobody knows.
    """

    refdes: str
    center_mm: tuple[float, float]
    rotation_deg: float
    side: Side
    package: str
    value: str
    part_number: str
    mechanical: bool
    line: int
    kind: str = ""
    body: Body | None = None
    rating: Rating | None = None
    fitted: bool = True  # False: the design has the part, this board does not carry it
    placed_mm: tuple[float, float] | None = None  # where the file places it, where that is not its body's middle

    @property
    def designator(self) -> str:
        """The name that the design gives it: without the board of a panel, or the line that tells namesakes apart."""
        return re.sub(r"@\d+$| \(line \d+\)$", "", self.refdes)

    @property
    def height_mm(self) -> float | None:
        if self.rating is not None and self.rating.height_mm is not None:
            return self.rating.height_mm
        return None if self.body is None else self.body.height_mm


@dataclass(frozen=True, slots=True)
class PanelBoard:
    """How a board of a panel lies to the first one: turned about the origin counter-clockwise, then moved."""

    turn_deg: float
    shift_mm: tuple[float, float]

    def moved(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Where a point of the first board lies on this one.

        >>> PanelBoard(90.0, (50.0, 0.0)).moved(10.0, 0.0)
        (50.0, 10.0)
        """
        turn = math.radians(self.turn_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        x, y = x_mm * cos - y_mm * sin + self.shift_mm[0], x_mm * sin + y_mm * cos + self.shift_mm[1]
        return round(x, 9), round(y, 9)


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """A placement file as understood: components, with a body only where the file draws it, and how it was read.

    ``edge`` is the board's edge where the same file tells it (an interchange file), with its source in words.
    """

    components: tuple[Component, ...]
    units: str
    units_from: str
    notes: tuple[str, ...] = ()
    edge: Polygon | MultiPolygon | None = None
    edge_source: str = ""
    panel: tuple[PanelBoard, ...] = ()  # how all boards of a panel lie …
    panel_board: int | Literal["all"] = 1  # … and which of them was read, counting from 1


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The board's edge in board coordinates: one outer ring (or several, a panel) with holes."""

    polygon: Polygon | MultiPolygon
    source: str
    from_bodies: bool = False  # no file given: the hull of the bodies, and the report says so


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """Everything known about a board before a camera is pointed at it.

    ``components`` stand on the board; parts that the design has but this board does not carry are ``unfitted``.
    """

    name: str
    revision: str
    components: tuple[Component, ...]
    outline: Outline
    placement_file: Path
    placement_units: str
    placement_units_from: str
    notes: tuple[str, ...] = ()  # how the placement was understood
    unfitted: tuple[Component, ...] = ()
    bill: str = ""  # the purchasing list that parts were described by

    @property
    def parts(self) -> tuple[Component, ...]:
        """The electrical parts: all components but hardware and marks."""
        return tuple(component for component in self.components if not component.mechanical)

    def component(self, refdes: str) -> Component:
        """The component of that designator; KeyError where there is none."""
        for component in self.components:
            if component.refdes == refdes:
                return component
        raise KeyError(refdes)


@dataclass(frozen=True, slots=True)
class BoardFiles:
    """The files a board is read from, as named by the job, and how they are to be understood."""

    placement: str
    name: str = ""
    revision: str = ""
    placement_units: str | None = None  # mm, um, mil, inch; None: the file must say
    placement_side: Side | None = None  # likewise
    panel_board: int | Literal["all"] | None = None  # which of several equal boards, counting from 1
    step: str | None = None  # of an IPC-2581 document that holds several boards
    outline: str | None = None
    outline_units: str | None = None  # likewise
    outline_shift_mm: tuple[float, float] = (0.0, 0.0)
    parts: str | None = None
    bom: str | None = None  # the purchasing list, where it is not the parts table itself
    bodies: str | None = None
    bottom_rotation: Literal["top-view", "bottom-view"] = "top-view"
    bottom_x: Literal["as-is", "mirrored"] = "as-is"
    zero_orientation: Level | None = None  # None: level A, unless a package's neighbours show that it lies otherwise
