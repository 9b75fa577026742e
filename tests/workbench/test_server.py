"""The workbench's server: what it answers, and what it turns away."""

import json
import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from starlette.testclient import TestClient
from starlette.types import ASGIApp

from overlay.errors import InputError
from overlay.job.read_settings import read_settings
from overlay.workbench.guard import LARGEST_BODY, TOKEN_HEADER
from overlay.workbench.routes import answers_of
from overlay.workbench.server import application, serve
from overlay.workbench.workbench import Workbench
from tests.workbench.loaded import loaded

ROOT = Path(__file__).parents[2]
PORT = 45678
HOST = f"127.0.0.1:{PORT}"
TOKEN = "a-secret-of-this-run"


def client_of(folder: Path, token: str = TOKEN) -> TestClient:
    headers = {TOKEN_HEADER: token.encode("latin-1")} if token else {}
    return TestClient(application(loaded(Workbench(folder)), PORT, TOKEN), base_url=f"http://{HOST}", headers=headers)  # type: ignore[arg-type]


@pytest.fixture
def client(demo: Path) -> TestClient:
    return client_of(demo)


@pytest.fixture(scope="module")
def gate(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """A server of which only the gate is tried: its job is not even readable."""
    folder = tmp_path_factory.mktemp("gate")
    (folder / "job.toml").write_text("format = 1")
    return client_of(folder)


class Page:
    """An open page's side of the talk."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        self.opened = self.post("open")
        self.session = self.opened["session"]

    def post(self, path: str, body: dict[str, Any] | None = None, status: int = 200) -> dict[str, Any]:
        response = self.client.post(f"/api/{path}", json=body or {})
        assert response.status_code == status, response.text
        answer: dict[str, Any] = response.json()
        return answer

    def edit(self, do: str, capture: str = "full load", status: int = 200, **more: Any) -> dict[str, Any]:
        wish = {"do": do, "session": self.session, "capture": capture, **more}
        return self.post("edit", {"edit": wish}, status)

    def state(self, capture: str = "full load") -> dict[str, Any]:
        return self.post("state", {"session": self.session, "capture": capture})

    def save(self, status: int = 200, *, anyway: bool = False) -> dict[str, Any]:
        return self.post("save", {"session": self.session, "anyway": anyway}, status)


@pytest.fixture
def page(client: TestClient) -> Page:
    return Page(client)


# What is turned away


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1:1", "127.0.0.1", "", "0.0.0.0:45678"]
)
def test_another_host_is_turned_away(gate: TestClient, host: str) -> None:
    for path in ("/", "/page/main.js", "/api/open"):
        assert gate.request("GET", path, headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", f"https://{HOST}", "null", "http://127.0.0.1:1", f"http://{HOST}.evil.example"]
)
def test_another_origin_is_turned_away(gate: TestClient, origin: str) -> None:
    response = gate.post("/api/open", headers={"origin": origin})
    assert response.status_code == 403
    assert gate.get("/", headers={"origin": origin}).status_code == 403


def test_a_request_from_another_site_is_turned_away_even_without_an_origin(gate: TestClient) -> None:
    assert gate.get("/", headers={"sec-fetch-site": "cross-site"}).status_code == 403


def test_the_pages_own_origin_is_served_under_both_names_of_this_computer(gate: TestClient) -> None:
    for name in (HOST, f"localhost:{PORT}"):
        headers = {"host": name, "origin": f"http://{name}"}
        assert gate.post("/api/open", headers=headers).status_code == 200


@pytest.mark.parametrize("token", ["", "wrong", TOKEN + "x", TOKEN[:-1], "\xe9"])
def test_a_missing_or_wrong_token_is_turned_away(tmp_path: Path, token: str) -> None:
    (tmp_path / "job.toml").write_text("format = 1")
    client = client_of(tmp_path, token)
    for path in ("open", "check", "state", "edit", "save", "read", "reports", "fill/body"):
        assert client.post(f"/api/{path}", json={}).status_code == 401
    assert client.get("/api/frame?capture=full load").status_code == 401
    assert client.get("/").status_code == 200  # the page itself holds no secret


def test_a_body_that_is_too_large_is_turned_away(gate: TestClient) -> None:
    assert gate.post("/api/open", content=b"x" * (LARGEST_BODY + 1)).status_code == 413


def test_a_body_without_a_length_is_counted(gate: TestClient) -> None:
    def pieces() -> Iterator[bytes]:
        for _ in range(LARGEST_BODY // 4096 + 2):
            yield b"x" * 4096

    assert gate.post("/api/open", content=pieces()).status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e3", "99999999999", "abc"])
def test_a_length_that_is_no_small_number_is_turned_away(gate: TestClient, length: str) -> None:
    response = gate.post("/api/open", content=b"{}", headers={"content-length": length})
    assert response.status_code == 413


@pytest.mark.parametrize(
    "path",
    [
        "/page/../workbench.py",
        "/page/..%2fdesk.py",
        "/page/%2e%2e/%2e%2e/errors.py",
        "/page/....//workbench.py",
        "/page//etc/passwd",
        "/page/%2fetc%2fpasswd",
        "/page/job.toml",
        "/job.toml",
        "/page/..\\desk.py",
        "/page/main.js%00.html",
    ],
)
def test_no_address_leads_to_a_file_that_is_not_the_pages(gate: TestClient, path: str) -> None:
    assert gate.get(path).status_code == 404


def test_every_answer_carries_the_policy_that_lets_nothing_in_from_outside(gate: TestClient) -> None:
    for response in (gate.get("/"), gate.get("/nowhere"), gate.get("/", headers={"host": "evil.example"})):
        policy = response.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert response.headers["x-content-type-options"] == "nosniff"
        assert response.headers["referrer-policy"] == "no-referrer"


def test_the_page_names_nothing_outside_itself(gate: TestClient) -> None:
    text = gate.get("/").text
    assert "style=" not in text
    assert "http" not in text
    for name in ("main.js", "workbench.css"):
        assert "://" not in gate.get(f"/page/{name}").text


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"not json",
        b"[]",
        b"null",
        b"\xff\xfe",
        b'{"edit": {"do": "place"}}',
        b'{"edit": {"do": "explode", "session": "x", "capture": "y"}}',
        b'{"edit": {"do": "move", "session": "x", "capture": "y", "index": -1, "pixel": [1, 2]}}',
        b'{"edit": {"do": "move", "session": "x", "capture": "y", "index": 0, "pixel": [1e999, 2]}}',
        b'{"edit": {"do": "move", "session": "x", "capture": "y", "index": 0, "pixel": [NaN, 2]}}',
        b'{"edit": {"do": "undo", "session": "x", "capture": "y", "more": 1}}',
    ],
)
def test_a_request_that_makes_no_sense_is_told_so(gate: TestClient, body: bytes) -> None:
    response = gate.post("/api/edit", content=body)
    assert response.status_code == 400
    assert response.json()["problems"]


def test_unknown_pages_captures_and_points_are_told_so(page: Page) -> None:
    page.post("state", {"session": "nobody", "capture": "full load"}, 404)
    page.post("state", {"session": page.session, "capture": "nothing"}, 404)
    page.edit("move", status=404, index=999, pixel=[1, 2])
    page.edit("place", status=404, at="X999", pixel=[1, 2])
    page.edit("place", status=404, pixel=[1, 2])
    page.post("who", {"capture": "full load", "pixel": [1, 2]}, 404)
    page.post("reports", status=404)


def test_a_frame_outside_the_jobs_folder_is_not_served(demo: Path) -> None:
    (demo.parent / "secret.tiff").write_bytes((demo / "full_load.tiff").read_bytes())
    job = demo / "job.toml"
    job.write_text(job.read_text().replace('frame = "full_load.tiff"', 'frame = "../secret.tiff"'))
    client = client_of(demo)
    opened = client.post("/api/open").json()
    assert "outside the job's folder" in opened["captures"][1]["problem"]
    assert client.get("/api/frame", params={"capture": "full load"}).status_code == 422


@pytest.mark.parametrize("way", ["dots", "root", "link"])
def test_points_are_not_written_outside_the_jobs_folder(demo: Path, way: str) -> None:
    outside = demo.parent / "outside.csv"
    outside.write_text((demo / "full_load.points.csv").read_text())
    name = {"dots": "../outside.csv", "root": str(outside), "link": "link.csv"}[way]
    (demo / "link.csv").symlink_to(outside)
    job = demo / "job.toml"
    job.write_text(job.read_text().replace('"full_load.points.csv"', f'"{name}"'))
    client = client_of(demo)
    page = Page(client)
    assert "outside the job's folder" in page.state()["unread"]
    page.edit("place", at="R17", pixel=[100, 100])
    before = outside.read_bytes()
    assert "outside the job's folder" in page.save(422)["problems"][0]
    assert outside.read_bytes() == before


# What is answered


def test_a_page_begins_with_the_board_its_captures_and_what_is_missing(page: Page) -> None:
    opened = page.opened
    assert [capture["name"] for capture in opened["captures"]] == ["telemetry idle", "full load", "full load, bottom"]
    assert opened["captures"][0]["shape"] == [240, 320]
    assert {"refdes", "ring", "side"} <= set(opened["board"]["parts"][0])
    assert len([mark for mark in opened["board"]["landmarks"] if mark["kind"] == "hole"]) == 5
    assert [item["package"] for item in opened["check"]["missing"]["bodies"]] == ["SENS-P7"]
    assert json.dumps(opened, allow_nan=False)


def test_the_frame_comes_as_floats_row_by_row(client: TestClient, page: Page) -> None:
    response = client.get("/api/frame", params={"capture": "full load"})
    values = np.frombuffer(response.content, "<f4").reshape(240, 320)
    low, high = page.opened["captures"][1]["range"]
    assert values.min() <= low < high <= values.max()


def test_points_outlines_and_residuals_come_with_the_state(page: Page) -> None:
    state = page.state()
    assert state["fit"]["rms_px"] < 0.6
    assert len(state["points"]) == 8
    shapes = page.opened["board"]["sides"]["top"]
    assert len(state["outlines"]) == 2 * sum(shapes["sizes"])
    assert state["unsaved"] == []


def test_an_edit_is_fitted_undone_and_redone(page: Page) -> None:
    before = page.state()
    x, y = before["points"][4]["pixel"]
    moved = page.edit("move", index=4, pixel=[x + 9, y])
    assert moved["fit"]["rms_px"] > before["fit"]["rms_px"]
    assert moved["points"][4]["suspect"]
    assert moved["unsaved"] == ["full load"]
    undone = page.edit("undo")
    assert undone["points"] == before["points"]
    assert undone["unsaved"] == []
    assert page.edit("redo")["points"] == moved["points"]


def test_two_points_give_a_draft_and_one_gives_advice(page: Page) -> None:
    points = page.state()["points"]
    page.edit("clear")
    one = page.edit("place", board_mm=points[0]["board_mm"], pixel=points[0]["pixel"])
    assert one["fit"] is None
    assert "One more point" in one["problems"][0]
    two = page.edit("place", board_mm=points[3]["board_mm"], pixel=points[3]["pixel"])
    assert two["fit"]["rms_px"] is None, "two points fit whatever they are"
    assert two["advice"]["u_px"] > 0
    expected = np.array([two["landmarks_px"][0], two["landmarks_px"][1]])
    assert np.isfinite(expected).all()


def test_a_drag_changes_nothing_and_agrees_with_the_edit_that_ends_it(page: Page) -> None:
    state = page.state()
    x, y = state["points"][4]["pixel"]
    pixel = [x + 0.7, y - 0.4]
    drag = {"session": page.session, "capture": "full load", "index": 4, "pixel": pixel}
    dragged = page.post("drag", drag)
    assert page.state() == state
    edited = page.edit("move", index=4, pixel=pixel)
    # the fit of the edit judges anew which points take part; here all do
    assert np.abs(np.subtract(dragged["outlines"], edited["outlines"])).max() <= 2
    assert dragged["rms_px"] == pytest.approx(edited["fit"]["rms_px"], abs=1e-3)


def test_points_upon_one_another_do_not_stop_a_drag(page: Page) -> None:
    points = page.state()["points"]
    drag = {"session": page.session, "capture": "full load", "index": 4, "pixel": points[0]["pixel"]}
    page.post("drag", drag)
    page.post("drag", {**drag, "pixel": [-5000, 1e5]})


def test_the_place_under_a_pixel_is_told(page: Page) -> None:
    point = page.state()["points"][0]
    place = page.post("where", {"session": page.session, "capture": "full load", "pixel": point["pixel"]})
    assert place["board_mm"] == pytest.approx(point["board_mm"], abs=0.3)


def test_a_second_capture_follows_the_pose_of_the_first(page: Page) -> None:
    page.edit("clear")
    leader = page.state()["leader"]
    assert leader == "telemetry idle"
    followed = page.edit("follow")
    assert len(followed["points"]) == 8
    assert followed["fit"]["rms_px"] < 0.05
    assert page.state("full load, bottom")["leader"] is None


# Saving


def test_saving_writes_the_points_keeps_the_former_file_and_touches_nothing_else(demo: Path, page: Page) -> None:
    before = {path.name: path.read_bytes() for path in demo.iterdir()}
    page.edit("place", at="R17", pixel=[134.5, 91.25])
    saved = page.save()
    assert (saved["written"], saved["unsaved"]) == (["full_load.points.csv"], [])
    after = {path.name: path.read_bytes() for path in demo.iterdir()}
    assert after.pop("full_load.points.csv.bak") == before["full_load.points.csv"]
    assert "134.5,91.25,R17" in after.pop("full_load.points.csv").decode()
    before.pop("full_load.points.csv")
    assert after == before
    again = page.save()
    assert (again["written"], again["unsaved"]) == ([], [])


def test_saving_does_not_overwrite_what_another_page_saved(client: TestClient, page: Page, demo: Path) -> None:
    other = Page(client)
    other.edit("place", at="R17", pixel=[134.5, 91.25])
    other.save()
    theirs = (demo / "full_load.points.csv").read_bytes()
    page.edit("remove", index=0)
    assert "has changed on the disk" in page.save(409)["problems"][0]
    assert (demo / "full_load.points.csv").read_bytes() == theirs
    page.save(anyway=True)
    assert (demo / "full_load.points.csv").read_bytes() != theirs
    assert (demo / "full_load.points.csv.bak").read_bytes() == theirs


def test_a_capture_without_points_gets_a_file_and_the_job_its_name(demo: Path) -> None:
    job = demo / "job.toml"
    text = job.read_text().replace('control_points = "full_load.points.csv"\n', "")
    job.write_text(text)
    (demo / "full_load.points.csv").write_text("somebody else's\n")
    client = client_of(demo)
    page = Page(client)
    page.edit("place", at="R17", pixel=[134.5, 91.25])
    assert page.save()["written"] == ["full_load.points-2.csv"]
    lines = job.read_text().split("\n")
    assert [line for line in lines if "points-2" not in line] == text.split("\n")
    assert (demo / "full_load.points.csv").read_text() == "somebody else's\n"
    again = Page(client)
    assert again.state()["points"][0]["at"] == "R17"


# Filling in


def test_a_body_is_filled_in_and_known_from_then_on(demo: Path, page: Page) -> None:
    before = (demo / "bodies.csv").read_bytes()
    cells = {"length_mm": "3", "width_mm": "3.0", "height_mm": "1.1", "shape": "box"}
    answer = page.post("fill/body", {"package": "SENS-P7", "cells": cells})
    assert answer["check"]["missing"]["bodies"] == []
    after = (demo / "bodies.csv").read_bytes()
    assert after.startswith(before)
    assert after[len(before) :] == b"SENS-P7,3,3.0,1.1,box,,\n"
    assert (demo / "bodies.csv.bak").read_bytes() == before


def test_a_limit_is_filled_in_and_known_from_then_on(demo: Path, page: Page) -> None:
    before = (demo / "parts.csv").read_bytes()
    answer = page.post("fill/rating", {"refdes": "J2", "cells": {"limit_c": "105", "limit_at": "surface"}})
    missing = [item["refdes"] for item in answer["check"]["missing"]["ratings"]]
    assert "J2" not in missing
    assert (demo / "parts.csv").read_bytes().startswith(before.rstrip(b"\n"))


@pytest.mark.parametrize("value", ["hot", "-999", "1e9", '"', "1;2", "=1+1"])
def test_a_value_that_cannot_be_is_told_and_not_written(demo: Path, page: Page, value: str) -> None:
    before = {path.name: path.read_bytes() for path in demo.iterdir()}
    page.post("fill/rating", {"refdes": "J2", "cells": {"limit_c": value}}, 422)
    page.post("fill/body", {"package": "SENS-P7", "cells": {"length_mm": value, "width_mm": "1"}}, 422)
    assert {path.name: path.read_bytes() for path in demo.iterdir()} == before


def test_tables_are_begun_where_the_job_has_none(demo: Path) -> None:
    job = demo / "job.toml"
    job.write_text(job.read_text().replace('parts = "parts.csv"\nbodies = "bodies.csv"\n', ""))
    (demo / "parts.csv").unlink()
    (demo / "bodies.csv").unlink()
    client = client_of(demo)
    page = Page(client)
    page.post("fill/rating", {"refdes": "R17", "alone": True, "cells": {"limit_c": "155"}})
    page.post("fill/body", {"package": "SENS-P7", "cells": {"length_mm": "3", "width_mm": "3"}})
    assert (demo / "parts.csv").read_text() == "refdes,limit_c\nR17,155\n"
    assert (demo / "bodies.csv").read_text() == "package,length_mm,width_mm\nSENS-P7,3,3\n"
    assert 'bodies = "bodies.csv"\nparts = "parts.csv"' in job.read_text()


def test_a_workbook_is_not_written_to(demo: Path) -> None:
    job = demo / "job.toml"
    job.write_text(job.read_text().replace('bodies = "bodies.csv"', 'bodies = "bodies.xlsx"'))
    client = client_of(demo)
    answer = Page(client).post("fill/body", {"package": "SENS-P7", "cells": {"length_mm": "3", "width_mm": "3"}}, 422)
    assert "is a workbook" in answer["problems"][0]


# A job that cannot be read


@pytest.mark.parametrize("broken", ["format = 2", "not toml at all [", 'format = 1\n[board]\nplacement = "none.csv"\n'])
def test_a_broken_job_opens_on_its_problems(demo: Path, broken: str) -> None:
    (demo / "job.toml").write_text(broken)
    client = client_of(demo)
    opened = Page(client).opened
    assert opened["board"] is None
    assert any(problem["severity"] == "error" for problem in opened["check"]["problems"])


def test_a_file_changed_by_another_hand_is_told_once(demo: Path, page: Page) -> None:
    seen = page.opened["check"]["version"]
    assert page.post("look", {"session": page.session, "version": seen}) == {}
    job = demo / "job.toml"
    job.write_text(job.read_text().replace('name = "full load"', 'name = "all on"'))
    answer = page.post("look", {"session": page.session, "version": seen})
    assert "all on" in [item["name"] for item in answer["captures"]]
    seen = answer["check"]["version"]
    assert page.post("look", {"session": page.session, "version": seen}) == {}


def test_points_outlast_a_job_that_is_broken_for_a_while(demo: Path, page: Page) -> None:
    page.edit(do="place", capture="full load", at="U2", pixel=[200.0, 120.0])
    seen, job = page.opened["check"]["version"], demo / "job.toml"
    whole = job.read_text()
    job.write_text(whole + "[camera\n")
    broken = page.post("look", {"session": page.session, "version": seen})
    assert set(broken) == {"check"}
    assert any(problem["severity"] == "error" for problem in broken["check"]["problems"])
    job.write_text(whole)
    mended = page.post("look", {"session": page.session, "version": broken["check"]["version"]})
    assert mended["captures"]
    assert page.post("state", {"session": page.session, "capture": "full load"})["unsaved"] == ["full load"]


def test_the_page_is_shown_while_what_answers_it_is_still_loaded(demo: Path) -> None:
    answers: Future[ASGIApp] = Future()
    headers = {TOKEN_HEADER: TOKEN}
    with TestClient(application(answers, PORT, TOKEN), base_url=f"http://{HOST}", headers=headers) as client:
        assert client.get("/").status_code == 200
        assert client.get("/page/main.js").status_code == 200
        threading.Timer(0.2, lambda: answers.set_result(answers_of(Workbench(demo)))).start()
        opened = client.post("/api/open")
        assert opened.status_code == 200
        assert opened.json()["job"]["folder"] == demo.name


def test_serving_loads_no_more_than_the_page_needs() -> None:
    code = "import sys, overlay.workbench.server; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert {"numpy", "scipy", "cv2", "shapely", "pydantic", "reportlab"}.isdisjoint(loaded.stdout.split())


def test_no_job_at_all_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no job here"):
        serve(tmp_path, announce=lambda text: None, open_browser=False)


def test_a_port_in_use_is_an_input_error_that_says_so(demo: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=f"port {port}"):
            serve(demo, port=port, announce=lambda text: None, open_browser=False)


# What the frame says


def clicked_roughly(page: Page) -> list[dict[str, Any]]:
    """Two points of the demonstration put some pixels off; returns the points as they were."""
    points: list[dict[str, Any]] = page.state()["points"]
    page.edit("clear")
    for index, off in ((0, (3.0, 2.0)), (5, (-3.0, 1.0))):
        point = points[index]
        place = {"at": point["at"]} if point["at"] else {"board_mm": point["board_mm"]}
        page.edit("place", pixel=list(np.add(point["pixel"], off)), **place)
    return points


def test_a_point_snaps_to_the_contrast_and_goes_back_to_the_click(page: Page) -> None:
    points = clicked_roughly(page)
    before = page.state()["points"][1]
    snapped = page.edit("snap", index=1)["points"][1]
    assert snapped["clicked_px"] == before["pixel"]
    assert np.hypot(*np.subtract(snapped["pixel"], points[5]["pixel"])) < 1.0
    assert page.edit("unsnap", index=1)["points"][1]["pixel"] == before["pixel"]


def test_a_point_put_beside_its_contrast_gets_a_proposal(page: Page) -> None:
    point = page.state()["points"][5]
    x, y = point["pixel"]
    proposal = page.edit("move", index=5, pixel=[x + 2.5, y])["proposal"]
    assert np.hypot(*np.subtract(proposal, point["pixel"])) < 1.0


def test_two_rough_clicks_and_one_key_register_the_board(demo: Path, page: Page) -> None:
    points = clicked_roughly(page)
    refined = page.edit("refine")
    assert "parts agree now" in refined["note"]
    assert len(refined["points"]) == 8
    assert refined["fit"]["rms_px"] < 0.1
    by_place = {tuple(point["board_mm"]): point for point in refined["points"]}
    known = [point for point in points if tuple(point["board_mm"]) in by_place]
    off = [np.subtract(by_place[tuple(point["board_mm"])]["pixel"], point["pixel"]) for point in known]
    assert max(np.hypot(*each) for each in off) < 1.2  # the demonstration's clicks have 0.4 px of noise on either axis
    page.save()
    assert "clicked_x,clicked_y" in (demo / "full_load.points.csv").read_text()
    assert page.post("opinion", {"session": page.session, "capture": "full load"})["words"].startswith(
        "The frame agrees"
    )


def test_points_far_off_are_contradicted_or_left_unconfirmed_but_never_agreed_to(page: Page) -> None:
    clicked_roughly(page)
    x, y = page.state()["points"][0]["pixel"]
    page.edit("move", index=0, pixel=[x + 60, y + 25])
    words = page.post("opinion", {"session": page.session, "capture": "full load"})["words"]
    assert words
    assert not words.startswith("The frame agrees")


def test_without_a_fit_nothing_snaps_and_the_reason_is_told(page: Page) -> None:
    page.edit("clear")
    page.edit("place", at="U2", pixel=[100, 100])
    assert "One more point" in page.edit("snap", status=422, index=0)["problems"][0]
    assert "One more point" in page.edit("refine", status=422)["problems"][0]


def test_undo_tells_which_capture_it_changed(page: Page) -> None:
    page.edit("clear", capture="telemetry idle")
    assert page.edit("undo", capture="full load")["changed"] == "telemetry idle"


def test_a_height_filled_in_moves_the_points_that_stand_on_it(page: Page) -> None:
    page.edit("place", at="U9", pixel=[200, 120])
    warned = page.state()["fit"]["warnings"]
    assert any("the height of U9 is unknown" in text for text in warned)
    cells = {"length_mm": "3", "width_mm": "3", "height_mm": "1.1"}
    page.post("fill/body", {"package": "SENS-P7", "cells": cells})
    assert not any("U9" in text and "unknown" in text for text in page.state()["fit"]["warnings"])
    assert not any(
        "U9" in text and "unknown" in text for text in page.edit("move", index=8, pixel=[201, 120])["fit"]["warnings"]
    )


def test_serving_announces_an_address_of_this_computer_and_ends_quietly_on_an_interrupt(demo: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from overlay.workbench.server import serve; "
        "serve(Path(sys.argv[1]), open_browser=False, announce=lambda text: print(text, flush=True))"
    )
    command = [sys.executable, "-c", code, str(demo)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT) as process:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        found = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/#([\w-]{20,})", address)
        assert found is not None, address
        answer = httpx.get(f"http://127.0.0.1:{found[1]}/")
        assert answer.status_code == 200
        assert found[2] not in answer.text
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 0
        assert process.stderr is not None
        assert "Traceback" not in process.stderr.read()


# Captures and thermocouples


def test_a_capture_begun_in_the_page_can_be_registered_at_once(page: Page, demo: Path) -> None:
    settings = read_settings(demo / "job.toml").capture[1]
    scale, offset = str(settings.frame_scale), str(settings.frame_offset)
    cells = {
        "name": "again",
        "frame": "full_load.tiff",
        "ambient_c": "23",
        "frame_scale": scale,
        "frame_offset": offset,
    }
    answer = page.post("capture", {"session": page.session, "former": None, "cells": cells})
    assert answer["capture"] == "again"
    assert next(item for item in answer["captures"] if item["name"] == "again")["shape"] == [240, 320]
    state = page.edit("place", "again", at="U3", pixel=[180, 100])
    assert state["points"][0]["name"] == "U3"
    assert page.edit("undo", "again")["points"] == []


def test_the_corner_at_pin_1_is_marked_where_the_package_tells(page: Page) -> None:
    parts = {part["refdes"]: part for part in page.opened["board"]["parts"]}
    assert parts["U3"]["pin_1"] in range(4)
    assert parts["C1"]["pin_1"] is None  # round
    # at rotation 0, level A: upper left (IPC-7351); seen through the board lower left on the bottom
    for refdes, highest in (("U3", True), ("U10", False)):
        ring = parts[refdes]["ring"]
        x, y = ring[parts[refdes]["pin_1"]]
        assert x == min(corner[0] for corner in ring)
        assert y == (max if highest else min)(corner[1] for corner in ring)


def test_a_point_on_a_corner_at_its_height_is_kept_and_written(page: Page, demo: Path) -> None:
    state = page.edit("place", board_mm=[40.0, 30.0], z_mm=3.5, pixel=[120.0, 100.0])
    point = state["points"][-1]
    assert (point["board_mm"], point["z_mm"]) == ([40.0, 30.0], 3.5)
    page.save()
    assert "3.5" in (demo / "full_load.points.csv").read_text().splitlines()[-1]
