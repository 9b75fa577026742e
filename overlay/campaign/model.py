"""What a campaign is made of: frames to read, rows that come of them."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path


@dataclass(frozen=True, slots=True)
class FrameTask:
    """One frame of a campaign: where it lies, and what it stands for.

    ``path`` is a path or, with fsspec installed, an address such as ``memory://…``; ``ambient_c`` None: the
    capture's own.
    """

    index: int
    path: str
    unit: str
    state: str
    time_s: float | None
    ambient_c: float | None


@dataclass(frozen=True, slots=True)
class CampaignPlan:
    """A plan as read: the job whose capture every frame follows, and the frames in their order."""

    file: Path
    job: Path
    capture: str | None  # None: the job's first
    tasks: tuple[FrameTask, ...]
    frames_per_part: int


@dataclass(frozen=True, slots=True)
class Row:
    """One part in one frame; or, with an empty ``refdes``, a frame that could not be read and why.

    Temperatures in °C, None where there is none. ``moved_px`` is how far the parts moved against the campaign's own
    registration, ``agreement`` the share of judged parts that lie where the frame's registration puts them.
    """

    frame: int
    path: str
    unit: str
    state: str
    time_s: float | None
    refdes: str = ""
    reading: str = ""
    peak_c: float | None = None
    mean_c: float | None = None
    u_c: float | None = None
    projected_c: float | None = None
    margin_c: float | None = None
    verdict: str = ""
    moved_px: float | None = None
    agreement: float | None = None
    why: str = ""


COLUMNS = tuple(field.name for field in fields(Row))
