"""The HTML report opened from the disk: linked, silent, and content with itself."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from overlay.job.analyse import analyse
from overlay.job.read import read_job
from overlay.report.html import margin_map_html
from tests.browser import watching
from tests.report.large_job import EVIL, PARTS, make_large_job

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_large_job(tmp_path_factory.mktemp("large"))
    path = folder / "margin_map.html"
    path.write_text(margin_map_html(analyse(read_job(folder))), encoding="utf-8")
    return path


@pytest.fixture
def page(browser: Browser, report: Path) -> Iterator[Page]:
    with watching(browser, report.as_uri(), report.as_uri(), 900) as watched:
        watched.page.on("dialog", lambda dialog: (watched.complaints.append(dialog.message), dialog.dismiss()))
        yield watched.page


def test_six_hundred_parts_and_a_large_frame_fit_into_a_megabyte_and_a_half(report: Path) -> None:
    assert report.stat().st_size <= 1.5e6


def test_every_part_has_its_row(page: Page) -> None:
    expect(page.locator("#parts tbody tr")).to_have_count(PARTS)
    expect(page.locator("#shown")).to_contain_text(f"{PARTS} of {PARTS}")


def test_pointing_at_a_body_points_at_its_row_and_at_the_frame(page: Page) -> None:
    page.locator('#map-top path[data-part="R9"]').first.hover(force=True)
    expect(page.locator('#parts tr[data-part="R9"]')).to_have_class(re.compile("pointed"))
    expect(page.locator('#frame-0 path[data-part="R9"]').first).to_have_class(re.compile("pointed"))
    expect(page.locator("#detail h2").first).to_have_text("R9")


def test_pointing_at_a_row_points_at_the_pictures(page: Page) -> None:
    page.locator('#parts tr[data-part="C2"]').hover()
    expect(page.locator('#map-top path[data-part="C2"]').first).to_have_class(re.compile("pointed"))


def test_a_click_keeps_a_part_until_the_next(page: Page) -> None:
    page.locator('#frame-0 path[data-part="R11"]').first.click(force=True)
    expect(page.locator('#parts tr[data-part="R11"]')).to_have_class(re.compile("kept"))
    expect(page.locator('#parts tr[data-part="R11"]')).to_be_in_viewport()
    page.locator('#parts tr[data-part="C2"]').click()
    expect(page.locator('#parts tr[data-part="R11"]')).not_to_have_class(re.compile("kept"))
    expect(page.locator('#map-top path[data-part="C2"]').first).to_have_class(re.compile("kept"))


def test_rows_answer_to_keys(page: Page) -> None:
    page.locator("#parts tbody tr").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#parts tbody tr").nth(1)).to_have_class(re.compile("kept"))


def test_a_designator_that_would_be_a_script_stays_text(page: Page, report: Path) -> None:
    assert "<script>alert" not in report.read_text(encoding="utf-8")
    page.locator("#words").fill("alert(1)")
    expect(page.locator("#parts tbody tr:not([hidden])")).to_have_count(1)
    row = page.locator("#parts tbody tr:not([hidden])")
    expect(row.locator("th")).to_have_text(EVIL)
    row.click()
    expect(page.locator("#detail h2").first).to_have_text(EVIL)


def test_the_filter_counts_what_it_shows(page: Page) -> None:
    page.locator("#words").fill("SOIC-8")
    expect(page.locator("#shown")).to_have_text(f"{PARTS // 6} of {PARTS} parts")


def test_a_script_put_into_the_page_does_not_run(browser: Browser, report: Path) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(report.as_uri())
    page.evaluate("document.addEventListener('securitypolicyviolation', () => document.body.dataset.refused = 'yes')")
    page.evaluate(
        "{ const s = document.createElement('script'); s.textContent = 'alert(2)'; document.body.append(s); }"
    )
    expect(page.locator("body")).to_have_attribute("data-refused", "yes")
    context.close()
