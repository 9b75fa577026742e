"""Random lists of odd names and texts: whatever the list, each part is read as written, or a question is asked."""

import random
from dataclasses import dataclass
from pathlib import Path

import pytest

from overlay.board.placement.read import read_placement

NAMES = [
    *("R{}", "C{}", "U{}", "H${}", "PWR_{}", "X{}-1", "J{}/A", "LED#{}", "MOTOR{}", "{}R", "SW{}B", "TP_{}", "Q{}C4"),
    *("IC-{}", "VR.{}", "net-tie-{}", "$U{}", "GND{}", "A{}", "m{}", "B{}", "T{}"),
]
VALUES = [
    "10k",
    "100nF",
    "",
    "BC847",
    "10uF/16V",
    "0R",
    "LM358,dual",
    "N/A",
    "22",
    "4.7",
    "1M 1%",
    '0.1" pitch',
    "3,3V",
]
PACKAGES = ["0603", "R_0603_1608Metric", "SOT-23", "SO8", "QFN 16", "", "C1206", "PinHeader_1x04", "MY PKG", "DIP8"]
HEADINGS = {
    "name": ["Designator", "RefDes", "Ref", "Name", "Part"],
    "x": ["X", "PosX"],
    "y": ["Y", "PosY"],
    "turn": ["Rotation", "Rot", "Angle"],
    "side": ["Side", "Layer", "TB"],
    "package": ["Package", "Footprint", "Pattern"],
    "value": ["Value", "Comment", "Val"],
}


@dataclass(frozen=True)
class Written:
    name: str
    x: float
    y: float
    turn: float
    side: str
    package: str
    value: str


def parts_of(chance: random.Random) -> list[Written]:
    kinds = chance.sample(NAMES, chance.randint(1, 6))
    return [
        Written(
            chance.choice(kinds).format(number + 1),
            round(chance.uniform(-20, 120), 3),
            round(chance.uniform(-20, 120), 3),
            chance.choice([0, 90, 180, 270, 45, 30]),
            chance.choice(["top", "bottom"]),
            chance.choice(PACKAGES),
            chance.choice(VALUES),
        )
        for number in range(chance.randint(2, 14))
    ]


def listed(parts: list[Written], chance: random.Random, container: str) -> str:
    columns = ["name", "x", "y", "turn", "side", "package", "value"]
    between = chance.sample(columns[3:], chance.randint(0, 4))
    columns = ["name", *between, "x", "y", *(column for column in columns[3:] if column not in between)]
    sides = chance.choice([("top", "bottom"), ("TopLayer", "BottomLayer"), ("F.Cu", "B.Cu")])
    headed = chance.random() < 0.6
    rows = [[chance.choice(HEADINGS[column]) for column in columns]] if headed else []
    for part in parts:
        cells = {"name": part.name, "x": f"{part.x:.4f}", "y": f"{part.y:.4f}", "turn": f"{part.turn:.1f}"}
        cells |= {"side": sides[part.side == "bottom"], "package": part.package, "value": part.value}
        rows.append([cells[column] for column in columns])
    if container == "aligned":
        widths = [max(len(row[index]) for row in rows) + 2 for index in range(len(columns))]
        return "\n".join(
            "".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
        )

    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"' if container in cell or '"' in cell else cell

    return "\n".join(container.join(map(quoted, row)) for row in rows)


@pytest.mark.parametrize(
    "container", [",", ";", "\t", "|", "aligned"], ids=["comma", "semicolon", "tab", "bar", "fixed"]
)
def test_no_list_loses_or_moves_a_part_in_silence(container: str, tmp_path: Path) -> None:
    path = tmp_path / "placement"
    asked = 0
    for seed in range(60):
        chance = random.Random(f"{container}{seed}")
        parts = parts_of(chance)
        path.write_text(listed(parts, chance, container) + "\n")
        placement, problems = read_placement(path, "board.csv", units="mm")
        if any(problem.severity == "error" for problem in problems):
            asked += 1
            continue
        assert placement is not None
        left_out = {problem.line for problem in problems if "left out" in problem.what}
        found = {
            part.refdes: (*(round(value, 4) for value in part.center_mm), part.rotation_deg, part.side)
            for part in placement.components
        }
        assert len(found) + len(left_out) >= len(parts), path.read_text()
        for part in parts:
            if part.name in found or not left_out:
                assert found[part.name] == (part.x, part.y, part.turn, part.side), path.read_text()
    assert asked <= 12, f"{asked} of 60 lists were refused"
