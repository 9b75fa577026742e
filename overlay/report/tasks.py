"""What to do next: the work list that follows from verdicts, reasons and budgets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from overlay.margin.areas import AreaMargin
from overlay.margin.model import MarginCode
from overlay.reading.model import ReadingCode
from overlay.registration.model import FaceCode
from overlay.report.content import PartRow, hot_unjudged
from overlay.uncertainty import TermName, largest

_MOST_NAMED = 10  # names in one line of the work list


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do, for which parts, and why."""

    what: str
    parts: tuple[str, ...]
    why: str

    @property
    def words(self) -> str:
        """In one sentence, with the first of its parts by name."""
        return f"{self.what}: {self.named(_MOST_NAMED)} ({self.why})"

    @property
    def shortened(self) -> bool:
        """Whether `words` leave parts out."""
        return len(self.parts) > _MOST_NAMED

    def named(self, most: int) -> str:
        """The first of its parts by name, and how many more there are."""
        more = f" and {len(self.parts) - most} more" if len(self.parts) > most else ""
        return ", ".join(self.parts[:most]) + more


# What to do and why, for one part or several: {it|them}.

# By reason, in the order in which the first that applies to a part is taken.
_FOR_UNSEEN: tuple[tuple[StrEnum, str, str], ...] = (
    (ReadingCode.SATURATED, "Take a frame in a higher range", "hotter than this range shows"),
    (
        ReadingCode.SHINY,
        "Tape or paint matt, or use a thermocouple",
        "shiny: infrared sees what {it mirrors|they mirror}",
    ),
    (ReadingCode.MIRRORS, "Tape or paint matt, or use a thermocouple", "{it|they} may mirror the room"),
    (ReadingCode.COLDER_THAN_BOARD, "Tape or paint matt, or use a thermocouple", "{it|they} may mirror the room"),
    (
        ReadingCode.COVERED,
        "Take away what lies over {it|them}, or use a thermocouple",
        "something no file lists seems to hide {it|them}",
    ),
    (ReadingCode.NO_SOLUTION, "Check emissivity and reflected_c, or use a thermocouple", "no temperature fits"),
    (FaceCode.HIDDEN, "Take a capture from another angle", "taller parts hide {it|them}"),
    (FaceCode.OUTSIDE_FRAME, "Move the camera so that the frame holds {it|them}", "outside the frame"),
    (FaceCode.BODY_UNKNOWN, "Give {its|their} size in bodies.csv", "no file knows {its|their} body"),
    (ReadingCode.LITTLE_VISIBLE, "Take a capture from another angle", "less than half of {it|them} shows"),
    (
        MarginCode.NO_BOARD_AROUND,
        "Measure the air or the board beside {it|them}",
        "the board around {it|them} could not be read",
    ),
    (ReadingCode.OTHER_SIDE, "Take a capture of {its|their} side", "no capture shows {it|them}"),
    (MarginCode.NO_CAPTURE, "Take a capture of {its|their} side", "no capture shows {it|them}"),
)
_FOR_UNRATED: tuple[tuple[StrEnum, str, str], ...] = (
    (
        MarginCode.NO_RULE,
        "Agree on a limit with whoever owns the policy",
        "the policy has no rule for {its|their} kind",
    ),
    (MarginCode.NOT_CHECKED, "Give power_w and rated_power_w in the parts table", "the policy limits {its|their} load"),
    (
        MarginCode.JUNCTION_UNKNOWN,
        "Give psi_jt_k_per_w and power_w, or θJC and a bead on the tab",
        "{its|their} limit is a junction's",
    ),
    (
        MarginCode.UNRATED,
        "Look up limit_c and limit_at in {its data sheet|their data sheets}",
        "nothing here can rate {it|them}",
    ),
)
_FOR_TERM = {
    TermName.CAMERA: ("Read with a thermocouple (board-overlay probe)", "the camera's own error decides"),
    TermName.EMISSIVITY: ("Tape or paint matt, or state {its|their} emissivity", "{its|their} emissivity decides"),
    TermName.STAGE: ("Measure the heated stage better (emissivity_map_u_c)", "the emissivity map decides"),
    TermName.REFLECTED: ("Measure reflected_c, or shade the board", "what {it mirrors|they mirror} decides"),
    TermName.FILL_AND_BLUR: ("Take a closer capture (board-overlay shots)", "{it covers|they cover} too few pixels"),
    TermName.PEAK_OVER_MEAN: ("Take a closer capture (board-overlay shots)", "{it covers|they cover} too few pixels"),
    TermName.TWO_WAYS: ("Take a closer capture (board-overlay shots)", "two ways of reading differ"),
    TermName.FACE_EDGE: (
        "Take a closer capture (board-overlay shots)",
        "{it is hottest at its|they are hottest at their} edge",
    ),
    TermName.CONTROL_POINTS: ("Place more or better control points", "{its|their} place in the frame decides"),
    TermName.POSITION: ("Check {its|their} body and placement", "{its|their} place in the frame decides"),
    TermName.BODY_UNKNOWN: ("Give {its|their} size in bodies.csv", "no file knows {its|their} body"),
    TermName.SETTLING: ("Record until {it has|they have} settled", "what is still to come decides"),
    TermName.AMBIENT: ("Measure the ambient better", "the ambient decides"),
    TermName.LOAD_FIT: ("Capture at the required load", "the way to the required load decides"),
    TermName.RISE_SCALE: ("Capture at the required load", "the rise scale decides"),
    TermName.PROJECTION: ("Measure nearer to the hottest ambient", "the projection decides"),
    TermName.AIR_UNKNOWN: ("Measure the air beside {it|them}", "the board around {it|them} is no proof for the air"),
    TermName.HIDDEN_PLACE: (
        "Say where {its|their} limit holds (limit_at, psi_jt_k_per_w, power_w)",
        "what is hidden decides",
    ),
    TermName.POWER: ("Measure {its|their} power", "the power behind the junction decides"),
    TermName.RESISTANCE: ("Look up ψJT for this board", "the way to the junction decides"),
}
_ELSE = ("Read with a thermocouple (board-overlay probe)", "nothing in the frame decides")


