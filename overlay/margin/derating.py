"""Derating policies: how far below its rating a part is to be kept.

Policies are tables, one rule a row, each with the clause it comes from. Those shipped in ``policies/`` hold only
rows that could be read in the standard or in a transcription of it. A policy of one's own is a CSV of the same columns:

========== =====================================================================================
kind       kind of part, as in the parts table
form       ``abs``, ``offset``, ``fraction``, ``min``, ``not-allowed``, ``load``, ``load_fraction``
value      °C for abs and min, K below the rating for offset, a share for the fractions
offset_k   the second figure of min: the lower of value and rating − offset_k
at         where the limit holds: surface, junction, ambient
rated_…_c  the rule holds for ratings from … to only
hidden_k   what a hot spot inside may be hotter than the surface that is seen
points     of load: ``temperature:share`` pairs; straight between them, nothing allowed beyond the last
clause     where the rule stands
========== =====================================================================================
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

import numpy as np

from overlay.board.derating_points import parse_points
from overlay.board.kinds import KINDS, known_kind
from overlay.board.model import LimitAt
from overlay.errors import Problem, input_error, raise_errors
from overlay.tables import Row, read_table

Form = Literal["abs", "offset", "fraction", "min", "not-allowed", "load", "load_fraction"]
FORMS: tuple[Form, ...] = get_args(Form)
_LOAD_FORMS = ("load", "load_fraction")
_RELATIVE_FORMS = ("offset", "fraction", "min")
_PLACES: tuple[LimitAt, ...] = get_args(LimitAt)
_CONDITIONS = ("at", "rated_from_c", "rated_to_c", "hidden_k")
_COLUMNS = ("kind", "form", "value", "offset_k", *_CONDITIONS, "points", "clause", "note")
_FOLDER = Path(__file__).parent / "policies"
PUBLISHED = {
    "MIL-STD-975M": "mil-std-975m.csv",
    "NAVSEA-SD-18 protected": "navsea-sd-18-protected.csv",
    "NAVSEA-SD-18 normal": "navsea-sd-18-normal.csv",
    "NAVSEA-SD-18 severe": "navsea-sd-18-severe.csv",
    "RAC severe": "rac-severe.csv",
    "RAC benign": "rac-benign.csv",
    "ECSS-Q-ST-30-11C": "ecss-q-st-30-11c.csv",
    "MIL-DTL-917": "mil-dtl-917.csv",
}


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of a policy."""

    kind: str
    form: Form
    value: float | None
    offset_k: float | None
    at: LimitAt
    rated_from_c: float | None
    rated_to_c: float | None
    hidden_k: float
    points: tuple[tuple[float, float], ...]
    clause: str
    note: str
    line: int

    @property
    def relative(self) -> bool:
        """Whether it is worked out from the part's own rating, and so holds where that does."""
        return self.form in _RELATIVE_FORMS

    def covers(self, rated_c: float) -> bool:
        """Whether the rule holds for a rating."""
        above = self.rated_from_c is None or rated_c >= self.rated_from_c
        return above and (self.rated_to_c is None or rated_c <= self.rated_to_c)

    def allowed_c(self, rated_c: float) -> float | None:
        """Highest temperature allowed where the rule holds (``at``); None where the part is not allowed at all."""
        if self.form == "abs":
            return self.value
        if self.form == "offset" and self.value is not None:
            return rated_c - self.value
        if self.form == "fraction" and self.value is not None:
            return rated_c * self.value  # of the figure in °C, as the standards do it
        if self.form == "min" and self.value is not None and self.offset_k is not None:
            return min(self.value, rated_c - self.offset_k)
        return None

    def allowed_load(self, temperature_c: float, full: float = 1.0) -> float:
        """Share of the rated power (or current) allowed at a temperature; ``full`` is the share without the policy."""
        if self.form == "load":
            return load_line(temperature_c, self.points)
        return full * (1.0 if self.value is None else self.value)


@dataclass(frozen=True, slots=True)
class Policy:
    """A derating policy: its name and its rules, in the order in which they are tried."""

    name: str
    rules: tuple[Rule, ...]

    def temperature_rule(self, kind: str, rated_c: float) -> Rule | None:
        """The first rule for the temperature of such a part; None where the policy has none."""
        return next((rule for rule in self._of(kind) if rule.form not in _LOAD_FORMS and rule.covers(rated_c)), None)

    def load_rule(self, kind: str) -> Rule | None:
        """The first rule for the load of such a part; None where the policy has none."""
        return next((rule for rule in self._of(kind) if rule.form in _LOAD_FORMS), None)

    def _of(self, kind: str) -> Iterator[Rule]:
        return (rule for rule in self.rules if rule.kind == kind)


