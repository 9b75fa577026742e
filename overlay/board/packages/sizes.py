"""Published body sizes: the tables beside this code, each row with its source."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from overlay.board.model import Body, Shape, Terminals

_FOLDER = Path(__file__).parent / "data"


@dataclass(frozen=True, slots=True)
class Named:
    """What a package's name says.

    Parameters
    ----------
    body
        As it lies at rotation 0 under IPC-7351 level A.
    turns
        Whether level B lays it a quarter turn from that: pin rows do, two-terminal and quad parts do not.
    kind
        Kind of part where the name tells (`overlay.board.kinds.KINDS`), else empty.
    """

    body: Body
    turns: bool = False
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Chip:
    """A two-terminal chip size and its codes."""

    inch: str
    metric: str
    length_mm: float
    width_mm: float
    resistor_height_mm: float | None
    capacitor_height_mm: float | None

    def height_mm(self, kind: str) -> float | None:
        """Usual height of a chip of that kind; None where the kind is not known."""
        if kind == "capacitor":
            return self.capacitor_height_mm
        if kind in ("inductor", "led", "diode", "fuse", "thermistor"):
            return min(self.width_mm, 0.9)  # common practice; some are half a millimetre higher or lower
        return self.resistor_height_mm if kind == "resistor" else None


@dataclass(frozen=True, slots=True)
class Tantalum:
    """An EIA case size of moulded tantalum capacitors."""

    eia: str
    letter: str
    length_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Outlined:
    """A package of the JEDEC and EIAJ families: body across (x) and along (y) its upright pin rows."""

    family: str
    pins: tuple[int, ...]
    pitch_mm: float | None
    x_mm: float
    y_mm: float
    height_mm: float | None
    span_mm: tuple[float, float] | None
    source: str
    terminals: Terminals = "leads_x"
    turns: bool = True
    kind: str = ""

    def spans(self, span_mm: float) -> bool:
        """Whether its leads reach that far from tip to tip."""
        return self.span_mm is not None and self.span_mm[0] <= span_mm <= self.span_mm[1]

    def fits(self, span_mm: float, pitch_mm: float, pins: int) -> bool:
        """Whether a land pattern of that lead span, pitch and pin count is for this package."""
        if self.pitch_mm is None or not self.spans(span_mm):
            return False
        return abs(pitch_mm - self.pitch_mm) <= 0.1 * self.pitch_mm and pins in self.pins

    def named(self) -> Named:
        body = Body(self.x_mm, self.y_mm, self.height_mm, self.source, terminals=self.terminals)
        return Named(body, self.turns, self.kind)


@dataclass(frozen=True, slots=True)
class Can:
    """An aluminium electrolytic can; base side for surface mounting, lead pitch and usual height for radial leads."""

    mount: str
    diameter_mm: float
    base_mm: float | None
    pitch_mm: float | None
    height_mm: float | None


@cache
def chips_by_inch() -> dict[str, Chip]:
    """Chip sizes by EIA (inch) code."""
    return {chip.inch: chip for chip in _chips() if chip.inch}


@cache
def chips_by_metric() -> dict[str, Chip]:
    """Chip sizes by IEC (metric) code."""
    return {chip.metric: chip for chip in _chips()}


@cache
def tantalums() -> tuple[Tantalum, ...]:
    """Moulded tantalum case sizes."""
    return tuple(
        Tantalum(row["eia"], row["letter"], float(row["length_mm"]), float(row["width_mm"]), float(row["height_mm"]))
        for row in _rows("tantalum")
    )


@cache
def ics() -> dict[str, tuple[Outlined, ...]]:
    """IC outlines by family; within a family the usual pitch of a pin count stands first."""
    families: dict[str, list[Outlined]] = {}
    for row in _rows("ics"):
        outline = Outlined(
            family=row["family"],
            pins=(int(row["pins"]),),
            pitch_mm=float(row["pitch_mm"]),
            x_mm=float(row["width_mm"]),
            y_mm=float(row["length_mm"]),
            height_mm=_number(row["height_mm"]),
            span_mm=(float(row["span_low_mm"]), float(row["span_high_mm"])),
            source=row["source"],
            terminals="leads_all" if row["family"] in ("QFP", "PLCC") else "leads_x",
            turns=row["family"] not in ("QFP", "PLCC"),
            kind="ic",
        )
        families.setdefault(outline.family, []).append(outline)
    return {family: tuple(outlines) for family, outlines in families.items()}


@cache
def packages() -> dict[str, Outlined]:
    """Packages known by name alone; names in capitals without dashes and blanks."""
    known: dict[str, Outlined] = {}
    for row in _rows("packages"):
        low, high = _number(row["span_low_mm"]), _number(row["span_high_mm"])
        outline = Outlined(
            family=row["names"].split()[0],
            pins=tuple(int(pins) for pins in row["pins"].split()),
            pitch_mm=_number(row["pitch_mm"]),
            x_mm=float(row["x_mm"]),
            y_mm=float(row["y_mm"]),
            height_mm=_number(row["height_mm"]),
            span_mm=None if low is None or high is None else (low, high),
            source=row["source"],
            terminals=_TERMINALS[row["terminals"]],
            turns=row["turns"] == "yes",
            kind=row["kind"],
        )
        known.update(dict.fromkeys(row["names"].split(), outline))
    return known


@cache
def lying() -> dict[str, Body]:
    """Single-row power packages that lie on the board, by the same names as standing ones."""
    return {
        name: Body(float(row["x_mm"]), float(row["y_mm"]), float(row["height_mm"]), row["source"])
        for row in _rows("lying")
        for name in row["names"].split()
    }


@cache
def cans(mount: str) -> tuple[Can, ...]:
    """Aluminium cans for ``smd`` or ``radial`` mounting."""
    return tuple(
        Can(mount, float(row["diameter_mm"]), *(_number(row[key]) for key in ("base_mm", "pitch_mm", "height_mm")))
        for row in _rows("cans")
        if row["mount"] == mount
    )


@cache
def codes(family: str) -> dict[str, tuple[float, float, float]]:
    """x, y and height in mm by size code, for codes that mean something only beside the family's word."""
    return {
        row["code"]: (float(row["x_mm"]), float(row["y_mm"]), float(row["height_mm"]))
        for row in _rows("codes")
        if row["family"] == family
    }


def round_body(diameter_mm: float, height_mm: float | None, source: str, *, estimated: bool = False) -> Body:
    """An upright cylinder."""
    shape: Shape = "round"
    return Body(diameter_mm, diameter_mm, height_mm, source, shape, estimated, "none")


_TERMINALS: dict[str, Terminals] = {
    "none": "none",
    "ends": "ends",
    "leads_x": "leads_x",
    "leads_y": "leads_y",
    "leads_all": "leads_all",
    "unknown": "unknown",
}


@cache
def _chips() -> tuple[Chip, ...]:
    return tuple(
        Chip(
            row["inch"],
            row["metric"],
            float(row["length_mm"]),
            float(row["width_mm"]),
            _number(row["resistor_height_mm"]),
            _number(row["capacitor_height_mm"]),
        )
        for row in _rows("chips")
    )


def _rows(table: str) -> list[dict[str, str]]:
    text = (_FOLDER / f"{table}.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def _number(cell: str) -> float | None:
    return float(cell) if cell else None
