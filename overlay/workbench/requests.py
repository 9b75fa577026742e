"""What a page may ask for: shapes and bounds of every request."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Coordinate = Annotated[float, Field(ge=-1e5, le=1e5)]  # px or mm beyond any frame or board
Pair = tuple[Coordinate, Coordinate]
Text = Annotated[str, Field(max_length=200)]  # longer is no name
Index = Annotated[int, Field(ge=0, le=10_000)]  # more points than a person clicks


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class OfSession(_Body):
    session: Annotated[str, Field(max_length=64)]


class Look(OfSession):
    """Whether the job's files are still those that a page shows."""

    version: Annotated[int, Field(ge=0)]


class OfCapture(OfSession):
    capture: Text


class Place(OfCapture):
    """Tie a part, or a place of the board's surface, to a pixel."""

    do: Literal["place"]
    at: Text | None = None
    board_mm: Pair | None = None
    z_mm: Annotated[float, Field(ge=-50.0, le=500.0)] = 0.0
    pixel: Pair


class Move(OfCapture):
    do: Literal["move"]
    index: Index
    pixel: Pair


class OnPoint(OfCapture):
    do: Literal["remove", "snap", "unsnap"]
    index: Index


class OnCapture(OfCapture):
    """Undo and redo; follow another capture's pose; refine all points; drop all."""

    do: Literal["undo", "redo", "follow", "refine", "clear"]


class Edit(_Body):
    """Any of the edits."""

    edit: Annotated[Place | Move | OnPoint | OnCapture, Field(discriminator="do")]


class Drag(OfCapture):
    """A point on its way: one that is placed already, or a place of the board that has none yet."""

    pixel: Pair
    index: Index | None = None
    at: Text | None = None
    board_mm: Pair | None = None
    z_mm: Annotated[float, Field(ge=-50.0, le=500.0)] = 0.0


class Where(OfCapture):
    pixel: Pair


class Places(OfCapture):
    """Places of the board's surface under several pixels."""

    pixels: Annotated[list[Pair], Field(max_length=500)]


class Difference(OfCapture):
    """A capture less another one; ``rises``: of what each lies above its ambient."""

    other: Text
    rises: bool = True


class Confirm(OfCapture):
    """The pixel at which a person sees the part that a proposal asks for."""

    pixel: Pair


class Save(OfSession):
    anyway: bool = False


class StartJob(_Body):
    """A job begun from files of the folder; an empty name is none."""

    placement: Text
    outline: Text = ""
    parts: Text = ""


class Preview(_Body):
    """A frame to look at before it belongs to a capture, with the values that turn it into temperatures."""

    cells: dict[Text, Text]


class WriteCapture(OfSession):
    """Begin a capture, or change the values of the one called ``former``."""

    former: Text | None = None
    cells: dict[Text, Text]
    record: dict[Text, Annotated[str, Field(max_length=2000)]] = {}


class WriteSection(OfSession):
    """Change the camera's or the requirement's values."""

    section: Literal["camera", "requirement"]
    cells: dict[Text, Text]


class ProbeOn(_Body):
    """Where exactly a thermocouple goes on a part."""

    refdes: Text


class Try(_Body):
    """Values to be tried on the last reading: of the requirement, and of one part."""

    refdes: Text | None = None
    cells: dict[Text, Text]


class Who(_Body):
    capture: Text
    pixel: Pair


class FillBody(_Body):
    package: Annotated[str, Field(min_length=1, max_length=200)]
    cells: dict[Text, Text]


class FillRating(_Body):
    refdes: Text
    alone: bool = False
    cells: dict[Text, Text]
