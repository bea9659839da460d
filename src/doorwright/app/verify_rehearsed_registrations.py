"""Ask the registrars that are rehearsed on this machine's loopback addresses about their units, as real ones are."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from doorwright.app.hearing import Hearing
from doorwright.app.means import Means
from doorwright.app.take_found import Compared
from doorwright.app.vault import opened_secrets
from doorwright.app.verify_book import chosen_of
from doorwright.app.verify_registrations import VerifiedRegistrations, about, ask_about, see_anybody
from doorwright.app.verify_rehearsed import compared_rehearsed
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.observation import Stage
from doorwright.kernel.trail import Act
from doorwright.loopback.places import Places, Ports, places_of
from doorwright.model.label import natural_key
from doorwright.model.walk import Walk
from doorwright.probe import target as asked
from doorwright.probe.ask import Manner
from doorwright.probe.registrant import Registrant, entered_by_plan, registrants
from doorwright.probe.registration import Registration, sightings_of
from doorwright.probe.target import targets
from doorwright.rehearse.planned import planned
from doorwright.store.book import Book


def verify_rehearsed_registrations(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    ports: Ports,
    passphrase: str,
    only: Sequence[str] = (),
    listen: Callable[[Registration, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
    shared: bool | None = None,
) -> VerifiedRegistrations:
    """Ask about each rehearsed registration with the vault's secrets, which the rehearsed units then must have too.

    Nobody needs to permit it: nothing leaves this machine. What is seen is written down as rehearsed, never as found.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast and how many at once.
        ports: at which the rehearsed parts listen.
        passphrase: the vault's.
        only: the names of the units to ask about; none asks about all.
        listen: hears each result, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.
        shared: whether all parts share one address; None asks the system.

    Raises:
        Refused: the passphrase is wrong, a name that is in no plan, or nobody to ask about. Nothing was sent.
    """
    with Book.open(book_path) as book:
        walk = Walk(book.site())
        revision = book.head().number
        boxes = planned(walk).boxes
        everybody, unfit = targets(walk, asked.Ports())
        wanted = {one.subject for side in chosen_of(everybody, unfit, only) for one in side}
        entered = entered_by_plan(walk, opened_secrets(book, passphrase))
        for ident, own in entered.items():
            registers = boxes[ident].registers if ident in boxes else None
            if registers is not None:
                entered[ident] = replace(own, user=registers.user)
        there = tuple(one for one in everybody if one.subject.id in boxes)
        found, left_out = registrants(walk, there, entered)
        due = tuple(one for one in found if one.subject in wanted)
        left_out = tuple(one for one in left_out if one.subject in wanted)
        see_anybody(due, left_out)
        book.note_trail(means.trace(Act.REHEARSED, f"{about(due)}, revision {revision}"))
        places = places_of(walk, ports, shared=shared)
        planned_at = {places.of(one.address).address: one.address for one in there}
        by_subject = {one.subject: one for one in due}

        def as_planned(heard: Registration) -> Registration:
            one = by_subject[heard.registrant.subject]
            return _moved_back(heard, one, planned_at | {heard.registrant.address: one.address})

        hearing = Hearing(book, means, len(due), sightings_of, listen, stage=Stage.REHEARSED)
        asking = ask_about(due, manner, means, hearing, where=lambda one: _moved(one, places), as_planned=as_planned)
        asyncio.run(while_wanted(asking, still_wanted))
    return VerifiedRegistrations(
        heard=tuple(hearing.heard),
        left_out=left_out,
        new_count=hearing.keeper.new_count,
        compared=compared_rehearsed(walk, revision, hearing.seen, means),
    )


def joined(one: Compared, other: Compared) -> Compared:
    """Return what two questions to the same rehearsed building came to, as one comparison."""
    first, second = one.rehearsal, other.rehearsal
    if first is None or second is None:
        return one if second is None else other
    parts = first.seen.keys() | second.seen.keys()
    seen = {part: {**first.seen.get(part, {}), **second.seen.get(part, {})} for part in parts}
    found = sorted((*first.differences, *second.differences), key=lambda pair: natural_key(pair[0].part.label))
    return replace(one, rehearsal=replace(first, seen=seen, differences=tuple(found)))


def _moved(one: Registrant, places: Places) -> Registrant:
    """Return a registrant where it lives on this machine."""
    address, port = one.at
    place = places.of(address)
    return replace(
        one,
        address=places.of(one.address).address,
        at=(place.address, place.sip_port(port)),
        mates=frozenset(places.of(mate).address for mate in one.mates),
    )


def _moved_back(heard: Registration, one: Registrant, planned_at: Mapping[str, str]) -> Registration:
    """Return what was heard with the addresses of the plan."""
    bindings = heard.bindings
    if bindings is not None:
        bindings = tuple(replace(each, host=planned_at.get(each.host, each.host)) for each in bindings)
    return replace(heard, registrant=one, bindings=bindings)
