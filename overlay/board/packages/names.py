"""Package names as part libraries write them, turned into bodies; what is not known stays unknown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from overlay.board.model import Body, Level, Terminals
from overlay.board.packages.chips import named_array, named_chip
from overlay.board.packages.ics import named_ic, named_transistor
from overlay.board.packages.land_patterns import body_from_land_pattern
from overlay.board.packages.moulded import named_melf, named_tantalum
from overlay.board.packages.parts import (
    is_mechanical,
    named_axial,
    named_by_sizes,
    named_can,
    named_connector,
    named_crystal,
    named_inductor,
    named_led,
    named_radial,
    named_switch,
)
from overlay.board.packages.sizes import Named
from overlay.board.packages.words import normal

_LONGEST_NAME = 200  # no library names a package so; the patterns need not look at more

# the first reader that understands a name has the word; the particular stand before the general
_READERS: tuple[Callable[[str], Named | None], ...] = (
    named_can,
    named_axial,
    named_radial,
    named_melf,
    named_led,
    named_transistor,
    named_crystal,
    named_connector,
    named_switch,
    named_inductor,
    named_ic,
    named_by_sizes,
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
    if (pattern := body_from_land_pattern(name)) is not None:
        return pattern
    if (found := named_array(name)) is not None:
        return found
    for reader in (named_tantalum, named_chip):
        if (found := reader(name, kind)) is not None:
            return found
    for plain in _READERS:
        if (found := plain(name)) is not None:
            return found
    return None


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
