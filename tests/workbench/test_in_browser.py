"""The whole way in a real browser: place points, save, read, and find the hottest resistor by pointing."""

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import tifffile
from playwright.sync_api import Browser, Page, expect

from tests.browser import Watched, bounds, watching
from tests.workbench.conftest import Running

pytestmark = pytest.mark.browser

ROWS, COLS = 240, 320
# where the demonstration's own clicks have the holes and parts of the capture "full load"
PLACES = {
    "hole (4, 60) mm": (42.22, 41.70),
    "hole (92, 60) mm": (281.62, 46.50),
    "hole (4, 4) mm": (42.09, 190.04),
    "hole (92, 4) mm": (275.52, 196.52),
    "R21": (113.08, 136.63),
    "U2": (179.96, 150.49),
}


@pytest.fixture
def watched(browser: Browser, running: Running) -> Iterator[Watched]:
    with watching(browser, running.address, f"http://127.0.0.1:{running.port}/", 720) as watched:
        expect(watched.page.locator("#status")).not_to_be_empty(timeout=30_000)
        yield watched


@pytest.fixture
def demo(demo: Path) -> Path:
    """Without the control points of "full load", which are to be placed here."""
    job = demo / "job.toml"
    text = job.read_text()
    first, last = text.index('[[capture]]\nname = "telemetry idle"'), text.index('[[capture]]\nname = "full load"\n')
    bottom = text.index('[[capture]]\nname = "full load, bottom"')
    job.write_text(text[:first] + text[last:bottom])
    (demo / "full_load.points.csv").write_text("pixel_x,pixel_y,at,board_x_mm,board_y_mm\n")
    return demo


def on_screen(page: Page, pixel: tuple[float, float]) -> tuple[float, float]:
    """Where a pixel of the fitted frame is on the screen."""
    x, y, width, height = bounds(page.locator("#frame"))
    zoom = min((width - 16) / COLS, (height - 16) / ROWS)
    return (
        x + (width - zoom * (COLS - 1)) / 2 + zoom * pixel[0],
        y + (height - zoom * (ROWS - 1)) / 2 + zoom * pixel[1],
    )


def click_board(page: Page, target: str) -> None:
    page.locator(f'#board [data-target="{target}"]').click(force=True)


def rms_px(page: Page) -> float:
    return float(page.locator("#rms").inner_text())


def saved_points(demo: Path) -> list[dict[str, str]]:
    lines = (demo / "full_load.points.csv").read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_six_points_by_mouse_and_keys_then_save_read_and_point_at_the_hottest_resistor(
    watched: Watched, demo: Path
) -> None:
    page = watched.page
    page.locator(".step[data-step=register]").click()
    expect(page.locator("#fit")).to_contain_text("Place two points")

    for count, (target, pixel) in enumerate(list(PLACES.items())[:4], start=1):
        click_board(page, target)
        expect(page.locator("#status")).to_contain_text(target)
        x, y = on_screen(page, pixel)
        page.mouse.move(x - 12, y + 9)
        page.mouse.down()  # beside the place first, then dragged to it
        page.mouse.move(x - 4, y + 2, steps=3)
        page.mouse.move(x, y)
        page.mouse.up()
        expect(page.locator("#points tbody tr")).to_have_count(count)
    assert rms_px(page) < 1.5

    # the other way round: first the frame, then the board
    page.mouse.click(*on_screen(page, PLACES["R21"]))
    expect(page.locator("#status")).to_contain_text("Which place of the board")
    page.keyboard.press("Escape")
    click_board(page, "R21")
    expect(page.locator("#points tbody tr")).to_have_count(5)

    # and by keys: choose, go there, place, nudge
    page.locator("#target").fill("U2")
    page.keyboard.press("Enter")
    expect(page.locator("#frame")).to_be_focused()
    page.keyboard.press("Enter")  # at the place the fit expects
    expect(page.locator("#points tbody tr")).to_have_count(6)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#undo")).to_be_enabled()
    assert rms_px(page) < 0.6

    page.get_by_role("button", name="Save points").click()
    expect(page.locator("#status")).to_contain_text("Saved full_load.points.csv")
    rows = saved_points(demo)
    assert [row["at"] for row in rows] == ["", "", "", "", "R21", "U2"]
    for row, (x, y) in zip(rows, PLACES.values(), strict=True):
        assert float(row["pixel_x"]) == pytest.approx(x, abs=0.8)
        assert float(row["pixel_y"]) == pytest.approx(y, abs=0.8)

    page.get_by_role("button", name="4 Read").click()
    page.locator("#read").click()
    expect(page.locator("#parts")).to_be_visible(timeout=120_000)

    name = hottest_resistor(page)
    row, column = np.unravel_index(np.argmax(tifffile.imread(demo / "full_load.tiff")), (ROWS, COLS))
    pixel = (float(column), float(row))  # the brightest glow
    page.mouse.move(*on_screen(page, pixel))
    expect(page.locator("#readout")).to_contain_text(re.compile(rf"{name} \d+ %"))
    expect(page.locator("#detail h2").first).to_contain_text(name)
    expect(page.locator(f'#parts tr[data-part="{name}"]')).to_have_class(re.compile("pointed"))
    expect(page.locator(f'#board [data-target="{name}"]')).to_have_class(re.compile("pointed"))
    page.mouse.click(*on_screen(page, pixel))
    expect(page.locator(f'#parts tr[data-part="{name}"]')).to_have_class(re.compile("kept"))

    page.locator("#reports").click()
    expect(page.locator("#status")).to_contain_text("margin_map.pdf", timeout=60_000)
    assert json.loads((demo / "report" / "results.json").read_text())["format"] == 1


