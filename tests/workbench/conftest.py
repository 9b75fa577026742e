"""A copy of the demonstration board to work on, and its workbench on a free port of this computer."""

import shutil
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
import uvicorn

from overlay.workbench.server import application
from overlay.workbench.workbench import Workbench
from tests.workbench.loaded import loaded

ROOT = Path(__file__).parents[2]
TOKEN = "a-secret-of-this-run"


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """The demonstration job, free to be changed."""
    folder = tmp_path / "demo"
    shutil.copytree(ROOT / "demo_board", folder, ignore=shutil.ignore_patterns("simulation", "revision_c", "warm_up"))
    return folder


@dataclass
class Running:
    workbench: Workbench
    port: int

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/#{TOKEN}"


@pytest.fixture
def running(demo: Path) -> Iterator[Running]:
    """The workbench of the demonstration job, with a real socket."""
    yield from serving(demo)


def serving(folder: Path) -> Iterator[Running]:
    workbench = Workbench(folder)
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.bind(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(application(loaded(workbench), port, TOKEN), log_level="warning", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    yield Running(workbench, port)
    server.should_exit = True
    thread.join(10)
    listening.close()
