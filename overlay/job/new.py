"""A job folder to fill in, from the files a user already has."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from overlay.board.model import Board, BoardFiles, Component
from overlay.board.read import read_board
from overlay.errors import Problem, input_error
from overlay.files import write_all
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

    Without a parts table one is begun: a row for each part number, ratings to be filled in. Packages whose
    body is not known stand as comments in ``bodies.csv``.

    Raises
    ------
    InputError
        Where a file is missing, or the folder already holds a job.
    """
    if (folder / "job.toml").exists():
        raise input_error(str(folder / "job.toml"), None, "is there already", "choose another folder, or edit that job")
    contents: dict[Path, bytes] = {}
    for source in (placement, outline, parts):
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
    board, problems = read_board(folder, files)
    begun: dict[Path, bytes] = {}
    parts_name, bodies_name = files.parts, None
    if board is not None and parts is None and not (folder / "parts.csv").exists():
        parts_name = "parts.csv"
        begun[folder / parts_name] = _parts_table(board).encode()
    unknown = [] if board is None else [part for part in board.components if part.body is None and not part.mechanical]
    if unknown and not (folder / "bodies.csv").exists():
        bodies_name = "bodies.csv"
        begun[folder / bodies_name] = _bodies_table(unknown).encode()
    begun[folder / "job.toml"] = _job_text(folder.resolve().name, files, parts_name, bodies_name, board).encode()
    write_all(begun)
    written = tuple(path.name for path in [*contents, *begun])
    return NewJob(folder, written, board, tuple(problems))


def _parts_table(board: Board) -> str:
    """A row for each part number (for each refdes that has none), ready for the ratings."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    text.write("# one row for each part number; a row by refdes wins over one by part number\n")
    text.write("# limit_at: surface, junction (needs psi_jt_k_per_w and power_w) or ambient\n")
    columns = [
        "refdes",
        "part_number",
        "kind",
        "limit_c",
        "limit_at",
        "psi_jt_k_per_w",
        "power_w",
        "emissivity",
        "note",
    ]
    rows.writerow(columns)
    groups: dict[str, list[Component]] = {}
    for part in board.components:
        if not part.mechanical:
            groups.setdefault(part.part_number.casefold() or f"\0{part.refdes}", []).append(part)
    for group in groups.values():
        first = group[0]
        named = bool(first.part_number)
        rows.writerow(["" if named else first.refdes, first.part_number, first.kind, "", "", "", "", "", ""])
    return text.getvalue()


def _bodies_table(unknown: list[Component]) -> str:
    lines = ["package,length_mm,width_mm,height_mm,shape,emissivity,emissivity_u"]
    packages: dict[str, list[str]] = {}
    for part in unknown:
        packages.setdefault(part.package, []).append(part.refdes)
    for package, names in packages.items():
        shown = ", ".join(names[:6]) + (" …" if len(names) > 6 else "")
        quoted = '"' + package.replace('"', '""') + '"'
        lines.append(f"# to fill in, then take the # away ({shown}):")
        lines.append(f"# {quoted},,,,box,,")
    return "\n".join(lines) + "\n"


def _toml(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in escaped) + '"'


def _job_text(name: str, files: BoardFiles, parts: str | None, bodies: str | None, board: Board | None) -> str:
    def line(key: str, value: str | None, comment: str) -> str:
        return f"{key} = {_toml(value)}  # {comment}" if value is not None else f'# {key} = "…"  # {comment}'

    units = "" if board is None else f"  # understood: {board.placement_units}, from {board.placement_units_from}"
    return f"""# A job of board-overlay. Names are relative to this file; lines that start with # are not set.
format = 1

[board]
name = {_toml(name)}
revision = "A"
placement = {_toml(files.placement)}{units}
# placement_units = "mm"  # mm | um | mil | inch: only where the file itself does not say
{line("outline", files.outline, "SVG path, Gerber profile or DXF; absent: the hull of the bodies")}
# outline_units = "mm"  # likewise
# outline_shift_mm = [0.0, 0.0]  # added to the outline to bring it into the placements' frame
{line("parts", parts, "ratings, CSV or XLSX")}
{line("bodies", bodies, "package → body size, wins over what the package's name implies")}
# bottom_rotation = "top-view"  # or "bottom-view": how the placement turns parts of the bottom
# bottom_x = "as-is"  # or "mirrored": x of bottom parts is negated in the placement
# zero_orientation = "A"  # IPC-7351 level A (pin rows upright at 0°) or B (a quarter turn)

[requirement]
ambient_max_c = 60.0  # the hottest ambient the product must work in
margin_c = 10.0  # distance to the limit that is wanted
confidence = 0.95  # how sure "clear" and "over" must be
derating = "none"  # or the name of a published derating policy, or a CSV of one's own

[camera]
band_um = [8.0, 14.0]
accuracy_c = 2.0  # the larger of the two counts
accuracy_percent = 2.0
netd_c = 0.06
# hfov_deg = 28.0  # horizontal field of view: enables height parallax
# blur_px = 1.3  # full width at half maximum of the optics' blur

# A capture is one thermal frame of one side in one load state. Take the # away and fill in.
# [[capture]]
# name = "full load"
# frame = "full_load.tiff"
# side = "top"
# control_points = "full_load.points.csv"
# ambient_c = 23.4
# ambient_u_c = 0.5
# reflected_c = 22.8
# reflected_u_c = 1.0
# humidity_percent = 45
# distance_m = 0.35
# rise_scale = 1.0  # rise at the required load ÷ rise in this capture
"""