def hottest_resistor(page: Page) -> str:
    """The resistor with the highest peak of the table; the demonstration's README says which that is."""
    headings = page.locator("#parts thead th").all_inner_texts()
    page.locator("#kind").select_option("resistor")
    rows = [row.locator("th, td").all_text_contents() for row in page.locator("#parts tbody tr:not([hidden])").all()]
    peaks = {row[0]: float(row[headings.index("peak °C")]) for row in rows if row[headings.index("peak °C")] != "–"}
    page.locator("#kind").select_option("")
    name = max(peaks, key=lambda refdes: peaks[refdes])
    assert name == "R17"
    return name


def test_everything_by_keyboard(watched: Watched, demo: Path) -> None:
    page = watched.page
    page.keyboard.press("Alt+3")
    expect(page.locator("body")).to_have_attribute("data-step", "register")
    page.locator("#frame").focus()
    at = [160.0, 120.0]
    for count, (target, pixel) in enumerate(PLACES.items(), start=1):
        page.keyboard.press("/")
        page.keyboard.type(target)
        page.keyboard.press("Enter")
        expect(page.locator("#frame")).to_be_focused()
        shown = re.search(r"pixel (−?[\d.]+), (−?[\d.]+)", page.locator("#readout").inner_text())
        assert shown is not None
        at = [float(value.replace("−", "-")) for value in shown.groups()]
        for axis, keys in ((0, ("ArrowLeft", "ArrowRight")), (1, ("ArrowUp", "ArrowDown"))):
            way = round(pixel[axis] - at[axis], 1)
            key = keys[way > 0]
            tens, tenths = divmod(round(abs(way) * 10), 100)
            ones, tenths = divmod(tenths, 10)
            for modifier, times in (("Alt+", tens), ("", ones), ("Shift+", tenths)):
                for _ in range(times):
                    page.keyboard.press(modifier + key)
        page.keyboard.press("Enter")
        expect(page.locator("#points tbody tr")).to_have_count(count)
    assert rms_px(page) < 0.6

    page.keyboard.press("n")  # the first point …
    page.keyboard.press("Delete")
    expect(page.locator("#points tbody tr")).to_have_count(5)
    page.keyboard.press("Control+z")
    expect(page.locator("#points tbody tr")).to_have_count(6)
    page.keyboard.press("Control+y")
    expect(page.locator("#points tbody tr")).to_have_count(5)
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+s")
    expect(page.locator("#status")).to_contain_text("Saved full_load.points.csv")
    assert len(saved_points(demo)) == 6

    page.keyboard.press("Alt+4")
    page.locator("#read").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#parts")).to_be_visible(timeout=120_000)
    page.locator("#parts tbody tr").first.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(page.locator("#detail h2").first).to_contain_text("R17")
    page.locator("#frame").focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#readout")).to_contain_text("161.")


def test_unsaved_work_is_not_left_without_a_warning(watched: Watched) -> None:
    page = watched.page
    page.locator(".step[data-step=register]").click()
    click_board(page, "U2")
    page.mouse.click(*on_screen(page, PLACES["U2"]))
    expect(page.locator("#save")).to_be_enabled()
    asked = []

    def stay(dialog: object) -> None:
        asked.append(dialog.type)  # type: ignore[attr-defined]
        dialog.accept()  # type: ignore[attr-defined]

    page.on("dialog", stay)
    page.reload()
    assert asked == ["beforeunload"]


