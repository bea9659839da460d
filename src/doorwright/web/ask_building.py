"""Ask a book's building in the background, and tell every page that looks what is heard: Verify's long work."""

from dataclasses import dataclass, field, replace
from typing import Final

from doorwright.app.ask_further import FurtherAsks, ask_further
from doorwright.app.means import Means
from doorwright.app.tell_further import switch_row
from doorwright.app.tell_over_sip import registration_row
from doorwright.app.tell_verified import row_of
from doorwright.app.verify_book import verify_book
from doorwright.app.verify_registrations import verify_registrations
from doorwright.app.verify_rehearsed import verify_rehearsed
from doorwright.app.verify_rehearsed_registrations import verify_rehearsed_registrations
from doorwright.app.verify_switches import SwitchHeard
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.loopback.places import Ports
from doorwright.probe.ask import Manner
from doorwright.probe.heard import Heard
from doorwright.probe.reach import Outcome
from doorwright.probe.registration import Registration
from doorwright.web.jobs import Stopped
from doorwright.web.opened import OpenBook
from doorwright.web.verifying import HeardRow, RunState

_WELL: Final = {Outcome.ANSWERED: True, Outcome.REFUSED: False, Outcome.SILENT: False}
"""Whether all is well with a switch; of one to which there is no way nothing is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asks:
    """What is wanted: as ``verify_book``, ``verify_registrations`` and ``ask_further`` take it.

    With ``rehearsed_at``, ports of this machine, the building that is rehearsed there is asked instead of the real one;
    it needs no permission, and has neither discovery nor switches.
    """

    manner: Manner
    keep_minutes: float
    only: tuple[str, ...]
    permitted: bool
    again: bool
    registrations: bool
    passphrase: str | None = field(repr=False)
    further: FurtherAsks
    rehearsed_at: Ports | None = None


def ask_building(book: OpenBook, asks: Asks, means: Means) -> None:
    """Ask units, then registrars, then by discovery, then switches, as far as is wanted; note how it ends.

    Raises:
        Stopped: somebody wanted it to stop; what was heard is in the book.
        Refused: as the use-cases have it.
    """
    end: dict[str, object] = {"state": RunState.FAILED}
    try:
        if asks.rehearsed_at is None:
            _ask(book, asks, means)
        else:
            _ask_rehearsed(book, asks, asks.rehearsed_at, means)
        end = {"state": RunState.DONE}
    except Stopped:
        end = {"state": RunState.STOPPED}
        raise
    except Refused as refused:
        end = {"state": RunState.REFUSED, "refused": refused}
        raise
    finally:
        book.verifying.note(**end)
        book.changed()
        book.tell("asked", over=True)


def _ask(book: OpenBook, asks: Asks, means: Means) -> None:
    telling = _Telling(book)
    still = replace(means, progress=lambda _: None)

    def still_wanted() -> None:
        means.progress("asking")

    verified = verify_book(
        book.path,
        still,
        manner=asks.manner,
        only=asks.only,
        permitted=asks.permitted,
        again=asks.again,
        keep_minutes=asks.keep_minutes,
        listen=telling.hear,
        still_wanted=still_wanted,
    )
    book.verifying.note(verified=verified)
    if asks.registrations:
        registrations = verify_registrations(
            book.path,
            still,
            manner=asks.manner,
            passphrase=asks.passphrase,
            only=asks.only,
            listen=telling.hear_registrar,
            still_wanted=still_wanted,
        )
        book.verifying.note(registrations=registrations)
    further = ask_further(
        book.path,
        still,
        asks.further,
        manner=asks.manner,
        only=asks.only,
        there=frozenset(one.target.subject for one in verified.heard if one.is_there),
        permitted=asks.permitted,
        begin=telling.begin,
        found_by=lambda found: book.verifying.note(found=found),
        listen=telling.hear_switch,
        still_wanted=still_wanted,
    )
    book.verifying.note(at_switches=further.switches)


def _ask_rehearsed(book: OpenBook, asks: Asks, ports: Ports, means: Means) -> None:
    telling = _Telling(book)
    still = replace(means, progress=lambda _: None)

    def still_wanted() -> None:
        means.progress("asking")

    verified = verify_rehearsed(
        book.path,
        still,
        manner=asks.manner,
        ports=ports,
        only=asks.only,
        listen=telling.hear,
        still_wanted=still_wanted,
    )
    book.verifying.note(verified=verified)
    if asks.registrations:
        registrations = verify_rehearsed_registrations(
            book.path,
            still,
            manner=asks.manner,
            ports=ports,
            passphrase=asks.passphrase or "",
            only=asks.only,
            listen=telling.hear_registrar,
            still_wanted=still_wanted,
        )
        book.verifying.note(registrations=registrations)


class _Telling:
    """Notes each result, and tells it to the pages that look."""

    def __init__(self, book: OpenBook) -> None:
        self._book = book

    def begin(self, step: str) -> None:
        """Tell what begins now."""
        self._book.verifying.note(step=step, count=0)
        self._book.tell("asked", step=step, count=0, of_count=1)

    def hear(self, heard: Heard, count: int, of_count: int) -> None:
        """Hear a part of the plan."""
        row = HeardRow(table="heard", id=heard.target.subject.id, is_well=heard.is_there, cells=row_of(heard))
        self._take(row, f"asked {count} of {of_count}", count, of_count)

    def hear_registrar(self, said: Registration, count: int, of_count: int) -> None:
        """Hear what a registrar says of a unit."""
        row = HeardRow(
            table="registered",
            id=said.registrant.subject.id,
            is_well=said.is_registered,
            cells=registration_row(said),
        )
        self._take(row, f"asked about {count} of {counted(of_count, 'registration')}", count, of_count)

    def hear_switch(self, heard: SwitchHeard, count: int, of_count: int) -> None:
        """Hear a switch over SNMP."""
        row = HeardRow(
            table="switches",
            id=heard.target.subject.id,
            is_well=_WELL.get(heard.outcome),
            cells=switch_row(heard),
        )
        self._take(row, f"asked {count} of {counted(of_count, 'switch')} over SNMP", count, of_count)

    def _take(self, row: HeardRow, step: str, count: int, of_count: int) -> None:
        self._book.verifying.take(row, step, count, of_count)
        self._book.tell("asked", row=row, step=step, count=count, of_count=of_count)
