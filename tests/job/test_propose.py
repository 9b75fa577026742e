"""A proposal is a file of its own that nothing uses until somebody confirms it by one click."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from overlay_cli.main import app
from typer.testing import CliRunner

from overlay.errors import InputError
from overlay.job.analyse import analyse
from overlay.job.propose import confirm, proposal_path
from overlay.job.read import read_job
from overlay.report.results import results

DEMO = Path(__file__).parents[2] / "demo_board"


@pytest.fixture
def bare_job(tmp_path: Path) -> Path:
    """The demonstration board with one capture and no control points."""
    for name in ("placement.csv", "outline.svg", "parts.csv", "bodies.csv", "full_load.tiff"):
        shutil.copy(DEMO / name, tmp_path / name)
    (tmp_path / "job.toml").write_text(
        "format = 1  # kept\n[board]\n"
        'placement = "placement.csv"\noutline = "outline.svg"\nparts = "parts.csv"\nbodies = "bodies.csv"\n'
        '[camera]\nhfov_deg = 25.0\n[[capture]]\nname = "full load"\nframe = "full_load.tiff"\nframe_scale = 0.01\n'
        "frame_offset = -40.0\nambient_c = 23.8\ndistance_m = 0.27\n",
        encoding="utf-8",
    )
    return tmp_path


def test_a_proposal_is_not_used_before_one_click_confirms_it(bare_job: Path) -> None:
    ran = CliRunner().invoke(app, ["register", str(bare_job), "--propose", "--json"])
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)["proposals"][0]
    assert told["found"]
    proposed, job = bare_job / told["points_file"], read_job(bare_job)
    assert proposed == proposal_path(job, "full load")
    assert proposed.read_text(encoding="utf-8").startswith("# proposed by the frame, not confirmed")
    with pytest.raises(InputError, match="no control points"):
        analyse(job)
    before = (bare_job / "job.toml").read_text(encoding="utf-8")
    (bare_job / "job.toml").write_text(f'{before}control_points = "{proposed.name}"\n', encoding="utf-8")
    with pytest.raises(InputError, match="nobody has confirmed"):
        analyse(read_job(bare_job))
    (bare_job / "job.toml").write_text(before, encoding="utf-8")

    with pytest.raises(InputError, match="more than 3 pixels"):
        confirm(job, "full load", (1.0, 1.0))
    assert (bare_job / "job.toml").read_text(encoding="utf-8") == before
    assert not (bare_job / "full_load.points.csv").exists()
    points = {point["at"]: point["pixel"] for point in told["points"]}
    x, y = points[told["ask"]]
    done = confirm(job, "full load", (x + 1.5, y - 1.0))
    assert done.points_file.name == "full_load.points.csv"
    assert not proposed.exists()
    assert "# kept" in (bare_job / "job.toml").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="control points already"):
        confirm(read_job(bare_job), "full load", (x, y))

    confirmed = _results(bare_job)
    rows = [f"{px:.2f},{py:.2f},{at},0.3" for at, (px, py) in points.items()]
    (bare_job / "full_load.points.csv").write_text("\n".join(["pixel_x,pixel_y,at,pixel_u", *rows]) + "\n")
    assert confirmed == _results(bare_job), "typed by hand, the same points must give the same results.json"


def _results(folder: Path) -> dict[str, Any]:
    """What ``results.json`` says, but for the sums of the files it came from."""
    told = results(analyse(read_job(folder)))
    return {name: value for name, value in told.items() if name != "inputs"}


def test_an_unknown_capture_is_named(bare_job: Path) -> None:
    ran = CliRunner().invoke(app, ["register", str(bare_job), "--confirm", "1", "2", "--capture", "idle"])
    assert ran.exit_code != 0
    assert isinstance(ran.exception, InputError)
    assert "'full load'" in str(ran.exception)
