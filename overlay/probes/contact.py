"""Thermocouple readings brought back in: compared with infrared, and the better of both taken.

The two agree when their difference lies within what both uncertainties allow. Then the part's value is their
weighted mean, and what the contact readings say of the camera's common error serves every other part of the frame: as
far as they can, for beads of one spool and one meter are wrong together, and so are emissivities from one source.
Where they disagree nothing is averaged: the hotter of the two stands, and the report says so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overlay.errors import Problem
from overlay.frames.emissivity import SHINY_BELOW
from overlay.probes.camera_error import COMMON_SHARE, Offset, camera_error, own_share, without_camera_error
from overlay.probes.model import ContactCode, ContactReading
from overlay.reading.model import CaseReading, FrameReading, Reading
from overlay.reasons import Reason
from overlay.uncertainty import Budget, Term, TermName, combined_k, scaled
from overlay.view.model import View

# Differences beyond this many standard uncertainties are a contradiction (1 in 100 by chance).
_CONTRADICTION = 2.58
# What a wire draws off is worked out from a fin in still air: it may be wrong by this share (own estimate: the film
# coefficient is known to about a half, and enters by its root).
_WIRE_U_SHARE = 0.3
# No thermocouple is known better without a calibration of its own: type T class 1 is ± 0.5 °C (IEC 60584-1).
_FINEST_CLASS_U_C = 0.5 / math.sqrt(3.0)
_LEAST_CONTRAST_K = 8.0  # surface against surroundings, below which no emissivity can be told from a contact


@dataclass(frozen=True, slots=True)
class Meeting:
    """A contact reading beside what infrared says at its place; infrared is None where it said nothing."""

    contact: ContactReading
    contact_c: float  # at the part's hottest place, the wire's draw put back
    contact_u_c: float  # with what is uncertain of the wire's draw
    infrared_c: float | None
    difference_u_c: float | None
    agrees: bool | None
    emissivity: float | None  # that would make infrared agree
    emissivity_u: float | None
    alike: tuple[str, ...]  # parts of the same package and finish it may serve


def apply_contacts(
    reading: FrameReading,
    view: View,
    contacts: Sequence[ContactReading],
    wire_share: Mapping[str, float],
    at_place_c: Mapping[str, float],
    file: str,
) -> tuple[FrameReading, tuple[Meeting, ...], tuple[Problem, ...]]:
    """Combine a frame's readings with contact readings taken in the same state.

    Parameters
    ----------
    wire_share
        Share of the rise that the wire draws off, by refdes; absent: none is put back.
    at_place_c
        Infrared surface temperature at each contact's own place, by refdes; absent: the part's peak.
    file
        The contact table's name, for messages.

    Returns
    -------
    FrameReading, meetings, problems
        The readings with contacts in their place, what each contact met, and a warning for each contradiction.
    """
    by_name = {item.refdes: item for item in reading.readings}
    # a contact taken off the peak is carried there by what infrared says of the part's own unevenness
    met = [
        _meet(contact, by_name[contact.refdes], view, wire_share, at_place_c, by_name)
        for contact in contacts
        if contact.refdes in by_name and not contact.on_case
    ]
    problems = tuple(_contradiction(item, file) for item in met if item.agrees is False)
    problems += tuple(_too_fine(item, file) for item in contacts if item.u_c < _FINEST_CLASS_U_C)
    known = [Offset.of(by_name[item.contact.refdes], item.contact_c, item.contact_u_c) for item in met if item.agrees]
    contacted = {item.contact.refdes: item for item in met}
    on_case = {contact.refdes: contact for contact in contacts if contact.on_case}
    learnt = camera_error(known)
    readings = []
    for item in reading.readings:
        meeting = contacted.get(item.refdes)
        if meeting is None:
            item = without_camera_error(item, learnt) if known else item
        else:
            item = _combined(item, meeting, file)
        if item.refdes in on_case:
            item = _with_case(item, on_case[item.refdes], view.ambient_c, wire_share.get(item.refdes, 0.0), file)
        readings.append(item)
    notes = [*reading.notes]
    if known:
        typical = float(np.median([abs(offset.camera_k) for offset in known]))
        notes.append(
            f"{len(known)} contact readings correct the camera: it reads {learnt[0] * typical:+.1f} K off, of "
            f"± {typical:.1f} K (k = 1) that were stated; ± {learnt[1] * typical:.1f} K of it remain, for beads are "
            "wrong together. All parts without a contact of their own are corrected by that."
        )
    notes += [_offer(item) for item in met if item.emissivity is not None and item.alike]
    return replace(reading, readings=tuple(readings), notes=tuple(notes)), tuple(met), problems


def _meet(
    contact: ContactReading,
    reading: Reading,
    view: View,
    wire_share: Mapping[str, float],
    at_place_c: Mapping[str, float],
    by_name: Mapping[str, Reading],
) -> Meeting:
    measured, contact_u = _undrawn(contact, view.ambient_c, wire_share.get(contact.refdes, 0.0))
    trusted = reading.by_infrared
    if trusted and reading.peak_c is not None and contact.refdes in at_place_c:
        # off the peak: infrared knows the difference between the two places better than either
        measured += max(reading.peak_c - at_place_c[contact.refdes], 0.0)
    if not trusted or reading.peak_c is None:
        value, u, alike = _emissivity(contact, measured, reading, view, by_name)
        return Meeting(contact, measured, contact_u, None, None, None, value, u, alike)
    difference_u = math.hypot(contact_u, combined_k(reading.budget))
    agrees = abs(measured - reading.peak_c) <= _CONTRADICTION * difference_u
    value, u, alike = _emissivity(contact, measured, reading, view, by_name)
    return Meeting(contact, measured, contact_u, reading.peak_c, difference_u, agrees, value, u, alike)


def _emissivity(
    contact: ContactReading, measured_c: float, reading: Reading, view: View, by_name: Mapping[str, Reading]
) -> tuple[float | None, float | None, tuple[str, ...]]:
    """ε = (J − W_reflected) / (W(T) − W_reflected) from the contact, and the parts it may serve."""
    if reading.leaving_radiance is None or measured_c - view.reflected_c < _LEAST_CONTRAST_K:
        return None, None, ()
    reflected = float(view.band.radiance(view.reflected_c))
    contrast = float(view.band.radiance(measured_c)) - reflected
    value = (reading.leaving_radiance - reflected) / contrast
    if not 0.0 < value <= 1.05:
        return None, None, ()
    slope = float(view.band.slope(measured_c))
    mirrored = (1.0 - value) * float(view.band.slope(view.reflected_c)) * view.reflected_u_c
    camera = sum(term.contribution_k for term in reading.budget if term.name is TermName.CAMERA)
    u = math.sqrt(
        (value * slope * contact.u_c) ** 2
        + mirrored**2
        + (reading.leaving_u or 0.0) ** 2
        + (value * slope * camera) ** 2
    )
    package = {part.refdes: (part.package, part.part_number) for part in view.board.components}
    alike = tuple(
        name for name in by_name if name != contact.refdes and package.get(name) == package.get(contact.refdes)
    )
    return min(value, 1.0), u / contrast, alike


def _undrawn(contact: ContactReading, ambient_c: float, wire_share: float) -> tuple[float, float]:
    """The bead's temperature with what its wire drew off put back, and the standard uncertainty of that."""
    measured, u = contact.temperature_c, max(contact.u_c, _FINEST_CLASS_U_C)
    if 0.0 < wire_share < 1.0:
        put_back = (measured - ambient_c) * wire_share / (1.0 - wire_share)
        measured, u = measured + put_back, math.hypot(u, _WIRE_U_SHARE * put_back)
    return measured, u


