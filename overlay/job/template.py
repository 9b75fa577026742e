"""A ``job.toml`` to fill in: every key that a job may have, each with a line of what it is."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import BaseModel

from overlay.job.settings import BoardSettings, CameraSettings, CaptureSettings, RecordSettings, RequirementSettings

# key → (an example, what it is); a key without an entry is shown with its default
_BOARD: dict[str, tuple[str, str]] = {
    "name": ('"…"', "printed on every report"),
    "revision": ('"A"', "likewise"),
    "placement": ('"placement.csv"', "centroid table, Gerber component layer, IPC-2581 or IDF"),
    "placement_units": ('"mm"', "mm | um | mil | inch: only where the file itself does not say"),
    "placement_side": ('"top"', "top | bottom: only where the file itself does not say"),
    "panel_board": ("1", 'which of several equal boards of a panel, counted as `check` lists them, or "all"'),
    "step": ('"board"', "which board of an IPC-2581 document that holds several"),
    "outline": ('"outline.svg"', "SVG path, Gerber profile, DXF, IPC-2581 or IDF; absent: the hull of the bodies"),
    "outline_units": ('"mm"', "mm | um | mil | inch: only for a DXF or SVG that does not say"),
    "outline_shift_mm": ("[0.0, 0.0]", "added to the outline to bring it into the placements' frame"),
    "parts": ('"parts.csv"', "ratings: CSV or a spreadsheet, also a purchasing list as it is"),
    "bom": ('"bom.csv"', "purchasing list beside parts: packages, numbers, what is not fitted, limits parts lacks"),
    "bodies": ('"bodies.csv"', "package → body size, wins over what the package's name implies"),
    "bottom_rotation": ('"top-view"', 'or "bottom-view": how the placement turns parts of the bottom'),
    "bottom_x": ('"as-is"', 'or "mirrored": x of bottom parts is negated in the placement'),
    "laminate_limit_c": (
        "130.0",
        "maximum operating temperature of the bare board, held against it around hot parts",
    ),
    "laminate_limit_source": ('"…"', "which data sheet or file that is from"),
    "zero_orientation": ('"A"', "IPC-7351 level A (pin rows upright at 0°) or B; not set: A, unless neighbours show B"),
}
_REQUIREMENT: dict[str, tuple[str, str]] = {
    "ambient_max_c": ("60.0", "the hottest ambient the product must work in"),
    "margin_c": ("10.0", "distance to the (derated) limit that is wanted"),
    "confidence": ("0.95", 'how sure "clear" and "over" must be'),
    "derating": ('"none"', "or the name of a published derating policy, or a CSV of one's own"),
    "enclosure_rise_k": ("0.0", "air in the product's box over the ambient outside, for captures in the open"),
    "enclosure_rise_u_k": ("0.0", "its standard uncertainty"),
    "altitude_m": ("0.0", "the highest place of use: thinner air lets rises grow (natural convection)"),
}
_CAMERA: dict[str, tuple[str, str]] = {
    "band_um": ("[8.0, 14.0]", "the wavelengths it sees"),
    "accuracy_c": ("2.0", "limits of the error by its data sheet: the larger of the two counts"),
    "accuracy_percent": ("2.0", "of the reading in °C"),
    "netd_c": ("0.06", "noise by its data sheet"),
    "hfov_deg": ("28.0", "horizontal field of view: enables height parallax"),
    "blur_px": ("1.3", "full width at half maximum of the optics' blur, in pixels"),
    "pixels": ("[160, 120]", "columns and rows, for planning shots before a frame exists"),
    "min_focus_m": ("0.1", "the nearest distance it focuses at"),
    "close_up_dpt": ("0.0", "power of a close-up lens in front, in dioptres"),
    "size_of_source": ('"curve.csv"', "side_px and the share of the rise that a square of that side shows"),
    "nonuniformity_c": ("0.3", "one standard uncertainty of the unevenness within a frame"),
}
_CAPTURE: dict[str, tuple[str, str]] = {
    "name": ('"full load"', "one name each"),
    "frame": (
        '"full_load.tiff"',
        "CSV matrix, TIFF (pages: frames in time), 16-bit PNG, NPY, false-colour picture",
    ),
    "frame_scale": ("1.0", "°C = value × scale + offset, for integer images"),
    "frame_offset": ("0.0", "likewise"),
    "scale_bar": ("[300.0, 20.0, 300.0, 220.0]", "of a false-colour picture: the middles of its bar's ends, in pixels"),
    "scale_c": ("[98.5, 22.0]", "… and the temperatures written at them, in the same order"),
    "side": ('"top"', "top | bottom: the side that the camera sees"),
    "control_points": ('"full_load.points.csv"', "which pixel shows which part; the workbench writes it"),
    "ambient_c": ("23.4", "air around the board, measured"),
    "ambient_u_c": ("0.5", "its standard uncertainty"),
    "ambient_log": ('"ambient.csv"', "for stacks: time_s, ambient_c"),
    "reflected_c": ("22.8", "reflected apparent temperature; absent: that of the air"),
    "reflected_u_c": ("1.0", "its standard uncertainty"),
    "humidity_percent": ("45.0", "of the air between camera and board"),
    "distance_m": ("0.35", "from the lens to the board"),
    "frame_emissivity": ("1.0", "what the instrument was set to when it turned signal into °C"),
    "frame_reflected_c": ("22.8", "likewise; needed only where frame_emissivity < 1"),
    "window_transmittance": ("1.0", "of a window or close-up lens between camera and board"),
    "window_transmittance_u": ("0.02", "its standard uncertainty"),
    "window_reflectance": ("0.0", "share of the camera's side that the window mirrors"),
    "window_c": ("23.4", "the window's own temperature; absent: that of the air"),
    "window_reflected_c": ("23.4", "what the window mirrors; absent: the temperature of the air"),
    "rise_scale": ("1.0", "rise at the required load ÷ rise in this capture"),
    "rise_scale_u": ("0.0", "its standard uncertainty"),
    "load": ("0.5", "current of this state ÷ required current, where several states are captured"),
    "altitude_m": ("0.0", "of the bench"),
    "input_power_w": ("4.2", "measured electrical power that stays on the board"),
    "input_power_u_w": ("0.1", "its standard uncertainty"),
    "frame_period_s": ("10.0", "a stack of pages: time between them …"),
    "frame_times_s": ("[0.0, 10.0]", "… or the times of all pages"),
    "emissivity_map": ('["cold.tiff"]', "frames of the unpowered board at one known, even temperature each …"),
    "emissivity_map_c": ("[45.0]", "… those temperatures …"),
    "emissivity_map_u_c": ("0.5", "… their common standard uncertainty …"),
    "emissivity_map_reflected_c": ("22.8", "… the reflected temperature then …"),
    "emissivity_map_points": ('"cold.points.csv"', "… and control points, where the pose is not the capture's"),
    "contact_readings": ('"contact.csv"', "thermocouple readings taken in this state"),
    "reflection_check": ('"second.tiff"', "the same scene with something else reflected: shows mirrors"),
}
_RECORD: dict[str, tuple[str, str]] = {
    "date": ('"2026-01-31"', "of the test"),
    "load": ('"…"', "what the board did"),
    "supply": ('"…"', "how it was fed"),
    "duration": ('"…"', "how long before the frame was taken"),
    "orientation": ('"…"', "flat, upright, …"),
    "airflow": ('"…"', "still air, a fan, …"),
    "calibration_due": ('"…"', "of the instrument"),
}


def words_of(section: str) -> Mapping[str, tuple[str, str]]:
    """An example and what it is, for keys of a section of ``job.toml``."""
    return {"board": _BOARD, "requirement": _REQUIREMENT, "camera": _CAMERA, "capture": _CAPTURE}[section]


def job_text(board: Mapping[str, str], remarks: Mapping[str, str]) -> str:
    """The text of a ``job.toml``.

    Parameters
    ----------
    board
        Keys of ``[board]`` that are known, each with its value as TOML writes it.
    remarks
        What to say of a key of ``[board]`` in place of its usual line.
    """
    lines = [
        "# A job of board-overlay. Names are relative to this file.",
        "# Lines that start with # are not set: take the # away where a key is needed, and correct its value.",
        "format = 1",
        "",
        "[board]",
        *_lines(BoardSettings, _BOARD | {key: (_BOARD[key][0], words) for key, words in remarks.items()}, board),
        "",
        "[requirement]",
        *_lines(RequirementSettings, _REQUIREMENT, {key: value for key, (value, _) in _REQUIREMENT.items()}),
        "",
        "[camera]",
        *_lines(CameraSettings, _CAMERA, {key: _CAMERA[key][0] for key in _SET_OF_CAMERA}),
        "",
        "# what the report prints of the test; what is missing is listed as missing",
        "# [record]",
        *_lines(RecordSettings, _RECORD, {}),
        "",
        "# A capture is one thermal frame of one side in one load state. For the first one, take the # away from the",
        "# line [[capture]] and from the keys below it that you know; copy the block for every further one.",
        "# [[capture]]",
        *_lines(CaptureSettings, _CAPTURE, {}),
        "",
    ]
    return "\n".join(lines)


# the keys of the camera that are written out: they have a meaning for every camera, and defaults that suit most
_SET_OF_CAMERA = ("band_um", "accuracy_c", "accuracy_percent", "netd_c")


def _lines(section: type[BaseModel], known: Mapping[str, tuple[str, str]], given: Mapping[str, str]) -> list[str]:
    """A line for each key of a section: set where a value is given, else as a comment with an example."""
    lines = []
    for key, field in section.model_fields.items():
        example, words = known.get(key, (_default(field.default), ""))
        remark = f"  # {words}" if words else ""
        lines.append(f"{key} = {given[key]}{remark}" if key in given else f"# {key} = {example}{remark}")
    return lines


def _default(value: object) -> str:
    """A default as TOML writes it; a blank text where there is none."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, tuple):
        return "[" + ", ".join(_default(item) for item in value) + "]"
    return f'"{value}"' if isinstance(value, str) and value else '"…"'
