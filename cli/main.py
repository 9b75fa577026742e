"""`board-overlay`: one function a command; each parses, calls and prints."""

from __future__ import annotations

import io
import json as json_format
import os
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Optional

import typer

import overlay
from overlay.errors import InputError, input_error
from overlay.plain_text import visible, visible_json

if TYPE_CHECKING:
    from overlay.job.analyse import Progress

app = typer.Typer(
    name="board-overlay",
    help="Which parts of a powered board run hot, by reference designator, and how far each stays from its limit.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _folder(text: str) -> Path:
    if not text.strip():
        raise typer.BadParameter("is empty; name a folder, or . for this one")
    return Path(text)


JobArgument = Annotated[Path, typer.Argument(metavar="JOB", help="A job.toml, or the folder that holds one.")]
OutOption = Annotated[
    Path, typer.Option("--out", metavar="FOLDER", parser=_folder, help="Folder to write the reports to.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON, and nothing else, to standard output.")]
OptionalFile = Optional[Path]  # noqa: UP045 - typer reads the annotation at run time


def _version(asked: bool) -> None:
    if asked:
        _say(f"board-overlay {overlay.__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="On a fault of the program, print where it happened.")] = False,
) -> None:
    """What holds for every command."""


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Folder of the new job; made if missing.")],
    placement: Annotated[Path, typer.Option(metavar="FILE", help="Placement (centroid) file.")],
    outline: Annotated[OptionalFile, typer.Option(metavar="FILE", help="SVG, Gerber profile or DXF.")] = None,
    parts: Annotated[OptionalFile, typer.Option(metavar="FILE", help="Parts table with ratings, CSV or XLSX.")] = None,
) -> None:
    """Begin a job from the files you have.

    Writes a commented job.toml to fill in, with what could be read from the files.
    """
    from overlay.job.new import write_new_job
    from overlay.report.text import new_text

    begun = write_new_job(folder, placement, outline, parts)
    _say(new_text(begun))
    if begun.board is None:
        raise typer.Exit(2)


@app.command()
def check(job: JobArgument, json: JsonOption = False) -> None:
    """Read everything; print coverage and every problem.

    Says what was understood and from which words of the files; exits with 2 if anything is wrong.
    """
    from overlay.job.read import survey_job
    from overlay.report.check import check_json, check_text

    survey = survey_job(job)
    _print(check_json(survey) if json else check_text(survey))
    if any(problem.severity == "error" for problem in survey.problems):
        raise typer.Exit(2)


@app.command()
def register(
    job: JobArgument,
    refine: Annotated[bool, typer.Option("--refine", help="Take the frame's word where it can be trusted.")] = False,
    propose: Annotated[bool, typer.Option("--propose", help="Look for the board without any points.")] = False,
    confirm: Annotated[
        Optional[tuple[float, float]],  # noqa: UP045 - typer reads the annotation at run time
        typer.Option(metavar="X Y", help="Confirm a proposal: the pixel at which the part asked for is seen."),
    ] = None,
    capture: Annotated[str, typer.Option(metavar="NAME", help="Which capture to confirm; default: the first.")] = "",
    json: JsonOption = False,
) -> None:
    """Tie each frame to the board; print residuals.

    Names a suspect point, and says by how much the frame itself disagrees with the points. With --propose it looks
    for the board without any points; map uses none of that before --confirm says where the part asked for is seen.
    """
    if propose or confirm is not None:
        _propose(job, confirm, capture, json)
        return
    from overlay.job.analyse import register_all
    from overlay.job.read import read_job
    from overlay.report.results import registrations_json
    from overlay.report.text import registrations_text

    with _progress() as progress:
        registrations = register_all(read_job(job), refine=refine, progress=progress)
    _print(registrations_json(registrations) if json else registrations_text(registrations))
    if any(registration.foreign for registration in registrations.values()):
        raise typer.Exit(2)


@app.command(name="map")
def map_(
    job: JobArgument,
    out: OutOption,
    fail_on: Annotated[
        str, typer.Option("--fail-on", metavar="VERDICT[,VERDICT]", help="Exit with 1 if a part has such a verdict.")
    ] = "",
) -> None:
    """Read every part, judge margins, write the reports.

    Writes margin_map.pdf, margin_map.html, components.csv, hot_spots.csv and results.json.
    """
    from overlay.job.analyse import analyse
    from overlay.job.read import read_job
    from overlay.margin.verdict import verdicts_named
    from overlay.report.text import map_text
    from overlay.report.write import write_map_reports

    unwanted = verdicts_named(fail_on)
    with _progress() as progress:
        analysis = analyse(read_job(job), progress)
        progress("writing reports", 0.9)
        written = write_map_reports(analysis, out)
    _say(map_text(analysis, written))
    errors = [problem for problem in analysis.problems if problem.severity == "error"]
    for problem in errors:
        _say(str(problem), err=True)
    if errors:
        raise typer.Exit(2)
    if any(judged.verdict in unwanted for judged in (*analysis.margins, *analysis.areas)):
        raise typer.Exit(1)


