"""Every step at three sizes, light and dark: text that stands out, nothing cut, pushed out, overlapping or jumping."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser import bounds, watching
from tests.plain_board import Setting
from tests.workbench.conftest import Running, serving
from tests.workbench.plain_folder import many, write_job

pytestmark = pytest.mark.browser

STEPS = ("board", "shots", "register", "read", "look")
FOUND_BY_SLASH = {"board": "limit_c", "shots": "pixels", "register": "target", "read": "words", "look": "beside-part"}


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A job of sixty parts with a long name, one of them without a rating."""
    job = write_job(tmp_path_factory.mktemp("layout") / "rows", many(60), Setting(px_per_mm=2.0, size_mm=(100.0, 80.0)))
    text = job.read_text()
    job.write_text(text.replace('"Rows"', '"A board of many rows with a long name, made up"'))
    parts = job.parent / "parts.csv"
    parts.write_text("".join(line for line in parts.read_text().splitlines(True) if not line.startswith("U6,")))
    yield from serving(job.parent)


def opened(browser: Browser, running: Running, size: tuple[int, int], scheme: str) -> Page:
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]},
        color_scheme=scheme,  # type: ignore[arg-type]
    )
    page = context.new_page()
    page.goto(running.address)
    expect(page.locator("#status")).not_to_be_empty(timeout=30_000)
    return page


def stepped(page: Page, step: str) -> None:
    page.locator(f".step[data-step={step}]").click()
    if step == "read":
        if page.locator("#parts").is_hidden():
            page.locator("#read").click()
        expect(page.locator("#parts")).to_be_visible(timeout=120_000)
        page.locator("#parts tbody tr").nth(1).click()
        page.locator("#what-if summary").click()


@pytest.mark.parametrize(
    ("size", "scheme"),
    [((1280, 720), "light"), ((1280, 720), "dark"), ((1600, 900), "light"), ((2560, 1440), "dark")],
)
def test_text_stands_out_and_nothing_is_cut_or_pushed_out(
    browser: Browser, rows: Running, size: tuple[int, int], scheme: str
) -> None:
    """Contrast of all visible text 4.5 to 1 (WCAG 2.1, 1.4.3)."""
    page = opened(browser, rows, size, scheme)
    for step in STEPS:
        stepped(page, step)
        assert page.evaluate(CONTRAST) == [], step
        assert page.evaluate(CROWDED) == [], step
        if step in ("register", "read", "look"):
            frame = page.locator("#frame-pane").bounding_box()
            assert frame is not None
            assert frame["width"] >= 0.4 * size[0] if size[0] > 1900 else frame["width"] >= 0.5 * size[0]
    page.context.close()


def test_a_part_that_is_unseen_is_never_the_brightest(browser: Browser, rows: Running) -> None:
    for scheme in ("light", "dark"):
        page = opened(browser, rows, (1280, 720), scheme)
        stepped(page, "read")
        light = page.evaluate(FILLS)
        assert light["unseen"] == light["board"], "an unseen part is as the bare board is"
        if scheme == "dark":
            assert light["unseen"] < min(light[name] for name in ("undecided", "near", "clear", "unrated"))
        page.context.close()


def test_slash_finds_and_a_question_mark_lists_the_keys_in_every_step(browser: Browser, rows: Running) -> None:
    with watching(browser, rows.address, f"http://127.0.0.1:{rows.port}/", 720) as watched:
        page = watched.page
        expect(page.locator("#status")).not_to_be_empty(timeout=30_000)
        for number, step in enumerate(STEPS, start=1):
            page.keyboard.press(f"Alt+{number}")
            expect(page.locator("body")).to_have_attribute("data-step", step)
            if step == "read" and page.locator("#parts").is_hidden():
                page.keyboard.press("Alt+Enter")
                expect(page.locator("#parts")).to_be_visible(timeout=120_000)
            page.evaluate("document.activeElement.blur()")
            page.keyboard.press("?")
            expect(page.locator("#keys")).to_be_visible()
            page.keyboard.press("Escape")
            page.evaluate("document.activeElement.blur()")
            page.keyboard.press("/")
            focused = page.evaluate("[document.activeElement.id, document.activeElement.name].filter(Boolean)[0]")
            assert focused == FOUND_BY_SLASH[step]


