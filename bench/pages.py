"""Claim: what pages of a large book take, beside a static page of as many bytes: to paint, to work, to edit, to hold.

``python -m bench.pages`` measures it; so does ``python -m bench`` with the others. Both pages are shown by the same
browser from the same kind of server in the same run. The static page is plain text; its bytes are as many as our page
and all that it fetched. Without Chromium there are no figures.
"""

import json
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Final

from playwright.sync_api import Browser, Page, Response, sync_playwright

from bench.claim import Costs, Figure
from bench.sites import write_workbook
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.take_in import new_book

NAME: Final = "pages of a book, times a static page of as many bytes"
DWELLINGS_COUNT: Final = 10_000
RUNS_COUNT: Final = 5
EDITS_COUNT: Final = 5
PAGES: Final = {
    "building": ("", "svg a"),
    "table of dwellings": ("/tables/dwellings", "[role=gridcell]"),
    "findings": ("/check", "main h1"),
}
"""Where each page is, and what stands on it once it can be worked with."""

_FLAGS: Final = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run")
_STATIC: Final = """
import sys
from pathlib import Path
import uvicorn
from starlette.applications import Starlette
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles
app = Starlette(routes=[Mount("/", StaticFiles(directory=sys.argv[1]))])
class Said(uvicorn.Server):
    async def startup(self, sockets=None):
        await super().startup(sockets)
        print("Open http://127.0.0.1:%d/" % self.servers[0].sockets[0].getsockname()[1], flush=True)
Said(uvicorn.Config(app, port=0, log_level="error", access_log=False)).run()
"""


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one size alone)
    """Yield the ratios, or nothing where there is no browser."""
    chromium = shutil.which("chromium")
    if chromium is None:
        return
    with tempfile.TemporaryDirectory() as home, sync_playwright() as playwright:
        folder = Path(home)
        book = _planned(folder)
        (folder / "static").mkdir()
        browser = playwright.chromium.launch(executable_path=chromium, args=list(_FLAGS))
        with _served("-m", "doorwright", "serve", str(book), "--port", "0", "--no-browser") as ours:
            address, process = ours
            _wait_for_the_rules(f"{address}books/{book.stem}")
            with _served("-c", _STATIC, str(folder / "static")) as static:
                yield from _shown(browser, f"{address}books/{book.stem}", folder / "static", static[0])
                yield from _edited(f"{address}books/{book.stem}", address, folder / "static", static[0])
                yield Figure(
                    NAME, f"memory of the server, {DWELLINGS_COUNT} dwellings", _mib(process) / _mib(static[1])
                )
        browser.close()


def _planned(folder: Path) -> Path:
    means = Means(who="bench")
    workbook, book = folder / "site.xlsx", folder / "site.book"
    write_workbook(workbook, DWELLINGS_COUNT)
    new_book(book, workbook, means)
    plan_book(book, means)
    return book


@contextmanager
def _served(*arguments: str) -> Iterator[tuple[str, int]]:
    """Run a server, and give its address and process number."""
    with subprocess.Popen([sys.executable, *arguments], stdout=subprocess.PIPE, text=True) as running:
        if running.stdout is None:
            raise ValueError("the server's output was not caught")
        line = next(line for line in running.stdout if line.startswith("Open "))
        try:
            yield line.split()[1], running.pid
        finally:
            running.kill()


def _get(url: str) -> bytes:
    with urllib.request.urlopen(url) as answer:  # noqa: S310  (our own server)
        content: bytes = answer.read()
    return content


def _wait_for_the_rules(book: str) -> None:
    """Wait until the rules have looked once: they would share the processor."""
    while json.loads(_get(f"{book}/tables/dwellings/marks.json"))["revision"] is None:
        time.sleep(1.0)


