"""Registrations that the frames propose by themselves, and the one act by which a person confirms one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from overlay.errors import input_error
from overlay.files import write_all
from overlay.job.analysis import Job
from overlay.job.capture import apparent_of, band_of
from overlay.job.load import read_capture_frame
from overlay.job.settings import CaptureSettings, lens_of
from overlay.job.settings_text import with_key
from overlay.job.stack import page_of
from overlay.registration.control_points import PROPOSED_MARK
from overlay.registration.model import Registration
from overlay.registration.propose import CONFIRM_WITHIN_PX, Proposal, propose_registration
from overlay.tables import decode_text, read_bytes

if TYPE_CHECKING:
    from overlay.job.analyse import Progress

POINT_U_PX = 0.3
"""Standard uncertainty of a proposed point: what parts are found to in a frame (study on simulated boards)."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """What was written when a proposal was confirmed."""

    capture: str
    points_file: Path


def propose_all(job: Job, progress: Progress | None = None) -> dict[str, Proposal]:
    """A proposal for every capture, by its name; what one capture found starts the next of the same side."""
    tell = progress or (lambda _what, _share: None)
    proposals: dict[str, Proposal] = {}
    near: dict[str, Registration] = {}
    for index, capture in enumerate(job.settings.capture):
        tell(f"looking for the board in {capture.name}", index / len(job.settings.capture))
        proposal = propose_for(job, capture, near.get(capture.side))
        if proposal.registration is not None:
            near[capture.side] = proposal.registration
        proposals[capture.name] = proposal
    return proposals


def propose_for(job: Job, capture: CaptureSettings, near: Registration | None = None) -> Proposal:
    """A proposal for one capture; ``near`` is tried first where its frame has the same size."""
    page = page_of(read_capture_frame(job.folder, capture), capture.frame)
    apparent_c = apparent_of(capture, band_of(job.settings.camera), page.temperature_c)
    if near is not None and near.shape_px != apparent_c.shape:
        near = None
    return propose_registration(apparent_c, job.board, capture.side, lens_of(job.settings.camera, capture), near)


def write_proposals(job: Job, proposals: dict[str, Proposal]) -> dict[str, Path]:
    """Write the points of each proposal to a file of its own, marked so that nothing takes them for confirmed ones."""
    contents: dict[Path, bytes] = {}
    paths: dict[str, Path] = {}
    for name, proposal in proposals.items():
        if proposal.registration is not None:
            paths[name] = proposal_path(job, name)
            head = f"{PROPOSED_MARK}; to be confirmed by a click on {proposal.ask}"
            contents[paths[name]] = _points_csv(proposal, head).encode()
    write_all(contents)
    return paths


def confirm(job: Job, capture_name: str, pixel: tuple[float, float]) -> Confirmed:
    """Take a capture's proposal for its control points, because a person saw the asked part at ``pixel``.

    Raises
    ------
    InputError
        If the capture has control points already, nothing can be proposed for it, or the click says that the
        proposal is wrong. Nothing is written then.
    """
    capture = next((item for item in job.settings.capture if item.name == capture_name), None)
    file = job.path.name
    if capture is None:
        names = ", ".join(repr(item.name) for item in job.settings.capture) or "none"
        raise input_error(file, None, f"has no capture {capture_name!r}", f"its captures are {names}")
    points = job.folder / (capture.control_points or f"{_slug(capture.name)}.points.csv")
    if points.exists():
        what = f'capture "{capture.name}" has control points already'
        raise input_error(points.name, None, what, "move that file away if the proposal is to take its place")
    proposal = propose_for(job, capture, None)
    if proposal.registration is None:
        raise input_error(capture.frame, None, f"nothing can be proposed: {proposal.reason}", proposal.remedy)
    if not proposal.confirmed_by(job.board, pixel):
        what = (
            f"({pixel[0]:g}, {pixel[1]:g}) is more than {CONFIRM_WITHIN_PX:g} pixels from where the proposal puts "
            f"{proposal.ask}"
        )
        raise input_error(capture.frame, None, what, f"click on {proposal.ask} itself, or place points by hand")
    text = _points_csv(proposal, f"proposed by the frame, confirmed at {proposal.ask}")
    contents = {points: text.encode()}
    if capture.control_points is None:
        contents[job.path] = _job_with_points(job, capture, points.name)
    write_all(contents)
    proposal_path(job, capture.name).unlink(missing_ok=True)
    return Confirmed(capture.name, points)


def proposal_path(job: Job, capture_name: str) -> Path:
    """The file of a capture's proposal."""
    return job.folder / f"{_slug(capture_name)}.proposed.points.csv"


def _job_with_points(job: Job, capture: CaptureSettings, name: str) -> bytes:
    index = job.settings.capture.index(capture)
    text = decode_text(read_bytes(job.path, job.path.name), job.path.name)
    return with_key(text, "capture", index, "control_points", name, "frame").encode()


def _points_csv(proposal: Proposal, head: str) -> str:
    rows = [f"{x:.2f},{y:.2f},{refdes},{POINT_U_PX}" for refdes, (x, y) in proposal.points]
    return "\n".join([f"# {head}", "pixel_x,pixel_y,at,pixel_u", *rows]) + "\n"


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") or "capture"
