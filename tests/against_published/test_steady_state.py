"""Remaining rise behind a rate criterion.

The rest of an exponential rise after a change d within a window W is d/(exp(W/τ) − 1): worked out independently to the
digits shown. Criteria as quoted from IEC 60598-1 12.4.1 f, IEC 61010-1 (OSM decision 23), IEC 61810-7, IEC 62282-2.
"""

import math

import numpy as np
import pytest

from overlay.reading.warmup import WarmUp, fit_warm_up


@pytest.mark.parametrize(
    ("change_k", "window_min", "tau_min", "rest_k"),
    [(1, 5, 10, 1.54), (1, 5, 20, 3.52), (1, 15, 20, 0.90), (1, 15, 40, 2.20), (3, 30, 40, 2.69), (2, 60, 40, 0.57)],
)
def test_what_a_criterion_leaves_open_is_found_by_the_fit(
    change_k: float, window_min: float, tau_min: float, rest_k: float
) -> None:
    """A record that ends when the change within the window has fallen to the criterion's limit."""
    times = np.linspace(0.0, 2.5 * tau_min, 40)
    amplitude = rest_k * math.exp(times[-1] / tau_min)
    curve = 25.0 + amplitude * (1 - np.exp(-times / tau_min))
    fitted = fit_warm_up(times, curve[None], np.array([0.01]))
    assert isinstance(fitted, WarmUp)
    assert fitted.remaining_k[0] == pytest.approx(rest_k, abs=0.005)
    change = amplitude * math.exp(-times[-1] / tau_min) * (math.exp(window_min / tau_min) - 1)
    assert change == pytest.approx(change_k, abs=0.02)
