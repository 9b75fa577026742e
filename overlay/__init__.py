"""Which parts of a powered circuit board run hot, by reference designator, and how far each stays from its limit.

The front door: what most programs and notebooks want, loaded when it is first asked for.

>>> import overlay
>>> analysis = overlay.analyse(overlay.read_job("demo_board"))
>>> analysis["R17"].margin.verdict
'over'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from overlay.board.plain import board_of
    from overlay.errors import InputError
    from overlay.job.analyse import analyse, read_capture
    from overlay.job.analyse import register_all as register
    from overlay.job.analysis import Analysis
    from overlay.job.arrays import read
    from overlay.job.compare import compare_jobs as compare
    from overlay.job.load import load_capture
    from overlay.job.read import read_job
    from overlay.job.read import survey_job as check

    __version__: str

__all__ = [
    "Analysis",
    "InputError",
    "__version__",
    "analyse",
    "board_of",
    "check",
    "compare",
    "load_capture",
    "read",
    "read_capture",
    "read_job",
    "register",
]

_HOMES = {
    "Analysis": ("overlay.job.analysis", "Analysis"),
    "InputError": ("overlay.errors", "InputError"),
    "analyse": ("overlay.job.analyse", "analyse"),
    "board_of": ("overlay.board.plain", "board_of"),
    "check": ("overlay.job.read", "survey_job"),
    "compare": ("overlay.job.compare", "compare_jobs"),
    "load_capture": ("overlay.job.load", "load_capture"),
    "read": ("overlay.job.arrays", "read"),
    "read_capture": ("overlay.job.analyse", "read_capture"),
    "read_job": ("overlay.job.read", "read_job"),
    "register": ("overlay.job.analyse", "register_all"),
}


def __getattr__(name: str) -> Any:
    if name == "__version__":
        return _version()
    if name not in _HOMES:
        raise AttributeError(f"module 'overlay' has no attribute {name!r}; it offers {', '.join(__all__)}")
    from importlib import import_module

    module, own = _HOMES[name]
    found = getattr(import_module(module), own)
    if name in ("Analysis", "analyse"):
        _let_notebooks_draw()
    globals()[name] = found
    return found


def _version() -> str:
    """Version of the installed distribution; ``0`` when run from a bare source tree."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("board-overlay")
    except PackageNotFoundError:
        return "0"


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def _let_notebooks_draw() -> None:
    from overlay.job.analysis import Analysis

    def picture(analysis: Analysis) -> str:
        from overlay.report.notebook import analysis_svg

        return analysis_svg(analysis)

    Analysis.picture = picture
