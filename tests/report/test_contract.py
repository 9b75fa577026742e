"""``results.json`` as programs read it: every key, type and null, and verdicts that follow from their own numbers."""

from __future__ import annotations

import json
import math
import shutil
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from overlay.job.analyse import analyse
from overlay.job.analysis import Analysis
from overlay.job.read import read_job
from overlay.report.results import results

Json = dict[str, Any]

NUMBER, NUMBER_OR_NULL, TEXT, TEXT_OR_NULL, WHOLE, FLAG = "number", "number?", "text", "text?", "whole", "flag"
STATES = ("read", "small", "shiny", "hidden", "contact")
VERDICTS = ("over", "undecided", "near", "clear", "unseen", "unrated")
MODELS = ("similarity", "affine", "homography", "camera")
TOP: Json = {
    "format": WHOLE, "tool": TEXT, "version": TEXT, "job": TEXT,
    "inputs": [{"file": TEXT, "sha256": TEXT}],
    "board": {"name": TEXT, "revision": TEXT},
    "requirement": {"ambient_max_c": NUMBER, "margin_c": NUMBER, "confidence": NUMBER, "derating": TEXT},
    "captures": [{
        "name": TEXT, "side": TEXT,
        "registration": {
            "model": TEXT, "pixel_from_board": [[NUMBER]],
            "points": [{
                "at": TEXT_OR_NULL, "pixel": [NUMBER], "board_mm": [NUMBER], "residual_px": NUMBER,
                "left_out_px": NUMBER_OR_NULL, "suspect": FLAG,
            }],
            "rms_px": NUMBER_OR_NULL, "rms_mm": NUMBER_OR_NULL, "mm_per_px": NUMBER,
        },
        "hot_spots": [{
            "rank": WHOLE, "pixel": [NUMBER], "board_mm": [NUMBER], "z_mm": NUMBER, "position_u_mm": NUMBER,
            "temperature_c": NUMBER, "u_c": NUMBER, "rise_k": NUMBER,
            "candidates": [{"refdes": TEXT_OR_NULL, "probability": NUMBER}],
        }],
    }],
    "components": [{
        "refdes": TEXT, "side": TEXT, "package": TEXT, "part_number": TEXT, "kind": TEXT, "center_mm": [NUMBER],
        "readings": [{
            "capture": TEXT, "state": TEXT, "peak_c": NUMBER_OR_NULL, "mean_c": NUMBER_OR_NULL, "u_c": NUMBER_OR_NULL,
            "apparent_peak_c": NUMBER_OR_NULL, "pixels": NUMBER, "visible": NUMBER, "emissivity": NUMBER_OR_NULL,
            "emissivity_u": NUMBER_OR_NULL, "why": [TEXT],
        }],
        "worst": {
            "capture": TEXT_OR_NULL, "projected_c": NUMBER_OR_NULL, "limit_c": NUMBER_OR_NULL,
            "margin_c": NUMBER_OR_NULL, "u_c": NUMBER_OR_NULL, "probability_within": NUMBER_OR_NULL, "verdict": TEXT,
            "why": [TEXT],
        },
    }],
    "summary": dict.fromkeys(VERDICTS, WHOLE),
}  # fmt: skip


def is_a(kind: str, value: object) -> bool:
    if kind.endswith("?"):
        return value is None or is_a(kind[:-1], value)
    if kind == FLAG:
        return isinstance(value, bool)
    if kind == TEXT:
        return isinstance(value, str)
    if isinstance(value, bool):
        return False
    if kind == WHOLE:
        return isinstance(value, int)
    return isinstance(value, int | float) and math.isfinite(value)


def departures(shape: Any, value: Any, place: str = "") -> list[str]:
    """Where a JSON value departs from its documented shape; further keys are allowed."""
    if isinstance(shape, str):
        return [] if is_a(shape, value) else [f"{place}: {value!r} is no {shape}"]
    if isinstance(shape, list):
        if not isinstance(value, list):
            return [f"{place}: {value!r} is no list"]
        return [word for k, item in enumerate(value) for word in departures(shape[0], item, f"{place}[{k}]")]
    if not isinstance(value, dict):
        return [f"{place}: {value!r} is no object"]
    missing = [f"{place}.{key} is missing" for key in shape if key not in value]
    return missing + [
        word for key, inner in shape.items() if key in value for word in departures(inner, value[key], f"{place}.{key}")
    ]


def contradictions(found: Json) -> list[str]:
    """Where values of one file contradict each other or the rules they follow from."""
    wrong: list[str] = []
    names = [capture["name"] for capture in found["captures"]]
    every = {part["refdes"] for part in found["components"]}
    for capture in found["captures"]:
        spots, registration = capture["hot_spots"], capture["registration"]
        wrong += [] if registration["model"] in MODELS else [f"model {registration['model']}"]
        wrong += [] if registration["pixel_from_board"][2][2] == 1.0 else ["the matrix is not scaled to 1"]
        wrong += [] if [spot["rank"] for spot in spots] == list(range(1, len(spots) + 1)) else ["ranks"]
        wrong += [] if len(spots) <= 50 else ["more than 50 hot spots"]
        rises = [spot["rise_k"] for spot in spots]
        wrong += [] if rises == sorted(rises, reverse=True) else ["hot spots are not ranked by rise"]
        for spot in spots:
            shares = [item["probability"] for item in spot["candidates"]]
            wrong += [] if abs(sum(shares) - 1.0) < 1e-4 and min(shares) >= 0.0 else [f"{spot['rank']}: {shares}"]
            wrong += [] if shares == sorted(shares, reverse=True) else [f"{spot['rank']}: the likeliest is not first"]
            told = [item["refdes"] for item in spot["candidates"]]
            wrong += [] if len(set(told)) == len(told) else [f"{spot['rank']}: named twice"]
            wrong += [f"{spot['rank']}: no part {name}" for name in told if name is not None and name not in every]
    for part in found["components"]:
        wrong += [f"{part['refdes']}: {word}" for word in _part(part, names, found["requirement"])]
    counts = Counter(part["worst"]["verdict"] for part in found["components"])
    wrong += [] if found["summary"] == {name: counts[name] for name in VERDICTS} else ["the summary does not add up"]
    return wrong


