"""Ask the building that is rehearsed on this machine's loopback addresses, as the real one would be asked."""

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from doorwright.app.hearing import Hearing, hear_all
from doorwright.app.means import Means
from doorwright.app.take_found import Compared
from doorwright.app.three_sides import Rehearsal
from doorwright.app.verify_book import Verified, chosen_of
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.trail import Act
from doorwright.kernel.words import counted
from doorwright.loopback.places import Place, Ports, places_of
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import Switch
from doorwright.model.rehearsed import Head
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.probe import target as asked
from doorwright.probe.ask import Asker, Manner
from doorwright.probe.heard import Heard, sightings
from doorwright.probe.neighbours import Neighbourhood
from doorwright.probe.reach import Outcome
from doorwright.probe.target import LeftOut, Target, targets
from doorwright.rehearse.planned import planned
from doorwright.rules.differences import differences
from doorwright.store.book import Book

FAST_PER_S: Final = 1000.0
"""Asks a second on this machine itself, which nobody needs to be gentle with."""
_ON_WIRE = "asked on the wire"


def verify_rehearsed(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    ports: Ports,
    only: Sequence[str] = (),
    listen: Callable[[Heard, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
    shared: bool | None = None,
) -> Verified:
    """Ask the parts that ``rehearse --wire`` brought up, and set what they answer beside the plan.

    Nobody needs to permit it: nothing leaves this machine. What is seen is written down as rehearsed, never as found.
    No echo is asked for, and nothing that was refused counts as an answer: on loopback the system itself does both.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast, how many at once; a port that is None is not asked, the others are those of the rehearsal.
        ports: at which the rehearsed parts listen.
        only: the names of the parts to ask; none asks all.
        listen: hears each result, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.
        shared: whether all parts share one address; None asks the system.

    Raises:
        Refused: a name that is in no plan, or nobody to ask. Nothing was sent.
    """
    with Book.open(book_path) as book:
        walk = Walk(book.site())
        revision = book.head().number
        everybody, left_out = rehearsed_of(walk, *targets(walk, asked.Ports()))
        chosen, left_out = chosen_of(everybody, left_out, only)
        if not chosen:
            raise Refused(
                "there is nobody to ask: nothing of this plan is rehearsed", remedy="First: doorwright plan BOOK"
            )
        book.note_trail(means.trace(Act.REHEARSED, f"{counted(len(chosen), 'part')} {_ON_WIRE}, revision {revision}"))
        hearing = Hearing(book, means, len(chosen), lambda heard: sightings(heard, {}), listen, stage=Stage.REHEARSED)
        neighbourhood = Neighbourhood(frozenset())  # there are no MAC addresses on loopback
        manner = replace(manner, pings=False)
        asker = Asker(manner, neighbourhood, now=means.now, chance=means.random_bytes)
        places = places_of(walk, ports, shared=shared)

        async def ask(target: Target) -> Heard:
            moved = _at_its_place(target, places.of(target.address), manner.ports)
            return _as_rehearsed(await asker.ask(moved), target)

        asking = hear_all(chosen, ask, hearing, at_once_count=manner.at_once_count)
        asyncio.run(while_wanted(asking, still_wanted))
    return Verified(
        heard=tuple(hearing.heard),
        kept=(),
        left_out=left_out,
        no_way=tuple(one.target.name for one in hearing.heard if one.is_there is None),
        tells_macs=True,
        new_count=hearing.keeper.new_count,
        compared=compared_rehearsed(walk, revision, hearing.seen, means),
    )


def rehearsed_of(
    walk: Walk, everybody: tuple[Target, ...], left_out: tuple[LeftOut, ...]
) -> tuple[tuple[Target, ...], tuple[LeftOut, ...]]:
    """Return those of whom may be asked that are rehearsed; and, with those left out, all others with why they are not.

    Args:
        walk: the site.
        everybody: who may be asked.
        left_out: who may not.
    """
    boxes = planned(walk).boxes
    others = tuple(
        LeftOut(
            subject=one.subject,
            name=one.name,
            reason="switches are not rehearsed on the wire"
            if one.subject.kind == Switch.KIND
            else "it is not rehearsed: its plan lacks something",
        )
        for one in everybody
        if one.subject.id not in boxes
    )
    return tuple(one for one in everybody if one.subject.id in boxes), (*left_out, *others)


def _at_its_place(target: Target, place: Place, wanted: asked.Ports) -> Target:
    """Return whom to ask instead: the same part where it lives, over the protocols that are wanted."""
    own = target.ports
    ports = asked.Ports(
        http=place.ports.http if wanted.http and own.http else None,
        https=None,
        rtsp=place.ports.rtsp if wanted.rtsp and own.rtsp else None,
        sip=place.sip_port(own.sip) if wanted.sip and own.sip else None,
    )
    return replace(target, address=place.address, ports=ports)


def _as_rehearsed(heard: Heard, target: Target) -> Heard:
    replies = [one for one in (heard.sip, heard.web, heard.rtsp) if one is not None]
    is_there = any(one.outcome is Outcome.ANSWERED for one in replies)
    return replace(heard, target=target, is_there=is_there if replies else None, pinged=None, macs=())


def compared_rehearsed(walk: Walk, revision: int, observed: Sequence[Observation], means: Means) -> Compared:
    """Set what was heard in this run beside the plan."""
    seen = what_counts(observed, Stage.REHEARSED)
    found = [(one, where_is(walk, one.part)) for one in differences(walk, seen)]
    return Compared(
        revision=revision,
        parts_count=len(walk.all(Unit)) + len(walk.all(Switch)),
        seen_count=0,
        differences=(),
        strangers=(),
        seen={},
        rehearsal=Rehearsal(
            head=Head(revision=revision, calls_count=0, proved_count=0, conditions=_ON_WIRE),
            at=means.now(),
            by=means.who,
            is_stale=False,
            seen=seen,
            differences=tuple(sorted(found, key=lambda pair: natural_key(pair[0].part.label))),
        ),
    )
