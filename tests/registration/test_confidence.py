"""The chance that parts agree by accident, against the binomial distribution itself."""

import math

import pytest
from scipy.stats import binom

from overlay.registration.confidence import chance_score


@pytest.mark.parametrize(("judged", "agreeing"), [(8, 3), (20, 18), (60, 31), (130, 130), (5, 1)])
def test_the_score_is_the_binomial_tail_in_decades(judged: int, agreeing: int) -> None:
    expected = -math.log10(binom.sf(agreeing - 1, judged, 0.06))
    assert chance_score(judged, agreeing, 0.06) == pytest.approx(expected, rel=1e-9)


def test_no_part_that_agrees_scores_nothing() -> None:
    assert chance_score(0, 0, 0.06) == 0.0
    assert chance_score(40, 0, 0.06) == 0.0


def test_more_agreement_never_scores_less() -> None:
    scores = [chance_score(30, agreeing, 0.06) for agreeing in range(31)]
    assert scores == sorted(scores)