@app.command()
def name(
    job: JobArgument,
    x: Annotated[float, typer.Argument(metavar="X", help="Column of the pixel, counting from 0.")],
    y: Annotated[float, typer.Argument(metavar="Y", help="Row of the pixel, counting from 0 at the top.")],
    capture: Annotated[str, typer.Option(metavar="NAME", help="Which capture; default: the job's first.")] = "",
    json: JsonOption = False,
) -> None:
    """Name the part at a pixel, with probabilities.

    Each candidate comes with its reading and margin.
    """
    from overlay.job.analyse import analyse
    from overlay.job.naming import part_at
    from overlay.job.read import read_job
    from overlay.report.results import named_json
    from overlay.report.text import named_text

    with _progress() as progress:
        named = part_at(analyse(read_job(job), progress), x, y, capture or None)
    _print(named_json(named) if json else named_text(named))


@app.command()
def probe(
    job: JobArgument,
    out: OutOption,
    channels: Annotated[int, typer.Option(min=1, max=200, help="How many thermocouples there are.")] = 8,
    gauge: Annotated[int, typer.Option("--awg", min=20, max=44, help="Wire gauge of the thermocouples.")] = 36,
    part: Annotated[str, typer.Option(metavar="U1,U2", help="On these parts, whatever their verdict.")] = "",
) -> None:
    """Plan thermocouples: which parts, where exactly.

    Ranked by what a reading would settle, or on the parts that --part names; says what a misplaced bead costs.
    Writes probe_plan.pdf and probe_plan.csv; with its temperatures filled in the CSV serves as contact_readings.
    """
    from overlay.job.analyse import analyse
    from overlay.job.probe import plan_job
    from overlay.job.read import read_job
    from overlay.report.text import plan_text
    from overlay.report.write import write_probe_reports

    with _progress() as progress:
        analysis = analyse(read_job(job), progress)
        plan = plan_job(analysis, channels=channels, awg=gauge, parts=part)
        written = write_probe_reports(analysis, plan, out)
    _say(plan_text(plan, written))


@app.command()
def shots(
    job: JobArgument,
    after: Annotated[
        OptionalFile, typer.Option(metavar="REPORT", help="Only what this report of map left open.")
    ] = None,
    out: Annotated[
        OptionalFile, typer.Option(metavar="FOLDER", help="Also write the page for the bench there.")
    ] = None,
    json: JsonOption = False,
) -> None:
    """Plan where to put the camera, before any frame.

    Distances, number of frames and where each is aimed; which parts stay too small, and what would help. Needs
    pixels and hfov_deg of the camera. With --out writes shot_plan.pdf, shot_plan.csv and shot_plan.json.
    """
    from overlay.job.read import read_job
    from overlay.job.shots import plan_job_shots
    from overlay.report.shot_pages import shot_plan_json, shot_plan_text
    from overlay.report.write import write_shot_reports

    read = read_job(job)
    with _progress() as progress:
        plan = plan_job_shots(read, after, progress)
    if out is not None:
        write_shot_reports(read, plan, out)
    _print(shot_plan_json(plan) if json else shot_plan_text(plan))


@app.command()
def campaign(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="A campaign.toml, or the folder that holds one.")],
    out: OutOption,
    workers: Annotated[int, typer.Option(min=0, max=1024, help="Processes to share the frames; 0: one a core.")] = 0,
    cluster: Annotated[str, typer.Option(metavar="ADDRESS", help="Scheduler of a running cluster instead.")] = "",
    format_: Annotated[str, typer.Option("--format", metavar="csv|parquet", help="How rows are kept.")] = "csv",
    json: JsonOption = False,
) -> None:
    """Read many frames of one board: units, states, soaks.

    Every frame follows a capture of a job. Rows are written part by part: a run that was stopped goes on where it
    was. Writes rows/, campaign.pdf, campaign_parts.csv and campaign_summary.json.
    """
    from overlay.campaign.plan import read_plan
    from overlay.campaign.run import run_campaign
    from overlay.campaign.store import format_named
    from overlay.report.campaign_pages import campaign_json, campaign_text
    from overlay.report.write import write_campaign_reports

    read, kept = read_plan(plan), format_named(format_)
    with _progress() as progress:
        summary = run_campaign(
            read, out, workers=workers or _cores(), cluster=cluster or None, format_=kept, progress=progress
        )
        write_campaign_reports(summary, read.file.parent.resolve().name, out)
    _print(campaign_json(summary) if json else campaign_text(summary))