def load_line(temperature_c: float, points: tuple[tuple[float, float], ...]) -> float:
    """A derating line: level before its first point, straight between points, zero beyond the last."""
    if temperature_c > points[-1][0]:
        return 0.0
    return float(np.interp(temperature_c, [point[0] for point in points], [point[1] for point in points]))


def read_policy(name_or_file: str, folder: Path) -> Policy | None:
    """The policy of that published name, or of a CSV file in the job's folder; None for ``none``.

    Raises
    ------
    InputError
        For an unknown name (with the known ones), or with every row of the file that cannot be used.
    """
    wanted = name_or_file.strip()
    if _plain(wanted) in ("", "none"):
        return None
    if wanted.lower().endswith((".csv", ".tsv", ".xlsx")):
        return _read_rules(folder / wanted, wanted, wanted)
    for name, file in PUBLISHED.items():
        if _plain(name) == _plain(wanted):
            return _read_rules(_FOLDER / file, file, name)
    near = difflib.get_close_matches(_plain(wanted), [_plain(name) for name in PUBLISHED], 1, 0.5)
    nearest = next((f"; the nearest is {name!r}" for name in PUBLISHED if near and _plain(name) == near[0]), "")
    remedy = f"known policies are {', '.join(PUBLISHED)} and none{nearest}; a policy of your own is a .csv file"
    raise input_error("job.toml", None, f"unknown derating policy {wanted!r}", remedy, column="derating", value=wanted)


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def _read_rules(path: Path, file: str, name: str) -> Policy:
    table = read_table(path, file, _COLUMNS, required=("kind", "form"))
    problems: list[Problem] = []
    rules = [rule for row in table.rows if (rule := _rule(row, problems)) is not None]
    if not table.rows:
        problems.append(Problem("error", file, table.heading_line, "holds no rule", "add a row for each kind of part"))
    raise_errors(problems)
    return Policy(name, tuple(rules))


def _rule(row: Row, problems: list[Problem]) -> Rule | None:
    before = len(problems)
    kind, form, at = known_kind(row.text("kind")), row.text("form").lower(), row.text("at").lower() or "surface"
    if kind is None:
        problems.append(row.problem("kind", "is no kind of part", f"known kinds are {', '.join(KINDS)}"))
    if form not in FORMS:
        problems.append(row.problem("form", "is no form of a rule", f"known forms are {', '.join(FORMS)}"))
    if at not in _PLACES:
        problems.append(row.problem("at", "is no place for a limit", f"write {', '.join(_PLACES)}"))
    share = form in ("fraction", "load_fraction")
    value = row.number(
        "value",
        problems,
        low=0.0 if share or form == "offset" else -100.0,
        high=1.0 if share else 1000.0,
        required=form in ("abs", "offset", "fraction", "min", "load_fraction"),
    )
    offset_k = row.number("offset_k", problems, low=0.0, high=1000.0, required=form == "min")
    rated_from_c = row.number("rated_from_c", problems, low=-100.0, high=2000.0)
    rated_to_c = row.number("rated_to_c", problems, low=-100.0, high=2000.0)
    hidden_k = row.number("hidden_k", problems, low=0.0, high=200.0)
    points = _points(row, problems) if form == "load" else ()
    if len(problems) > before or kind is None:
        return None
    return Rule(
        kind,
        next(known for known in FORMS if known == form),
        value,
        offset_k,
        next(place for place in _PLACES if place == at),
        rated_from_c,
        rated_to_c,
        hidden_k or 0.0,
        points,
        row.text("clause"),
        row.text("note"),
        row.line,
    )


def _points(row: Row, problems: list[Problem]) -> tuple[tuple[float, float], ...]:
    points = parse_points(row, "points", problems)
    if not points and not row.text("points"):
        remedy = "write ascending temperature:share pairs such as 70:0.6 118:0"
        problems.append(row.problem("points", "are missing: the rule is no derating line", remedy))
    return points
