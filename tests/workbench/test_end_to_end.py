"""From a folder of files to a margin map, and a close-up to a planned place: clicks, keys and time counted."""

import json
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile
from playwright.sync_api import Browser, Page, expect

from overlay.frames.radiometry import Sight
from overlay.job.read_settings import read_settings
from tests.browser import bounds, watching
from tests.plain_board import Part, Setting
from tests.workbench.conftest import ROOT, serving
from tests.workbench.plain_folder import frame_of, pixel_of, write_folder
from tests.workbench.test_find_the_board import R31_PX
from tests.workbench.test_in_browser import walk_to

pytestmark = pytest.mark.browser


class Hand:
    """A hand at the page, that counts what it does."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.clicks = self.keys = 0
        self.began = time.monotonic()

    def click(self, selector: str) -> None:
        self.page.locator(selector).click(force=selector.startswith("#board"))
        self.clicks += 1

    def click_frame(self, pixel: tuple[float, float], shape: tuple[int, int]) -> None:
        rows, cols = shape
        x, y, width, height = bounds(self.page.locator("#frame"))
        zoom = min((width - 16) / cols, (height - 16) / rows)
        left, top = x + (width - zoom * (cols - 1)) / 2, y + (height - zoom * (rows - 1)) / 2
        self.page.mouse.click(left + zoom * pixel[0], top + zoom * pixel[1])
        self.clicks += 1

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.keys += len(text)

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)
            self.keys += 1

    def tell(self, what: str) -> None:
        print(f"{what}: {self.clicks} clicks, {self.keys} keys, {time.monotonic() - self.began:.0f} s")


def opened(browser: Browser, folder: Path) -> Iterator[Page]:
    for running in serving(folder):
        with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
            yield watched.page


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Placement, outline, list and frame of the demonstration board, as an engineer has them."""
    own = tmp_path / "gauge"
    own.mkdir()
    for name in ("placement.csv", "outline.svg", "parts.csv"):
        shutil.copy(ROOT / "demo_board" / name, own / name)
    np.save(own / "warm.npy", tifffile.imread(ROOT / "demo_board" / "full_load.tiff").astype(float) * 0.01 - 40.0)
    return own


def margin_map(folder: Path) -> dict[str, str]:
    """Each part's verdict in the written report, which says that the hottest resistor is over its limit."""
    assert (folder / "report" / "margin_map.pdf").read_bytes().startswith(b"%PDF")
    results = json.loads((folder / "report" / "results.json").read_text())
    verdicts = {part["refdes"]: part["worst"]["verdict"] for part in results["components"]}
    assert len(verdicts) == 96
    assert verdicts["R17"] == "over"
    return verdicts


def test_a_margin_map_by_mouse(browser: Browser, folder: Path) -> None:
    for page in opened(browser, folder):
        hand = Hand(page)
        expect(page.locator("#start-form [name=placement]")).to_have_value("placement.csv", timeout=30_000)
        hand.click("#next")
        expect(page.locator("#next")).to_have_text("Next: begin a capture", timeout=30_000)
        hand.click("#next")
        expect(page.locator(".preview p")).to_contain_text("320 × 240 pixels")
        hand.click("#capture-form [name=ambient_c]")
        hand.type("23.8")
        hand.click("#capture-form button.strong")
        expect(page.locator("#next")).to_have_text("Next: register “warm”")
        expect(page.locator("#check .problems .error")).to_have_count(0)  # what comes next is no error
        hand.click("#next")
        expect(page.locator("#next")).to_have_text("Next: find the board")
        hand.click("#next")
        expect(page.locator("#found")).to_contain_text("Click on R31", timeout=90_000)
        hand.click_frame(R31_PX, (240, 320))
        expect(page.locator("#next")).to_have_text("Next: read the board")
        hand.click("#next")
        hand.click("#ask button[value=save]")
        expect(page.locator("#next")).to_have_text("Next: write reports", timeout=120_000)
        hand.click("#next")
        expect(page.locator("#status")).to_contain_text("margin_map.pdf", timeout=90_000)
        hand.tell("folder to margin map, by mouse")
        assert hand.clicks <= 12
        margin_map(folder)


def test_a_margin_map_by_keys_alone(browser: Browser, folder: Path) -> None:
    for page in opened(browser, folder):
        hand = Hand(page)
        expect(page.locator("#start-form [name=placement]")).to_be_focused(timeout=30_000)
        hand.press("Alt+Enter")
        expect(page.locator("#next")).to_have_text("Next: begin a capture", timeout=30_000)
        hand.press("Alt+3")  # not possible yet: it says why, and leads to where it becomes so
        expect(page.locator("#status")).to_contain_text("There is no capture yet")
        expect(page.locator(".preview p")).to_contain_text("320 × 240 pixels")
        hand.press("Tab", 3)  # frame, name, side, ambient
        hand.type("23.8")
        hand.press("Enter")
        expect(page.locator("#next")).to_have_text("Next: register “warm”")
        hand.press("Alt+Enter")
        expect(page.locator("#next")).to_have_text("Next: find the board")
        hand.press("Alt+Enter")
        expect(page.locator("#found")).to_contain_text("Click on R31", timeout=90_000)
        expect(page.locator("#frame")).to_be_focused()
        hand.press("ArrowRight")
        walk_to(page, R31_PX)
        hand.press("Enter")
        expect(page.locator("#next")).to_have_text("Next: read the board")
        hand.press("Alt+Enter")
        expect(page.locator("#ask button[value=save]")).to_be_focused()
        hand.press("Enter")
        expect(page.locator("#next")).to_have_text("Next: write reports", timeout=120_000)
        hand.press("Alt+Enter")
        expect(page.locator("#status")).to_contain_text("margin_map.pdf", timeout=90_000)
        hand.tell("folder to margin map, by keys (and some forty to walk to one part)")
        margin_map(folder)


