"""Print the lowest allowed version of every dependency, one requirement a line, for pip to install."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in [*project["dependencies"], *project["optional-dependencies"]["dxf"]]:
    name, lowest = re.fullmatch(r"([\w.-]+)>=([\d.]+)(?:,<[\d.]+)?", requirement).groups()
    print(f"{name}=={lowest}")
