"""Bodies as the board's own file draws them, beside those that the packages' names imply."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from overlay.board.bodies import body_of, table_key
from overlay.board.model import Body, Component, Level

# an outline this much larger than a known body is a courtyard, or takes in the leads: common practice leaves
# 0.1 … 0.5 mm round a body, and bodies themselves vary by less
_ALIKE = 1.15


def body_or_drawn(component: Component, table: Mapping[str, Body], zero_orientation: Level) -> Body | None:
    """A component's body: from the bodies table, from the outline its file draws, or from its package's name.

    The drawn outline tells size, height and which way the package lies, unless the name tells a size outright
    that it does not fit: then it is no outline of the body, and only its height and direction are taken.
    """
    drawn = component.body
    named = body_of(component, table, zero_orientation)
    if drawn is None or named is None:
        return named or drawn
    height = named.height_mm if drawn.height_mm is None else drawn.height_mm
    if table_key(component.package) in table:
        return replace(named, height_mm=drawn.height_mm) if named.height_mm is None else named
    lies_across = (named.length_mm > named.width_mm) != (drawn.length_mm > drawn.width_mm)
    if lies_across and not 1 / _ALIKE < named.length_mm / named.width_mm < _ALIKE:
        named = _turned(named)
    size = drawn.length_mm / named.length_mm, drawn.width_mm / named.width_mm
    if named.estimated or all(1 / _ALIKE <= ratio <= _ALIKE for ratio in size):
        body = replace(drawn, height_mm=height, shape=named.shape, terminals=named.terminals)
        return replace(body, shape="box") if abs(body.length_mm - body.width_mm) > 1e-3 else body
    of_height = f", height from the {drawn.source}" if drawn.height_mm is not None else ""
    return replace(named, height_mm=height, source=f"{named.source}{of_height}")


def _turned(body: Body) -> Body:
    metal = {"leads_x": "leads_y", "leads_y": "leads_x", "ends": "unknown"}
    return replace(
        body,
        length_mm=body.width_mm,
        width_mm=body.length_mm,
        terminals=metal.get(body.terminals, body.terminals),  # type: ignore[arg-type]
    )
