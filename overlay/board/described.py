"""Parts as the purchasing list describes them: what it adds to the placement, and bodies from its words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from overlay.board.bill import Bill, Entry
from overlay.board.bodies import body_from_package
from overlay.board.kinds import kind_of_refdes, kind_of_words, known_kind
from overlay.board.model import Body, Component, Level
from overlay.board.packages.names import laid
from overlay.board.packages.order_codes import chip_of_order_code, outline_of_order_code
from overlay.board.packages.sizes import chips_by_inch
from overlay.errors import Source

# inch codes that distributors write into descriptions; others are rare enough to be part of something else
_CHIPS = ("01005", "0201", "0402", "0603", "0805", "1206", "1210", "1812", "2010", "2512")
_CODE = re.compile(rf"(?<![\w.])(?:{'|'.join(_CHIPS)})(?![\w%.])")
_CHIP_KINDS = frozenset(("resistor", "capacitor", "inductor", "led", "fuse", "thermistor", "diode"))


def entry_of(component: Component, bill: Bill | None) -> Entry | None:
    """The list's row for a part, a board of a panel's like the first one's; None where it has none."""
    if bill is None:
        return None
    return bill.by_refdes.get(component.designator.strip().upper())


def described(components: Iterable[Component], bill: Bill | None) -> tuple[Component, ...]:
    """Parts with what the list adds: a package, the manufacturer's number, a kind, and that a part is not fitted.

    What the placement says itself stays; a value in the place of a part number gives way to the list's number.
    """
    return tuple(
        component if (entry := entry_of(component, bill)) is None else _described(component, entry)
        for component in components
    )


def _described(component: Component, entry: Entry) -> Component:
    number = component.part_number
    if entry.part_numbers and number.strip() in ("", component.value.strip()):
        number = entry.part_numbers[0]
    lettered = kind_of_refdes(component.refdes)
    told = known_kind(entry.kind) or kind_of_words(f"{entry.kind} {entry.description}")
    # words of a description name other things as well ("connector for battery"): the designator decides
    kind = told if told and told != lettered and (lettered in ("", "ic", told) or (lettered, told) in _FINER) else ""
    return replace(
        component,
        package=component.package if component.package.strip() else entry.package,
        value=component.value if component.value.strip() else entry.value,
        part_number=number,
        kind=component.kind or kind,
        fitted=component.fitted and entry.fitted,
    )


# kinds that say more than the letters of the designator
_FINER = frozenset(
    [
        ("capacitor", "electrolytic"),
        ("capacitor", "tantalum"),
        ("capacitor", "film capacitor"),
        ("inductor", "transformer"),
        ("diode", "led"),
        ("resistor", "thermistor"),
        ("connector", "switch"),
        ("connector", "battery"),
        ("crystal", "ic"),
    ]
)


def body_from_bill(component: Component, bill: Bill | None, level: Level) -> Body | None:
    """A body that the list's package, its description or the ordering code tells; None where none does."""
    entry = entry_of(component, bill)
    kind = component.kind or kind_of_refdes(component.refdes)
    if entry is not None and bill is not None and not component.mechanical:
        row = Source(bill.file, entry.line)
        body = body_from_package(entry.package, level, kind=kind) if entry.package else None
        if body is not None:
            return replace(body, source=f"{body.source}; package {entry.package!r} in {row}")
        codes = set(_CODE.findall(f"{entry.value} {entry.description}"))
        if len(codes) == 1 and kind in _CHIP_KINDS and not component.package.strip():
            chip = chips_by_inch()[codes.pop()]
            source = f"chip size code {chip.inch} (inch) in the description of {row}"
            return Body(chip.length_mm, chip.width_mm, chip.height_mm(kind), source, terminals="ends")
    return None


def body_from_order_code(component: Component, level: Level) -> Body | None:
    """A body told by the part's ordering code: a chip's size, or an IC's outline code; None where neither is there."""
    kind = component.kind or kind_of_refdes(component.refdes)
    for text in dict.fromkeys((component.part_number, component.value)):
        if kind in _CHIP_KINDS and kind != "diode" and (chip := chip_of_order_code(text, kind)) is not None:
            return chip.body
        named = outline_of_order_code(text) if kind in ("ic", "regulator", "transistor", "diode", "") else None
        if named is not None:
            return laid(named, level)
    return None
