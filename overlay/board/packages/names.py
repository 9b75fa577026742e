"""Package names as part libraries write them, turned into bodies; what is not known stays unknown."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from overlay.board.model import Body, Level, Terminals
from overlay.board.packages.cans import named_axial, named_can, named_led, named_radial
from overlay.board.packages.chips import named_array, named_chip
from overlay.board.packages.connectors import named_connector
from overlay.board.packages.ics import named_ic
from overlay.board.packages.land_patterns import body_from_land_pattern
from overlay.board.packages.moulded import named_melf, named_tantalum
from overlay.board.packages.outlines import named_transistor
from overlay.board.packages.parts import (
    is_mechanical,
    named_by_sizes,
    named_crystal,
    named_inductor,
    named_switch,
    named_trimmer,
)
from overlay.board.packages.sizes import Named
from overlay.board.packages.words import normal

_LONGEST_NAME = 200  # no library names a package so; the patterns need not look at more

# sides, lead span and the corner of pin 1, as one widespread way of naming has them
_PIN_1 = re.compile(r"[_-]L(?P<long>\d+(?:\.\d+)?)-W(?P<wide>\d+(?:\.\d+)?)-P\d.*-(?P<corner>BL|BR)(?=-|$)")
_MOST_ASPECT = 12.0  # ten resistors in one row; makers of anything else stay far below (common practice)
# the longest side that parts of a kind have on boards (common practice): beyond it digits were read in a wrong unit
_LARGEST_MM = {
    "resistor": 80.0,
    "capacitor": 60.0,
    "electrolytic": 110.0,
    "tantalum": 20.0,
    "inductor": 80.0,
    "diode": 30.0,
    "led": 60.0,
    "transistor": 45.0,
    "ic": 80.0,
    "crystal": 30.0,
}

_Reader = Callable[[str, str], Named | None]


def _plain(reader: Callable[[str], Named | None]) -> _Reader:
    """A reader that needs no kind, as one that is given it."""
    return lambda name, _: reader(name)


# the first reader that understands a name is believed: those for particular names come before general ones
_READERS: tuple[_Reader, ...] = (
    _plain(body_from_land_pattern),
    _plain(named_array),
    named_tantalum,
    named_chip,
    _plain(named_can),
    _plain(named_axial),
    _plain(named_radial),
    _plain(named_melf),
    _plain(named_led),
    _plain(named_transistor),
    named_crystal,
    _plain(named_connector),
    _plain(named_switch),
    _plain(named_trimmer),
    named_inductor,
    _plain(named_ic),
    _plain(named_by_sizes),
)


@lru_cache(maxsize=4096)
def named_package(package: str, kind: str = "") -> Named | None:
    """What a package's name says about its body, as it lies under IPC-7351 level A; None where it says nothing.

    Parameters
    ----------
    kind
        Kind of part where something else tells it: how high a bare ``0603`` is depends on it.
    """
    name = normal(package)
    if not name or len(name) > _LONGEST_NAME or is_mechanical(name):
        return None
    for reader in _READERS:
        if (found := reader(name, kind)) is not None:
            return _as_told(found, name) if _plausible(found) else None
    return None


def _as_told(named: Named, name: str) -> Named:
    """A two-row package whose name says where pin 1 is: below left, its rows run along x (level B); below right, up."""
    match = _PIN_1.search(name)
    if match is None or not named.turns:
        return named
    body = named.body
    if match["corner"] == "BL":
        long, wide = float(match["long"]), float(match["wide"])
        body = replace(quarter_turned(body), length_mm=long, width_mm=wide, level="B")
    return replace(named, body=body, turns=False)


def _plausible(named: Named) -> bool:
    """Whether a part can be like that: no sheet, no needle, nothing larger than parts of its kind are."""
    body = named.body
    short, long = sorted((body.length_mm, body.width_mm))
    largest = _LARGEST_MM.get(named.kind, 150.0)
    needle = long > _MOST_ASPECT * short and named.kind not in ("connector", "")
    return short >= 0.1 and long <= largest and not needle


def laid(named: Named, level: Level) -> Body:
    """The body as it lies at rotation 0 under that level."""
    if level == "A" or not (named.turns or named.body.terminals == "leads_all"):
        return named.body
    return replace(quarter_turned(named.body) if named.turns else named.body, level="B")


def quarter_turned(body: Body) -> Body:
    """The same body a quarter turn on."""
    turned: dict[Terminals, Terminals] = {"leads_x": "leads_y", "leads_y": "leads_x"}
    terminals = turned.get(body.terminals, body.terminals)
    return replace(body, length_mm=body.width_mm, width_mm=body.length_mm, terminals=terminals)
