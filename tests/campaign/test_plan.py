"""Which frames a plan means, and what is said of one that cannot be used."""

from __future__ import annotations

from pathlib import Path

import pytest

from overlay.campaign.plan import read_plan
from overlay.errors import InputError


def plan_in(folder: Path, text: str, *names: str) -> Path:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).touch()
    (folder / "campaign.toml").write_text(f'format = 1\njob = "job"\n{text}', encoding="utf-8")
    return folder


def test_a_pattern_names_frames_in_order_with_their_times(tmp_path: Path) -> None:
    plan = read_plan(
        plan_in(
            tmp_path,
            '[[frames]]\nfiles = "soak/*.npy"\nunit = "SN 7"\nperiod_s = 10.0\nbegin_s = 5.0\nambient_c = 30.0\n',
            "soak/f2.npy",
            "soak/f1.npy",
        )
    )
    assert [Path(task.path).name for task in plan.tasks] == ["f1.npy", "f2.npy"]
    assert [task.time_s for task in plan.tasks] == [5.0, 15.0]
    assert {task.unit for task in plan.tasks} == {"SN 7"}
    assert plan.tasks[0].ambient_c == 30.0
    assert plan.job == tmp_path / "job"


def test_a_files_name_may_tell_unit_state_and_time(tmp_path: Path) -> None:
    text = "[[frames]]\nfiles = \"*.npy\"\nname_pattern = '(?P<unit>\\w+)_(?P<state>\\w+)_(?P<time_s>\\d+)s'\n"
    plan = read_plan(plan_in(tmp_path, text, "A1_idle_60s.npy", "A2_full_120s.npy"))
    assert [(task.unit, task.state, task.time_s) for task in plan.tasks] == [
        ("A1", "idle", 60.0),
        ("A2", "full", 120.0),
    ]


def test_groups_number_on(tmp_path: Path) -> None:
    text = '[[frames]]\nfiles = ["a.npy"]\n[[frames]]\nfiles = ["b.npy", "c.npy"]\n'
    assert [task.index for task in read_plan(plan_in(tmp_path, text)).tasks] == [0, 1, 2]


def test_addresses_of_a_store_are_listed(tmp_path: Path) -> None:
    import fsspec

    store = fsspec.filesystem("memory")
    for name in ("one", "two"):
        store.pipe(f"/bench/{name}.npy", b"")
    plan = read_plan(plan_in(tmp_path, '[[frames]]\nfiles = "memory://bench/*.npy"\n'))
    assert [task.path for task in plan.tasks] == ["memory:///bench/one.npy", "memory:///bench/two.npy"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[frames]]\nfiles = "*.tiff"\n', "names no file"),
        ("", "frames is missing"),
        ('[[frames]]\nfiles = "*.npy"\nperiods = 3\n', "unknown key frames.0.periods"),
        ('[[frames]]\nfiles = "*.npy"\nname_pattern = "("\n', "no regular expression"),
        ('[[frames]]\nfiles = "*.npy"\nname_pattern = "z+"\n', "does not match name_pattern"),
        ('[[frames]]\nfiles = "*.npy"\nname_pattern = "(?P<time_s>a)"\n', "is no number"),
        ("[[frames\n", "not valid TOML"),
    ],
)
def test_what_cannot_be_used_is_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        read_plan(plan_in(tmp_path, text, "a.npy"))
    assert said in str(caught.value)


def test_a_missing_plan_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        read_plan(tmp_path / "nowhere.toml")
