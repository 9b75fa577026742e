"""What is believed of boards, parts and lenses before the frame is looked at.

Widths are standard deviations of normal priors. Figures without another source are common practice, widened
where practice differs from maker to maker: a prior too narrow gives a confident wrong temperature, one too wide
only a wider uncertainty.
"""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array
from overlay.board.model import Component

PART_TO_BOARD_K = 40.0
"""A part's temperature about that of the board beneath: weak, so that hot small parts are not pulled down."""
KNOT_STEP_K = 4.0
"""Difference of two neighbouring knots on one face."""
BOARD_CURVATURE_K_PER_MM2 = 4.0
"""Second derivative of the bare board's temperature, along either axis."""
REFLECTED_K = 2.5
"""Of what is mirrored, between one part and the next."""
MIRRORED_BOARD, MIRRORED_BOARD_U = 0.12, 0.10
"""What one part's caps, and its pads or leads, mirror: so much of it is the warm board and bodies around, the rest
the room; and each its own deviation, in kelvin."""

COATED_EMISSIVITY = 0.90
"""Of the same under varnish or coating, as boards for damp places have it (published ranges of varnishes 0.85–0.95)."""
COATED_PADS = 0.35
"""Where most pads are found shorter than this share of their usual length, a coated board is tried as well."""
CAP_SHARE_U = 0.05
"""Length of one end cap over the body's, all parts in common; one size code against the rest: `anatomy.CAP_SHARE_U`."""
PAD_U, PAD_CODE_U = 0.35, 0.25
"""Bare length of a pad beyond its end cap over `anatomy.pad_mm`: in common, and by size code and kind."""
LEAD_SHARE, LEAD_SHARE_U = 0.2, 0.2
"""Share of the strip beside a gull-wing body, as wide as its leads reach, that is bare metal."""
BOW, BOW_U = 0.25, 0.2
"""Fall from the middle to the ends of an unresolved top face, as a share of its rise above the board: a heated bar
that is cooled at its ends has a parabola on it."""
WALL_SHARE, WALL_SHARE_U = 0.5, 0.15
"""Side walls between the board's temperature (0) and the top face's (1)."""

SIZE_SHARE, SIZE_LEAST_MM = 0.02, 0.03
"""Length and width of one part against the nominal ones: the larger of the two."""
BLUR_DECLARED_U, BLUR_UNKNOWN_PX, BLUR_UNKNOWN_U = 0.10, 1.2, 0.35
"""Relative uncertainty of a declared blur; start and relative uncertainty for one that nobody has declared."""
CAP_FAULT, PAD_FAULT, BLUR_FAULT = 0.02, 0.2, 0.05
"""What the fitted cap shares, pad factors and (relative) blur may be off by however well they seem to be determined:
faults of the drawing look like them."""
CAP_FAR_FAULT = 0.3
"""And so much of the distance at which a cap share ends up from what is usual."""
RISE_FAULT = 0.045
"""Model fault of a small part's temperature, as a share of its rise above the board; three times that below 1.5 px,
a third of it from 6 px."""
LEAST_U_K, LEAST_RESOLVED_U_K = 0.3, 0.15
"""Least uncertainty of unmixing below 6 px (lenses have tails that no Gaussian has), and above."""
CLIP = 2.5
"""Prior widths beyond which a part's own shift and size are not let go."""

FLOOR_K = 0.15
"""Model fault per pixel that is always there …"""
FLOOR_EDGE_PX = 0.06
"""… and how far the drawn edges may be off: it counts with the frame's own gradient."""

STEERING_HEIGHT_MM = 1.5
"""Taller bodies do not steer the pose: their walls are drawn too roughly for that."""
KNOT_EVERY_PX, ONE_KNOT_PX, MOST_KNOTS = 4.0, 5.5, 7
"""Knots along a body: blur lets no closer ones be told apart, a shorter body has one, and seven follow any die."""
RESIZED_PX = 7.0
"""Solids whose short side is longer keep their nominal size: their edges do not reach the middle of their faces."""


def size_code(component: Component) -> tuple[str, float, float]:
    """Parts that share one metal geometry: kind, length and width to a twentieth of a millimetre."""
    body = component.body
    assert body is not None
    kind = component.kind if component.kind in ("resistor", "capacitor") else ""
    return kind, round(20.0 * body.length_mm) / 20.0, round(20.0 * body.width_mm) / 20.0


def shared_covariance(count: int, common_u: float, own_u: float) -> Array:
    """Covariance (count, count) of values with a common deviation and one of their own each."""
    return np.full((count, count), common_u**2) + np.eye(count) * own_u**2
