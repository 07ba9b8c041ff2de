"""A real browser for tests of pages: Chromium through Playwright, with a guard on what it asks for.

On a user's machine without one those tests skip and say why; where CI=true they fail.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

ARGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
)  # fmt: skip
"""A page with WebGL and without a screen or a GPU, that asks for nothing by itself."""

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def missing() -> str:
    """Return why there is no browser; empty where there is one."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "no playwright: pip install playwright (extra 'dev')"
    if _path() is None:
        return "no Chromium on this machine: install the Debian package chromium"
    return ""


def _path() -> str | None:
    return next((found for name in NAMES if (found := shutil.which(name))), None)


def need_browser() -> None:
    """Skip the test where there is no browser; fail it where CI=true."""
    why = missing()
    if why and os.environ.get("CI") == "true":
        pytest.fail(why)
    if why:
        pytest.skip(why)


@contextmanager
def chromium() -> Iterator[Any]:
    """Give a browser; its pages come from `watched_page`."""
    need_browser()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=_path(), args=list(ARGS))
        try:
            yield browser
        finally:
            browser.close()


class Watch:
    """What a page asked for and complained about, gathered while it is open.

    Attributes
    ----------
    page : playwright Page
    asked : list of str
        Every address that was asked for, data and blob apart.
    errors : list of str
        Errors of scripts and of the console.
    """

    def __init__(self, page: Any) -> None:
        self.page = page
        self.asked: list[str] = []
        self.errors: list[str] = []
        page.on("request", lambda request: self._ask(request.url))
        page.on("websocket", lambda socket: self._ask(socket.url))
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", self._hear)

    def _ask(self, url: str) -> None:
        if not url.startswith(("data:", "blob:", "about:")):
            self.asked.append(url)

    def _hear(self, message: Any) -> None:
        if message.type == "error":
            self.errors.append(message.text)

    def outside(self, *own: str) -> list[str]:
        """Return what was asked for that does not start with one of ``own``."""
        return [url for url in self.asked if not url.startswith(own)]


def watched_page(browser: Any, width: int = 1280, height: int = 900) -> Watch:
    """Return a new page of a browser with its `Watch`; go to an address with ``.page.goto``."""
    return Watch(browser.new_page(viewport={"width": width, "height": height}))
