"""`board-overlay`: a file a command; each parses, calls and prints."""

from __future__ import annotations

import gc
import io
import os
import sys
import traceback
from pathlib import Path
from typing import Annotated

import typer
from overlay_cli.campaign import campaign
from overlay_cli.check import check
from overlay_cli.compare import compare
from overlay_cli.map import map_
from overlay_cli.name import name
from overlay_cli.new import new
from overlay_cli.probe import probe
from overlay_cli.register import register
from overlay_cli.shots import shots
from overlay_cli.terminal import say
from overlay_cli.units import units
from overlay_cli.workbench import workbench

import overlay
from overlay.errors import InputError

FAULT = 3  # the exit status of a fault of the program, which a gate must not take for a verdict
INTERRUPTED = 130  # 128 + SIGINT, as shells count

app = typer.Typer(
    name="board-overlay",
    help="Which parts of a powered board run hot, by reference designator, and how far each stays from its limit.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(asked: bool) -> None:
    if asked:
        say(f"board-overlay {overlay.__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="On a fault of the program, print where it happened.")] = False,
) -> None:
    """What holds for every command."""


for command in (new, check, register, map_, name, probe, shots, campaign, compare, units, workbench):  # as --help lists
    app.command(name=command.__name__.rstrip("_"))(command)


def main() -> None:
    """Run the command line.

    Wrong input ends with status 2 and each problem on a line of its own, a fault of the program with status 3.
    """
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # searching all that is installed takes a while
    gc.set_threshold(50_000)  # most of what a command makes lives to its end: looking for waste is waste
    arguments = [word for word in sys.argv[1:] if word != "--debug"]
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a letter is no failure
    try:
        app(arguments)
    except InputError as error:
        for problem in error.problems:
            say(str(problem), err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except Exception as error:
        if len(arguments) < len(sys.argv) - 1:
            raise
        place = traceback.extract_tb(error.__traceback__)[-1]
        reason = " ".join(str(error).split())[:200]
        what = f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}: {reason}"
        remedy = "please report this line and the job; the same command with --debug tells more"
        say(f"board-overlay {overlay.__version__}: a fault of the program ({what}); {remedy}", err=True)
        sys.exit(FAULT)


if __name__ == "__main__":
    main()