def _shown(browser: Browser, book: str, static: Path, static_address: str) -> Iterator[Figure]:
    for what, (where, ready) in PAGES.items():
        _, _, bytes_count = _visit(browser, f"{book}{where}", ready)  # what is made once, is made now
        (static / "plain.html").write_text(_plain(bytes_count), encoding="utf-8")
        ours = [_visit(browser, f"{book}{where}", ready) for _ in range(RUNS_COUNT)]
        plain = [_visit(browser, f"{static_address}plain.html", "p:last-of-type") for _ in range(RUNS_COUNT)]
        for name, at in (("first contentful paint", 0), ("can be worked with", 1)):
            ratio = median(one[at] for one in ours) / median(one[at] for one in plain)
            yield Figure(NAME, f"{what} ({bytes_count // 1024} KiB): {name}", ratio)


def _plain(bytes_count: int) -> str:
    line = "<p>" + "plain words " * 80 + "</p>\n"
    lines = max(1, bytes_count // len(line))
    return f"<!doctype html><html lang=en><title>Plain</title><body>{line * lines}</body></html>"


def _visit(browser: Browser, url: str, ready: str) -> tuple[float, float, int]:
    """Open a page in a fresh profile: milliseconds to the first paint, until it can be worked with, and its bytes."""
    context = browser.new_context(viewport={"width": 1366, "height": 900})
    page = context.new_page()
    sizes: list[int] = []
    page.on("response", lambda response: sizes.append(_size(response)))
    page.goto(url, wait_until="commit")
    page.wait_for_selector(ready)
    ready_ms: float = page.evaluate("() => new Promise(done => setTimeout(() => done(performance.now())))")
    painted_ms = _painted_ms(page)
    context.close()
    return painted_ms, ready_ms, sum(sizes)


def _size(response: Response) -> int:
    return int(response.headers.get("content-length", "0"))


def _painted_ms(page: Page) -> float:
    painted_ms: float = page.evaluate(
        """async () => {
          for (let turn = 0; turn < 600; turn += 1) {
            const [entry] = performance.getEntriesByName("first-contentful-paint");
            if (entry) return entry.startTime;
            await new Promise((done) => setTimeout(done, 10));
          }
          return NaN;
        }"""
    )
    return painted_ms


def _edited(book: str, address: str, static: Path, static_address: str) -> Iterator[Figure]:
    """Yield the server's time for one cell edited in the table of dwellings, beside a static answer of its bytes."""
    table = json.loads(_get(f"{book}/tables/dwellings.json"))
    row, revision = table["rows"][0], table["revision"]
    taken_s, plain_s = [], []
    at = [column["field"] for column in table["columns"]].index("legend")
    was, answer = row[1][at], b""
    for number in range(EDITS_COUNT):
        edit = {"id": row[0], "field": "legend", "was": was, "to": f"Bench {number}"}
        request = urllib.request.Request(  # noqa: S310  (our own server)
            f"{book}/tables/dwellings/edit",
            json.dumps({"revision": revision, "edits": [edit]}).encode(),
            {"Content-Type": "application/json", "Origin": address.rstrip("/")},
        )
        begin_s = time.perf_counter()
        with urllib.request.urlopen(request) as done:  # noqa: S310
            answer = done.read()
        taken_s.append(time.perf_counter() - begin_s)
        edited = json.loads(answer)["edited"]
        revision, was = edited["revision"], edit["to"]
        _wait_for_the_rules(book)
    (static / "answer.json").write_bytes(answer)
    for _ in range(EDITS_COUNT):
        begin_s = time.perf_counter()
        _get(f"{static_address}answer.json")
        plain_s.append(time.perf_counter() - begin_s)
    yield Figure(NAME, f"one cell edited ({1000 * median(taken_s):.0f} ms)", median(taken_s) / median(plain_s))


def _mib(process: int) -> float:
    status = Path(f"/proc/{process}/status")
    if not status.exists():
        return float("nan")
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmRSS:"))
    return int(line.split()[1]) / 1024


if __name__ == "__main__":
    for figure in figures({}, ()):
        print(f"{figure.measured:8.2f}  {figure.what}")