# -- a close-up of one package ------------------------------------------------------------------------------------

PX_PER_MM, BOARD_MM, MIDDLE_MM = 6.0, (100.0, 80.0), (50.0, 40.0)
HOTTEST_MM = (56.0, 36.5)  # where the package is hottest
TRANSMITTANCE = 0.9  # of the close-up lens, known
SHAPE = (240, 240)  # 40 × 40 mm: only the package and bare board about it


def package_c(along: np.ndarray, across: np.ndarray) -> np.ndarray:
    """A package with one hot place off its middle."""
    away = np.hypot(along - (HOTTEST_MM[0] - MIDDLE_MM[0]), across - (HOTTEST_MM[1] - MIDDLE_MM[1]))
    return np.asarray(48.0 + 24.0 * np.exp(-(away**2) / (2.0 * 5.0**2)))


@pytest.fixture
def close_up(tmp_path: Path) -> Path:
    parts = [Part("U1", MIDDLE_MM, (30.0, 30.0), package_c), Part("U2", (8.0, 8.0), (6.0, 6.0), 40.0)]
    lens = Sight(air_c=23.0, window_transmittance=TRANSMITTANCE, window_c=23.0, window_reflected_c=23.0)
    setting = Setting(px_per_mm=PX_PER_MM, size_mm=BOARD_MM, sight=lens)
    own = tmp_path / "close"
    write_folder(own, parts, BOARD_MM, bodies=False)
    left, top = corner_px()
    np.save(own / "near.npy", frame_of(parts, setting)[top : top + SHAPE[0], left : left + SHAPE[1]])
    return own


def corner_px() -> tuple[int, int]:
    """The whole picture's pixel that is the close-up's first."""
    x, y = pixel_of(MIDDLE_MM, Setting(px_per_mm=PX_PER_MM, size_mm=BOARD_MM))
    return round(x) - SHAPE[1] // 2, round(y) - SHAPE[0] // 2


def test_a_close_up_of_one_package_to_a_planned_thermocouple_place(browser: Browser, close_up: Path) -> None:
    for page in opened(browser, close_up):
        hand = Hand(page)
        expect(page.locator("#start-form [name=placement]")).to_have_value("placement.csv", timeout=30_000)
        hand.click("#next")
        expect(page.locator("#check")).to_contain_text("Bodies not known: 2", timeout=30_000)
        size = page.get_by_role("form", name="HOUSE-30-30")
        for label, value in (("length", "30"), ("width", "30"), ("height", "0.05")):
            size.get_by_label(label).click()
            hand.clicks += 1
            hand.type(value)
        size.get_by_role("button", name="Fill in").click()
        hand.clicks += 1
        expect(page.locator("#check")).to_contain_text("Bodies not known: 1")

        hand.click("#next")
        hand.click("#capture-form [name=ambient_c]")
        hand.type("23")
        hand.click("#capture-form summary >> nth=0")
        hand.click("#capture-form [name=window_transmittance]")
        hand.type(f"{TRANSMITTANCE}")
        hand.click("#capture-form button.strong")
        expect(page.locator("#next")).to_have_text("Next: register “near”")
        hand.click("#next")
        expect(page.locator("body")).to_have_attribute("data-step", "register")

        left, top = corner_px()
        hand.click('#board [data-target="U1"]')
        for name, x, y in (
            ("upper left", 35.0, 55.0),
            ("upper right", 65.0, 55.0),
            ("lower right", 65.0, 25.0),
            ("lower left", 35.0, 25.0),
        ):
            target = page.locator(f'#board [data-target^="U1, {name} corner"]')
            if not target.count():
                hand.click('#board [data-target="U1"]')
            target.click(force=True)
            hand.clicks += 1
            u, v = pixel_of((x, y), Setting(px_per_mm=PX_PER_MM, size_mm=BOARD_MM))
            hand.click_frame((u - left, v - top), SHAPE)
        expect(page.locator("#points tbody tr")).to_have_count(4)
        expect(page.locator("#next")).to_have_text("Next: read the board")
        hand.click("#next")
        hand.click("#ask button[value=save]")
        expect(page.locator('#parts tr[data-part="U1"]')).to_be_visible(timeout=120_000)
        hand.click('#parts tr[data-part="U1"]')
        hand.click("#probe")
        expect(page.locator("#probe-words")).to_contain_text("U1", timeout=60_000)
        hand.tell("close-up to a planned place")
        told = re.search(r"board (−?[\d.]+), (−?[\d.]+) mm", page.locator("#probe-words").inner_text())
        assert told is not None
        planned = tuple(float(part.replace("−", "-")) for part in told.groups())
        off_mm = float(np.hypot(planned[0] - HOTTEST_MM[0], planned[1] - HOTTEST_MM[1]))
        print(f"the planned place is {off_mm:.2f} mm from the truth")
        assert off_mm <= 0.3
        assert read_settings(close_up / "job.toml").capture[0].window_transmittance == TRANSMITTANCE
        row = page.locator('#parts tr[data-part="U1"]').locator("th, td").all_inner_texts()
        headings = page.locator("#parts thead th").all_inner_texts()
        assert float(row[headings.index("peak °C")]) == pytest.approx(72.0, abs=1.0)
