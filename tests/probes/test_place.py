"""Where on a part a bead belongs, in words and in millimetres."""

import numpy as np
import pytest

from overlay.board.anatomy import pad_mm
from overlay.board.model import Body, Component
from overlay.probes.place import edge_words, misplacement_cost_k, needs_pad, pad_place_mm, pin_1_words


def part(
    length: float,
    width: float,
    *,
    rotation: float = 0.0,
    side: str = "top",
    terminals: str = "leads_x",
    level: str = "A",
) -> Component:
    body = Body(length, width, 1.0, "test", terminals=terminals, level=level)  # type: ignore[arg-type]
    return Component("U1", (50.0, 20.0), rotation, side, "X", "", "", False, 1, body=body)  # type: ignore[arg-type]


def test_edges_are_named_as_one_looks_at_the_board() -> None:
    assert (
        edge_words(part(4.0, 6.0), np.array([51.5, 18.0]))
        == "0.5 mm inside the right edge, 1.0 mm inside the lower edge"
    )
    turned = edge_words(part(4.0, 6.0, rotation=90.0), np.array([51.5, 18.5]))
    assert turned == "0.5 mm inside the lower edge, 1.5 mm inside the right edge"
    below = edge_words(part(4.0, 6.0, side="bottom"), np.array([51.5, 18.0]))
    assert below == "0.5 mm inside the left edge, 1.0 mm inside the lower edge"


def test_pin_1_is_upper_left_at_level_a_and_lower_left_at_level_b() -> None:
    corner = "0.0 mm across and 0.0 mm along from pin 1's corner"
    assert pin_1_words(part(4.0, 6.0), np.array([48.0, 23.0])) == corner
    assert pin_1_words(part(4.0, 6.0, level="B"), np.array([48.0, 17.0])) == corner
    assert pin_1_words(part(4.0, 6.0, terminals="unknown"), np.array([48.0, 17.0])) == ""


def test_small_chips_are_probed_at_the_warmer_pad() -> None:
    chip = part(1.6, 0.8, rotation=90.0, terminals="ends")
    assert needs_pad(chip)
    assert not needs_pad(part(3.2, 1.6, terminals="ends"))
    place = pad_place_mm(chip, lambda at: at[:, 1])  # warmer upwards
    assert place == pytest.approx([50.0, 20.8 + pad_mm(1.6) / 2])


def test_the_cost_of_a_misplaced_bead_is_the_mean_over_directions() -> None:
    def dome(at: np.ndarray) -> np.ndarray:
        return np.asarray(90.0 - 3.0 * ((at - [50.0, 20.0]) ** 2).sum(axis=1))

    costs = misplacement_cost_k(90.0, np.array([50.0, 20.0]), dome)
    assert costs == pytest.approx((0.75, 3.0, 12.0))
    nowhere = misplacement_cost_k(90.0, np.array([50.0, 20.0]), lambda at: np.full(len(at), np.nan))
    assert nowhere == (None, None, None)
