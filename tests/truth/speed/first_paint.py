"""How soon the workbench's page shows something, from the command and from the address on."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser

from tests.browser import chromium

_COMMAND = "from overlay_cli.main import main; main()"
_FIRST_PAINT_MS = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
_VISITS = 3


@dataclass(frozen=True, slots=True)
class Soon:
    """Wall times in seconds."""

    served: float  # from the command to an address that answers
    painted: float  # from the address to the page's first content, median of some visits
    board: float  # … to the board with its parts


def first_paint(folder: Path) -> Soon:
    """Of a job's workbench, in this machine's own Chromium; the browser itself is running already."""
    with chromium() as browser, _workbench(folder) as (address, served_s):
        visits = sorted(_visit(browser, address) for _ in range(_VISITS))
    painted_s, board_s = visits[_VISITS // 2]
    return Soon(served_s, painted_s, board_s)


def _visit(browser: Browser, address: str) -> tuple[float, float]:
    context = browser.new_context()
    page = context.new_page()
    begun = time.perf_counter()
    page.goto(address)
    page.wait_for_selector("#board [data-target]", state="attached")
    board_s = time.perf_counter() - begun
    painted_s = float(page.evaluate(_FIRST_PAINT_MS)) / 1000.0
    context.close()
    return painted_s, board_s


@contextmanager
def _workbench(folder: Path) -> Iterator[tuple[str, float]]:
    begun = time.perf_counter()
    command = [sys.executable, "-c", _COMMAND, "workbench", str(folder), "--no-browser"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        address = process.stderr.readline().strip()  # told once it listens
        yield address, time.perf_counter() - begun
        process.terminate()
