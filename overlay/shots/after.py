"""Which parts of a finished map a better frame would settle."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_SETTLED_BY_OTHER_MEANS = ("shiny", "contact")  # paint, tape or a thermocouple: no frame helps


def parts_to_take_again(results: Mapping[str, Any]) -> dict[str, str]:
    """Reason by refdes, from the contents of a ``results.json``.

    A part counts whose verdict is open and whose best reading is small, or who was hidden in every capture: more
    pixels, or another place of the camera, would tell. Shiny parts are left to paint or a thermocouple.
    """
    wanted: dict[str, str] = {}
    for row in results["components"]:
        worst = row.get("worst") or {}
        verdict = worst.get("verdict")
        states = {reading["state"] for reading in row.get("readings", ())}
        if states & set(_SETTLED_BY_OTHER_MEANS):
            continue
        if verdict == "unseen" and states <= {"hidden"}:
            wanted[row["refdes"]] = "hidden in every capture"
        elif verdict in ("undecided", "near") and "small" in states:
            wanted[row["refdes"]] = f"{verdict}, and less than 3 pixels wide"
        elif verdict == "undecided":
            wanted[row["refdes"]] = "undecided: more pixels narrow what size and blur leave open"
    return wanted


def rises_of(results: Mapping[str, Any]) -> dict[str, float]:
    """Rise over ambient at the required load by refdes, in kelvin, of the parts that were read."""
    ambient_c = results["requirement"]["ambient_max_c"]
    projected = {row["refdes"]: (row.get("worst") or {}).get("projected_c") for row in results["components"]}
    return {refdes: value - ambient_c for refdes, value in projected.items() if value is not None}
