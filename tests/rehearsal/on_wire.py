"""A rehearsal on the wire as a process of its own, started and stopped by the tests, at ports that no other has."""

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

from doorwright.loopback.places import Ports, has_one_address
from doorwright.model.site import Site
from doorwright.store.book import Book

UP_WITHIN_S = 60.0
OVER_WITHIN_S = 20.0


def ports() -> Ports:
    """Ports below those that systems give away, 64 for each test process: room for nine parts at one address."""
    first = 10_000 + os.getpid() % 300 * 64
    return Ports(sip=first, media=first + 10, http=first, rtsp=first + 30)


def need_loopback_addresses() -> None:
    """Skip where the system has 127.0.0.1 alone, or no signal that a terminal sends."""
    if has_one_address() or sys.platform == "win32":
        pytest.skip("this system has one loopback address alone, or knows no interrupt")


def book_of(site: Site, folder: Path) -> Path:
    """Return a book with a site."""
    path = folder / "site.book"
    Book.create(path, site, by="Ada", at=datetime(2026, 1, 1, tzinfo=UTC), message="made").close()
    return path


def port_options(chosen: Ports) -> list[str]:
    """Return the ports as the command takes them."""
    named = (("sip", chosen.sip), ("media", chosen.media), ("http", chosen.http), ("rtsp", chosen.rtsp))
    return [text for name, port in named for text in (f"--{name}-port", str(port))]


class OnWire:
    """A process that holds a building up."""

    def __init__(self, book: Path, chosen: Ports, *options: str) -> None:
        command = [sys.executable, "-m", "doorwright", "rehearse", str(book), "--wire"]
        self._process = subprocess.Popen(
            [*command, *port_options(chosen), *options], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self._up = threading.Event()
        self.lines: list[str] = []
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()

    def __enter__(self) -> Self:
        if not self._up.wait(UP_WITHIN_S) or not self.said("building", "up", "registered"):
            self.stop()
            pytest.fail("\n".join(self.lines))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def stop(self) -> int:
        """Stop it as Ctrl+C does, and return its exit code; `lines` then holds all that it said."""
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
        try:
            code = self._process.wait(OVER_WITHIN_S)
        finally:
            self._process.kill()
        self._reading.join(OVER_WITHIN_S)
        if self._process.stdout is not None:
            self._process.stdout.close()
        return code

    def said(self, *words: str) -> Sequence[str]:
        """Return the lines that hold all of these words."""
        return [line for line in self.lines if all(word in line for word in words)]

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.lines.append(line.rstrip())
            if "  building  up  " in line:
                self._up.set()
        self._up.set()  # it is over: whoever waits looks what it said
