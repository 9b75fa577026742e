"""What if, in a real browser: clearly marked, taken back by one click, kept by one click."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from overlay.job.read_settings import read_settings
from tests.browser import watching
from tests.plain_board import Setting
from tests.workbench.conftest import serving
from tests.workbench.plain_folder import many, write_job

pytestmark = pytest.mark.browser


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return write_job(tmp_path / "rows", many(5), Setting(px_per_mm=2.0, size_mm=(100.0, 80.0)))


@pytest.fixture
def page(browser: Browser, job: Path) -> Iterator[Page]:
    for running in serving(job.parent):
        with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
            expect(watched.page.locator("#status")).not_to_be_empty(timeout=30_000)
            yield watched.page


def verdict(page: Page, refdes: str) -> str:
    return page.locator(f'#parts tr[data-part="{refdes}"] .mark').inner_text()


def test_another_ambient_and_limit_are_tried_taken_back_and_kept(page: Page, job: Path) -> None:
    before = job.read_text(), (job.parent / "parts.csv").read_text()
    page.keyboard.press("Alt+4")
    page.keyboard.press("Alt+Enter")
    expect(page.locator("#parts")).to_be_visible(timeout=60_000)
    assert verdict(page, "C2") == "clear"
    page.locator('#parts tr[data-part="C2"]').click()
    page.locator("#what-if summary").click()
    page.locator("#try-form [name=limit_c]").fill("55")
    page.keyboard.press("Enter")
    expect(page.locator("#trial")).to_contain_text("Only tried, nothing is written: C2: limit 55 °C", timeout=30_000)
    expect(page.locator("#trial")).to_contain_text("1 verdict changes: C2 clear → over")
    expect(page.locator("body")).to_have_attribute("data-trial", "")
    expect(page.locator("#reports")).to_be_hidden()
    assert verdict(page, "C2") == "over"
    assert (job.read_text(), (job.parent / "parts.csv").read_text()) == before

    page.locator("#try-back").click()
    assert verdict(page, "C2") == "clear"
    expect(page.locator("#trial")).to_be_hidden()
    expect(page.locator("#reports")).to_be_visible()

    page.locator("#try-form [name=ambient_max_c]").fill("85")
    page.keyboard.press("Enter")
    expect(page.locator("#trial")).to_contain_text("hottest ambient 85 °C instead of 40", timeout=30_000)
    page.locator("#try-keep").click()
    expect(page.locator("#status")).to_contain_text("Kept: written to job.toml")
    assert read_settings(job).requirement.ambient_max_c == 85.0
    assert "# as the customer wants it" in job.read_text()
    assert verdict(page, "C2") != "clear"
    expect(page.locator("#next")).to_have_text("Next: write reports")
