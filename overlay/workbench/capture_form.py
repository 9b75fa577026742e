"""A capture begun, and its values changed, from what a page was filled in with."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from overlay.errors import InputError, input_error
from overlay.frames.false_colour import picture_rgb
from overlay.frames.read import read_frame
from overlay.job.read_settings import read_settings
from overlay.job.settings import CaptureSettings, RecordSettings, Settings
from overlay.job.settings_text import Value, with_values
from overlay.report.frame_map import frame_range_c
from overlay.report.numbers import number
from overlay.tables import read_bytes
from overlay.workbench.folder import inside, replace_files
from overlay.workbench.section_form import refuse_unreadable, sections_json

# What the page may write of a capture, in the order in which a new one has it.
CELLS = (
    "name",
    "frame",
    "side",
    "ambient_c",
    "reflected_c",
    "distance_m",
    "humidity_percent",
    "window_transmittance",
    "window_c",
    "frame_emissivity",
    "frame_reflected_c",
    "frame_scale",
    "frame_offset",
    "rise_scale",
    "contact_readings",
    "reflection_check",
    "scale_bar",
    "scale_c",
)
_TEXTS = ("name", "frame", "side", "contact_readings", "reflection_check")
_LISTS = ("scale_bar", "scale_c")
_FRAMES = (".csv", ".tsv", ".txt", ".npy", ".png", ".jpg", ".jpeg", ".tif", ".tiff")
_TABLES = (".csv", ".tsv", ".txt")
_PARTS = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods")
_PICTURES = (".npy", ".png", ".jpg", ".jpeg", ".tif", ".tiff", ".pdf", ".zip", ".bak")  # never a board's data
_OUTLINES = (".svg", ".dxf")
# what files of a board are commonly called (common practice); only a choice that the user sees begins with it
_HINTS = {
    "placement": ("place", "pnp", "pick", "centroid", "cpl", "xy"),
    "outline": ("outline", "edge", "profile", "contour", ".svg", ".dxf", ".gko", ".gm1"),
    "parts": ("parts", "bom", "rating", "limit"),
}
_CLICKED_PX = 800  # longest side of a picture whose scale bar is clicked: a click is good to a pixel of it
_PREVIEW_PX = 320  # longest side of the picture shown beside the form


def start_json(folder: Path) -> dict[str, Any]:
    """Files of a folder without a job, by what they may be."""
    files = sorted(path.name for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))
    choices = {
        "placement": [name for name in files if Path(name).suffix.lower() not in (*_PICTURES, *_OUTLINES)],
        "outline": [name for name in files if Path(name).suffix.lower() not in (*_PICTURES, *_PARTS)],
        "parts": [name for name in files if Path(name).suffix.lower() in _PARTS],
    }
    chosen = {kind: _likely(names, _HINTS[kind]) for kind, names in choices.items()}
    return {"folder": folder.resolve().name, **choices, "chosen": chosen}


def _likely(names: list[str], hints: tuple[str, ...]) -> str:
    """The one file whose name says what it is, to begin a choice with; empty where none does, or several do."""
    found = [name for name in names if any(hint in name.lower() for hint in hints)]
    return found[0] if len(found) == 1 else ""


def form_json(folder: Path, settings: Settings) -> dict[str, Any]:
    """What the form begins with: the values of every capture, the record, and files to choose from."""
    board = settings.board
    taken = {board.placement, board.outline, board.parts, board.bodies}
    taken |= {capture.control_points for capture in settings.capture}
    taken |= {capture.contact_readings for capture in settings.capture}
    there = [path.name for path in folder.iterdir() if path.is_file() and path.name not in taken]
    files = sorted(there, key=lambda name: (Path(name).suffix.lower() in _TABLES, name))  # pictures first
    return {
        "captures": {capture.name: _values(capture) for capture in settings.capture},
        "sections": sections_json(settings),
        "record": settings.record.model_dump(),
        "frames": [name for name in files if Path(name).suffix.lower() in _FRAMES and not name.endswith(".points.csv")],
        "tables": sorted(
            {name for name in files if Path(name).suffix.lower() in _TABLES}
            | {capture.contact_readings for capture in settings.capture if capture.contact_readings}
        ),
    }


def _values(capture: CaptureSettings) -> dict[str, str]:
    told = capture.model_dump(exclude_unset=True)
    return {key: _text(told[key]) for key in CELLS if told.get(key) is not None}


def _text(value: object) -> str:
    return ", ".join(f"{one:g}" for one in value) if isinstance(value, tuple) else str(value)


def write_capture(job: Path, former: str | None, cells: Mapping[str, str], record: Mapping[str, str]) -> str:
    """Write a capture's values into ``job.toml``: those of ``former``, or of a new one; returns its name.

    Raises
    ------
    InputError
        With every value that cannot be used; nothing is written then.
    """
    settings = read_settings(job)
    names = [capture.name for capture in settings.capture]
    if former is not None and former not in names:
        raise input_error("job.toml", None, f"has no capture “{former}” any more", "reload the page")
    values = {key: _value(key, cells.get(key, "").strip()) for key in CELLS}
    if values["frame"] is None:
        raise input_error("job.toml", None, "the capture has no frame", "choose the file of the frame")
    if values["name"] is None:
        values["name"] = Path(str(values["frame"])).stem.replace("_", " ")
    if former is not None:
        told = settings.capture[names.index(former)].model_fields_set
        values = {key: value for key, value in values.items() if value is not None or key in told}
    inside(job.parent, str(values["frame"]))
    text = job.read_bytes().decode("utf-8-sig")
    changed = with_values(text, "capture", None if former is None else names.index(former), values)
    notes = {key: text or None for key, text in record.items() if key in RecordSettings.model_fields}
    if any(notes.values()) or settings.record.model_fields_set:
        changed = with_values(changed, "record", 0, notes)
    refuse_unreadable(changed)
    replace_files({job: changed.encode()})
    return str(values["name"])


def _value(key: str, text: str) -> Value | None:
    if not text:
        return None
    if key in _TEXTS:
        return text
    try:
        if key in _LISTS:
            return [float(part) for part in text.strip("[]").replace(";", ",").split(",")]
        return float(text.replace(",", "."))
    except ValueError:
        what = f"{key} = {text!r} is not a number"
        raise input_error("job.toml", None, what, "write a number, such as 23.4") from None


def preview_json(folder: Path, cells: Mapping[str, str]) -> dict[str, Any]:
    """A frame's picture before it belongs to any capture, or why it cannot be read as temperatures."""
    file = cells.get("frame", "")
    nothing: dict[str, Any] = {"shape": None, "range": None, "picture": None, "notes": [], "problem": None}
    if not file:
        return nothing
    nothing["colours"] = _colours(folder, file)
    try:
        bar, ends = (_value(key, cells.get(key, "").strip()) for key in _LISTS)
        frame = read_frame(
            inside(folder, file),
            file,
            scale=float(_value("frame_scale", cells.get("frame_scale", "").strip()) or 1.0),  # type: ignore[arg-type]
            offset=float(_value("frame_offset", cells.get("frame_offset", "").strip()) or 0.0),  # type: ignore[arg-type]
            colour_scale=(bar, ends) if isinstance(bar, list) and isinstance(ends, list) else None,  # type: ignore[arg-type]
        )
    except InputError as error:
        return {**nothing, "problem": str(error)}
    page = frame.temperature_c[-1]
    low, high = frame_range_c(page)
    step = max(1, -(-max(page.shape) // _PREVIEW_PX))
    small = page[::step, ::step]
    levels = np.clip((small - low) / max(high - low, 1e-6) * 255.0, 0, 255).astype(np.uint8)
    return {
        "shape": list(page.shape),
        "range": [number(low, 1), number(high, 1)],
        "picture": {"shape": list(small.shape), "levels": base64.b64encode(levels.tobytes()).decode()},
        "notes": list(frame.notes),
        "problem": None,
        "colours": nothing["colours"],
    }


def _colours(folder: Path, file: str) -> dict[str, Any] | None:
    """A picture in colour, to click on the ends of its scale bar; None for what is none."""
    path = inside(folder, file)
    if path.suffix.lower() not in (".png", ".jpg", ".jpeg"):
        return None
    try:
        rgb, _ = picture_rgb(read_bytes(path, file), file)
    except InputError:
        return None
    step = -(-max(rgb.shape[:2]) // _CLICKED_PX)
    small = rgb[::step, ::step]
    return {"step": step, "shape": list(small.shape[:2]), "rgb": base64.b64encode(small.tobytes()).decode()}
