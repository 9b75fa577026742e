"""One anatomy of a package: what is metal, and how far it reaches."""

import pytest

from overlay.board import anatomy
from overlay.board.bodies import body_from_package
from overlay.board.model import Body, Component


def part(body: Body | None, kind: str = "resistor") -> Component:
    return Component("R1", (0.0, 0.0), 0.0, "top", "X", "", "", False, 1, kind=kind, body=body)


def test_a_chip_has_caps_inside_and_pads_outside_its_box() -> None:
    chip = part(body_from_package("R_1206"))
    assert anatomy.cap_mm(chip) == pytest.approx(0.22 * 3.2)
    assert anatomy.leads_mm(chip) == (0.0, 0.0)
    assert 0.2 < anatomy.pad_mm(1.0) < anatomy.pad_mm(6.35) <= anatomy.skirt_mm(chip)


@pytest.mark.parametrize(
    ("name", "level", "axes"), [("SOIC-8", "A", (1, 0)), ("SOIC-8", "B", (0, 1)), ("LQFP-48", "A", (1, 1))]
)
def test_leads_reach_beyond_the_sides_that_have_them(name: str, level: str, axes: tuple[int, int]) -> None:
    body = body_from_package(name, level)  # type: ignore[arg-type]
    assert anatomy.leads_mm(part(body, "ic")) == tuple(anatomy.LEAD_MM * axis for axis in axes)
    assert anatomy.skirt_mm(part(body, "ic")) == anatomy.LEAD_MM + anatomy.TOE_MM


def test_leads_are_half_of_span_less_width_in_the_standards() -> None:
    # JEDEC MS-012 (SOIC), MO-153 (TSSOP), MS-026 (QFP): lead tip to lead tip, and body
    for span, width in ((6.0, 3.9), (6.4, 4.4), (9.0, 7.0)):
        assert pytest.approx((span - width) / 2, abs=0.11) == anatomy.LEAD_MM


def test_a_box_of_unknown_metal_has_ends_where_its_kind_is_a_chip() -> None:
    box = Body(3.2, 1.6, 0.6, "table")
    assert anatomy.terminals_of(part(box)) == "ends"
    assert anatomy.terminals_of(part(box, "ic")) == "none"
    assert anatomy.terminals_of(part(Body(3.2, 3.0, 0.6, "table"))) == "none"
    assert anatomy.terminals_of(part(Body(12.0, 6.0, 5.0, "table"))) == "none"
    assert anatomy.terminals_of(part(Body(3.2, 3.2, 5.0, "table", "round"))) == "none"
    assert anatomy.terminals_of(part(None)) == "none"
    assert anatomy.skirt_mm(part(box)) == 0.0 < anatomy.skirt_at_most_mm(part(box))
