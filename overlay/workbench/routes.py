"""What pages may ask of a workbench: an address each, with its words and its answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from overlay.errors import InputError
from overlay.workbench import requests as wishes
from overlay.workbench.job_files import UnknownError
from overlay.workbench.saving import ChangedOnDiskError
from overlay.workbench.workbench import Workbench

Wish = TypeVar("Wish", bound=BaseModel)


def answers_of(workbench: Workbench) -> ASGIApp:
    """Everything below ``/api/``."""

    async def frame(request: Request) -> Response:
        return await _answered(lambda: _frame_bytes(workbench, request.query_params.get("capture", "")))

    return Starlette(
        routes=[
            Route("/api/frame", frame),
            _told("/api/open", workbench.open),
            _told("/api/check", workbench.check),
            _asked("/api/look", wishes.Look, workbench.look),
            _asked("/api/state", wishes.OfCapture, workbench.state),
            _asked("/api/edit", wishes.Edit, workbench.edit),
            _asked("/api/opinion", wishes.OfCapture, workbench.opinion),
            _asked("/api/drag", wishes.Drag, workbench.drag),
            _asked("/api/where", wishes.Where, workbench.where),
            _asked("/api/find", wishes.OfCapture, workbench.find),
            _asked("/api/finding", wishes.OfCapture, workbench.finding),
            _asked("/api/confirm", wishes.Confirm, workbench.confirm),
            _asked("/api/places", wishes.Places, workbench.places),
            _asked("/api/difference", wishes.Difference, workbench.difference),
            _asked("/api/save", wishes.Save, workbench.save),
            _asked("/api/fill/body", wishes.FillBody, workbench.fill_body),
            _asked("/api/fill/rating", wishes.FillRating, workbench.fill_rating),
            _asked("/api/start", wishes.StartJob, workbench.start),
            _asked("/api/preview", wishes.Preview, workbench.preview),
            _asked("/api/capture", wishes.WriteCapture, workbench.write_capture),
            _asked("/api/section", wishes.WriteSection, workbench.write_section),
            _told("/api/shots", lambda: workbench.shots.start()),
            _told("/api/shooting", lambda: workbench.shots.state()),
            _told("/api/shots/write", lambda: workbench.shots.write()),
            _asked("/api/probe", wishes.ProbeOn, lambda wish: workbench.readings.plan_probe(wish)),
            _told("/api/read", lambda: workbench.readings.start()),
            _told("/api/read/last", lambda: workbench.readings.last()),
            _told("/api/reading", lambda: workbench.readings.state()),
            _asked("/api/try", wishes.Try, lambda wish: workbench.readings.try_out(wish)),
            _told("/api/trying", lambda: workbench.readings.trying()),
            _told("/api/try/keep", lambda: workbench.readings.keep_trial()),
            _asked("/api/who", wishes.Who, lambda wish: workbench.readings.who(wish)),
            _told("/api/reports", lambda: workbench.readings.write_reports()),
        ]
    )


def _told(path: str, answer: Callable[[], dict[str, Any]]) -> Route:
    """A POST without words."""

    async def endpoint(request: Request) -> Response:
        return await _answered(lambda: JSONResponse(answer()))

    return Route(path, endpoint, methods=["POST"])


def _asked(path: str, wish: type[Wish], answer: Callable[[Wish], dict[str, Any]]) -> Route:
    """A POST whose body is a ``wish`` in JSON."""

    async def endpoint(request: Request) -> Response:
        body = await request.body()

        def work() -> Response:
            return JSONResponse(answer(wish.model_validate_json(body)))

        return await _answered(work)

    return Route(path, endpoint, methods=["POST"])


async def _answered(work: Callable[[], Response]) -> Response:
    """The answer, or the reasons why there is none, in words the page can show."""
    try:
        return await run_in_threadpool(work)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        return _refused(400, [f"the request cannot be used: {first['msg']}"])
    except InputError as error:
        return _refused(422, [str(problem) for problem in error.problems])
    except UnknownError as error:
        return _refused(404, [str(error)])
    except ChangedOnDiskError as error:
        return _refused(409, [f"{error} has changed on the disk since this page read it"])


def _refused(status: int, problems: list[str]) -> Response:
    return JSONResponse({"problems": problems}, status)


def _frame_bytes(workbench: Workbench, capture: str) -> Response:
    """Temperatures as 32-bit floats, little end first, row by row."""
    return Response(np.asarray(workbench.frame(capture), dtype="<f4").tobytes(), media_type="application/octet-stream")
