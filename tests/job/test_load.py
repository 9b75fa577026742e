"""Loading apart from reading: files are read once, and reading touches none of them."""

import hashlib
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import pytest

from overlay.job.analyse import analyse, read_capture
from overlay.job.load import load_files
from overlay.job.read import read_job

DEMO = Path(__file__).parents[2] / "demo_board"
PARTS_OF_THE_JOB = shutil.ignore_patterns("simulation", "revision_c", "warm_up", "*.md", "*.png", "truth.json")


@pytest.fixture
def job_folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "job", ignore=PARTS_OF_THE_JOB))


def test_a_loaded_capture_is_read_although_its_folder_is_gone_and_nothing_of_it_can_be_written_into(
    job_folder: Path,
) -> None:
    job = read_job(job_folder)
    data = load_files(job.folder, job.settings.capture[0], job.board)
    shutil.rmtree(job_folder)
    read = read_capture(data, job.board, job.settings.camera)
    assert sum(reading.state == "read" for reading in read.reading.readings) > 10
    found = dict(arrays_within(read, "read"))
    assert len(found) > 100
    assert sorted(place for place, array in found.items() if array.flags.writeable) == []


def arrays_within(value: object, place: str) -> Iterator[tuple[str, np.ndarray]]:
    """Every array that a noun holds, with the way to it; arrays of one noun type are met at each of its places."""
    if isinstance(value, np.ndarray):
        yield place, value
    elif is_dataclass(value):
        for field in fields(value):
            yield from arrays_within(getattr(value, field.name), f"{place}.{field.name}")
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from arrays_within(item, f"{place}[{key}]")
    elif isinstance(value, tuple):
        for number, item in enumerate(value):
            yield from arrays_within(item, f"{place}[{number}]")


def test_the_digests_are_of_the_bytes_that_were_used(job_folder: Path) -> None:
    text = (job_folder / "job.toml").read_text(encoding="utf-8")
    head, *captures = text.split("[[capture]]")
    (own,) = (capture for capture in captures if '"full_load.tiff"' in capture)
    (job_folder / "job.toml").write_text(f"{head}[[capture]]{own}", encoding="utf-8")
    job = read_job(job_folder)
    placement = job_folder / job.settings.board.placement
    used = hashlib.sha256(placement.read_bytes()).hexdigest()
    placement.write_bytes(placement.read_bytes() + b"\n# changed since\n")
    inputs = {item.file: item.sha256 for item in analyse(job).inputs}
    assert inputs[placement.name] == used
    for name in ("full_load.tiff", "full_load.points.csv", "job.toml", "parts.csv", "bodies.csv", "outline.svg"):
        assert inputs[name] == hashlib.sha256((job_folder / name).read_bytes()).hexdigest()