def _part(part: Json, captures: list[str], requirement: Json) -> list[str]:
    wrong, readings, worst = [], part["readings"], part["worst"]
    if [reading["capture"] for reading in readings] != captures:
        wrong.append("not one reading for each capture")
    for reading in readings:
        state, numbers = reading["state"], [reading[key] for key in ("peak_c", "mean_c", "u_c")]
        if state not in STATES:
            wrong.append(f"state {state}")
        if state in ("read", "small", "contact") and (None in numbers[::2] or not reading["u_c"] > 0.0):
            wrong.append(f"{state} without a value")
        if state == "hidden" and numbers != [None] * 3:
            wrong.append("hidden, with a value")
        if state in ("hidden", "shiny", "small") and not reading["why"]:
            wrong.append(f"{state}, and nobody says why")
        if reading["mean_c"] is not None and reading["mean_c"] > reading["peak_c"]:
            wrong.append("its mean lies above its peak")
        if state != "hidden" and not 0.0 <= reading["visible"] <= 1.0:
            wrong.append(f"visible {reading['visible']}")
    verdict, kept = worst["verdict"], worst["probability_within"]
    trusted = {reading["capture"]: reading for reading in readings if reading["state"] in ("read", "small", "contact")}
    if (verdict == "unseen") != (worst["capture"] not in trusted):
        wrong.append(f"{verdict}, by capture {worst['capture']}")
    if verdict in ("unseen", "unrated"):
        if [worst["margin_c"], kept] != [None, None] or not worst["why"]:
            wrong.append(f"{verdict}, with a margin or without a reason")
        return wrong
    if abs(worst["margin_c"] - (worst["limit_c"] - worst["projected_c"])) > 0.002:
        wrong.append("margin is not limit minus projected")
    sure = requirement["confidence"]
    expected = "undecided"
    if kept <= 1.0 - sure:
        expected = "over"
    elif kept >= sure:
        expected = "near" if worst["margin_c"] < requirement["margin_c"] else "clear"
    if verdict != expected:
        wrong.append(f"{verdict} at P {kept} and margin {worst['margin_c']}: it should be {expected}")
    normal = 0.5 * math.erfc(-worst["margin_c"] / worst["u_c"] / math.sqrt(2.0))
    small = trusted[worst["capture"]]["state"] == "small"
    if small and abs(kept - 0.5) > abs(normal - 0.5) + 1e-3:
        wrong.append(f"P {kept} of a small part claims more than margin and u_c do ({normal:.4f})")
    if not small and trusted[worst["capture"]]["emissivity"] >= 0.8 and abs(normal - kept) > 1e-3:
        wrong.append(f"P {kept} does not follow from margin and u_c ({normal:.4f})")
    return wrong


def held(analysis: Analysis) -> Json:
    found: Json = json.loads(json.dumps(results(analysis), allow_nan=False))
    assert departures(TOP, found) == []
    assert contradictions(found) == []
    return found


def test_the_demonstration_keeps_the_documented_form(demo: Analysis) -> None:
    found = held(demo)
    assert len(found["captures"]) == 3
    assert all(found["summary"][name] for name in ("over", "clear", "unseen", "unrated"))


def test_a_board_without_tables_keeps_it_too(small_board: Path, tmp_path: Path) -> None:
    place = Path(shutil.copytree(small_board, tmp_path / "job"))
    text = (place / "job.toml").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith(("parts", "bodies", "outline", "hfov_deg"))]
    (place / "job.toml").write_text("\n".join(kept) + "\n", encoding="utf-8")
    found = held(analyse(read_job(place)))
    assert set(Counter(part["worst"]["verdict"] for part in found["components"])) <= {"unseen", "unrated"}


def test_the_projection_follows_its_formula(small_board: Path, tmp_path: Path) -> None:
    scale = 1.8
    place = Path(shutil.copytree(small_board, tmp_path / "job"))
    text = (place / "job.toml").read_text(encoding="utf-8")
    text = text.replace("ambient_max_c = 60.0", "ambient_max_c = 85.0") + f"rise_scale = {scale}\n"
    (place / "job.toml").write_text(text, encoding="utf-8")
    analysis = analyse(read_job(place))
    found = held(analysis)
    ambient_c = analysis.captures[0].settings.ambient_c
    judged = [part for part in found["components"] if part["worst"]["verdict"] not in ("unseen", "unrated")]
    assert len(judged) >= 10
    for part in judged:
        rise = part["readings"][0]["peak_c"] - ambient_c
        assert part["worst"]["projected_c"] == pytest.approx(85.0 + scale * rise, abs=0.01), part["refdes"]