def test_two_pages_do_not_overwrite_each_other_silently(watched: Watched, running: Running, demo: Path) -> None:
    first = watched.page
    second = first.context.new_page()
    second.goto(running.address)
    for page, target in ((first, "U2"), (second, "R21")):
        page.bring_to_front()
        page.locator(".step[data-step=register]").click()
        click_board(page, target)
        page.mouse.click(*on_screen(page, PLACES[target]))
        expect(page.locator("#save")).to_be_enabled()
    second.get_by_role("button", name="Save points").click()
    expect(second.locator("#status")).to_contain_text("Saved")
    first.bring_to_front()
    first.get_by_role("button", name="Save points").click()
    expect(first.get_by_role("dialog")).to_contain_text("has changed on the disk")
    first.get_by_role("button", name="Keep working").click()
    assert [row["at"] for row in saved_points(demo)] == ["R21"]
    expect(first.locator("#points tbody tr")).to_have_count(1)
    watched.complaints[:] = [text for text in watched.complaints if "409" not in text]  # what the browser says of it


def test_a_page_of_another_origin_gets_nothing(browser: Browser, running: Running) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto("about:blank")
    outcome = page.evaluate(
        """async (address) => {
          const tried = {};
          for (const [name, options] of Object.entries({
            plain: { method: 'POST', body: '{}' },
            silent: { method: 'POST', body: '{}', mode: 'no-cors' },
            token: { method: 'POST', body: '{}', headers: { 'x-bench-token': 'a-secret-of-this-run' } },
          })) {
            try { const got = await fetch(address + 'api/open', options); tried[name] = got.type + ' ' + got.status; }
            catch (error) { tried[name] = 'refused'; }
          }
          return tried;
        }""",
        f"http://127.0.0.1:{running.port}/",
    )
    assert outcome["plain"] == "refused"
    assert outcome["token"] == "refused"
    assert outcome["silent"] in ("refused", "opaque 0")
    assert len(running.workbench._pages) == 0  # nothing was opened on their behalf
    context.close()


def test_without_the_runs_secret_the_page_says_what_to_do(browser: Browser, running: Running) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{running.port}/")
    expect(page.locator("#status")).to_contain_text("open the address that the command printed")
    context.close()


def test_a_missing_body_is_filled_in_on_the_page(watched: Watched, demo: Path) -> None:
    page = watched.page
    expect(page.locator("#check")).to_contain_text("Bodies not known: 1")
    form = page.get_by_role("form", name="SENS-P7")
    for label, value in (("length", "3"), ("width", "3"), ("height", "1.1")):
        form.get_by_label(label).fill(value)
    form.get_by_role("button", name="Fill in").click()
    expect(page.locator("#check")).to_contain_text("All bodies are known")
    assert (demo / "bodies.csv").read_text().endswith("SENS-P7,3,3,1.1,box,,\n")


def test_a_job_mended_in_an_editor_is_seen_without_a_click(watched: Watched, demo: Path) -> None:
    page, job = watched.page, demo / "job.toml"
    whole = job.read_text()
    job.write_text(whole.replace("ambient_max_c = ", "ambient_max_c = x"))
    expect(page.locator("#check .problems .error").first).to_contain_text("job.toml", timeout=15_000)
    job.write_text(whole.replace('name = "full load"', 'name = "all on"'))
    expect(page.locator("#status")).to_contain_text("read anew", timeout=15_000)
    expect(page.locator("#check .problems .error")).to_have_count(0)
    expect(page.locator("#capture option", has_text="all on")).to_have_count(1)


def walk_to(page: Page, pixel: tuple[float, float]) -> None:
    """Walk the crosshair by arrow keys until the readout shows the pixel."""
    words = page.locator("#readout").inner_text()
    at = [float(part.replace("−", "-")) for part in words.split("·")[0].removeprefix("pixel").split(",")]
    for axis, keys in enumerate((("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"))):
        left = round(pixel[axis] - at[axis], 1)
        for width, held in ((10.0, "Alt+"), (1.0, ""), (0.1, "Shift+")):
            steps = int(abs(left) / width + 1e-6)
            for _ in range(steps):
                page.keyboard.press(held + keys[int(left > 0)])
            left = round(left - np.sign(left) * steps * width, 1)
