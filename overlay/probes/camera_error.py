"""What contact readings that agree with infrared say of the camera's common error, for all other parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.reading.model import Reading
from overlay.uncertainty import TermName, combined_k

# Of a bead's uncertainty, and of an emissivity's that was not measured on the part, this share is common to all beads
# of a table and to all parts of that source; the rest is the part's own (own estimate: tolerance against attachment).
COMMON_SHARE = 0.9
_LEAST_OWN_K = 0.2  # attachment and place of a bead at best (common practice)


@dataclass(frozen=True, slots=True)
class Offset:
    """What one agreeing contact says of errors that are common, each by its answer to one standard uncertainty."""

    refdes: str
    camera_k: float
    bead_k: float  # of the part of its error that all beads share
    emissivity_k: float  # likewise, of all parts whose emissivity has the same source
    source: str
    difference_k: float  # contact minus infrared
    own_u_k: float  # of that difference, what is common excepted

    @staticmethod
    def of(reading: Reading, contact_c: float, contact_u_c: float) -> Offset:
        """Of a contact that agrees with what infrared read of the part."""
        assert reading.peak_c is not None
        sums = dict.fromkeys((TermName.CAMERA, TermName.EMISSIVITY), 0.0)
        for term in reading.budget:
            if term.name in sums:
                sums[term.name] += term.contribution_k
        rest = combined_k(tuple(term for term in reading.budget if term.name not in sums))
        own = math.hypot(rest, own_share(contact_u_c), own_share(sums[TermName.EMISSIVITY]))
        return Offset(
            refdes=reading.refdes,
            camera_k=sums[TermName.CAMERA],
            bead_k=COMMON_SHARE * contact_u_c,
            emissivity_k=COMMON_SHARE * sums[TermName.EMISSIVITY],
            source=reading.emissivity_source,
            difference_k=contact_c - reading.peak_c,
            own_u_k=max(own, _LEAST_OWN_K),
        )


def own_share(u: float) -> float:
    return math.sqrt(1.0 - COMMON_SHARE**2) * u


def camera_error(offsets: Sequence[Offset]) -> tuple[float, float]:
    """Mean and standard deviation of the camera's error, in its prior standard uncertainty (0, 1).

    The beads' common error and that of every source of emissivities are unknowns beside it: normal, and linear in the
    differences, so that the least squares of all of them have a closed form.
    """
    if not offsets:
        return 0.0, 1.0
    sources = sorted({item.source for item in offsets})
    design = np.zeros((len(offsets), 2 + len(sources)))
    for row, item in enumerate(offsets):
        design[row, 0], design[row, 1] = -item.camera_k, item.bead_k
        design[row, 2 + sources.index(item.source)] = -item.emissivity_k
    weight = 1.0 / np.array([item.own_u_k for item in offsets]) ** 2
    covariance = np.linalg.inv(np.eye(design.shape[1]) + design.T @ (weight[:, None] * design))
    mean = covariance @ design.T @ (weight * np.array([item.difference_k for item in offsets]))
    return float(mean[0]), math.sqrt(float(covariance[0, 0]))


def without_camera_error(reading: Reading, learnt: tuple[float, float]) -> Reading:
    """The reading with the camera's common error, as far as other parts' contacts tell it, taken off.

    Its emissivity keeps its whole uncertainty: how much of that is common is an estimate, and is not relied on here.
    """
    camera = sum(term.contribution_k for term in reading.budget if term.name is TermName.CAMERA)
    if reading.peak_c is None or camera == 0.0:
        return reading
    mean, share = learnt
    shift = -camera * mean
    budget = tuple(
        replace(term, contribution_k=term.contribution_k * share) if term.name is TermName.CAMERA else term
        for term in reading.budget
    )
    return replace(
        reading,
        peak_c=reading.peak_c + shift,
        mean_c=None if reading.mean_c is None else reading.mean_c + shift,
        ring_c=None if reading.ring_c is None else reading.ring_c + shift,
        budget=budget,
        u_c=combined_k(budget),
    )
