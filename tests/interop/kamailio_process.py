"""kamailio, a registrar and proxy written by others, run with the files that we write for it."""

import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pytest

from doorwright.render.services import kamailio_files
from doorwright.render.services.kamailio import SECRETS_NAME
from tests.interop.party import free_port
from tests.interop.served_site import REALM, ServedSite

KAMAILIO: Final = shutil.which("kamailio", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
NET: Final = "127.0.0"
"""All its addresses are of this machine (Linux)."""
ZONE: Final = ZoneInfo("Asia/Kathmandu")
"""A quarter of an hour off every other, so that a server on another clock would be seen."""
_STARTS_TRIED: Final = 100
_OPTIONS: Final = (
    "OPTIONS sip:{realm} SIP/2.0\r\nVia: SIP/2.0/UDP {at};branch=z9hG4bK1;rport\r\nMax-Forwards: 70\r\n"
    "From: <sip:{realm}>;tag=1\r\nTo: <sip:{realm}>\r\nCall-ID: 1\r\nCSeq: 1 OPTIONS\r\nContent-Length: 0\r\n\r\n"
)


def need_kamailio() -> None:
    """Skip where kamailio is missing, but fail in CI."""
    if KAMAILIO is None or sys.platform != "linux":
        if "CI" in os.environ:
            pytest.fail("CI must have kamailio: install Debian's package kamailio")
        pytest.skip("kamailio is not installed (Debian: apt-get install kamailio)")


@contextmanager
def running_kamailio(
    folder: Path, *, digest: str, site_of: Callable[[int], ServedSite]
) -> Iterator[tuple[ServedSite, int]]:
    """Run it in a folder until the end of the block, with the files for the site that serves a port."""
    port = free_port(f"{NET}.1")
    site = site_of(port)
    process = _begun(folder, site, digest)
    try:
        _await(process, port, folder)
        yield site, port
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(timeout=20)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _begun(folder: Path, site: ServedSite, digest: str) -> subprocess.Popen[bytes]:
    for file in kamailio_files(site.walk, "test", digest=digest, secrets=site.secrets).files:
        (folder / Path(file.name).name).write_text(file.text, encoding="utf-8")
    assert (folder / SECRETS_NAME).exists()
    assert KAMAILIO is not None
    command = [KAMAILIO, "-f", str(folder / "kamailio.cfg"), "-DD", "-E", "-m", "64", "-M", "8"]
    command += ["-P", str(folder / "pid"), "-Y", str(folder), "-w", str(folder)]
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(
            command, stdout=log, stderr=log, start_new_session=True, env={**os.environ, "TZ": str(ZONE)}
        )


def _await(process: subprocess.Popen[bytes], port: int, folder: Path) -> None:
    """Ask until it answers."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.bind((f"{NET}.9", 0))
        asking.settimeout(0.1)
        options = _OPTIONS.format(realm=REALM, at="{}:{}".format(*asking.getsockname())).encode()
        for _ in range(_STARTS_TRIED):
            assert process.poll() is None, (folder / "log").read_text(errors="replace")
            try:
                asking.sendto(options, (f"{NET}.1", port))
                assert asking.recv(65535).startswith(b"SIP/2.0 200 ")
            except TimeoutError:
                continue
            return
    pytest.fail((folder / "log").read_text(errors="replace"))