# Of surfaces that are no parts, by their kind and verdict.
_FOR_AREAS: dict[tuple[str, str], tuple[str, str]] = {
    ("laminate", "over"): ("Cool the board there, or take a laminate that bears more", "over the laminate's limit"),
    ("touch", "over"): ("Guard, cool or mark {it|them}", "too hot to touch"),
    ("laminate", "undecided"): ("Put a thermocouple on the laminate", "how hot it is there is not known well enough"),
    ("touch", "undecided"): ("Read with a thermocouple", "how hot {it is|they are} is not known well enough"),
    ("laminate", "unseen"): ("Take a capture of {its|their} side", "no capture shows {it|them}"),
    ("touch", "unseen"): ("Take a capture, or use a thermocouple", "no capture shows {it|them}"),
}


def tasks(rows: Sequence[PartRow], areas: Sequence[AreaMargin]) -> tuple[Task, ...]:
    """The work list, gravest first: what is over, undecided, hot and unrated, unseen, and what else is to be filled in.

    A part stands in one task: the first that would settle most of what is open. Surfaces that are no parts follow the
    parts of their verdict.
    """
    found: dict[tuple[str, str], list[str]] = {}

    def add_areas(verdict: str) -> None:
        for one in areas:
            what = _FOR_AREAS.get((one.area.kind, one.verdict))
            if one.verdict == verdict and what is not None:
                where = f" {one.where}" if one.where else ""
                found.setdefault(what, []).append(f"{one.area.name}{where}")

    def add(what: tuple[str, str], rows: Iterable[PartRow]) -> None:
        for row in rows:
            found.setdefault(what, []).append(row.refdes)

    over = [row for row in rows if row.verdict == "over"]
    by_temperature = [row for row in over if row.margin.margin_c is not None and row.margin.margin_c < 0.0]
    add(("Cool {it|them}, rate {it|them} anew or lower {its|their} load", "over {its|their} limit"), by_temperature)
    rest = [row for row in over if row.margin.margin_c is None or row.margin.margin_c >= 0.0]
    add(("Lower {its|their} load or replace {it|them}", "over the load or the kind that is allowed"), rest)
    add_areas("over")
    for row in rows:
        if row.verdict == "undecided":
            add(_for_undecided(row), [row])
    add_areas("undecided")
    hot = hot_unjudged(rows)
    named = {row.refdes for row in hot}
    for row in (*hot, *(row for row in rows if row.verdict == "unrated" and row.refdes not in named)):
        add(_by_reason(row, _FOR_UNRATED), [row])
    for row in rows:
        if row.verdict == "unseen":
            add(_by_reason(row, _FOR_UNSEEN), [row])
    add_areas("unseen")
    blank = [row for row in rows if any(reason.code is MarginCode.PLACE_NOT_STATED for reason in row.why)]
    add(("Say in limit_at where {its|their} limit holds", "blank for semiconductors"), blank)
    return tuple(
        Task(_counted(what, len(names)), tuple(names), _counted(why, len(names)))
        for (what, why), names in found.items()
    )


def _counted(text: str, count: int) -> str:
    """A text of one or of many: ``{it|them}``."""
    return re.sub(r"\{(.*?)\|(.*?)\}", lambda found: found[1 if count == 1 else 2], text)


def _for_undecided(row: PartRow) -> tuple[str, str]:
    """By the largest term of the budget that something can be done about."""
    if any(reason.code is MarginCode.LOAD for reason in row.why) and (row.margin.margin_c or 0.0) > 0.0:
        return (
            "Measure {its|their} power or current, and copy {its|their} derating_points",
            "{its|their} load is near what is allowed",
        )
    for term in largest(row.margin.budget, len(row.margin.budget)):
        if term.name in _FOR_TERM:
            return _FOR_TERM[term.name]
    return _ELSE


def _by_reason(row: PartRow, choices: Iterable[tuple[StrEnum, str, str]]) -> tuple[str, str]:
    codes = {reason.code for reason in row.why}
    return next(((what, why) for code, what, why in choices if code in codes), _ELSE)
