"""The command line as its users meet it: what it prints, where, and with which exit status."""

from __future__ import annotations

import csv
import itertools
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from overlay.job.analysis import Analysis
from tests.cli.conftest import Run

DEMO = Path(__file__).parents[2] / "demo_board"


def test_help_names_every_command_with_a_whole_sentence(run: Run) -> None:
    code, out, _ = run("--help")
    assert code == 0
    for name in ("new", "check", "register", "map", "name", "probe", "compare", "units", "workbench"):
        (line,) = (line for line in out.splitlines() if line.strip().startswith(f"{name} "))
        assert line.rstrip().endswith("."), line
        assert "..." not in line


def test_check_json_prints_nothing_but_the_documented_object(run: Run) -> None:
    code, out, err = run("check", str(DEMO), "--json")
    found = json.loads(out)
    assert (code, err) == (0, "")
    assert set(found) >= {"components", "placement", "outline", "problems"}
    r17 = next(item for item in found["components"] if item["refdes"] == "R17")
    assert r17["body"]["length_mm"] == 2.0
    assert r17["limit_c"] == 155.0
    assert found["outline"]["bounds_mm"] == pytest.approx([0, 0, 96, 64])


def test_check_json_of_a_broken_job_still_prints_json_and_exits_with_2(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text('format = 1\n[board]\nplacement = "p.csv"\n')
    (tmp_path / "p.csv").write_text("Ref,X,Y,Rotation,Side\nR1,1000,2000,0,top\n")
    code, out, _ = run("check", str(tmp_path), "--json")
    problem = json.loads(out)["problems"][0]
    assert code == 2
    assert problem["severity"] == "error"
    assert "placement_units" in problem["remedy"]


def test_wrong_input_is_one_line_a_problem_on_stderr_and_status_2(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text("format = 1\nfoo = 1\n[board]\nplacement = 3\n")
    code, out, err = run("map", str(tmp_path), "--out", str(tmp_path / "report"))
    assert (code, out) == (2, "")
    assert len(err.strip().splitlines()) == 2
    assert "job.toml:2: unknown key foo" in err
    assert not (tmp_path / "report").exists()


def test_a_folder_without_a_job_says_what_to_do(run: Run, tmp_path: Path) -> None:
    code, out, _ = run("check", str(tmp_path))
    assert code == 2
    assert "no job here; name a job.toml or the folder that holds one" in out


@pytest.mark.usefixtures("analysed")
def test_map_writes_its_five_files_and_fail_on_asks_for_status_1(run: Run, tmp_path: Path) -> None:
    code, out, _ = run("map", str(DEMO), "--out", str(tmp_path))
    assert code == 0
    assert {path.name for path in tmp_path.iterdir()} == {
        "margin_map.pdf",
        "margin_map.html",
        "components.csv",
        "hot_spots.csv",
        "results.json",
    }
    assert "R17" in out
    assert run("map", str(DEMO), "--out", str(tmp_path), "--fail-on", "over,undecided")[0] == 1
    assert run("map", str(DEMO), "--out", str(tmp_path), "--fail-on", "unseen,unrated")[0] == 1
    code, _, err = run("map", str(DEMO), "--out", str(tmp_path), "--fail-on", "hot")
    assert code == 2
    assert "'hot' is no verdict" in err


def test_the_last_good_report_survives_a_run_that_fails(run: Run, tmp_path: Path) -> None:
    job, out = tmp_path / "job", tmp_path / "report"
    shutil.copytree(DEMO, job, ignore=shutil.ignore_patterns("simulation", "revision_c", "warm_up"))
    out.mkdir()
    (out / "margin_map.pdf").write_bytes(b"the last good one")
    for frame in job.glob("*.tiff"):
        frame.write_bytes(b"no frame at all")
    code, _, err = run("map", str(job), "--out", str(out))
    assert code == 2
    assert "full_load.tiff" in err
    assert (out / "margin_map.pdf").read_bytes() == b"the last good one"
    assert len(list(out.iterdir())) == 1


@pytest.mark.usefixtures("analysed")
def test_name_tells_the_part_at_a_pixel(run: Run, demo: Analysis) -> None:
    capture = demo.capture("full load")
    hottest = capture.reading.hot_spots[0]
    x, y = (str(round(value)) for value in hottest.pixel)
    code, out, _ = run("name", str(DEMO), x, y, "--capture", "full load", "--json")
    found = json.loads(out)
    assert code == 0
    assert found["candidates"][0]["refdes"] == hottest.candidates[0].refdes == "R17"
    assert sum(item["probability"] for item in found["candidates"]) == pytest.approx(1.0, abs=1e-5)
    code, _, err = run("name", str(DEMO), "9999", "0")
    assert code == 2
    assert "outside the frame" in err
    assert 'no capture named "night"' in run("name", str(DEMO), "1", "1", "--capture", "night")[2]


@pytest.mark.usefixtures("analysed")
def test_probe_writes_a_plan_that_is_accepted_as_contact_readings(run: Run, tmp_path: Path, demo: Analysis) -> None:
    from overlay.probes.read import read_contacts

    code, out, _ = run("probe", str(DEMO), "--out", str(tmp_path), "--channels", "5")
    assert code == 0
    assert "rank" in out
    plan = tmp_path / "probe_plan.csv"
    lines = plan.read_text().splitlines()
    assert len(lines) == 6
    columns = lines[0].split(",")
    assert columns[:9] == [
        "rank",
        "refdes",
        "board_x_mm",
        "board_y_mm",
        "expected_c",
        "cost_at_0.5mm_k",
        "cost_at_1mm_k",
        "cost_at_2mm_k",
        "reason",
    ]
    assert read_contacts(plan, "probe_plan.csv", demo.job.board) == ()
    rows = list(csv.DictReader(lines))
    for i, row in enumerate(rows):
        row["temperature_c"] = str(70 + i)  # all else as it was written
    with plan.open("w", newline="") as stream:
        writer = csv.DictWriter(stream, columns)
        writer.writeheader()
        writer.writerows(rows)
    contacts = read_contacts(plan, "probe_plan.csv", demo.job.board)
    assert all(item.u_c == pytest.approx(2.5 / 3**0.5, abs=0.01) for item in contacts)  # type K, class 2
    assert [item.temperature_c for item in read_contacts(plan, "probe_plan.csv", demo.job.board)] == [
        70,
        71,
        72,
        73,
        74,
    ]


@pytest.mark.usefixtures("analysed")
def test_probe_plans_on_the_parts_that_are_named_whatever_their_verdict(run: Run, tmp_path: Path) -> None:
    code, _, _ = run("probe", str(DEMO), "--out", str(tmp_path), "--part", "r12, U1")
    assert code == 0
    rows = list(csv.DictReader((tmp_path / "probe_plan.csv").read_text().splitlines()))
    assert [row["refdes"] for row in rows] == ["R12", "U1"]
    assert all(row["board_x_mm"] and row["u_c"] for row in rows)
    code, _, complaint = run("probe", str(DEMO), "--out", str(tmp_path), "--part", "U1,U999")
    assert code == 2
    assert "U999" in complaint


@pytest.fixture
def three_units(monkeypatch: pytest.MonkeyPatch, demo: Analysis) -> None:
    """Commands get the demo's analysis as that of one unit after another."""
    numbers = itertools.count(1)

    def analyse(job: object, progress: object = None, workers: int = 1) -> Analysis:
        serial = f"000{next(numbers)}"
        record = demo.job.settings.record.model_copy(update={"serial": serial})
        settings = demo.job.settings.model_copy(update={"record": record})
        inputs = tuple(replace(item, sha256=serial + item.sha256) for item in demo.inputs)
        return replace(demo, job=replace(demo.job, settings=settings), inputs=inputs)

    monkeypatch.setattr("overlay.job.analyse.analyse", analyse)


def test_units_sets_jobs_of_one_board_side_by_side(run: Run, tmp_path: Path, three_units: None) -> None:
    code, out, err = run("units", str(DEMO), str(DEMO), str(DEMO), "--out", str(tmp_path / "units"), "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert found["units"] == ["0001", "0002", "0003"]
    assert found["odd_units"] == []
    r17 = next(part for part in found["parts"] if part["refdes"] == "R17")
    assert (r17["spread_k"], r17["keeps"]) == (0.0, False)
    assert sorted(path.name for path in (tmp_path / "units").iterdir()) == ["units.csv", "units.json", "units.pdf"]


def test_one_unit_that_stands_twice_is_refused(
    run: Run, tmp_path: Path, analysed: None, monkeypatch: pytest.MonkeyPatch, demo: Analysis
) -> None:
    code, _, err = run("units", str(DEMO), str(DEMO), "--out", str(tmp_path / "units"))
    assert code == 2
    assert "its serial number 'TG-B-0007' is that of" in err
    nameless = demo.job.settings.record.model_copy(update={"serial": ""})
    job = replace(demo.job, settings=demo.job.settings.model_copy(update={"record": nameless}))
    monkeypatch.setattr("overlay.job.analyse.analyse", lambda *_, **__: replace(demo, job=job))
    code, _, err = run("units", str(DEMO), str(DEMO), "--out", str(tmp_path / "units"))
    assert code == 2
    assert "its frame full_load.tiff is that of" in err


def test_one_job_is_no_several_units(run: Run, tmp_path: Path, analysed: None) -> None:
    code, _, err = run("units", str(DEMO), "--out", str(tmp_path / "units"))
    assert code == 2
    assert "name two or more jobs" in err


def test_new_writes_a_job_that_check_understands(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    files = ("--placement", str(DEMO / "placement.csv"), "--outline", str(DEMO / "outline.svg"))
    code, out, _ = run("new", str(folder), *files)
    assert code == 0
    assert "104 components" in out
    assert {path.name for path in folder.iterdir()} >= {"job.toml", "placement.csv", "outline.svg", "parts.csv"}
    code, out, err = run("check", str(folder))
    assert (code, err) == (0, ""), out
    assert "units mm, from heading of column 'Mid X (mm)'" in out
    code, _, err = run("new", str(folder), *files)
    assert code == 2
    assert "is there already" in err