def _bead(u_c: float, file: str) -> Budget:
    return (
        Term(TermName.CONTACT, COMMON_SHARE * u_c, f"contact:{file}"),
        Term(TermName.CONTACT, own_share(u_c)),
    )


def _with_case(reading: Reading, contact: ContactReading, ambient_c: float, wire_share: float, file: str) -> Reading:
    """The reading with what a contact says of the part's case or tab beside it.

    That is another place than the top, so the two are never averaged; it stands for the part where its top was not
    read.
    """
    value_c, u_c = _undrawn(contact, ambient_c, wire_share)
    case = CaseReading(value_c, _bead(u_c, file))
    words = f"thermocouple {contact.temperature_c:.1f} °C on its case or tab"
    if reading.by_infrared:
        why = (*reading.why, Reason(ContactCode.ON_CASE, f"{words}, beside the top that infrared read"))
        return replace(reading, case=case, why=why)
    why = (*reading.why, Reason(ContactCode.ON_CASE, f"{words}; its top was not read"))
    return replace(_as_contact(reading, value_c, case.budget, why), case=case)


def _combined(reading: Reading, meeting: Meeting, file: str) -> Reading:
    """The reading with the contact in its place, or both weighted, as far as they agree."""
    contact = meeting.contact
    bead = _bead(meeting.contact_u_c, file)
    words = f"thermocouple {contact.temperature_c:.1f} °C"
    if abs(meeting.contact_c - contact.temperature_c) >= 0.05:
        words += f", {meeting.contact_c:.1f} °C at the hottest place with the wire's draw put back"
    if meeting.infrared_c is None or reading.peak_c is None:
        reason = reading.state if reading.state in ("shiny", "hidden") else "no"
        text = f"{words}; infrared gave no trustworthy value ({reason})"
        why = (*reading.why, Reason(ContactCode.ALONE, text))
        return _as_contact(reading, meeting.contact_c, bead, why)
    if meeting.agrees is False:
        hotter = meeting.contact_c >= reading.peak_c
        text = (
            f"{words} contradicts infrared's {reading.peak_c:.1f} °C beyond both uncertainties: the hotter stands; "
            "check the bead's place and the emissivity"
        )
        why = (*reading.why, Reason(ContactCode.CONTRADICTS, text))
        if hotter:
            return _as_contact(reading, meeting.contact_c, bead, why)
        return replace(reading, why=why)
    infrared = combined_k(reading.budget)
    weight = infrared**2 / (infrared**2 + meeting.contact_u_c**2)  # of the contact
    value = weight * meeting.contact_c + (1.0 - weight) * reading.peak_c
    budget: Budget = (*scaled(reading.budget, 1.0 - weight), *scaled(bead, weight))
    text = f"{words} and infrared's {reading.peak_c:.1f} °C agree; weighted {weight:.0%} to contact"
    why = (*reading.why, Reason(ContactCode.AGREES, text))
    if weight > 0.5:
        return _as_contact(reading, value, budget, why)
    return replace(reading, peak_c=value, budget=budget, u_c=combined_k(budget), why=why)


