"""What a terminal is shown while a command works, and that a pipe is shown none of it."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from overlay_cli.terminal import part_of

DEMO = Path(__file__).parents[2] / "demo_board"
COMMAND = [sys.executable, "-c", "from overlay_cli.main import main; main()", "register", str(DEMO / "warm_up")]


def test_shares_of_several_jobs_grow_and_leave_room_for_what_follows() -> None:
    told: list[tuple[str, float]] = []
    for number in range(3):
        for share in (0.0, 0.5, 1.0):
            part_of(lambda what, share: told.append((what, share)), number, 3)("reading", share)
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(0.75)
    assert told[3][0] == "job 2 of 3: reading"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")
def test_a_terminal_is_told_what_is_done_and_a_pipe_is_not() -> None:
    piped = subprocess.run(COMMAND, capture_output=True, text=True, check=True)
    assert piped.stderr == ""
    main, side = pty.openpty()
    with subprocess.Popen(COMMAND, stdout=subprocess.PIPE, stderr=side) as running:
        os.close(side)
        shown = b""
        while True:
            try:
                piece = os.read(main, 65536)
            except OSError:  # how Linux says that the other end has closed
                break
            if not piece:
                break
            shown += piece
        assert running.stdout is not None
        result = running.stdout.read().decode()
    os.close(main)
    assert "registering" in shown.decode("utf-8", errors="replace")
    assert result == piped.stdout
