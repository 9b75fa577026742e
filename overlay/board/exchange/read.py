"""Interchange files, whichever of them."""

from __future__ import annotations

from pathlib import Path

from overlay.board.exchange.idf import is_idf, read_idf
from overlay.board.exchange.ipc2581 import is_ipc2581, read_ipc2581
from overlay.board.exchange.model import Exchange


def read_exchange(data: bytes, file: str, path: Path, step: str | None = None) -> Exchange | None:
    """Read an interchange file; None for a file of another kind.

    Parameters
    ----------
    data, file
        Its content, and its name for messages.
    path
        Where it lies: an IDF board has its library of packages beside it.
    step
        Which board of an IPC-2581 document that holds several.

    Raises
    ------
    InputError
        Where it cannot be used.
    """
    if is_ipc2581(data):
        return read_ipc2581(data, file, step)
    if is_idf(data):
        return read_idf(data, file, path)
    return None
