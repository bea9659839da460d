"""A real server and a real browser: Debian's Chromium, driven by Playwright. Requests to any other host fail a test."""

import os
import shutil
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect, sync_playwright

from doorwright.app.means import Means
from doorwright.web.application import application

CHROMIUM = shutil.which("chromium")
PATIENCE_MS = 30_000
"""A machine that does other work too takes its time to draw a page."""
expect.set_options(timeout=PATIENCE_MS)
FLAGS = (
    "--no-sandbox",  # in CI the tests run as root, where Chromium's own sandbox does not start
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The browser; without it these tests are skipped, but in CI they fail."""
    if CHROMIUM is None:
        if "CI" in os.environ:
            pytest.fail("chromium is not installed, so nothing of the pages was tried")
        pytest.skip("needs chromium (Debian's package of that name)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@contextmanager
def serving(shelf: Path) -> Iterator[str]:
    """Serve a shelf, at the address that is yielded."""
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    app = application(shelf, Means(who="Ada Planner"), hosts=frozenset({f"127.0.0.1:{port}"}))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False, timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join()
        listening.close()


@pytest.fixture
def address(shelf: Path) -> Iterator[str]:
    """The address of a server that shows the shelf."""
    with serving(shelf) as address:
        yield address


@contextmanager
def watched(chromium: Browser, address: str) -> Iterator[BrowserContext]:
    """Open a fresh browser profile. At its end it fails if a page asked another host, or a script failed."""
    elsewhere: list[str] = []
    faults: list[str] = []

    def watch(request: Request) -> None:
        if not request.url.startswith((address, "data:", "blob:")):
            elsewhere.append(request.url)

    context = chromium.new_context(viewport={"width": 1366, "height": 900})
    context.set_default_timeout(PATIENCE_MS)
    context.on("request", watch)
    context.on("weberror", lambda error: faults.append(str(error.error)))
    yield context
    context.close()
    assert not elsewhere, f"asked of other hosts: {elsewhere}"
    assert not faults, f"scripts failed: {faults}"


@pytest.fixture
def context(chromium: Browser, address: str) -> Iterator[BrowserContext]:
    """A fresh browser profile. It fails the test if a page asks another host, or a script fails."""
    with watched(chromium, address) as context:
        yield context


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """One page of that profile."""
    return context.new_page()
