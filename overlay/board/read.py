"""A board from its files, with every problem found in one pass."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from overlay.arrays import Array
from overlay.board.assemble import Tables, assembled
from overlay.board.bodies import read_bodies, table_key
from overlay.board.model import Board, BoardFiles, Body, Component, Outline, Placement
from overlay.board.outline.fit import outline_problems
from overlay.board.outline.panel import stepped
from overlay.board.outline.read import outline_from_bodies, read_outline, shifted
from overlay.board.parts import PartsTable, read_parts
from overlay.board.placement.read import read_placement
from overlay.errors import Problem

_MOST_NAMED = 10  # rows of the bodies table that fit no package, told one by one


def read_board(folder: Path, files: BoardFiles) -> tuple[Board | None, list[Problem]]:
    """Read the files of a board.

    Parameters
    ----------
    folder
        Where the files named in ``files`` lie.

    Returns
    -------
    The board, or None where its placement cannot be used, and all problems of all files. An outline that cannot be
    used is an error among them; the board then has the hull of its bodies. Nothing is raised for bad input.
    """
    placement, problems = read_placement(
        folder / files.placement,
        files.placement,
        units=files.placement_units,
        side=files.placement_side,
        panel_board=files.panel_board,
        step=files.step,
        bottom_rotation=files.bottom_rotation,
        bottom_x=files.bottom_x,
    )
    tables, found = _tables(folder, files)
    problems += found
    outline, found = _outline(folder, files, placement)
    problems += found
    if outline is not None and placement is not None and placement.panel:
        outline = stepped(outline, placement.panel, placement.panel_board, placement.components)
    if placement is None:
        return None, problems

    components, unfitted, found = assembled(placement, tables, files)
    problems += found + _unknown_bodies(components, files) + _too_many(components, files.placement)
    if files.bodies is not None:
        problems += _unused_bodies(components, tables.bodies, files.bodies)
    if outline is None:
        outline = outline_from_bodies(components)
    else:
        problems += outline_problems(outline, components, files.placement, files.outline_shift_mm)
    board = Board(
        name=files.name,
        revision=files.revision,
        components=components,
        outline=outline,
        placement_file=folder / files.placement,
        placement_units=placement.units,
        placement_units_from=placement.units_from,
        notes=placement.notes,
        bill="" if tables.bill is None else tables.bill.file,
        unfitted=unfitted,
    )
    return board, problems


def _tables(folder: Path, files: BoardFiles) -> tuple[Tables, list[Problem]]:
    """The tables that tell of parts; what cannot be used of them is left out."""
    problems: list[Problem] = []
    bodies: dict[str, Body] = {}
    parts = ordered = PartsTable("")
    if files.bodies is not None:
        bodies, found = read_bodies(folder / files.bodies, files.bodies, files.zero_orientation or "A")
        problems += found
    if files.parts is not None:
        parts, found = read_parts(folder / files.parts, files.parts)
        problems += found
    if files.bom is not None and parts.bill is None:
        ordered, found = read_parts(folder / files.bom, files.bom)
        problems += [problem for problem in found if files.parts is None or problem.severity == "error"]
    return Tables(bodies, parts, ordered), problems


def _outline(folder: Path, files: BoardFiles, placement: Placement | None) -> tuple[Outline | None, list[Problem]]:
    """The edge from the file named for it; from the placement's own file where none is, or where it is that one."""
    edge = None if placement is None else placement.edge
    if edge is not None and placement is not None and files.outline in (None, files.placement):
        return shifted(edge, f"{files.placement} ({placement.edge_source})", files.outline_shift_mm), []
    if files.outline is None:
        return None, []
    return read_outline(
        folder / files.outline,
        files.outline,
        files.outline_shift_mm,
        units=files.outline_units,
        step=files.step,
        parts_mm=_places(placement),
    )


def _places(placement: Placement | None) -> Array | None:
    """Where the electrical parts lie; array of shape (n, 2)."""
    parts = [] if placement is None else [part.center_mm for part in placement.components if not part.mechanical]
    return np.array(parts, dtype=float) if parts else None


# All parts of a frame are worked out together, each for some twenty milliseconds of the processor and a third of a
# megabyte: 5,000 in a frame of 1280 × 1024 take some two minutes and 2 GB. No board tried had more on a side.
MOST_PARTS_A_SIDE = 6000


def _too_many(components: Sequence[Component], file: str) -> list[Problem]:
    problems = []
    for side in ("top", "bottom"):
        count = sum(component.side == side and not component.mechanical for component in components)
        if count > MOST_PARTS_A_SIDE:
            what = (
                f"{count} parts on the {side} side, more than the {MOST_PARTS_A_SIDE} that can be worked out together"
            )
            problems.append(Problem("error", file, None, what, "make a job of each region of the board"))
    return problems


def _unknown_bodies(components: Sequence[Component], files: BoardFiles) -> list[Problem]:
    """One warning for each package whose body nobody knows."""
    packages: dict[str, list[Component]] = {}
    for component in components:
        if component.body is None and not component.mechanical and component.kind != "mechanical":
            packages.setdefault(table_key(component.package), []).append(component)
    problems = []
    for key, group in packages.items():
        first = group[0]
        names = _listed([component.refdes for component in group])
        if key:
            what = f"the body of package {first.package.strip()!r} is not known ({names})"
            remedy = f"add a row with its length_mm, width_mm and height_mm to {files.bodies or 'bodies.csv'}"
        else:
            what = f"no package is given, so no body is known ({names})"
            remedy = "export the placement with a package or footprint column"
        problems.append(Problem("warning", files.placement, first.line, what, remedy, "package", first.package))
    return problems


def _unused_bodies(components: Sequence[Component], table: Mapping[str, Body], file: str) -> list[Problem]:
    """Rows of the bodies table that are for no package of the board."""
    used = {table_key(component.package): component.package.strip() for component in components}
    unused = [(key, None if body.row is None else body.row.line) for key, body in table.items() if key not in used]
    if len(unused) > _MOST_NAMED:
        what = f"{len(unused)} packages are on no placed part"
        return [Problem("warning", file, unused[0][1], what, "correct them or leave them", "package")]
    problems = []
    for key, line in unused:
        near = difflib.get_close_matches(key, [name for name in used if name], 1)
        remedy = f"did you mean {used[near[0]]!r}?" if near else "correct the row or take it out"
        problems.append(Problem("warning", file, line, f"no placed part has package {key!r}", remedy, "package", key))
    return problems


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
