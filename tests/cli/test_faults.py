"""What may go wrong around a command: each ending has its own exit status, and nothing of the user's is lost."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from overlay.job.analysis import Analysis
from tests.cli.conftest import Run

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_board"
COMMAND = [sys.executable, "-c", "from overlay_cli.main import main; main()"]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A small job: placement and settings, no captures."""
    folder = tmp_path / "job"
    folder.mkdir()
    shutil.copy(DEMO / "placement.csv", folder)
    (folder / "job.toml").write_text('format = 1\n[board]\nplacement = "placement.csv"\n')
    return folder


def test_a_fault_of_the_program_is_status_3_and_one_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(path: Path) -> None:
        raise KeyError("R17")

    monkeypatch.setattr("overlay.job.read.survey_job", broken)
    code, out, err = run("check", str(DEMO))
    assert (code, out) == (3, "")
    assert len(err.splitlines()) == 1
    assert "KeyError" in err
    assert "--debug" in err
    with pytest.raises(KeyError):
        run("check", str(DEMO), "--debug")


def test_the_version_is_told(run: Run) -> None:
    code, out, _ = run("--version")
    assert code == 0
    assert out.startswith("board-overlay ")


def test_an_empty_folder_name_is_refused(run: Run) -> None:
    code, _, err = run("map", str(DEMO), "--out", "")
    assert code == 2
    assert "is empty" in err


@pytest.mark.usefixtures("analysed")
@pytest.mark.parametrize(("x", "y"), [("nan", "nan"), ("inf", "0"), ("1e300", "1")])
def test_a_pixel_that_is_nowhere_is_wrong_input(run: Run, x: str, y: str) -> None:
    code, _, err = run("name", str(DEMO), x, y)
    assert code == 2
    assert "outside the frame" in err


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("format = " + "1" * 5000, "a number too long"),
        ("format = " + "[" * 5000, "nested too deep"),
        ('format = 1\nx = "a\\u0000b"\n', "unknown key"),
        ("format = 1\n\0", "NUL"),
        ('format = 1\n[board]\nplacement = "a\\u0000b"\n', "cannot be a file's name"),
        ('format = 1\n[board]\nplacement = "' + "x" * 5000 + '"\n', "cannot be read"),
        ('format = 1\n[board]\nplacement = "placement.csv"\noutline_shift_mm = [1e300, 0]\n', "less than or equal"),
        ('format = 1\n[board]\nplacement = "placement.csv"\n[requirement]\nmargin_c = 1e300\n', "less than or equal"),
    ],
)
def test_settings_that_would_break_anything_are_wrong_input(run: Run, job: Path, text: str, what: str) -> None:
    (job / "job.toml").write_text(text)
    code, out, _ = run("check", str(job))
    assert code == 2
    assert what in out


@pytest.mark.parametrize("key", ["rise_scale = 1e300", "rise_scale = 1e-300", "distance_m = 1e-9", "netd_c = 1e9"])
def test_every_number_has_a_sane_range(run: Run, job: Path, key: str) -> None:
    section = "camera" if key.startswith("netd") else "[capture]"
    (job / "job.toml").write_text(
        f'format = 1\n[board]\nplacement = "placement.csv"\n[{section}]\n{key}\n'
        + ("" if section == "camera" else 'name = "a"\nframe = "a.npy"\nambient_c = 20\n')
    )
    code, out, _ = run("check", str(job))
    assert code == 2
    assert "cannot be used" in out


def test_a_name_too_long_for_a_folder_is_wrong_input(run: Run, tmp_path: Path) -> None:
    name = str(tmp_path / ("x" * 5000))
    for arguments in (("check", name), ("new", name, "--placement", str(DEMO / "placement.csv"))):
        code, out, err = run(*arguments)
        assert code == 2, arguments
        assert "File name too long" in out + err


def test_a_job_is_not_begun_where_nothing_can_be_written(run: Run, tmp_path: Path) -> None:
    below_a_file = tmp_path / "file"
    below_a_file.write_text("")
    code, _, err = run("new", str(below_a_file / "job"), "--placement", str(DEMO / "placement.csv"))
    assert code == 2
    assert "cannot be written" in err


