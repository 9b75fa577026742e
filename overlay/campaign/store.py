"""Rows of a campaign in parts on the disk: what is there is done, whole, and not done again."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, astuple, fields
from pathlib import Path
from typing import Any, Literal

from overlay.campaign.model import COLUMNS, FrameTask, Row
from overlay.errors import input_error
from overlay.files import write_whole

Format = Literal["csv", "parquet"]
_MARK = "rows_of.json"
_NUMBERS = ("time_s", "peak_c", "mean_c", "u_c", "projected_c", "margin_c", "moved_px", "agreement")


def format_named(word: str) -> Format:
    """``csv`` or ``parquet``, with an InputError for any other word."""
    if word == "csv":
        return "csv"
    if word == "parquet":
        return "parquet"
    raise input_error("--format", None, f"{word!r} is no format of rows", "take csv or parquet")


def fingerprint_of(tasks: Sequence[FrameTask], job_digest: str, frames_per_part: int) -> str:
    """What the parts of a folder were made of: they go together only if this is the same."""
    described = json.dumps([job_digest, frames_per_part, [astuple(task) for task in tasks]])
    return hashlib.sha256(described.encode()).hexdigest()


def open_store(folder: Path, fingerprint: str, format_: Format) -> None:
    """Begin a folder of parts, or go on with one of the same campaign.

    Raises
    ------
    InputError
        If the folder holds parts of another campaign: other frames, or a job that has changed since.
    """
    mark = folder / _MARK
    if mark.exists():
        known = json.loads(mark.read_text(encoding="utf-8"))
        if known != {"fingerprint": fingerprint, "format": format_}:
            what = "holds rows of another campaign: other frames, another job, or one changed since"
            raise input_error(str(folder), None, what, "give --out another folder, or remove that one")
        return
    write_whole(mark, json.dumps({"fingerprint": fingerprint, "format": format_}).encode())


def part_path(folder: Path, number: int, format_: Format) -> Path:
    """Where a part's rows lie."""
    return folder / "rows" / f"part-{number:06d}.{format_}"


def write_rows(path: Path, rows: Sequence[Row]) -> None:
    """Write a part, whole or not at all."""
    write_whole(path, _parquet(rows) if path.suffix == ".parquet" else rows_csv(rows).encode())


def rows_csv(rows: Iterable[Row]) -> str:
    """Rows as CSV; numbers in full, so that reading gives the same rows back."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(["" if value is None else value for value in astuple(row)] for row in rows)
    return text.getvalue()


def read_rows(folder: Path, format_: Format) -> Iterator[Row]:
    """All rows of a folder, in the order of their frames."""
    for path in sorted((folder / "rows").glob(f"part-*.{format_}")):
        yield from _from_parquet(path) if format_ == "parquet" else _from_csv(path)


def _from_csv(path: Path) -> Iterator[Row]:
    with path.open(encoding="utf-8", newline="") as stream:
        for values in csv.DictReader(stream):
            yield _row(dict(values))


def _row(values: dict[str, Any]) -> Row:
    numbers = {name: float(values[name]) if values[name] not in ("", None) else None for name in _NUMBERS}
    return Row(**{**values, **numbers, "frame": int(values["frame"])})


def _parquet(rows: Sequence[Row]) -> bytes:
    arrow, parquet = _arrow()
    types = {"frame": arrow.int64(), **{name: arrow.float64() for name in _NUMBERS}}
    schema = arrow.schema([(field.name, types.get(field.name, arrow.string())) for field in fields(Row)])
    stream = io.BytesIO()
    parquet.write_table(arrow.Table.from_pylist([asdict(row) for row in rows], schema=schema), stream)
    return stream.getvalue()


def _from_parquet(path: Path) -> Iterator[Row]:
    _, parquet = _arrow()
    for values in parquet.read_table(path).to_pylist():
        yield _row(values)


def _arrow() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        what = "parquet needs the package pyarrow, which is not installed"
        remedy = "install it with pip install 'board-overlay[parquet]', or take --format csv"
        raise input_error("--format", None, what, remedy) from None
    return pyarrow, pyarrow.parquet
