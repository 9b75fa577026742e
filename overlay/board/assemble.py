"""Parts of a placement with all that the other files tell of them: bodies, how they lie, ratings, kinds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from overlay.board.bill import Bill
from overlay.board.bodies import table_key
from overlay.board.crowding import covering_problems, crowded_pairs, crowding_problems
from overlay.board.described import body_from_bill, body_from_order_code, described
from overlay.board.drawn import body_or_drawn
from overlay.board.kinds import kind_of
from overlay.board.model import BoardFiles, Body, Component, Level, Placement
from overlay.board.orientation import lying_of, lying_problems
from overlay.board.origins import on_their_bodies
from overlay.board.parts import PartsTable, rate
from overlay.errors import Problem


@dataclass(frozen=True, slots=True)
class Tables:
    """What the job's tables say of parts."""

    bodies: Mapping[str, Body] = field(default_factory=dict)
    parts: PartsTable = field(default_factory=lambda: PartsTable(""))
    ordered: PartsTable = field(default_factory=lambda: PartsTable(""))  # ratings of the purchasing list beside parts

    @property
    def bill(self) -> Bill | None:
        """The purchasing list, be it the parts table itself or beside it."""
        return self.parts.bill or self.ordered.bill


def assembled(
    placement: Placement, tables: Tables, files: BoardFiles
) -> tuple[tuple[Component, ...], tuple[Component, ...], list[Problem]]:
    """Parts that stand on the board, those that it does not carry, and what does not fit together."""
    listed = described(placement.components, tables.bill)
    fitted = [component for component in listed if component.fitted]
    unfitted = tuple(replace(component, body=None) for component in listed if not component.fitted)
    components, problems = rate(fitted, tables.parts)
    by_list, _ = rate(components, tables.ordered)
    components = tuple(own if own.rating else other for own, other in zip(components, by_list, strict=True))
    components, found = _lying(components, tables, files)
    problems += found
    components, found = on_their_bodies(placement, components, files.placement, lambda some: len(crowded_pairs(some)))
    problems += found
    problems += crowding_problems(components, files.placement)
    return components, unfitted, problems + covering_problems(components, files.placement)


def _lying(
    components: Sequence[Component], tables: Tables, files: BoardFiles
) -> tuple[tuple[Component, ...], list[Problem]]:
    """Parts with bodies and kinds, each package under the level that was stated, else that its neighbours show."""
    upright = tuple(replace(part, body=_body(part, tables, "A")) for part in components)
    upright = tuple(replace(part, kind=kind_of(part)) for part in upright)
    turned = tuple(replace(a, body=_body(part, tables, "B")) for a, part in zip(upright, components, strict=True))
    lying = lying_of(upright, turned)
    problems = lying_problems(lying, files.zero_orientation, files.placement)
    if files.zero_orientation is not None:
        return (upright if files.zero_orientation == "A" else turned), problems
    other = {table_key(one.package) for one in lying if one.level == "B"}
    posed = (b if table_key(a.package) in other else a for a, b in zip(upright, turned, strict=True))
    return tuple(posed), problems


def _body(component: Component, tables: Tables, level: Level) -> Body | None:
    """A part's body: from its own table, drawing or package; else from the purchasing list or the ordering code."""
    body = body_or_drawn(component, tables.bodies, level)
    if table_key(component.package) in tables.bodies or component.mechanical or (body and not body.estimated):
        return body
    return body_from_bill(component, tables.bill, level) or body_from_order_code(component, level) or body
