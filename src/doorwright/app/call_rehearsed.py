"""Call one unit of the building that is rehearsed on this machine's loopback addresses, as a real one is called."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from doorwright.app.call_unit import CalledUnit, Rated, Wanted, rated_call, whom_to_call
from doorwright.app.means import Means
from doorwright.app.vault import opened_secrets
from doorwright.app.verify_rehearsed import compared_rehearsed, rehearsed_of
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage
from doorwright.kernel.trail import Act
from doorwright.loopback.places import Places, Ports, places_of
from doorwright.model.naming import named
from doorwright.model.walk import Walk
from doorwright.probe import target as asked
from doorwright.probe.call import CallManner
from doorwright.probe.registrant import Entered, entered_by_plan
from doorwright.probe.target import targets
from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.planned import planned
from doorwright.store.book import Book


def call_rehearsed(
    book_path: Path,
    means: Means,
    *,
    name: str,
    ports: Ports,
    manner: CallManner,
    as_unit: str | None = None,
    passphrase: str | None = None,
    listen: Callable[[str], None] = lambda _: None,
    still_wanted: Callable[[], None] = lambda: None,
    shared: bool | None = None,
) -> CalledUnit:
    """Call a rehearsed unit, measure, hang up; what is seen is written down as rehearsed, never as found.

    Nobody needs to permit it: nothing leaves this machine, and it rings nowhere.

    Args:
        book_path: the book.
        means: the world.
        name: the unit to call.
        ports: at which the rehearsed parts listen.
        manner: how long to wait, to ring and to speak.
        as_unit: the name of a unit as which to call, through its registrar; its secret is the vault's.
        passphrase: the vault's, where a unit's secret is needed.
        listen: is told how far the call is.
        still_wanted: is asked a few times a second; whatever it raises ends the call, and is raised here.
        shared: whether all parts share one address; None asks the system.

    Raises:
        Refused: a name is in no plan, the unit is not rehearsed or takes no calls, or the passphrase is wrong. Nothing
            was sent.
    """
    with Book.open(book_path) as book:
        walk = Walk(book.site())
        revision = book.head().number
        boxes = planned(walk).boxes
        everybody, unfit = rehearsed_of(walk, *targets(walk, asked.Ports()))
        entered = _entered(walk, boxes, opened_secrets(book, passphrase or "")) if as_unit is not None else {}
        wanted = whom_to_call(walk, everybody, unfit, name=name, as_unit=as_unit, entered=entered)
        _see_taking_calls(boxes[wanted.unit.id])
        places = places_of(walk, ports, shared=shared)
        book.note_trail(
            means.trace(Act.REHEARSED, f"a test call to {named(walk, wanted.unit)}{wanted.way}, revision {revision}")
        )
        rated: Rated = rated_call(
            walk,
            _moved(wanted, places),
            means,
            manner=manner,
            stage=Stage.REHEARSED,
            listen=listen,
            still_wanted=still_wanted,
        )
        book.observe(rated.seen)
    return rated.beside(compared_rehearsed(walk, revision, rated.seen, means))


def _entered(walk: Walk, boxes: Mapping[str, Box], secrets: Mapping[str, str]) -> dict[str, Entered]:
    """Return the user as which each rehearsed unit registers, with its secret of the vault."""
    found = {}
    for ident, own in entered_by_plan(walk, secrets).items():
        registers = boxes[ident].registers if ident in boxes else None
        if registers is not None:
            found[ident] = replace(own, user=registers.user)
    return found


def _see_taking_calls(box: Box) -> None:
    if box.role is Role.VCU:
        raise Refused(
            f"{box.name} is a call unit: rehearsed ones call and take no calls",
            remedy="Call a receiver or a desk; --as calls it as this unit.",
        )


def _moved(wanted: Wanted, places: Places) -> Wanted:
    """Return the call to where the part lives on this machine."""
    callee = wanted.callee
    address, port = callee.at
    place = places.of(address)
    speech_to = frozenset(places.of(one).address for one in callee.speech_to)
    return replace(wanted, callee=replace(callee, at=(place.address, place.sip_port(port)), speech_to=speech_to))
