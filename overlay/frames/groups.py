"""Groups of touching pixels, by the vision library and plain sorting: what `check` looks for loads no larger one."""

from __future__ import annotations

import numpy as np

from overlay.arrays import Array, Index, Mask


def groups(mask: Mask, *, corners: bool = False) -> tuple[Index, int]:
    """Numbers (rows, cols) of the groups of a mask, from 1 on in the order of rows, 0 outside; and how many there are.

    With ``corners`` pixels that touch at a corner are of one group, too.
    """
    import cv2

    # this algorithm numbers groups by their first pixels; the faster ones look at blocks of four
    count, numbers = cv2.connectedComponentsWithAlgorithm(
        mask.view(np.uint8), 8 if corners else 4, cv2.CV_32S, cv2.CCL_WU
    )
    return numbers.astype(np.intp), count - 1


def grown(mask: Mask) -> Mask:
    """A mask and the pixels beside it, above and below it."""
    wide = np.pad(mask, 1)
    return np.asarray(mask | wide[:-2, 1:-1] | wide[2:, 1:-1] | wide[1:-1, :-2] | wide[1:-1, 2:])


def medians(values: Array, group: Index, count: int) -> Array:
    """Median (count + 1,) of the values (n,) of each group from 0 to ``count``; nan for one without any."""
    ordered = values[np.lexsort((values, group))]
    members = np.bincount(group, minlength=count + 1)
    first = np.cumsum(members) - members
    told = members > 0
    out = np.full(count + 1, np.nan)
    out[told] = (ordered[(first + (members - 1) // 2)[told]] + ordered[(first + members // 2)[told]]) / 2.0
    return out
