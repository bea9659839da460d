"""Whether something is there: a connection to a port, and the system's own ping where there is one."""

import asyncio
import errno
import os
import re
import shutil
import sys
from contextlib import suppress
from enum import StrEnum
from ipaddress import ip_address
from math import ceil
from typing import Final

_OURS: Final = frozenset(
    {errno.ENETUNREACH, errno.ENETDOWN, errno.EADDRNOTAVAIL, errno.EACCES, errno.EPERM, errno.EMFILE, errno.ENFILE,
     errno.EAFNOSUPPORT, errno.EINVAL, errno.ENOBUFS}
)  # fmt: skip
"""What says that this machine could not ask, and nothing of who was to answer."""
_ALL_LOST: Final = re.compile(rb"\b100(?:\.0)?% packet loss")

GRACE_S: Final = 2.0
"""What the command may need beside waiting."""


class Outcome(StrEnum):
    """What came of asking. Who refuses is there as well as who answers."""

    ANSWERED = "answered"
    REFUSED = "refused"
    SILENT = "silent"
    NO_WAY = "no way from this machine"


def outcome_of(error: OSError) -> Outcome:
    """Return what an error of the network says of the other end."""
    if isinstance(error, ConnectionError):
        return Outcome.REFUSED  # a reset or a refusal is sent by somebody
    return Outcome.NO_WAY if error.errno in _OURS else Outcome.SILENT


async def connected(
    address: str, port: int, *, patience_s: float, most_bytes: int
) -> tuple[asyncio.StreamReader, asyncio.StreamWriter] | Outcome:
    """Open a connection, or say what came of trying.

    Args:
        address: an IP address; names are never looked up.
        port: the TCP port.
        patience_s: how long to wait.
        most_bytes: how much may be read before a line or a head ends.
    """
    ip_address(address)
    try:
        async with asyncio.timeout(patience_s):
            return await asyncio.open_connection(address, port, limit=most_bytes)
    except TimeoutError:
        return Outcome.SILENT
    except OSError as error:
        return outcome_of(error)


def ping_command(address: str, *, patience_s: float, platform: str = sys.platform) -> tuple[str, ...] | None:
    """Return the command that sends one echo request, or None where this system has none that we know."""
    is_v6 = ip_address(address).version == 6
    program = shutil.which("ping")
    if program is None or (is_v6 and platform == "darwin"):
        return None
    wait_ms = ceil(patience_s * 1000)
    if platform == "win32":
        return (program, "-n", "1", "-w", str(wait_ms), address)
    wait = str(wait_ms) if platform == "darwin" else str(ceil(patience_s))
    return (program, "-n", "-c", "1", "-W", wait, address)


async def ping(address: str, *, patience_s: float) -> bool | None:
    """Return whether an echo request was answered, or None where this machine cannot ask so."""
    command = ping_command(address, patience_s=patience_s)
    if command is None:
        return None
    try:
        process = await asyncio.create_subprocess_exec(
            *command,
            stdin=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            env={**os.environ, "LC_ALL": "C"},  # its words are read
        )
    except OSError:
        return None
    try:
        async with asyncio.timeout(patience_s + GRACE_S):
            said, _ = await process.communicate()
    except TimeoutError:
        return None
    finally:
        if process.returncode is None:
            with suppress(ProcessLookupError):
                process.kill()
            await process.wait()
    return _answered(process.returncode, said)


def _answered(code: int | None, said: bytes, platform: str = sys.platform) -> bool | None:
    """Read what the command says: Windows ends with 0 also where a router reports that nobody is there."""
    if platform == "win32":
        return code == 0 and b"TTL=" in said.upper() if code in (0, 1) else None
    # the usual command: 0 answered, 1 (2 on some systems) not; its own troubles are 2 and above, told without a summary
    if code == 0:
        return True
    return False if code in (1, 2) and _ALL_LOST.search(said) else None
