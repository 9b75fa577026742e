"""The machine's own Chromium, driven without a screen."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Locator, Page, sync_playwright

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


@contextmanager
def chromium() -> Iterator[Browser]:
    """A browser that fetches nothing of its own."""
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert path is not None, "these tests need Chromium on the PATH"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


class Watched:
    """A page whose console, errors and requests are kept."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.complaints: list[str] = []
        self.requests: list[str] = []
        page.on("console", lambda message: self._heard(message.type, message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))

    def _heard(self, kind: str, text: str) -> None:
        if kind in ("error", "warning"):
            self.complaints.append(text)


@contextmanager
def watching(browser: Browser, address: str, own: str, height_px: int) -> Iterator[Watched]:
    """The page at an address; afterwards it has complained of nothing and asked nobody but ``own`` for anything."""
    context = browser.new_context(viewport={"width": 1300, "height": height_px})
    watched = Watched(context.new_page())
    watched.page.goto(address)
    yield watched
    assert watched.complaints == [], watched.complaints
    assert [url for url in watched.requests if not url.startswith(("data:", own))] == []
    context.close()


def bounds(locator: Locator) -> tuple[float, float, float, float]:
    box = locator.bounding_box()
    assert box is not None
    return box["x"], box["y"], box["width"], box["height"]