def test_a_job_from_an_unreadable_placement_says_so(run: Run, tmp_path: Path) -> None:
    (tmp_path / "noise.csv").write_bytes(bytes(range(1, 256)) * 20)
    assert run("new", str(tmp_path / "job"), "--placement", str(tmp_path / "noise.csv"))[0] == 2


@pytest.mark.usefixtures("analysed")
def test_reports_never_replace_what_the_job_reads(
    run: Run, tmp_path: Path, demo: Analysis, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace

    shutil.copytree(DEMO, tmp_path / "job", ignore=shutil.ignore_patterns("simulation", "revision_c", "warm_up"))
    kept = {name: tmp_path / "job" / name for name in ("results.json", "probe_plan.csv")}
    for path in kept.values():
        path.write_text("the user's own")
    captures = [
        capture.model_copy(update={"contact_readings": "./probe_plan.csv"}) for capture in demo.job.settings.capture
    ]
    settings = demo.job.settings.model_copy(
        update={
            "capture": tuple(captures),
            "board": demo.job.settings.board.model_copy(update={"parts": "results.json"}),
        }
    )
    there = replace(demo, job=replace(demo.job, path=tmp_path / "job" / "job.toml", settings=settings))
    monkeypatch.setattr("overlay.job.analyse.analyse", lambda job, progress=None, workers=1: there)
    before = sorted(path.name for path in (tmp_path / "job").iterdir())
    for command, name in (("map", "results.json"), ("probe", "probe_plan.csv")):
        code, _, err = run(command, str(DEMO), "--out", str(tmp_path / "job"))
        assert code == 2
        assert f"holds {name}, which the job reads" in err
    assert [path.read_text() for path in kept.values()] == ["the user's own"] * 2
    assert sorted(path.name for path in (tmp_path / "job").iterdir()) == before


@pytest.mark.usefixtures("analysed")
def test_a_filled_plan_is_never_replaced(run: Run, tmp_path: Path) -> None:
    assert run("probe", str(DEMO), "--out", str(tmp_path))[0] == 0
    assert run("probe", str(DEMO), "--out", str(tmp_path))[0] == 0
    plan = tmp_path / "probe_plan.csv"
    head, first, *rest = plan.read_text().splitlines()
    cells = first.split(",")
    cells[head.split(",").index("temperature_c")] = "71.5"
    filled = "\n".join([head, ",".join(cells), *rest])
    plan.write_text(filled)
    code, _, err = run("probe", str(DEMO), "--out", str(tmp_path))
    assert code == 2
    assert "holds measured temperatures" in err
    assert plan.read_text() == filled


def test_letters_that_would_act_are_shown_by_their_number(run: Run, job: Path) -> None:
    text = (job / "job.toml").read_text()
    (job / "job.toml").write_text(text + 'name = "a\\u001b[31m\\u202eb"\n')
    code, out, _ = run("check", str(job))
    assert code == 0
    assert "[U+001B]" in out
    assert "[U+202E]" in out
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "\u202e" not in run("check", str(job), "--json")[1]


def test_a_reader_who_has_gone_is_no_failure(job: Path) -> None:
    with subprocess.Popen([*COMMAND, "check", str(job), "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as p:
        assert p.stdout is not None
        p.stdout.close()
        assert p.wait(60) == 0
        assert p.stderr is not None
        assert p.stderr.read() == b""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_device_is_told(job: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*COMMAND, "check", str(job)], stdout=full, stderr=subprocess.PIPE, timeout=60, check=False
        )
    assert done.returncode == 2
    assert b"No space left" in done.stderr
    assert b"Traceback" not in done.stderr


def test_a_terminal_without_the_letters_gets_the_rest(job: Path) -> None:
    (job / "job.toml").write_text((job / "job.toml").read_text() + 'name = "板"\n', encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": "cp437"}
    done = subprocess.run([*COMMAND, "check", str(job)], env=environment, capture_output=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    assert rb"\u677f" in done.stdout


def test_an_interrupt_ends_with_130_and_no_traceback(tmp_path: Path) -> None:
    with subprocess.Popen([*COMMAND, "map", str(DEMO), "--out", str(tmp_path)], stderr=subprocess.PIPE) as process:
        time.sleep(1.5)
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 130
        assert process.stderr is not None
        assert b"Traceback" not in process.stderr.read()
    assert list(tmp_path.iterdir()) == []
