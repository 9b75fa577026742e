"""A campaign from its plan to its summary: what is done already is kept, the rest is done."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from overlay.campaign.engine import in_a_pool, in_turn, on_a_cluster
from overlay.campaign.model import CampaignPlan
from overlay.campaign.store import Format, fingerprint_of, open_store, part_path, read_rows
from overlay.campaign.summary import CampaignSummary, summarise
from overlay.campaign.work import Part, base_of, do_part

Progress = Callable[[str, float], None]  # what is being done, and the share of the whole that is done


def run_campaign(
    plan: CampaignPlan,
    folder: Path,
    *,
    workers: int = 1,
    cluster: str | None = None,
    format_: Format = "csv",
    progress: Progress | None = None,
) -> CampaignSummary:
    """Read every frame of a plan into ``folder/rows`` and summarise them.

    A folder of the same plan is gone on with: parts that lie there whole are not done again.

    Parameters
    ----------
    workers
        Processes on this machine; 1: in this one.
    cluster
        Address of a running scheduler, which then takes the place of the processes.

    Raises
    ------
    InputError
        If the job cannot be read or registered, or the folder holds another campaign. Frames that cannot be read
        are rows of their own.
    """
    base = base_of(plan.job, plan.capture)
    digest = "".join(item.sha256 for item in (*base.job.inputs, *base.data.inputs))
    open_store(folder, fingerprint_of(plan.tasks, digest, plan.frames_per_part), format_)
    parts = parts_of(plan, folder, format_)
    waiting = [part for part in parts if not part_path(folder, part.number, format_).exists()]
    if cluster is not None:
        done = on_a_cluster(do_part, waiting, cluster)
    elif workers > 1:
        done = in_a_pool(do_part, waiting, workers)
    else:
        done = in_turn(do_part, waiting)
    _follow(done, waiting, len(plan.tasks), progress)
    return summarise(read_rows(folder, format_), plan.tasks)


def parts_of(plan: CampaignPlan, folder: Path, format_: Format) -> list[Part]:
    """The plan's frames in runs of ``frames_per_part``; absolute paths, since a worker may stand elsewhere."""
    size = plan.frames_per_part
    return [
        Part(
            number=first // size,
            job=plan.job.resolve(),
            capture=plan.capture,
            tasks=plan.tasks[first : first + size],
            folder=folder.resolve(),
            format_=format_,
        )
        for first in range(0, len(plan.tasks), size)
    ]


def _follow(done: Iterator[Part], waiting: Sequence[Part], frames: int, progress: Progress | None) -> None:
    """Tell of each part that gets done: how many frames, at which rate, and how long it will take yet."""
    tell = progress or (lambda _what, _share: None)
    begun = time.monotonic()
    open_frames = sum(len(part.tasks) for part in waiting)
    finished = 0
    tell(f"reading frames; {open_frames} of {frames} to go", 1.0 - open_frames / max(frames, 1))
    for part in done:
        finished += len(part.tasks)
        rate = finished / max(time.monotonic() - begun, 1e-9)
        left_s = (open_frames - finished) / max(rate, 1e-9)
        ready = frames - open_frames + finished
        tell(f"{ready} of {frames} frames, {rate:.1f} a second, {left_s:.0f} s left", ready / frames)
