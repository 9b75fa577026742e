"""Rows come back as they were written, and parts of two campaigns do not mix."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from overlay.campaign.model import FrameTask, Row
from overlay.campaign.store import Format, fingerprint_of, open_store, part_path, read_rows, write_rows
from overlay.errors import InputError

ROW = Row(3, "a/b.npy", "SN, 1", "full", 30.0, "R17", "read", 81.25, 80.0, 1.5, 120.125, None, "unrated", 0.1, 1.0, "")
BROKEN = Row(4, "c.npy", "SN 2", "", None, "", "", None, None, None, None, None, "", None, None, 'empty; "sad"\nfile')


@pytest.mark.parametrize("format_", ["csv", "parquet"])
def test_rows_there_and_back(tmp_path: Path, format_: Format) -> None:
    write_rows(part_path(tmp_path, 1, format_), [BROKEN])
    write_rows(part_path(tmp_path, 0, format_), [ROW, replace(ROW, refdes="R18", peak_c=0.1 + 0.2)])
    assert list(read_rows(tmp_path, format_)) == [ROW, replace(ROW, refdes="R18", peak_c=0.1 + 0.2), BROKEN]


def test_a_folder_takes_one_campaign_only(tmp_path: Path) -> None:
    tasks = [FrameTask(0, "a.npy", "", "", None, None)]
    mine = fingerprint_of(tasks, "abc", 50)
    open_store(tmp_path, mine, "csv")
    open_store(tmp_path, mine, "csv")
    assert fingerprint_of(tasks, "abd", 50) != mine, "a job that has changed is another campaign"
    with pytest.raises(InputError, match="another campaign"):
        open_store(tmp_path, fingerprint_of([replace(tasks[0], path="b.npy")], "abc", 50), "csv")
