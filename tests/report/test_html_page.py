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


def test_a_page_takes_no_more_than_a_megabyte_and_a_half_for_four_times_as_much(report: Path) -> None:
    assert report.stat().st_size <= 1.5e6 / 4 + 1e5  # what every page holds is counted once


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
    body = page.locator('#frame-0 path[data-part="R11"]').first
    body.scroll_into_view_if_needed()
    before_px = page.evaluate("window.scrollY")
    body.click(force=True)
    expect(page.locator('#parts tr[data-part="R11"]')).to_have_class(re.compile("kept"))
    assert page.evaluate("window.scrollY") == before_px  # the page does not jump …
    row, box = (page.locator(name).bounding_box() for name in ('#parts tr[data-part="R11"]', ".scroll.tall"))
    assert row is not None
    assert box is not None
    assert box["y"] <= row["y"] <= box["y"] + box["height"] - row["height"]  # … but the table's own box does
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


def column(page: Page, heading: str) -> list[str]:
    names = page.locator("#parts thead th").all_inner_texts()
    place = next(index for index, name in enumerate(names) if name.startswith(heading)) + 1
    return page.locator(f"#parts tbody tr > :nth-child({place})").all_inner_texts()


def test_a_heading_sorts_up_then_down_then_as_the_report_has_it(page: Page) -> None:
    given = column(page, "part")
    heading = page.locator("#parts thead th", has_text="rise K")
    for sense, order in (("ascending", 1.0), ("descending", -1.0)):
        heading.click()
        expect(page.locator("#parts thead th[aria-sort]")).to_have_attribute("aria-sort", sense)
        rises = [order * float(text.replace("−", "-")) for text in column(page, "rise K")]
        assert rises == sorted(rises)
    heading.click()
    assert column(page, "part") == given
    page.locator("#parts thead th", has_text="part").first.focus()
    page.keyboard.press("Enter")
    names = [name for name in column(page, "part") if re.fullmatch(r"[CR]\d+", name)]
    assert names == sorted(names, key=lambda name: (name[0], int(name[1:])))


def test_a_picture_fills_the_window_and_goes_back_to_its_place(page: Page) -> None:
    small = page.locator("#map-top svg").bounding_box()
    page.locator("#map-top .enlarge").click()
    large = page.locator("#enlarged svg").bounding_box()
    assert small is not None
    assert large is not None
    assert large["height"] > 0.8 * 900
    page.locator('#enlarged path[data-part="R9"]').first.hover(force=True)
    expect(page.locator('#parts tr[data-part="R9"]')).to_have_class(re.compile("pointed"))
    page.keyboard.press("Escape")
    expect(page.locator("#enlarged figure")).to_have_count(0)
    expect(page.locator(".pictures figure").first).to_have_attribute("id", "map-top")


def test_in_print_no_column_is_cut_and_headings_return_on_every_page(page: Page) -> None:
    import io

    from pypdf import PdfReader

    pages = [text.extract_text() for text in PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True))).pages]
    table = [text for text in pages if "R0805" in text]
    assert len(table) > 2
    assert all("projected" in text and "package" in text for text in table)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 1047, "height": 718})  # A4 on its side less the margins, at 96 pixels an inch
    wide, room = page.evaluate(
        "[document.querySelector('#parts').scrollWidth, document.querySelector('.parts').clientWidth]"
    )
    assert wide <= room
