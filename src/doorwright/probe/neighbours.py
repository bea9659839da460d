"""Which MAC address is behind an address, as far as this machine's own table of neighbours tells. Nothing is sent."""

import asyncio
import json
import re
import shutil
import subprocess
import time
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

_MAC: Final = re.compile(r"[0-9a-f]{2}(?::[0-9a-f]{2}){5}", re.IGNORECASE)
_NOBODY: Final = "00-00-00-00-00-00"
_OLD_TABLE: Final = Path("/proc/net/arp")
_COMPLETE: Final = 0x2
"""Flag of the older table: there was an answer to the question who has this address (RFC 826)."""
_KNOWN: Final = frozenset({"REACHABLE", "STALE", "DELAY", "PROBE"})
_PATIENCE_S: Final = 5.0


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A MAC address, and whether it was confirmed within the last half minute or so (RFC 4861 §7.3.2, REACHABLE)."""

    mac: str
    is_fresh: bool


Table = Mapping[str, Neighbour]


def from_listing(text: str) -> dict[str, Neighbour]:
    """Read what `ip -json neigh show` lists. What is failed, incomplete or entered by hand is not told."""
    try:
        rows = json.loads(text or "[]")
    except ValueError:
        return {}
    found: dict[str, Neighbour] = {}
    for row in rows if isinstance(rows, list) else []:
        states = _words(row, "state")
        address, mac = _text(row, "dst"), _mac(_text(row, "lladdr"))
        if address and mac and states & _KNOWN:
            found[address] = Neighbour(mac, "REACHABLE" in states)
    return found


def from_old_table(text: str) -> dict[str, Neighbour]:
    """Read the table that the kernel shows as a file; it does not say how fresh a line is."""
    found: dict[str, Neighbour] = {}
    for line in text.splitlines()[1:]:
        cells = line.split()
        if len(cells) < 4:
            continue
        address, flags, mac = cells[0], cells[2], _mac(cells[3])
        try:
            is_complete = int(flags, 16) == _COMPLETE  # a further flag: entered by hand, or answered for others
        except ValueError:
            continue
        if mac and is_complete:
            found[address] = Neighbour(mac, is_fresh=False)
    return found


def _text(row: Any, key: str) -> str:
    value = row.get(key) if isinstance(row, dict) else None
    return value if isinstance(value, str) else ""


def _words(row: Any, key: str) -> frozenset[str]:
    value = row.get(key) if isinstance(row, dict) else None
    return frozenset(str(word) for word in value) if isinstance(value, list) else frozenset()


def _mac(text: str) -> str:
    """Return a MAC address as IEEE 802 writes it, or nothing."""
    if not _MAC.fullmatch(text):
        return ""
    mac = text.upper().replace(":", "-")
    return "" if mac == _NOBODY else mac


def read_table() -> Table | None:
    """Return this machine's neighbours by address, or None where the system does not tell."""
    program = shutil.which("ip")
    if program is not None:
        try:
            done = subprocess.run(  # noqa: S603  (a fixed command without anything that a user gave)
                (program, "-json", "neigh", "show"), capture_output=True, text=True, timeout=_PATIENCE_S, check=True
            )
            return from_listing(done.stdout)
        except (OSError, subprocess.SubprocessError):
            pass  # too old for JSON, or not allowed: the file may tell
    try:
        return from_old_table(_OLD_TABLE.read_text(encoding="ascii", errors="replace"))
    except OSError:
        return None


class Neighbourhood:
    """The table of neighbours, of which only the addresses of the plan are looked at.

    One reading serves all who wait for it, so that many parts asked at once do not each start a program.
    """

    def __init__(
        self,
        addresses: Container[str],
        *,
        read: Callable[[], Table | None] = read_table,
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        """Set up.

        Args:
            addresses: the addresses of the plan; of others nothing is told.
            read: reads the table; None where the system does not tell.
            clock_s: any clock that goes forward only.
        """
        self._addresses = addresses
        self._read = read
        self._clock_s = clock_s
        self._reading = asyncio.Lock()
        self._read_at_s: float | None = None
        self._table: Table | None = None

    async def look(self, address: str, *, at_most_s: float = 0.0) -> Neighbour | None:
        """Return who is behind an address of the plan.

        Args:
            address: an address.
            at_most_s: how old the table may be; with 0 it is read after this was called.
        """
        since_s = self._clock_s() - at_most_s
        async with self._reading:
            if self._read_at_s is None or self._read_at_s < since_s:
                began_s = self._clock_s()
                self._table = await asyncio.to_thread(self._read)
                self._read_at_s = began_s
        if self._table is None or address not in self._addresses:
            return None
        return self._table.get(address)

    @property
    def tells(self) -> bool:
        """Whether the system tells at all, as far as it was asked."""
        return self._table is not None
