"""The board found in its frame without clicks: drawn, asked for, confirmed by one click or refused in words."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser import watching
from tests.workbench.conftest import Running
from tests.workbench.test_in_browser import demo as demo
from tests.workbench.test_in_browser import on_screen, saved_points

pytestmark = pytest.mark.browser

R31_PX = (52.9, 73.6)  # the glow upper left in the capture "full load"; the demonstration's truth has it there


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
        expect(watched.page.locator("#status")).not_to_be_empty(timeout=30_000)
        yield watched.page
        watched.complaints[:] = [text for text in watched.complaints if "422" not in text]  # of the refused click


def test_one_click_confirms_what_the_frame_proposes_and_a_wrong_one_refuses_it(page: Page, demo: Path) -> None:
    page.locator(".step[data-step=register]").click()
    page.locator("#find").click()
    expect(page.locator("#found progress")).to_be_visible()
    page.locator("#board-pane [data-board-zoom=in]").click()  # the page stays usable
    expect(page.locator("#found")).to_contain_text(re.compile(r"Click on R31 in the frame"), timeout=60_000)
    expect(page.locator("#found .agrees")).to_have_text(re.compile(r"^[3-9]\d agree"))
    expect(page.locator("#next")).to_have_text("Next: click on R31")

    page.mouse.click(*on_screen(page, (R31_PX[0] + 6.0, R31_PX[1])))
    expect(page.locator("#found")).to_contain_text("more than 3 pixels from where the proposal puts R31")
    expect(page.locator("#points tbody tr")).to_have_count(0)

    page.mouse.click(*on_screen(page, R31_PX))
    expect(page.locator("#points tbody tr")).to_have_count(8)
    assert float(page.locator("#rms").inner_text()) < 0.5
    page.keyboard.press("Control+z")
    expect(page.locator("#points tbody tr")).to_have_count(0)
    page.keyboard.press("Control+y")
    page.keyboard.press("Control+s")
    expect(page.locator("#status")).to_contain_text("Saved full_load.points.csv")
    assert len(saved_points(demo)) == 8
