"""The plan of shots in the page, the camera's values on their way into job.toml, and a scale bar told by clicks."""

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from overlay.errors import InputError
from overlay.job.new import write_new_job
from overlay.job.read_settings import read_settings
from overlay.workbench.section_form import sections_json, value_of, write_section
from tests.browser import bounds, watching
from tests.frames.test_false_colour import BAR, HIGH_C, LOW_C, palette, picture, scene
from tests.workbench.conftest import serving
from tests.workbench.plain_folder import many, write_folder

pytestmark = pytest.mark.browser


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A job of five parts without any capture."""
    own = tmp_path / "five"
    write_folder(own, many(5), (100.0, 80.0))
    write_new_job(own, own / "placement.csv", own / "outline.svg", own / "parts.csv")
    job = own / "job.toml"
    job.write_text(job.read_text().replace("[requirement]", 'bodies = "bodies.csv"\n\n[requirement]', 1))
    return own


@pytest.fixture
def page(browser: Browser, folder: Path) -> Iterator[Page]:
    for running in serving(folder):
        with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
            expect(watched.page.locator("#status")).not_to_be_empty(timeout=30_000)
            yield watched.page


def test_a_value_is_written_in_its_place_and_every_comment_stays(folder: Path) -> None:
    job = folder / "job.toml"
    before = job.read_text()
    write_section(job, "camera", {"pixels": "320 x 240", "hfov_deg": "25,5", "netd_c": ""})
    camera = read_settings(job).camera
    assert (camera.pixels, camera.hfov_deg, camera.netd_c) == ((320, 240), 25.5, 0.06)
    kept = job.read_text()
    assert all(line in kept for line in before.splitlines() if line.startswith("#"))
    told = {item["key"]: item["value"] for item in sections_json(read_settings(job))["camera"]}
    assert (told["pixels"], told["hfov_deg"]) == ("320, 240", "25.5")


def test_a_value_that_cannot_be_is_refused_and_nothing_is_written(folder: Path) -> None:
    job = folder / "job.toml"
    before = job.read_text()
    for cells in ({"hfov_deg": "400"}, {"pixels": "wide"}, {"band_um": "14, 8"}):
        with pytest.raises(InputError):
            write_section(job, "camera", cells)
    assert job.read_text() == before
    assert value_of("derating", "none") == "none"


def test_shots_are_planned_by_keys_alone_and_drawn_to_scale(page: Page, folder: Path) -> None:
    page.keyboard.press("Alt+2")
    page.keyboard.press("Alt+Enter")  # the camera's pixels are not stated yet: their field is where it leads
    expect(page.locator("#shots-words")).to_contain_text("pixels and hfov_deg not stated", timeout=30_000)
    expect(page.locator("#camera-form [name=pixels]")).to_be_focused()
    page.keyboard.type("160, 120")
    page.keyboard.press("Tab")
    page.keyboard.type("28")
    page.keyboard.press("Alt+Enter")
    expect(page.locator("#shots tbody tr").first).to_be_visible(timeout=60_000)
    assert read_settings(folder / "job.toml").camera.pixels == (160, 120)
    expect(page.locator("#next")).to_have_text("Next: begin a capture")

    field = page.locator("#shots tbody tr").first.locator("td").nth(4).inner_text()
    wide, high = (float(part) for part in field.split("×"))
    _, _, board_width, _ = bounds(page.locator("#world .edge"))
    *_, shown_wide, shown_high = bounds(page.locator("#world .field").first)
    assert shown_wide / board_width == pytest.approx(wide / 100.0, abs=0.03)
    assert shown_high / board_width == pytest.approx(high / 100.0, abs=0.03)

    page.locator("#write-shots").click()
    expect(page.locator("#status")).to_contain_text("shot_plan.pdf", timeout=30_000)
    assert (folder / "report" / "shot_plan.pdf").read_bytes().startswith(b"%PDF")


def test_a_scale_bar_is_told_by_two_clicks(page: Page, folder: Path) -> None:
    field, _ = scene(3)
    picture(field, palette("glow", 256), marks=False).save(folder / "export.png")
    page.reload()
    expect(page.locator("#begin")).to_be_visible(timeout=30_000)
    page.locator("#begin").click()
    page.locator("#capture-form [name=frame]").select_option("export.png")
    canvas = page.locator(".scale-bar canvas")
    expect(canvas).to_be_visible(timeout=10_000)
    for end in (BAR[:2], BAR[2:]):
        canvas.scroll_into_view_if_needed()
        x, y, width, _ = bounds(canvas)
        by = width / (field.shape[1] + 60)
        page.mouse.click(x + (end[0] + 0.5) * by, y + (end[1] + 0.5) * by)
    page.keyboard.type(f"{LOW_C}")
    page.keyboard.press("Tab")
    page.keyboard.type(f"{HIGH_C}")
    expect(page.locator(".preview p")).to_contain_text(re.compile(r"× 240 pixels, \d"), timeout=10_000)
    page.locator("#capture-form [name=ambient_c]").fill("23")
    page.locator("#capture-form [name=ambient_c]").press("Enter")
    expect(page.locator("#status")).to_contain_text("is in job.toml", timeout=10_000)
    capture = read_settings(folder / "job.toml").capture[0]
    assert capture.scale_bar is not None
    assert np.abs(np.subtract(capture.scale_bar, BAR)).max() <= 2.0
    assert capture.scale_c == (LOW_C, HIGH_C)
