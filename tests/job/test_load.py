"""Loading apart from reading: files are read once, and reading touches none of them."""

import hashlib
import shutil
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


def test_a_loaded_capture_is_read_although_its_folder_is_gone(job_folder: Path) -> None:
    job = read_job(job_folder)
    data = load_files(job.folder, job.settings.capture[0], job.board)
    shutil.rmtree(job_folder)
    read = read_capture(data, job.board, job.settings.camera)
    assert sum(reading.state == "read" for reading in read.reading.readings) > 10


def test_the_digests_are_of_the_bytes_that_were_used(job_folder: Path) -> None:
    job = read_job(job_folder)
    placement = job_folder / job.settings.board.placement
    used = hashlib.sha256(placement.read_bytes()).hexdigest()
    placement.write_bytes(placement.read_bytes() + b"\n# changed since\n")
    inputs = {item.file: item.sha256 for item in analyse(job).inputs}
    assert inputs[placement.name] == used
    for name in ("full_load.tiff", "full_load.points.csv", "job.toml", "parts.csv", "bodies.csv", "outline.svg"):
        assert inputs[name] == hashlib.sha256((job_folder / name).read_bytes()).hexdigest()


def test_arrays_of_the_nouns_cannot_be_written_into(job_folder: Path) -> None:
    job = read_job(job_folder)
    read = read_capture(load_files(job.folder, job.settings.capture[0], job.board), job.board, job.settings.camera)
    for array in (read.registration.parameters, read.registration.covariance, read.faces[0].polygon_px):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = np.nan
