"""A capture of several pages: averaged where the board is settled, carried to where it settles where it is not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from overlay.errors import input_error
from overlay.frames.frame import Array, Frame
from overlay.frames.stack import AlignedPages, align_pages, combine_pages, drift, mean_page
from overlay.job.ambient_log import AmbientLog

if TYPE_CHECKING:
    from overlay.reading.model import FrameReading
    from overlay.reading.warmup import WarmUp
    from overlay.view.model import View


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """The page of a frame that is read in full, of shape (rows, cols), and the pages behind it."""

    temperature_c: Array
    averaged: int  # how many pages are in it
    notes: tuple[str, ...]
    warming: AlignedPages | None = None  # put over the last one, where the board is still warming up
    times_s: Array | None = None


def page_of(frame: Frame, file: str) -> Page:
    """Average the pages of a frame, or take the last one where they have times and the board is warming up.

    Raises
    ------
    InputError
        Where pages show something else than the last one, or drift without times.
    """
    if frame.pages == 1 or frame.times_s is None:
        combined = combine_pages(frame, file)
        return Page(combined.temperature_c, combined.pages, combined.notes)
    alignment = align_pages(frame.temperature_c)
    times = frame.times_s[list(alignment.kept)]
    pages = AlignedPages(alignment, filled=True)
    mean = mean_page(pages)
    notes = []
    if alignment.failed:
        numbers = ", ".join(str(page + 1) for page in alignment.failed)
        notes.append(f"page {numbers} of {file} could not be put over the last page and was left out")
    if alignment.moved:
        notes.append(f"pages of {file} were moved by up to {alignment.largest_px:.1f} px to lie over one another")
    if not drift(pages, mean).drifts:
        return Page(mean.temperature_c, len(pages), (*notes, f"{file} is settled over its {len(pages)} pages"))
    return Page(alignment.page(frame.pages - 1), 1, tuple(notes), pages, times)


def with_settled_values(
    page: Page,
    view: View,
    reading: FrameReading,
    leaving_of: Callable[[Array], Array],
    file: str,
    ambient: AmbientLog | None = None,
) -> tuple[FrameReading, tuple[str, ...]]:
    """Carry the last page's readings to where the board settles; unchanged where it is settled.

    ``leaving_of`` turns a page in °C into leaving radiance. With a log of the ambient, rises are fitted: what the room
    did is no warming up of the board, and settled values stand at the last page's ambient.

    Raises
    ------
    InputError
        Where the record is too short to tell where the board settles.
    """
    from overlay.reading.curves import part_curves, settled_reading
    from overlay.reading.steady_state import criteria_words
    from overlay.reading.warmup import fit_warm_up

    if page.warming is None or page.times_s is None:
        return reading, page.notes
    curves = part_curves(view, (leaving_of(each) for each in page.warming), reading)
    names = [name for name, curve in curves.items() if np.isfinite(curve).all()]
    if not names:
        return reading, (*page.notes, "no part could be followed over the pages; the last page is read as it is")
    values = np.stack([curves[name] for name in names])
    if ambient is not None:
        room = ambient.at(page.times_s)
        values = values - (room - room[-1])
    fitted = fit_warm_up(page.times_s, values, _noise_c(values))
    if isinstance(fitted, str):
        raise input_error(file, None, fitted, "record longer, or give a frame of the settled board")
    taus = ", ".join(f"{tau:.0f} ± {u:.0f} s" for tau, u in zip(fitted.tau_s, fitted.tau_u_s, strict=True))
    words = f"time constant {taus}" if len(fitted.tau_s) == 1 else f"time constants {taus}"
    settled = {name: _ahead(fitted, index) for index, name in enumerate(names)}
    lead = int(np.argmax(np.abs(fitted.remaining_k)))
    notes = (
        *page.notes,
        f"The board was still warming up when the record ended: up to {fitted.remaining_k[lead]:+.1f} K to come "
        f"({names[lead]}), {words}. Settled values are given.",
        *criteria_words(page.times_s, values),
    )
    return settled_reading(view, reading, settled, words), notes


def _ahead(fitted: WarmUp, index: int) -> tuple[float, tuple[float, ...], float]:
    common = tuple(float(value) for value in fitted.common_k[index])
    return float(fitted.remaining_k[index]), common, float(fitted.own_u_c[index])


def _noise_c(curves: Array) -> Array:
    """Scatter of each curve's points, from what successive ones differ by free of drift, (n,)."""
    if curves.shape[1] < 4:
        return np.full(len(curves), 0.05)
    second = curves[:, 2:] - 2.0 * curves[:, 1:-1] + curves[:, :-2]
    return np.asarray(1.4826 * np.median(np.abs(second), axis=1) / np.sqrt(6.0))
