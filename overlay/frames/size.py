"""How large a frame may be; checked before memory is taken for it."""

from __future__ import annotations

from overlay.errors import input_error

SMALLEST_SIDE_PX = 8  # the coarsest thermal arrays have 8 × 8 pixels
LARGEST_SIDE_PX = 8192  # stitched frames; no thermal array has a quarter of that
MOST_PAGES = 5000  # an hour and a half at one page a second
MOST_VALUES_A_PAGE = 6_000_000  # four frames of the largest thermal arrays stitched together
# Noise keeps a frame from packing better than some ten to one; only a lie unpacks to much from little.
FREE_BYTES, MOST_UNPACKED_TIMES = 50_000_000, 100
MOST_VALUES = 64_000_000  # half a gigabyte as float64


def check_size(file: str, pages: int, rows: int, cols: int) -> None:
    """Raise an `InputError` unless a stack of that size can be a frame and fits into memory."""
    if pages == 0 or min(rows, cols) < SMALLEST_SIDE_PX:
        what = f"holds {rows} rows × {cols} columns" if pages else "holds no page"
        raise input_error(file, None, what, f"a frame has at least {SMALLEST_SIDE_PX} pixels a side")
    too_large = max(rows, cols) > LARGEST_SIDE_PX or rows * cols > MOST_VALUES_A_PAGE
    if too_large or pages > MOST_PAGES or pages * rows * cols > MOST_VALUES:
        what = f"holds {pages} × {rows} × {cols} values"
        remedy = (
            f"at most {LARGEST_SIDE_PX} pixels a side, {MOST_VALUES_A_PAGE // 1_000_000} million values a page, "
            f"{MOST_PAGES} pages and {MOST_VALUES // 1_000_000} million values"
        )
        raise input_error(file, None, what, f"{remedy} can be read; crop it or take fewer pages")


def check_unpacking(file: str, packed_bytes: int, unpacked_bytes: int) -> None:
    """Raise an `InputError` where a packed file would come to more than any honest one; before it is unpacked."""
    if unpacked_bytes > max(FREE_BYTES, MOST_UNPACKED_TIMES * packed_bytes):
        what = f"unpacks to {unpacked_bytes / 1e6:.0f} MB from {packed_bytes / 1e6:.1f} MB, as no frame does"
        raise input_error(file, None, what, "save it without compression")
