"""A capture's contact readings, brought to its infrared readings."""

from __future__ import annotations

import numpy as np

from overlay.errors import Problem
from overlay.frames.sampling import bilinear
from overlay.job.load import CaptureData
from overlay.probes.contact import Meeting, apply_contacts
from overlay.probes.model import ContactReading
from overlay.probes.wire import part_wire_share
from overlay.reading.model import FrameReading
from overlay.registration.project import pixels_from_board
from overlay.view.model import View


def with_contacts(
    data: CaptureData, view: View, reading: FrameReading
) -> tuple[FrameReading, tuple[Meeting, ...], tuple[Problem, ...]]:
    """The frame's readings with the capture's thermocouple readings in, what each met, and warnings for what is odd."""
    contacts, file = data.contacts, data.settings.contact_readings
    if file is None:
        return reading, (), ()
    shares = {item.refdes: share for item in contacts if (share := _wire_share(item, view)) is not None}
    places = {item.refdes: value for item in contacts if (value := _at_place_c(item, view, reading)) is not None}
    return apply_contacts(reading, view, contacts, shares, places, file)


def _wire_share(contact: ContactReading, view: View) -> float | None:
    """Share of the rise that the bead's wire draws off; None where the gauge is not given."""
    if contact.wire_diameter_mm is None:
        return None
    rise_k = contact.temperature_c - view.ambient_c
    return part_wire_share(view.board.component(contact.refdes), rise_k, contact.wire_diameter_mm)


def _at_place_c(contact: ContactReading, view: View, reading: FrameReading) -> float | None:
    """Infrared surface temperature at the bead's own place; None where it has none, or lies on a small part."""
    if contact.board_mm is None or contact.on_case:
        return None
    own = next((item for item in reading.readings if item.refdes == contact.refdes), None)
    if own is None or own.state != "read":
        return None
    face = next((item for item in view.faces if item.component.refdes == contact.refdes), None)
    height = 0.0 if face is None else face.z_mm
    pixel = pixels_from_board(view.registration, np.array([[*contact.board_mm, height]]))
    value = float(bilinear(reading.surface_c, pixel)[0])
    return value if np.isfinite(value) else None
