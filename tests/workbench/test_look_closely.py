"""Looking closely in a real browser: what a box, a circle and a line say is what the frame holds."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile
from playwright.sync_api import Browser, Page, expect

from tests.browser import watching
from tests.workbench.conftest import Running
from tests.workbench.test_in_browser import on_screen

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser: Browser, running: Running) -> Iterator[Page]:
    with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
        expect(watched.page.locator("#status")).not_to_be_empty(timeout=30_000)
        watched.page.locator("#capture").select_option("full load", force=True)
        watched.page.locator(".step[data-step=look]").click()
        expect(watched.page.locator("#tools")).to_be_visible()
        yield watched.page


def frame_c(demo: Path, name: str = "full_load") -> np.ndarray:
    return np.asarray(tifffile.imread(demo / f"{name}.tiff"), dtype=float) * 0.01 - 40.0


def draw(page: Page, tool: str, begin: tuple[float, float], end: tuple[float, float]) -> None:
    page.locator(f"#tools label:has([value={tool}])").click()
    page.mouse.move(*on_screen(page, begin))
    page.mouse.down()
    page.mouse.move(*on_screen(page, end), steps=4)
    page.mouse.up()


def cells(page: Page, mark: str) -> list[float]:
    row = page.locator("#marks tbody tr", has_text=mark)
    texts = row.locator("td.number").all_inner_texts()
    return [float(text.replace("−", "-")) for text in texts]


def test_statistics_of_box_and_circle_are_those_of_the_frame(page: Page, demo: Path) -> None:
    whole = frame_c(demo)
    draw(page, "box", (99.7, 59.6), (140.4, 100.3))
    inside = whole[60:101, 100:141]
    expect(page.locator("#marks tbody tr")).to_have_count(1)
    assert cells(page, "box 1") == pytest.approx(
        [inside.min(), inside.max(), inside.mean(), inside.std(ddof=1)], abs=0.051
    )
    row, column = np.unravel_index(inside.argmax(), inside.shape)
    expect(page.locator("#marks tbody tr")).to_contain_text(
        re.compile(rf"{column + 100}, {row + 60} px; [\d.]+, [\d.]+ mm")
    )

    draw(page, "circle", (113.0, 136.0), (121.3, 136.0))
    y, x = np.mgrid[0:240, 0:320]
    ring = whole[np.hypot(x - 113.0, y - 136.0) <= 8.3]
    expect(page.locator("#marks tbody tr")).to_have_count(2)
    assert cells(page, "circle 1") == pytest.approx([ring.min(), ring.max(), ring.mean(), ring.std(ddof=1)], abs=0.25)


def test_a_profile_names_the_parts_under_it(page: Page) -> None:
    draw(page, "line", (60.0, 146.0), (300.0, 158.0))
    expect(page.locator("#profile svg.plot .curve")).to_have_count(1)
    expect(page.locator("#profile table")).to_contain_text(re.compile(r"U2\s*[\d.]+ … [\d.]+ mm"))
    expect(page.locator("#profile svg.plot")).to_contain_text("U2")


def test_by_keys_a_line_is_drawn_and_taken_away(page: Page) -> None:
    page.locator("#frame").focus()
    page.keyboard.press("l")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("Alt+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#marks tbody tr")).to_have_count(1)
    page.keyboard.press("Delete")
    expect(page.locator("#marks tbody tr")).to_have_count(0)


def test_a_span_stands_out_and_its_share_is_told(page: Page, demo: Path) -> None:
    page.locator("#isotherm").check()
    page.locator("#isotherm-low").fill("50")
    page.locator("#isotherm-high").fill("70")
    page.locator("#isotherm-high").press("Tab")
    whole = frame_c(demo)
    share = 100.0 * ((whole >= 50.0) & (whole <= 70.0)).mean()
    told = page.locator("#isotherm-share").inner_text()
    assert float(told.split()[0]) == pytest.approx(share, abs=0.15)
    places = np.argwhere((whole > 55.0) & (whole < 65.0))
    some = [on_screen(page, tuple(map(float, place[::-1]))) for place in places[:: len(places) // 12]]  # type: ignore[arg-type]
    green = [color == [57, 217, 138] for color in page.evaluate(COLORS, [list(place) for place in some])]
    assert sum(green) > 0.6 * len(green)  # the rest lies under outlines


COLORS = """(places) => {
  const canvas = document.querySelector('#frame');
  const box = canvas.getBoundingClientRect();
  const by = canvas.width / box.width;
  const { data, width } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  return places.map(([x, y]) => {
    const at = 4 * (Math.floor((y - box.top) * by) * width + Math.floor((x - box.left) * by));
    return [...data.slice(at, at + 3)];
  });
}"""


def test_one_part_in_all_captures_and_the_difference_of_two(page: Page) -> None:
    page.locator("#beside-part").fill("R31")
    page.keyboard.press("Enter")
    expect(page.locator("#beside figure")).to_have_count(2)
    expect(page.locator("#beside")).to_contain_text(re.compile(r"rise \d+\.\d K"))
    page.locator("#difference-form").get_by_role("button", name="Show it").click()
    expect(page.locator("#difference-words")).to_contain_text("“full load” less “telemetry idle”, rises")
    page.mouse.move(*on_screen(page, (160.0, 120.0)))
    expect(page.locator("#readout")).to_contain_text(re.compile(r"−?\d+\.\d K"))
    page.locator("#difference-off").click()
    page.mouse.move(*on_screen(page, (161.0, 120.0)))
    expect(page.locator("#readout")).to_contain_text("°C apparent")


def test_the_picture_is_taken_away_as_svg_and_png(page: Page, tmp_path: Path) -> None:
    draw(page, "box", (100.0, 60.0), (140.0, 100.0))
    for kind, begin in (("svg", b"<svg"), ("png", b"\x89PNG")):
        with page.expect_download() as taken:
            page.locator(f"#picture-{kind}").click()
        path = tmp_path / taken.value.suggested_filename
        taken.value.save_as(path)
        assert path.name == f"full_load.{kind}"
        assert path.read_bytes().startswith(begin)
    text = (tmp_path / "full_load.svg").read_text()
    for words in ("°C", "box 1", " mm</text>", "Tide-gauge", "data:image/png;base64,"):
        assert words in text
    assert json.dumps(text).count("<script") == 0
