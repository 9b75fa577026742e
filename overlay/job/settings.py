"""``job.toml``: every key, its unit and its bounds."""

from __future__ import annotations

import itertools
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from overlay.registration.model import Lens

Fraction = Annotated[float, Field(gt=0.0, le=1.0)]  # none of nothing, at most all
Celsius = Annotated[float, Field(ge=-100.0, le=2000.0)]  # colder than any chamber, hotter than any solder
# Bounds far beyond any bench, so that what lies outside is a slip of the pen and no later number overflows.
Kelvins = Annotated[float, Field(ge=0.0, le=1000.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]
Ratio = Annotated[float, Field(ge=1e-3, le=1e3)]
Metres = Annotated[float, Field(ge=1e-3, le=1e3)]
Period = Annotated[float, Field(ge=1e-4, le=1e7)]  # seconds: a fast camera, four months
Seconds = Annotated[float, Field(ge=-1e10, le=1e10)]  # times since 1970 too
Millimetres = Annotated[float, Field(ge=-1e5, le=1e5)]
Linear = Annotated[float, Field(ge=-1e6, le=1e6)]  # of raw counts
# The standard atmosphere's lowest layer (ISO 2533, from memory), from the lowest shores up: densities are those of it.
Altitude = Annotated[float, Field(ge=-500.0, le=11_000.0)]
Pixels = Annotated[int, Field(ge=8, le=10000)]
Wavelength = Annotated[float, Field(ge=0.7, le=1000.0)]  # what radiometry.Band can integrate


class _Section(BaseModel):
    # deferred: only the whole is ever built, the sections as pieces of it
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=False, defer_build=True)


class BoardSettings(_Section):
    name: str = ""
    revision: str = ""
    placement: str
    placement_units: Literal["mm", "um", "mil", "inch"] | None = None
    placement_side: Literal["top", "bottom"] | None = None
    panel_board: Annotated[int, Field(ge=1)] | Literal["all"] | None = None
    step: str | None = None
    outline: str | None = None
    outline_units: Literal["mm", "um", "mil", "inch"] | None = None
    outline_shift_mm: tuple[Millimetres, Millimetres] = (0.0, 0.0)
    parts: str | None = None
    bom: str | None = None
    bodies: str | None = None
    bottom_rotation: Literal["top-view", "bottom-view"] = "top-view"
    bottom_x: Literal["as-is", "mirrored"] = "as-is"
    zero_orientation: Literal["A", "B"] | None = None
    laminate_limit_c: Celsius | None = None  # of the bare board: its maximum operating temperature
    laminate_limit_source: str = ""


class TouchSettings(_Section):
    """A surface that hands may touch, made of parts, and its limit in a room of 25 °C."""

    name: Annotated[str, Field(min_length=1)]
    parts: Annotated[tuple[str, ...], Field(min_length=1)]
    limit_c: Celsius
    limit_source: str = ""


class RequirementSettings(_Section):
    ambient_max_c: Celsius = 60.0
    margin_c: Kelvins = 10.0
    confidence: Annotated[float, Field(gt=0.5, le=0.999999)] = 0.95
    derating: str = "none"
    enclosure_rise_k: Kelvins = 0.0  # air around the board in the product, above the ambient outside
    enclosure_rise_u_k: Kelvins = 0.0
    altitude_m: Altitude = 0.0  # the highest place it must work at, by natural convection


class CameraSettings(_Section):
    band_um: tuple[Wavelength, Wavelength] = (8.0, 14.0)
    accuracy_c: Kelvins = 2.0
    accuracy_percent: Percent = 2.0
    netd_c: Kelvins = 0.06
    hfov_deg: Annotated[float, Field(gt=1.0, lt=150.0)] | None = None
    blur_px: Annotated[float, Field(ge=0.0, le=20.0)] | None = None
    pixels: tuple[Pixels, Pixels] | None = None  # columns, rows: for planning shots before a frame exists
    min_focus_m: Annotated[float, Field(gt=0.0, le=10.0)] = 0.1
    size_of_source: str | None = None  # a measured curve: side_px, share of the rise that a square of it shows
    nonuniformity_c: Kelvins = 0.3  # one standard uncertainty of the unevenness within a frame
    close_up_dpt: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0  # power of a close-up lens in front, in dioptres

    @model_validator(mode="after")
    def _band_ascends(self) -> CameraSettings:
        if not self.band_um[0] < self.band_um[1]:
            raise ValueError("band_um must ascend, such as [8.0, 14.0]")
        return self


