"""Runs the library over simulated boards and lays each part's reading beside what is true of it."""

from __future__ import annotations

import hashlib
import json
import tempfile
import time
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from demo_board.simulation.band import BandTable
from demo_board.simulation.boards import make_board
from demo_board.simulation.kinds import KINDS
from overlay.job.analyse import analyse
from overlay.job.read import read_job
from overlay.margin.model import Margin
from overlay.margin.verdict import probability_within
from overlay.uncertainty import combined_k, largest

SIMULATION = Path(__file__).parents[2] / "demo_board" / "simulation"
# taken when the simulation is loaded: what is edited later in a run is not what makes its boards
DIGEST = hashlib.sha256(b"".join(path.read_bytes() for path in sorted(SIMULATION.glob("*.py")))).hexdigest()
TABLE = BandTable(8.0, 14.0)


@dataclass(frozen=True)
class Outcome:
    """One part in one capture: the truth, the reading, and the verdict where this capture was the worst."""

    board: str
    kind: str
    refdes: str
    true_peak_c: float | None
    true_mean_c: float | None
    visible: float
    px: float  # short side of the top face
    height_mm: float
    shiny: bool
    source: bool
    shaded: bool  # beside a hotter part: it need not be a maximum of its own
    state: str
    peak_c: float | None
    mean_c: float | None
    u_c: float | None
    camera_k: float  # what the camera's own error alone does to this reading
    named_first: bool  # it is the first candidate of a hot spot
    verdict: str
    probability_within: float | None
    true_margin_c: float | None
    largest: str = ""  # the largest term behind the margin …
    settled_without: tuple[str, ...] = ()  # … and those that leave it undecided: without any one of them it is not

    @property
    def hidden(self) -> bool:
        return self.visible < 0.5

    @property
    def error_k(self) -> float | None:
        """Of the peak, the camera's own error included."""
        return None if self.peak_c is None or self.true_peak_c is None else self.peak_c - self.true_peak_c


@dataclass(frozen=True)
class Harvest:
    """All outcomes of one board, how long the analysis took, and whom the hot spots name first."""

    outcomes: tuple[Outcome, ...]
    seconds: float
    first_names: tuple[tuple[str | None, bool], ...]  # (refdes, is it a source) of every hot spot


def boards_folder() -> Path:
    """Where boards are kept between runs: a new place whenever the simulation changes."""
    return Path(tempfile.gettempdir()) / "board_overlay_truth" / DIGEST[:12]


def simulated_board(kind: str, seed: int, folder: Path | None = None) -> Path:
    """The job folder of a simulated board, made when it is not there yet."""
    place = (folder or boards_folder()) / kind.replace(" ", "_") / str(seed)
    if not (place / "truth.json").is_file():
        make_board(place, KINDS[kind], seed)
    return place


def harvest(place: Path, kind: str) -> Harvest:
    """Analyse one job folder that has a truth beside it."""
    truth: dict[str, Any] = json.loads((place / "truth.json").read_text(encoding="utf-8"))
    job = read_job(place)
    start = time.perf_counter()
    analysis = analyse(job)
    seconds = time.perf_counter() - start
    margins = {margin.refdes: margin for margin in analysis.margins}
    outcomes, names = [], []
    for capture in analysis.captures:
        told = truth["captures"][capture.name]
        readings = {reading.refdes: reading for reading in capture.reading.readings}
        first = [spot.candidates[0].refdes for spot in capture.reading.hot_spots]
        sources = {row["refdes"] for row in told["parts"] if row["source"]}
        names += [(name, name in sources) for name in first]
        for row in told["parts"]:
            reading, margin = readings[row["refdes"]], margins[row["refdes"]]
            worst = margin.capture == capture.name or margin.capture is None
            outcomes.append(
                Outcome(
                    board=f"{kind} {place.name}",
                    kind=kind,
                    refdes=row["refdes"],
                    true_peak_c=row["peak_c"],
                    true_mean_c=row["mean_c"],
                    visible=row["visible"],
                    px=row["pixels_across"],
                    height_mm=row["height_mm"],
                    shiny=row["shiny"],
                    source=row["source"],
                    shaded=row["shaded"],
                    state=reading.state,
                    peak_c=reading.peak_c,
                    mean_c=reading.mean_c,
                    u_c=reading.u_c,
                    camera_k=_camera_error_k(row, told, capture.settings.reflected_or_ambient_c),
                    named_first=row["refdes"] in first,
                    verdict=margin.verdict if worst else "",
                    probability_within=margin.probability_within if worst else None,
                    true_margin_c=truth.get("margins_c", {}).get(row["refdes"]),
                    largest=str(largest(margin.budget, 1)[0].name) if margin.budget else "",
                    settled_without=_settled_without(margin, job.settings.requirement.confidence),
                )
            )
    return Harvest(tuple(outcomes), seconds, tuple(names))


def _settled_without(margin: Margin, confidence: float) -> tuple[str, ...]:
    """Terms of an undecided margin, each of which alone keeps it from being decided."""
    if margin.verdict != "undecided" or margin.margin_c is None:
        return ()
    found = []
    for name in dict.fromkeys(term.name for term in margin.budget):
        u = combined_k(tuple(term for term in margin.budget if term.name is not name))
        within = probability_within(margin.margin_c, 0.0, u, margin.freedom)
        if not 1.0 - confidence < within < confidence:
            found.append(str(name))
    return tuple(found)


def harvest_all(kinds: Iterable[str], seeds: Iterable[int], folder: Path | None = None) -> dict[str, list[Harvest]]:
    """Harvests by kind."""
    seeds = list(seeds)
    return {kind: [harvest(simulated_board(kind, seed, folder), kind) for seed in seeds] for kind in kinds}


def _camera_error_k(row: dict[str, Any], told: dict[str, Any], reflected_c: float) -> float:
    """Surface temperature's share of the instrument's common error: its offset and gain, carried through ε."""
    if row["peak_c"] is None:
        return 0.0
    emissivity = row["emissivity"]
    leaving = emissivity * TABLE.exitance(row["peak_c"]) + (1 - emissivity) * TABLE.exitance(reflected_c)
    apparent_c = float(TABLE.temperature_c(leaving))
    error_k = told["camera_offset_c"] + (told["camera_gain"] - 1) * (apparent_c - 23.0)
    return float(error_k * TABLE.slope(apparent_c) / (emissivity * TABLE.slope(row["peak_c"])))
