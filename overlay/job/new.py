"""A job folder to fill in, from the files a user already has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from overlay.board.exchange.idf import is_idf, library_beside
from overlay.board.model import Board, BoardFiles, Component
from overlay.board.read import read_board
from overlay.errors import Problem, input_error
from overlay.files import noted_inputs, problems_of, write_all
from overlay.job.parts_table import parts_table
from overlay.job.template import job_text
from overlay.tables import read_bytes


@dataclass(frozen=True, slots=True, eq=False)
class NewJob:
    """What was written, and what the files given leave open."""

    folder: Path
    written: tuple[str, ...]
    board: Board | None
    problems: tuple[Problem, ...]


def write_new_job(folder: Path, placement: Path, outline: Path | None = None, parts: Path | None = None) -> NewJob:
    """Copy the given files into ``folder`` and write a commented ``job.toml`` beside them.

    Without a parts table one is begun: a row for each part number, ratings to be filled in. Where ``parts`` is a
    purchasing list, the table begins with the limits that it tells, each with its cell, and the list itself goes on
    telling packages and what is not fitted. Packages whose body is not known or was assumed stand as comments in
    ``bodies.csv``.

    Raises
    ------
    InputError
        Where a file is missing, the folder already holds a job, or cannot be written to.
    """
    try:
        return _write_new_job(folder, placement, outline, parts)
    except OSError as error:
        reason = error.strerror or str(error)
        raise input_error(str(folder), None, f"cannot be written ({reason})", "choose another folder") from None


def _write_new_job(folder: Path, placement: Path, outline: Path | None, parts: Path | None) -> NewJob:
    if (folder / "job.toml").exists():
        raise input_error(str(folder / "job.toml"), None, "is there already", "choose another folder, or edit that job")
    contents: dict[Path, bytes] = {}
    library = library_beside(placement) if is_idf(read_bytes(placement, str(placement))) else None
    for source in (placement, library, outline, parts):
        if source is None:
            continue
        target = folder / source.name
        data = read_bytes(source, str(source))
        if target.exists() and target.resolve() != source.resolve() and target.read_bytes() != data:
            raise input_error(str(target), None, "is there already with other content", "move it away or rename yours")
        if not target.exists():
            contents[target] = data
    write_all(contents)
    files = BoardFiles(
        placement=placement.name,
        outline=None if outline is None else outline.name,
        parts=None if parts is None else parts.name,
    )
    with noted_inputs() as inputs:
        board, problems = read_board(folder, files)
    problems += problems_of(inputs)
    begun: dict[Path, bytes] = {}
    parts_name, bodies_name = files.parts, None
    if board is not None and (parts is None or board.bill) and not (folder / "parts.csv").exists():
        files = replace(files, parts=None, bom=files.parts)
        parts_name = "parts.csv"
        begun[folder / parts_name] = parts_table(board).encode()
    doubtful = () if board is None else [part for part in board.parts if part.body is None or part.body.estimated]
    if doubtful and not (folder / "bodies.csv").exists():
        bodies_name = "bodies.csv"
        begun[folder / bodies_name] = _bodies_table(doubtful).encode()
    begun[folder / "job.toml"] = _job_text(folder.resolve().name, files, parts_name, bodies_name, board).encode()
    write_all(begun)
    written = tuple(path.name for path in [*contents, *begun])
    return NewJob(folder, written, board, tuple(problems))


def _bodies_table(parts: Sequence[Component]) -> str:
    """Rows to fill in for packages whose body is not known, and to confirm for those whose size was assumed."""
    lines = ["package,length_mm,width_mm,height_mm,shape,emissivity,emissivity_u"]
    packages: dict[str, list[Component]] = {}
    for part in parts:
        packages.setdefault(part.package, []).append(part)
    for package, group in sorted(packages.items(), key=lambda item: item[1][0].body is not None):
        shown = ", ".join(part.refdes for part in group[:6]) + (" …" if len(group) > 6 else "")
        quoted = '"' + package.replace('"', '""') + '"'
        body = group[0].body
        if body is None:
            lines.append(f"# to fill in, then take the # away ({shown}):")
            lines.append(f"# {quoted},,,,box,,")
        else:
            height = "" if body.height_mm is None else f"{body.height_mm:g}"
            lines.append(f"# assumed: {body.source}; correct it and take the # away ({shown}):")
            lines.append(f"# {quoted},{body.length_mm:g},{body.width_mm:g},{height},{body.shape},,")
    return "\n".join(lines) + "\n"


def _toml(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in escaped) + '"'


def _job_text(name: str, files: BoardFiles, parts: str | None, bodies: str | None, board: Board | None) -> str:
    """``job.toml`` with what is known of the board, and what was understood of its placement."""
    known = {"outline": files.outline, "parts": parts, "bom": files.bom, "bodies": bodies}
    given = {"name": _toml(name), "revision": _toml("A"), "placement": _toml(files.placement)}
    given |= {key: _toml(value) for key, value in known.items() if value is not None}
    remarks = {}
    if board is not None:
        remarks["placement"] = f"understood: {board.placement_units}, from {board.placement_units_from}"
    return job_text(given, {key: " ".join(words.split()) for key, words in remarks.items()})
