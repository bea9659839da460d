"""The asking of a book's building: one at a time, followed by every page that looks, kept until the next."""

import threading
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from doorwright.app.find_units import FoundUnits
from doorwright.app.verify_book import Verified
from doorwright.app.verify_registrations import VerifiedRegistrations
from doorwright.app.verify_switches import VerifiedSwitches
from doorwright.kernel.errors import Refused


class RunState(StrEnum):
    """How far an asking is."""

    RUNNING = "running"
    DONE = "done"
    STOPPED = "stopped"
    REFUSED = "refused"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardRow:
    """What was heard of one part: its identifier, whether all was well (None: not known), and the row in words.

    ``table`` is "heard", "registered" where a registrar was asked about it, "switches" where it was asked over SNMP.
    """

    table: str
    id: str
    is_well: bool | None
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One asking as it stands, rows in order of hearing; ``of_count`` None before the first answer.

    ``count`` of ``of_count`` are asked in what is done at present. ``is_rehearsed`` where the building that is
    rehearsed on this machine is asked, not the real one.
    """

    by: str
    at: datetime
    is_rehearsed: bool = False
    asks_registrars: bool = False
    asks_switches: bool = False
    asks_everybody: bool = False
    state: RunState = RunState.RUNNING
    job: str = ""
    heard: tuple[HeardRow, ...] = ()
    registered: tuple[HeardRow, ...] = ()
    switches: tuple[HeardRow, ...] = ()
    count: int = 0
    of_count: int | None = None
    step: str = "beginning"
    verified: Verified | None = None
    registrations: VerifiedRegistrations | None = None
    found: FoundUnits | None = None
    at_switches: VerifiedSwitches | None = None
    refused: Refused | None = None


class Verifying:
    """The present or last asking of one book. Threads may share it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._run: Run | None = None
        self._rows: dict[tuple[str, str], HeardRow] = {}

    def begin(
        self,
        by: str,
        at: datetime,
        *,
        asks_registrars: bool,
        asks_switches: bool,
        asks_everybody: bool,
        is_rehearsed: bool = False,
    ) -> None:
        """Begin an asking.

        Raises:
            Refused: one is going on; two at once would not be gentle.
        """
        with self._lock:
            if self._run is not None and self._run.state is RunState.RUNNING:
                raise Refused(
                    f"the building is being asked already, begun by {self._run.by}",
                    remedy="Wait until that is over, or stop it.",
                )
            self._run = Run(
                by=by,
                at=at,
                is_rehearsed=is_rehearsed,
                asks_registrars=asks_registrars,
                asks_switches=asks_switches,
                asks_everybody=asks_everybody,
            )
            self._rows = {}

    def note(self, **facts: object) -> None:
        """Note how the asking stands: fields of ``Run``."""
        with self._lock:
            if self._run is not None:
                self._run = replace(self._run, **facts)  # type: ignore[arg-type]

    def take(self, row: HeardRow, step: str, count: int, of_count: int) -> None:
        """Take what was heard of a part, how far the asking is in words, and how many of how many parts that is."""
        with self._lock:
            self._rows[row.table, row.id] = row
            if self._run is not None:
                self._run = replace(self._run, step=step, count=count, of_count=of_count)

    def now(self) -> Run | None:
        """Return the asking as it stands, or None where nobody has asked since the server began."""
        with self._lock:
            if self._run is None:
                return None
            heard, registered, switches = (
                tuple(row for row in self._rows.values() if row.table == table)
                for table in ("heard", "registered", "switches")
            )
            return replace(self._run, heard=heard, registered=registered, switches=switches)
