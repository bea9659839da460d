"""Load on SIP servers: sipp, and the clean rate, found in the same way for whoever is under load.

A trial offers one rate for ``TRIAL_S`` seconds to a fresh server. It is clean if no call failed, what was offered was
placed in its time (`_PLACED_RATIO`), and nearly nothing was sent again: after T1 = 0.5 s a message is, so this also
bounds how long an answer took. A trial that is not clean is tried once more, for the machine may have had other work.
The clean rate is the highest that was clean: doubled from ``FIRST_RATE`` on until one is not, then halved towards it on
the scale of ratios ``HALVINGS_COUNT`` times, which leaves 9 %.
"""

import csv
import os
import shutil
import signal
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

HOST: Final = "127.0.0.1"
SIPP: Final = shutil.which("sipp")
TOP: Final = Path(__file__).parents[1]
SCENARIOS: Final = TOP / "tests" / "interop" / "sipp"
ROOM_BYTES: Final = 4 * 1024 * 1024
"""What every socket asks for where buffers are wide: that of `doorwright.line.udp`."""

TRIAL_S: Final = 3
FIRST_RATE: Final = 500
MOST_RATE: Final = 64_000
HALVINGS_COUNT: Final = 3
_AGAIN_RATIO: Final = 0.001
_PLACED_RATIO: Final = 0.97


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What became of one offered rate. Counts, seconds; ``server_busy_s`` is the processor's time of the server."""

    rate: int
    calls_count: int
    failed_count: int
    again_count: int
    took_s: float
    server_busy_s: float = 0.0

    def with_busy(self, server_busy_s: float) -> "Trial":
        """Return the same with what the server took."""
        return replace(self, server_busy_s=server_busy_s)

    @property
    def is_clean(self) -> bool:
        """Whether everything was placed in time and done at once."""
        return (
            self.calls_count > 0
            and self.failed_count == 0
            and self.again_count <= _AGAIN_RATIO * self.calls_count
            and self.calls_count >= _PLACED_RATIO * self.rate * self.took_s
        )


NO_LOAD: Final = Trial(rate=0, calls_count=0, failed_count=0, again_count=0, took_s=0.0)
"""For what a server takes to begin and to end."""


def clean_rate(attempt: Callable[[int], Trial]) -> Trial | None:
    """Return the trial at the clean rate; None where not even the first was clean."""

    def tried(rate: int) -> Trial | None:
        return next((trial for trial in (attempt(rate) for _ in range(2)) if trial.is_clean), None)

    best, low, high = None, 0, FIRST_RATE
    while high <= MOST_RATE and (trial := tried(high)):
        best, low, high = trial, high, 2 * high
    for _ in range(HALVINGS_COUNT if best else 0):
        middle = round((low * high) ** 0.5)
        trial = tried(middle)
        if trial:
            best, low = trial, middle
        else:
            high = middle
    return best


def free_port() -> int:
    """Return a port that is free for UDP."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as udp:
        udp.bind((HOST, 0))
        return int(udp.getsockname()[1])


class Running:
    """A server that runs until the end of the block; then ``busy_s`` is the time of its processes."""

    busy_s: float = 0.0


@contextmanager
def running(command: list[str], folder: Path, *, ends_on: int = signal.SIGTERM) -> Iterator[Running]:
    """Run a server for the length of a block; it ends on a signal."""
    server = Running()
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, cwd=TOP)
    try:
        yield server
    finally:
        os.kill(process.pid, ends_on)  # it is there until it was waited for, even if it has ended
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)  # subprocess need not wait for it as well
        server.busy_s = used.ru_utime + used.ru_stime


def until_answered(port: int, *, tries_count: int = 200) -> None:
    """Send OPTIONS until anything comes back."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.bind((HOST, 0))
        asking.settimeout(0.05)
        at = "{}:{}".format(*asking.getsockname())
        options = (
            f"OPTIONS sip:{HOST}:{port} SIP/2.0\r\nVia: SIP/2.0/UDP {at};branch=z9hG4bK1;rport\r\nMax-Forwards: 70\r\n"
            f"From: <sip:{HOST}>;tag=1\r\nTo: <sip:{HOST}>\r\nCall-ID: 1\r\nCSeq: 1 OPTIONS\r\n"
            "Content-Length: 0\r\n\r\n"
        )
        for _ in range(tries_count):
            asking.sendto(options.encode(), (HOST, port))
            try:
                asking.recv(65_535)
            except TimeoutError:
                continue
            return
    raise RuntimeError("the server under load does not answer")


def sipp_trial(
    scenario: str, *, rate: int, to_port: int, folder: Path, more: tuple[str, ...] = (), wide: bool = True
) -> Trial:
    """Let sipp play a scenario at a rate, and count; with the buffers that it usually has unless they are ``wide``."""
    counts = folder / "counts.csv"
    counts.unlink(missing_ok=True)
    command = [
        str(SIPP), f"{HOST}:{to_port}", "-sf", str(SCENARIOS / f"{scenario}.xml"), "-i", HOST, "-p", str(free_port()),
        "-r", str(rate), "-m", str(rate * TRIAL_S), "-l", str(rate * TRIAL_S), "-nostdin", "-trace_stat",
        "-stf", str(counts), "-timeout", "40s", *(("-buff_size", str(ROOM_BYTES)) if wide else ()), *more,
    ]  # fmt: skip
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=folder, check=False, timeout=90)
    *_, last = csv.DictReader(counts.read_text(encoding="utf-8").splitlines(), delimiter=";")
    return Trial(
        rate=rate,
        calls_count=int(last["TotalCallCreated"]),
        failed_count=int(last["FailedCall(C)"]),
        again_count=int(last["Retransmissions(C)"]),
        took_s=_moment_s(last["CurrentTime"]) - _moment_s(last["StartTime"]),
    )


def _moment_s(told: str) -> float:
    """Return the seconds of the epoch in a date, a time and these, as sipp writes a moment."""
    return float(told.rsplit("\t", 1)[-1])


@contextmanager
def workshop() -> Iterator[Path]:
    """Return a folder for the length of a block."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)
