"""A proposal is a file of its own that nothing uses until somebody confirms it by one click."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from overlay_cli.main import app
from typer.testing import CliRunner

from overlay.errors import InputError
from overlay.job.analyse import analyse
from overlay.job.propose import confirm, proposal_path, propose_all, write_proposals
from overlay.job.read import read_job

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


def test_a_proposal_is_told_written_apart_and_not_used(bare_job: Path) -> None:
    ran = CliRunner().invoke(app, ["register", str(bare_job), "--propose", "--json"])
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)["proposals"][0]
    assert told["found"]
    proposed = bare_job / told["points_file"]
    assert proposed.read_text(encoding="utf-8").startswith("# proposed by the frame, not confirmed")
    with pytest.raises(InputError, match="no control points"):
        analyse(read_job(bare_job))
    with (bare_job / "job.toml").open("a", encoding="utf-8") as job:
        job.write(f'control_points = "{proposed.name}"\n')
    with pytest.raises(InputError, match="nobody has confirmed"):
        analyse(read_job(bare_job))


def test_one_click_confirms_and_points_typed_by_hand_give_the_same(
    bare_job: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    job = read_job(bare_job)
    proposals = propose_all(job)
    write_proposals(job, proposals)
    proposal = proposals["full load"]
    before = (bare_job / "job.toml").read_bytes()
    with pytest.raises(InputError, match="more than 3 pixels"):
        confirm(job, "full load", (1.0, 1.0))
    assert (bare_job / "job.toml").read_bytes() == before
    assert not (bare_job / "full_load.points.csv").exists()
    x, y = dict(proposal.points)[proposal.ask]
    done = confirm(job, "full load", (x + 1.5, y - 1.0))
    assert done.points_file.name == "full_load.points.csv"
    assert not proposal_path(job, "full load").exists()
    assert "# kept" in (bare_job / "job.toml").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="control points already"):
        confirm(read_job(bare_job), "full load", (x, y))
    typed = tmp_path_factory.mktemp("typed") / "job"
    shutil.copytree(bare_job, typed)
    rows = [f"{px:.2f},{py:.2f},{at},0.3" for at, (px, py) in proposal.points]
    (typed / "full_load.points.csv").write_text("\n".join(["pixel_x,pixel_y,at,pixel_u", *rows]) + "\n")
    assert analyse(read_job(bare_job)).rows() == analyse(read_job(typed)).rows()


def test_an_unknown_capture_is_named(bare_job: Path) -> None:
    ran = CliRunner().invoke(app, ["register", str(bare_job), "--confirm", "1", "2", "--capture", "idle"])
    assert ran.exit_code != 0
    assert isinstance(ran.exception, InputError)
    assert "'full load'" in str(ran.exception)
