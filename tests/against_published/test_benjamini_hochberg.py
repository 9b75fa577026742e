"""False discovery rate against a reference library.

Source of the method: Benjamini & Hochberg, J. R. Statist. Soc. B 57 (1995) 289 (from memory).
Second opinion: ``scipy.stats.false_discovery_control``.
"""

import numpy as np
import pytest
from scipy import stats

from overlay.comparison.change import q_values_of


@pytest.mark.parametrize("seed", range(5))
def test_q_values_equal_those_of_the_reference_library(seed: int) -> None:
    p = np.random.default_rng(seed).uniform(0, 1, 60) ** 3
    np.testing.assert_allclose(q_values_of(p), stats.false_discovery_control(p, method="bh"), rtol=1e-12)


def test_the_fifteen_p_values_of_the_original_example_reject_four() -> None:
    """The paper's myocardial-infarction example at q = 0.05 rejects four hypotheses (from memory)."""
    p = [
        0.0001,
        0.0004,
        0.0019,
        0.0095,
        0.0201,
        0.0278,
        0.0298,
        0.0344,
        0.0459,
        0.3240,
        0.4262,
        0.5719,
        0.6528,
        0.7590,
        1,
    ]
    assert int((q_values_of(np.array(p)) <= 0.05).sum()) == 4