@app.command()
def compare(
    job_a: Annotated[Path, typer.Argument(metavar="JOB_A", help="The earlier job.")],
    job_b: Annotated[Path, typer.Argument(metavar="JOB_B", help="The later job.")],
    out: OutOption,
    json: JsonOption = False,
) -> None:
    """Compare two revisions or two units of a board.

    Part by part: what changed, how sure that is, and what became hot that nobody changed.
    """
    from overlay.job.analyse import analyse
    from overlay.job.compare import compare_jobs
    from overlay.job.read import read_job
    from overlay.report.comparison import comparison_json
    from overlay.report.comparison_pages import comparison_text
    from overlay.report.write import write_comparison_reports

    with _progress() as progress:
        before, after = analyse(read_job(job_a), progress), analyse(read_job(job_b), progress)
        comparison = compare_jobs(before, after)
        write_comparison_reports(before, after, comparison, out)
    _print(comparison_json(comparison) if json else comparison_text(before, after, comparison))


@app.command()
def units(
    jobs: Annotated[list[Path], typer.Argument(metavar="JOB_1 JOB_2 …", help="Jobs of several units of one board.")],
    out: OutOption,
    json: JsonOption = False,
) -> None:
    """Set several units of one board side by side.

    Per part mean, spread and worst, and the tolerance bound that 95 % of all units keep; odd units and parts by name.
    Writes units.pdf, units.csv and units.json.
    """
    from overlay.job.analyse import analyse
    from overlay.job.read import read_job
    from overlay.job.units import units_of
    from overlay.report.units import units_json, units_text
    from overlay.report.write import write_unit_reports

    with _progress() as progress:
        analyses = [analyse(read_job(job), progress) for job in jobs]
        found = units_of(analyses)
        write_unit_reports(analyses, found, out)
    _print(units_json(found) if json else units_text(found))


@app.command()
def workbench(
    job: JobArgument,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port on 127.0.0.1; 0: any free one.")] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Do not open the browser.")] = False,
) -> None:
    """Open the local page: place points, read, point.

    Serves this computer only.
    """
    from overlay.workbench.server import serve

    serve(job, port=port, open_browser=not no_browser, announce=lambda text: _say(text, err=True))


FAULT = 3  # the exit status of a fault of the program, which a gate must not take for a verdict
INTERRUPTED = 130  # 128 + SIGINT, as shells count


def main() -> None:
    """Run the command line.

    Wrong input ends with status 2 and each problem on a line of its own, a fault of the program with status 3.
    """
    arguments = [word for word in sys.argv[1:] if word != "--debug"]
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a letter is no failure
    try:
        app(arguments)
    except InputError as error:
        for problem in error.problems:
            _say(str(problem), err=True)
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
        _say(f"board-overlay {overlay.__version__}: a fault of the program ({what}); {remedy}", err=True)
        sys.exit(FAULT)


def _say(text: str, *, err: bool = False) -> None:
    """Print; a reader who has gone is no failure, a device that is full is told."""
    stream = sys.stderr if err else sys.stdout
    if stream is None:
        return
    try:
        stream.write(visible(text) + "\n")
        stream.flush()
    except OSError as error:
        with suppress(OSError, ValueError):  # what is still held back would fail again at the end
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if not isinstance(error, BrokenPipeError) and not err:
            raise input_error("standard output", None, f"cannot be written ({error.strerror})", "make room") from None


def _propose(path: Path, pixel: tuple[float, float] | None, capture: str, json: bool) -> None:
    from overlay.job import propose
    from overlay.job.read import read_job
    from overlay.report.proposals import confirmed_text, proposals_json, proposals_text

    job = read_job(path)
    if pixel is not None:
        first = job.settings.capture[0].name if job.settings.capture else ""
        _print(confirmed_text(propose.confirm(job, capture or first, pixel)))
        return
    with _progress() as progress:
        proposals = propose.propose_all(job, progress)
    files = propose.write_proposals(job, proposals)
    _print(proposals_json(proposals, files) if json else proposals_text(proposals, files))


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _print(content: str | dict[str, Any]) -> None:
    if not isinstance(content, str):
        content = visible_json(json_format.dumps(content, indent=1, ensure_ascii=False))
    _say(content)


@contextmanager
def _progress() -> Iterator[Progress]:
    """Tell on a terminal what is being done; in a pipe say nothing."""
    if not sys.stderr.isatty():
        yield lambda what, share: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("reading", total=1.0)
        yield lambda what, share: bar.update(task, description=what, completed=share)


if __name__ == "__main__":
    main()
