"""The simulation is no installed package: it is found from the repository's root."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
