"""The sockets of the workbench: a server for this computer only.

It serves the page before the rooms that answer it are loaded: what reads boards and frames takes longer to load than a
browser to paint.
"""

from __future__ import annotations

import asyncio
import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from overlay.errors import input_error
from overlay.job.path import job_path
from overlay.workbench.guard import Guard

HOST = "127.0.0.1"
_KINDS = {".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}


def serve(path: Path, *, port: int = 0, open_browser: bool = True, announce: Callable[[str], None]) -> None:
    """Serve the workbench of a job until the process is interrupted.

    Parameters
    ----------
    port
        On 127.0.0.1; 0 takes any free one.
    announce
        Gets the address, with the secret of this run behind ``#``: browsers do not send that part anywhere.

    Raises
    ------
    InputError
        Where there is no job, or the port is taken.
    """
    import uvicorn

    if path.is_dir() and not (path / "job.toml").exists():
        _answers(path)  # a folder in which a job can be begun, or none
    folder = path if path.is_dir() else job_path(path).parent
    # asyncio sends small answers at once only for sockets that name their protocol; else each waits 40 ms
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
        listening.listen()  # whoever follows the address that is about to be told waits, and is not turned away
    except OSError as error:
        listening.close()
        what = f"port {port} of {HOST} cannot be used ({error.strerror})"
        raise input_error("--port", None, what, "choose another one, or none for any free port") from None
    port = listening.getsockname()[1]
    token = secrets.token_urlsafe(24)
    address = f"http://{HOST}:{port}/#{token}"
    announce(f"{address}\nThe workbench of {folder.resolve().name} is open to this computer only. Ctrl+C ends it.")
    if open_browser:
        threading.Thread(target=webbrowser.open, args=[address]).start()
    with ThreadPoolExecutor(1) as loading, listening, suppress(KeyboardInterrupt):
        app = application(loading.submit(_answers, path), port, token)
        config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False, ws="none")
        uvicorn.Server(config).run(sockets=[listening])


def _answers(path: Path) -> ASGIApp:
    from overlay.workbench.routes import answers_of
    from overlay.workbench.workbench import Workbench

    return answers_of(Workbench(path))


def application(answers: Future[ASGIApp], port: int, token: str) -> ASGIApp:
    """The page, at once, and what it asks below ``/api/``, as soon as that can be answered; behind their guard."""
    pages = _pages()

    async def page(request: Request) -> Response:
        name = request.path_params.get("name", "index.html")
        if name not in pages:
            return PlainTextResponse("no such page", 404)
        content, kind = pages[name]
        return Response(content, media_type=kind)

    shown = Starlette(routes=[Route("/", page), Route("/page/{name}", page)])

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        asked = scope["type"] == "http" and scope["path"].startswith("/api/")
        # shielded: a page that goes away while it waits ends its own question, not the work
        own = await asyncio.shield(asyncio.wrap_future(answers)) if asked else shown
        await own(scope, receive, send)

    return Guard(app, (f"{HOST}:{port}", f"localhost:{port}"), token)


def _pages() -> dict[str, tuple[bytes, str]]:
    """The files of the page, read once: no name in an address ever becomes a path."""
    folder = resources.files("overlay.workbench") / "page"
    return {
        item.name: (item.read_bytes(), _KINDS[Path(item.name).suffix])
        for item in folder.iterdir()
        if Path(item.name).suffix in _KINDS
    }