class CaptureSettings(_Section):
    name: Annotated[str, Field(min_length=1)]
    frame: str
    frame_scale: Linear = 1.0
    frame_offset: Linear = 0.0
    side: Literal["top", "bottom"] = "top"
    control_points: str | None = None
    ambient_c: Celsius
    ambient_u_c: Kelvins = 0.5
    reflected_c: Celsius | None = None  # default: ambient_c
    reflected_u_c: Kelvins = 1.0
    humidity_percent: Annotated[float, Field(ge=0.0, le=100.0)] = 50.0
    distance_m: Metres | None = None
    frame_emissivity: Fraction = 1.0
    frame_reflected_c: Celsius | None = None
    window_transmittance: Fraction = 1.0
    window_transmittance_u: Annotated[float, Field(ge=0.0, le=1.0)] = 0.02
    window_reflectance: Annotated[float, Field(ge=0.0, lt=1.0)] = 0.0
    window_c: Celsius | None = None  # default: ambient_c
    window_reflected_c: Celsius | None = None  # what the window mirrors: the camera's side; default: ambient_c
    rise_scale: Ratio = 1.0
    # default: 0 at a rise scale of 1, else a share of what is added
    rise_scale_u: Annotated[float, Field(ge=0.0, le=1e3)] | None = None
    # measured electrical power that stays on the board
    input_power_w: Annotated[float, Field(gt=0.0, le=1e5)] | None = None
    input_power_u_w: Annotated[float, Field(ge=0.0, le=1e5)] = 0.0
    load: Ratio | None = None  # current of this state over the required one, where several states are captured
    altitude_m: Altitude = 0.0  # of the bench; sea level is the cautious guess
    ambient_log: str | None = None
    frame_period_s: Period | None = None
    frame_times_s: tuple[Seconds, ...] | None = None
    emissivity_map: tuple[str, ...] = ()
    emissivity_map_c: tuple[Celsius, ...] = ()
    emissivity_map_u_c: Kelvins = 0.5
    emissivity_map_reflected_c: Celsius | None = None
    emissivity_map_points: str | None = None
    contact_readings: str | None = None
    reflection_check: str | None = None
    scale_bar: tuple[float, float, float, float] | None = None  # of a picture in false colour, in pixels
    scale_c: tuple[Celsius, Celsius] | None = None

    @model_validator(mode="after")
    def _belongs_together(self) -> CaptureSettings:
        if self.frame_emissivity < 1.0 and self.frame_reflected_c is None:
            raise ValueError("frame_reflected_c is needed where frame_emissivity < 1: what the instrument was set to")
        if len(self.emissivity_map) != len(self.emissivity_map_c):
            raise ValueError("emissivity_map_c needs one temperature for each frame of emissivity_map")
        if len(self.emissivity_map) > 2:
            raise ValueError("emissivity_map takes one or two frames")
        if self.frame_period_s is not None and self.frame_times_s is not None:
            raise ValueError("give frame_period_s or frame_times_s, not both")
        if self.window_transmittance + self.window_reflectance > 1.0 + 1e-9:
            raise ValueError("window_transmittance + window_reflectance must not exceed 1")
        if (self.scale_bar is None) != (self.scale_c is None):
            raise ValueError("scale_bar and scale_c belong together: where the bar's ends are, and their temperatures")
        if self.scale_c is not None and self.scale_c[0] == self.scale_c[1]:
            raise ValueError("scale_c needs two different temperatures")
        if self.load is not None and self.rise_scale != 1.0:
            raise ValueError("give load or rise_scale, not both: one follows from the other")
        times = self.frame_times_s
        if times is not None and any(b <= a for a, b in itertools.pairwise(times)):
            raise ValueError("frame_times_s must ascend")
        return self

    @property
    def colour_scale(self) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
        """Where the scale bar of a picture in false colour is, and the temperatures at its ends."""
        return None if self.scale_bar is None or self.scale_c is None else (self.scale_bar, self.scale_c)

    @property
    def reflected_or_ambient_c(self) -> float:
        return self.ambient_c if self.reflected_c is None else self.reflected_c


class RecordSettings(_Section):
    """What a test record names besides the readings; free text, nothing is worked out from it."""

    date: str = ""
    place: str = ""
    operator: str = ""
    sample: str = ""
    serial: str = ""
    supply: str = ""
    load: str = ""
    duration: str = ""
    orientation: str = ""
    airflow: str = ""
    instrument: str = ""
    instrument_serial: str = ""
    lens: str = ""
    calibration_due: str = ""
    notes: str = ""


class Settings(_Section):
    format: Literal[1]
    board: BoardSettings
    requirement: RequirementSettings = Field(default_factory=RequirementSettings)
    camera: CameraSettings = Field(default_factory=CameraSettings)
    record: RecordSettings = Field(default_factory=RecordSettings)
    touch: tuple[TouchSettings, ...] = ()
    capture: tuple[CaptureSettings, ...] = ()

    @model_validator(mode="after")
    def _names_differ(self) -> Settings:
        names = [capture.name for capture in self.capture]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two captures are named {twice[0]!r}; give each its own name")
        return self


def lens_of(camera: CameraSettings, capture: CaptureSettings) -> Lens:
    """What a job tells of the camera in one capture."""
    return Lens(camera.hfov_deg, capture.distance_m)
