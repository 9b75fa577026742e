"""What if: tried without a file being touched, and kept by one act."""

import pytest

from overlay.errors import InputError
from overlay.job.analyse import analyse, judge_again
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from overlay.workbench.folder import replace_files
from overlay.workbench.trying import trial_json, try_out
from tests.plain_board import Setting
from tests.workbench.plain_folder import many, write_job

SETTING = Setting(px_per_mm=2.0, size_mm=(100.0, 80.0))


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Analysis:
    return analyse(read_job(write_job(tmp_path_factory.mktemp("trial") / "job", many(5), SETTING)))


def files_of(base: Analysis) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in base.job.folder.iterdir()}


def quiet(_what: str, _share: float) -> None:
    pass


def test_a_hotter_ambient_moves_every_margin_by_about_as_much_and_touches_no_file(base: Analysis) -> None:
    before = files_of(base)
    trial = try_out(base, None, {"ambient_max_c": "55"}, quiet)
    moved = [
        one.margin_c - other.margin_c
        for one, other in zip(base.margins, trial.analysis.margins, strict=True)
        if one.margin_c is not None and other.margin_c is not None
    ]
    assert moved == pytest.approx([15.0] * len(base.margins), abs=1.5)  # losses grow with temperature
    assert files_of(base) == before
    assert "hottest ambient 55 °C instead of 40" in trial.words


def test_another_limit_is_that_parts_alone(base: Analysis) -> None:
    trial = try_out(base, "R4", {"limit_c": "60"}, quiet)
    changes = trial_json(trial)["changes"]
    assert set(changes) == {"R4"}
    assert trial.analysis.margin("R4").limit_c == 60.0


def test_another_emissivity_reads_the_frame_again(base: Analysis) -> None:
    trial = try_out(base, "R4", {"emissivity": "0.6"}, quiet)
    now, before = trial.analysis["R4"].readings["warm"], base["R4"].readings["warm"]
    assert now.emissivity == 0.6
    assert now.peak_c is not None
    assert before.peak_c is not None
    assert now.peak_c > before.peak_c + 3.0
    assert trial.analysis["C2"].readings["warm"].peak_c == pytest.approx(base["C2"].readings["warm"].peak_c, abs=0.3)


def test_what_is_kept_reads_as_it_was_tried_and_comments_stay(base: Analysis) -> None:
    before = files_of(base)
    trial = try_out(base, "R4", {"limit_c": "60", "ambient_max_c": "50"}, quiet)
    replace_files(trial.contents)
    try:
        job = read_job(base.job.path)
        assert job.settings.requirement.ambient_max_c == 50.0
        assert "# as the customer wants it" in job.path.read_text()
        assert [margin.verdict for margin in analyse(job).margins] == [
            margin.verdict for margin in trial.analysis.margins
        ]
    finally:
        for name, content in before.items():
            (base.job.folder / name).write_bytes(content)


def test_a_row_for_several_parts_is_said_to_be_theirs(base: Analysis) -> None:
    path = base.job.folder / "parts.csv"
    before = path.read_text()
    rows = [line for line in before.splitlines() if not line.startswith(("C2,", "R4,"))]
    path.write_text("\n".join([*rows, '"C2, R4",105,surface,0.94']) + "\n")
    try:
        job = read_job(base.job.path)
        trial = try_out(judge_again(base, job), "R4", {"limit_c": "60"}, quiet)
        assert "C2, R4 (one row of the table): limit 60 °C" in trial.words
        assert trial.analysis.margin("C2").limit_c == 60.0
    finally:
        path.write_text(before)


@pytest.mark.parametrize("cells", [{}, {"ambient_max_c": "warm"}, {"limit_c": "-500"}])
def test_what_cannot_be_tried_is_told(base: Analysis, cells: dict[str, str]) -> None:
    with pytest.raises(InputError):
        try_out(base, "R4", cells, quiet)
