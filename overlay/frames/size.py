"""How large a frame may be; checked before memory is taken for it."""

from __future__ import annotations

from overlay.errors import input_error

SMALLEST_SIDE_PX = 8  # the coarsest thermal arrays have 8 × 8 pixels
LARGEST_SIDE_PX = 8192  # stitched frames; no thermal array has a quarter of that
MOST_PAGES = 5000  # an hour and a half at one page a second
MOST_VALUES = 64_000_000  # half a gigabyte as float64


def check_size(file: str, pages: int, rows: int, cols: int) -> None:
    """Raise an `InputError` unless a stack of that size can be a frame and fits into memory."""
    if pages == 0 or min(rows, cols) < SMALLEST_SIDE_PX:
        what = f"holds {rows} rows × {cols} columns" if pages else "holds no page"
        raise input_error(file, None, what, f"a frame has at least {SMALLEST_SIDE_PX} pixels a side")
    if max(rows, cols) > LARGEST_SIDE_PX or pages > MOST_PAGES or pages * rows * cols > MOST_VALUES:
        what = f"holds {pages} × {rows} × {cols} values"
        remedy = (
            f"at most {LARGEST_SIDE_PX} pixels a side, {MOST_PAGES} pages and {MOST_VALUES // 1_000_000} million values"
        )
        raise input_error(file, None, what, f"{remedy} can be read; crop it or take fewer pages")
