"""``job.toml``: keys, bounds, and messages that name line and remedy."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from overlay.errors import InputError, Problem
from overlay.job.read_settings import read_settings
from overlay.job.settings import Settings

GOOD = """format = 1
[board]
placement = "placement.csv"
[[capture]]
name = "full load"
frame = "a.tiff"
control_points = "a.csv"
ambient_c = 23.0
"""


def read(tmp_path: Path, text: str) -> Settings:
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_settings(path)


def problems_of(tmp_path: Path, text: str) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    return list(caught.value.problems)


def test_a_short_job_has_the_documented_defaults(tmp_path: Path) -> None:
    settings = read(tmp_path, GOOD)
    assert settings.requirement.ambient_max_c == 60.0
    assert settings.camera.band_um == (8.0, 14.0)
    assert settings.capture[0].reflected_or_ambient_c == 23.0
    assert settings.board.zero_orientation is None


def test_an_unknown_key_is_told_with_its_line_and_the_nearest_known_one(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, GOOD.replace("ambient_c", "ambeint_c").replace("[[", "ambient = 1\n[["))[:1]
    assert (problem.line, problem.column) == (4, "ambient")
    problems = problems_of(tmp_path, GOOD + "reflectd_c = 3\n")
    assert str(problems[0]) == (
        "job.toml:9: unknown key capture \"full load\".reflectd_c; the nearest known key is 'reflected_c'"
    )


def test_all_problems_of_a_job_are_told_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("23.0", '"warm"').replace('frame = "a.tiff"\n', "") + "frame_emissivity = 1.5\n"
    whats = {problem.column: problem for problem in problems_of(tmp_path, text)}
    assert set(whats) == {"ambient_c", "frame", "frame_emissivity"}
    assert whats["ambient_c"].line == 7


def test_settings_that_do_not_fit_together_say_how_to_mend_them(tmp_path: Path) -> None:
    for line, word in [
        ("frame_emissivity = 0.95", "frame_reflected_c"),
        ('emissivity_map = ["cold.tiff"]', "emissivity_map_c"),
        ("frame_period_s = 1.0\nframe_times_s = [0, 1]", "not both"),
        ("frame_times_s = [0, 2, 1]", "ascend"),
        ("window_transmittance = 0.9\nwindow_reflectance = 0.2", "exceed 1"),
    ]:
        (problem,) = problems_of(tmp_path, GOOD + line + "\n")
        assert word in problem.remedy


def test_two_captures_of_one_name_are_refused(tmp_path: Path) -> None:
    text = GOOD + GOOD[GOOD.index("[[capture]]") :]
    (problem,) = problems_of(tmp_path, text)
    assert "full load" in problem.remedy


def test_a_line_that_is_no_toml_is_named(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, GOOD + "what is this\n")
    assert problem.line == 9


@given(data=st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_any_bytes_as_job_give_settings_or_an_input_error(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.mktemp("job") / "job.toml"
    path.write_bytes(data)
    with pytest.raises(InputError):  # none of these can be a whole job
        read_settings(path)