def test_long_words_move_nothing(browser: Browser, rows: Running) -> None:
    page = opened(browser, rows, (1280, 720), "light")
    stepped(page, "register")
    before = bounds(page.locator("#frame"))
    page.evaluate("document.querySelector('#status').textContent = 'a long sentence of what went wrong '.repeat(30)")
    assert bounds(page.locator("#frame")) == before
    _, y, _, height = bounds(page.locator("#status"))
    assert y + height <= 720
    assert page.evaluate(
        "(() => { const s = document.querySelector('#status'); return s.scrollHeight <= s.clientHeight })()"
    )
    page.context.close()


CROWDED = """() => {
  const bad = [];
  const seen = (e) => e.getClientRects().length && !e.closest('.unseen-help, option, script');
  const name = (e) => e.tagName + ' ' + (e.id || e.className || e.textContent.trim().slice(0, 40));
  for (const e of document.querySelectorAll('button, h1, h2, label, p, th, td, dt, dd, input, select, summary, li')) {
    if (!seen(e)) continue;
    if (e.getBoundingClientRect().right > innerWidth + 1) bad.push('pushed out: ' + name(e));
    if (['BUTTON', 'P'].includes(e.tagName) && e.scrollWidth > e.clientWidth + 1) bad.push('cut: ' + name(e));
  }
  for (const e of document.querySelectorAll('.scroller, #check')) {
    if (seen(e) && e.scrollWidth > e.clientWidth + 1) bad.push('scrolls sideways: ' + e.parentElement.id);
  }
  for (const bar of document.querySelectorAll('.bar, header, .tools, .row')) {
    const boxes = [...bar.children].filter(seen).map((e) => [e, e.getBoundingClientRect()]);
    boxes.forEach(([one, a], index) => boxes.slice(index + 1).forEach(([other, b]) => {
      const apart = a.left >= b.right - 1 || b.left >= a.right - 1 || a.top >= b.bottom - 1 || b.top >= a.bottom - 1;
      if (!apart) bad.push('overlap: ' + name(one) + ' and ' + name(other));
    }));
  }
  return bad;
}"""

FILLS = """() => {
  const world = document.querySelector('#world');
  const light = (e) => {
    const [r, g, b] = getComputedStyle(e).fill.match(/[\\d.]+/g).map(Number);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const found = { board: light(world.querySelector('.edge')) };
  for (const verdict of ['over', 'undecided', 'near', 'clear', 'unseen', 'unrated']) {
    const part = document.createElementNS('http://www.w3.org/2000/svg', 'path');
    part.setAttribute('class', `part ${verdict}`);
    world.append(part);
    found[verdict] = light(part);
    part.remove();
  }
  return found;
}"""

CONTRAST = """() => {
  const light = (rgb) => {
    const [r, g, b] = rgb.map((value) => {
      const s = value / 255;
      return s <= 0.03928 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const numbers = (text) => (text.match(/[\\d.]+/g) ?? []).map(Number);
  const ground = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const color = numbers(getComputedStyle(at).backgroundColor);
      if (color.length === 3 || (color.length === 4 && color[3] === 1)) return color.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const faint = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.textContent.trim() || !element.getClientRects().length) continue;
    if (element.closest('svg, :disabled, .unseen-help, script, option')) continue;
    const [one, other] = [light(numbers(getComputedStyle(element).color)), light(ground(element))];
    const ratio = (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05);
    if (ratio < 4.5) faint.push(`${element.tagName} ${walker.currentNode.textContent.trim()} ${ratio.toFixed(2)}`);
  }
  return faint;
}"""
