"""What a contact reading is worth: by how many bits it is expected to settle a verdict."""

from __future__ import annotations

import math

import numpy as np

# A thermocouple of class 1 (±1.5 °C), its meter's cold junction (±0.5 °C) and its place: common practice.
CONTACT_U_C = 1.1
_WANTED_MARGIN_COUNTS = 0.5  # settling near against clear is worth half of settling over against within
_NODES = 61  # over ±4.5 standard uncertainties: a step of 0.15


def bits_settled(margin_c: float, u_c: float, wanted_c: float, contact_u_c: float = CONTACT_U_C) -> float:
    """Mutual information of a contact reading and the two questions a verdict asks.

    Is the limit kept, and is the wanted margin kept? With the margin normal (``margin_c``, ``u_c``) and a reading
    of uncertainty ``contact_u_c``, each question's entropy now, less its expected entropy afterwards.
    """
    return _information(margin_c, u_c, contact_u_c) + _WANTED_MARGIN_COUNTS * _information(
        margin_c - wanted_c, u_c, contact_u_c
    )


def _information(distance: float, u: float, contact_u: float) -> float:
    if u <= 0.0:
        return 0.0
    after = u * contact_u / math.hypot(u, contact_u)
    moves = math.sqrt(max(u * u - after * after, 0.0))  # how far the reading is expected to move the estimate
    nodes = np.linspace(-4.5, 4.5, _NODES)
    weights = np.exp(-0.5 * nodes**2)
    weights /= weights.sum()
    expected = sum(
        float(weight) * _entropy((distance + moves * float(node)) / after)
        for node, weight in zip(nodes, weights, strict=True)
    )
    return max(_entropy(distance / u) - expected, 0.0)


def _entropy(z: float) -> float:
    """Entropy in bits of a question answered yes with probability Φ(z)."""
    p = 0.5 * math.erfc(-z / math.sqrt(2.0))
    return -sum(share * math.log2(share) for share in (p, 1.0 - p) if share > 0.0)
