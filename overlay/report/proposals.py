"""What `register --propose` and `--confirm` print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from overlay.job.propose import Confirmed
from overlay.registration.propose import Proposal


def proposals_text(proposals: Mapping[str, Proposal], files: Mapping[str, Path]) -> str:
    """Each capture's proposal, what to click on to confirm it, or why there is none and what would help."""
    if not proposals:
        return "no captures yet"
    lines = []
    for name, proposal in proposals.items():
        if proposal.registration is None:
            lines.append(f'"{name}": nothing proposed: {proposal.reason}; what would help: {proposal.remedy}')
            continue
        lines += [
            f'"{name}": the board seems to lie here: {proposal.reason}',
            f"    points written to {files[name].name}; nothing uses them before they are confirmed",
            f"    to confirm: find {proposal.ask} in the frame, and give the pixel at which you see it:",
            f'    board-overlay register JOB --confirm X Y --capture "{name}"',
        ]
    return "\n".join(lines)


def proposals_json(proposals: Mapping[str, Proposal], files: Mapping[str, Path]) -> dict[str, Any]:
    """The proposals as plain values."""
    return {
        "format": 1,
        "proposals": [
            {
                "capture": name,
                "found": proposal.registration is not None,
                "reason": proposal.reason,
                "remedy": proposal.remedy,
                "ask": proposal.ask or None,
                "points": [{"at": refdes, "pixel": list(pixel)} for refdes, pixel in proposal.points],
                "points_file": files[name].name if name in files else None,
                "pixel_from_board": None
                if proposal.registration is None
                else proposal.registration.pixel_from_board.tolist(),
                "confidence": None if proposal.confidence is None else asdict(proposal.confidence),
            }
            for name, proposal in proposals.items()
        ],
    }


def confirmed_text(confirmed: Confirmed) -> str:
    """That a proposal counts from now on, and where its points lie."""
    return f'"{confirmed.capture}": confirmed; its control points are {confirmed.points_file.name}, named in job.toml'