def _as_contact(reading: Reading, value_c: float, budget: Budget, why: tuple[Reason, ...]) -> Reading:
    return replace(
        reading,
        state="contact",
        peak_c=value_c,
        mean_c=reading.mean_c if reading.by_infrared else None,
        budget=budget,
        u_c=combined_k(budget),
        # Monte Carlo over a low emissivity has no meaning for a value that infrared did not give
        leaving_radiance=None,
        leaving_u=None,
        why=why,
    )


def _contradiction(meeting: Meeting, file: str) -> Problem:
    contact = meeting.contact
    return Problem(
        "warning",
        file,
        contact.line,
        f"{contact.refdes}: thermocouple {meeting.contact_c:.1f} °C and infrared {meeting.infrared_c:.1f} °C "
        f"contradict each other (± {meeting.difference_u_c:.1f} K)",
        "check the bead's place and contact, the emissivity, and whether both belong to one state; the hotter stands",
    )


def _too_fine(contact: ContactReading, file: str) -> Problem:
    return Problem(
        "warning",
        file,
        contact.line,
        f"{contact.refdes}: u_c = {contact.u_c:g} °C is finer than any class of thermocouple (T class 1: ± 0.5 °C, "
        f"u {_FINEST_CLASS_U_C:.2f}; K class 2: ± 2.5 °C, u 1.44)",
        f"a meter's resolution is not its accuracy: {_FINEST_CLASS_U_C:.2f} is used; name the class in thermocouple",
        "u_c",
    )


def _offer(meeting: Meeting) -> str:
    assert meeting.emissivity is not None
    assert meeting.emissivity_u is not None
    finish = ", too low for infrared" if meeting.emissivity < SHINY_BELOW else ""
    names = ", ".join(meeting.alike[:8]) + (" …" if len(meeting.alike) > 8 else "")
    return (
        f"The contact on {meeting.contact.refdes} implies an emissivity of {meeting.emissivity:.2f} ± "
        f"{meeting.emissivity_u:.2f}{finish}; parts of the same package and number: {names}."
    )
