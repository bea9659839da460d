"""Rehearse a building on this machine's loopback addresses, in real time, so that real peers can take part."""

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final, TypeAlias
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from doorwright.app.means import Means
from doorwright.app.put_faults import put_faults
from doorwright.app.vault import opened_secrets
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.trail import Act
from doorwright.loopback.accounts import accounts_table, with_secrets, with_users
from doorwright.loopback.live import LiveBuilding
from doorwright.loopback.moving_in import Tenant, crowded, moved_in
from doorwright.loopback.places import Ports, places_of
from doorwright.model.calling import DAY_MIN
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling
from doorwright.model.sip_user import sip_user_of
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.clock import day_of
from doorwright.paths.proof import prove
from doorwright.plan.edits.called import nearest
from doorwright.plan.pairing import mark_of
from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.faults import Fault
from doorwright.rehearse.journal import Entry
from doorwright.rehearse.planned import LeftOut, Planned, planned
from doorwright.rehearse.power import fed
from doorwright.rehearse.rehearsal import Played, outcome_of
from doorwright.rehearse.script import NotPlayed, play_at
from doorwright.store.book import Book
from doorwright.store.files import write_whole

CALL_AT_MOST_S: Final = 600.0
"""How long somebody at a call unit waits at most."""
_SHOWN_COUNT: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is wanted of a rehearsal on the wire.

    Attributes:
        faults: a name, or a name, a colon and the name of a unit, each.
        without: the names of parts that are left out, so that something real takes their place.
        call: "VCU name:key or number", a call that is played when all is up.
        accounts: the file into which is written what a real phone must be told. It holds secrets.
        stay_s: how long it stays up when all is done; None until it is stopped.
        ports: at which ports parts listen.
        seed: where chance starts that picks units for faults, and out of which secrets are made up.
        shared: whether all parts share one address; None asks the system.
    """

    faults: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    call: str | None = None
    accounts: Path | None = None
    stay_s: float | None = None
    ports: Ports = field(default_factory=Ports)
    seed: int = 1
    shared: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnWire:
    """What a rehearsal on the wire came to.

    Attributes:
        addresses: where each part lived, by its identifier: address and SIP port.
        registered: the identifiers of the units that were registered when all had settled.
        refused: the others that ought to be, each with the last answer: a code, 408 where none came, None where it
            could not even ask.
        settled_s: how long it took until each had an answer; None where it was stopped before.
        call: the call that was played, with what the proof says and what happened, or why it was not.
        made_up: the units whose secret the vault lacks.
    """

    revision: int
    walk: Walk
    faults: tuple[tuple[Fault, str], ...]
    addresses: Mapping[str, tuple[str, int]]
    registered: tuple[str, ...]
    refused: tuple[tuple[str, int | None], ...]
    settled_s: float | None
    call: Played | NotPlayed | None
    left_out: tuple[LeftOut, ...]
    without: tuple[str, ...]
    made_up: tuple[str, ...]
    accounts: Path | None

    @property
    def as_planned(self) -> bool:
        """Whether every unit registered, and the call went as the proof says."""
        return (
            self.settled_s is not None
            and not self.refused
            and (self.call is None or (isinstance(self.call, Played) and self.call.as_proved))
        )


@dataclass(frozen=True, slots=True)
class News:
    """Something that happened, for whoever watches: what, at which part, and how many of how many are registered."""

    entry: Entry
    name: str
    registered_count: int
    of_count: int


@dataclass(frozen=True, slots=True)
class Open:
    """So many parts have their addresses and ports; now they are switched on."""

    parts_count: int


@dataclass(frozen=True, slots=True)
class Up:
    """All have settled: it is up."""

    settled_s: float
    registered_count: int
    of_count: int


Watch: TypeAlias = Callable[[Open | News | Up], None]
"""Told of all that happens."""


def rehearse_on_wire(
    book_path: Path,
    means: Means,
    wish: Wish,
    *,
    passphrase: str | None = None,
    watch: Watch = lambda _news: None,
) -> OnWire:
    """Bring the latest revision's building up on loopback, let it live, and close it.

    Args:
        book_path: the book.
        means: the world.
        wish: what is wanted.
        passphrase: the vault's, where units are to have its secrets; None makes secrets up out of the seed.
        watch: is told of all that happens.

    Raises:
        Refused: the book cannot be read, something that was named is not there, or this machine lacks addresses,
            ports or open files. Nothing was begun.
    """
    with Book.open(book_path, read_only=passphrase is None) as book:
        walk = Walk(book.site())
        revision = book.head().number
        secrets = opened_secrets(book, passphrase) if passphrase is not None else None
        ready = _ready(walk, wish, secrets)
        if wish.accounts is not None:
            if wish.accounts.exists():
                raise Refused(f"{wish.accounts} is there already", remedy="Choose another name, or move it away.")
            if secrets is not None:
                about = f"accounts for a rehearsal on the wire, revision {revision}"
                book.note_trail(means.trace(Act.SECRETS_SHOWN, about))
            write_whole(wish.accounts, ready.accounts.encode(), private=True)
    run = _Run(walk, ready, wish, means, watch)
    asyncio.run(run.live())
    return OnWire(
        revision=revision,
        walk=walk,
        faults=ready.faults,
        addresses={one.box.id: (one.box.jack.address, one.box.sip_port) for one in ready.tenants},
        registered=run.registered,
        refused=run.refused,
        settled_s=run.settled_s,
        call=run.call,
        left_out=ready.plan.left_out,
        without=ready.without,
        made_up=ready.made_up,
        accounts=wish.accounts,
    )


# before anything begins


@dataclass(frozen=True, slots=True, kw_only=True)
class _Press:
    """What somebody presses at a call unit, which number that calls, and the dwelling or desk that they want."""

    unit: str
    key: str | None
    number: str
    called: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ready:
    plan: Planned
    tenants: tuple[Tenant, ...]
    accounts: str
    faults: tuple[tuple[Fault, str], ...]
    without: tuple[str, ...]
    made_up: tuple[str, ...]
    press: _Press | None


def _ready(walk: Walk, wish: Wish, secrets: Mapping[str, str] | None) -> _Ready:
    plan = planned(walk, seed=wish.seed)
    if not plan.boxes:
        raise Refused("no unit of this site has an address and a number yet", remedy="First: doorwright plan BOOK")
    without = _without(plan.boxes, wish.without)
    boxes = with_users(plan.boxes, _real_users(walk, without))
    made_up: tuple[str, ...] = ()
    if secrets is not None:
        of_units = _of_units(walk, plan.boxes, secrets)
        made_up = tuple(box.id for box in boxes.values() if box.registers is not None and box.id not in of_units)
        boxes = with_secrets(boxes, of_units)
    plan = replace(plan, boxes=boxes)
    press = _pressed(walk, boxes, wish.call) if wish.call is not None else None
    with_faults, faults = put_faults(walk, plan, wish.faults, seed=wish.seed)
    if not with_faults.is_of_boxes_alone(plan):
        raise Refused(
            "faults of cables that lose packets, full links, routers and power cuts do not show with --wire",
            remedy="Rehearse it without --wire.",
        )
    faulty = {box.id: box for box in fed(with_faults.plant, with_faults.boxes.values())}
    _see_whole(plan, faulty, faults, without, press)
    places = places_of(walk, wish.ports, shared=wish.shared)
    tenants = tuple(one for one in moved_in(faulty, places, real=without) if one.box.id not in without)
    return _Ready(
        plan=plan,
        tenants=tenants,
        accounts=accounts_table(moved_in(boxes, places, real=without)),  # what is right, without the faults
        faults=faults,
        without=without,
        made_up=made_up,
        press=press,
    )


def _without(boxes: Mapping[str, Box], names: tuple[str, ...]) -> tuple[str, ...]:
    by_name = {box.name.casefold(): box.id for box in boxes.values()}
    mistakes = tuple(
        Mistake(
            where="--without",
            read=name,
            problem="nothing that is rehearsed has this name",
            remedy=f"Near: {', '.join(near)}." if near else "Write it as in the plan.",
        )
        for name in names
        if name.strip().casefold() not in by_name
        for near in [nearest(name, [box.name for box in boxes.values()])]
    )
    if mistakes:
        raise Refused("nothing was begun", remedy="Correct the names and try again.", mistakes=mistakes)
    return tuple(dict.fromkeys(by_name[name.strip().casefold()] for name in names))


def _real_users(walk: Walk, without: tuple[str, ...]) -> dict[str, str]:
    """Return as whom units register with a real registrar: as the plan tells both ends."""
    units = (unit for registrar in without for unit in walk.units_registered_with(registrar))
    return {unit.id: user for unit in units if (user := sip_user_of(walk, unit)) is not None}


def _of_units(walk: Walk, boxes: Mapping[str, Box], secrets: Mapping[str, str]) -> dict[str, str]:
    """Return the SIP secrets of the vault by unit."""
    marks = {
        ident: mark_of(walk, unit, SecretUse.SIP) for ident in boxes if (unit := walk.find(Unit, ident)) is not None
    }
    return {ident: secrets[mark.id] for ident, mark in marks.items() if mark is not None and mark.id in secrets}


def _see_whole(
    plan: Planned,
    faulty: Mapping[str, Box],
    faults: tuple[tuple[Fault, str], ...],
    without: tuple[str, ...],
    press: _Press | None,
) -> None:
    """Refuse what cannot be: two boxes with one address, a fault in or a call from what is left out."""
    mistakes = [
        Mistake(
            where="address",
            read=one.address,
            problem=f"is entered in {' and '.join(one.names)}; on one machine only one of them can have it",
            remedy="Correct the plan, or rehearse this fault without --wire: there both answer in turn.",
        )
        for one in crowded(faulty, left_out=without)
    ]
    mistakes += [
        Mistake(
            where="--fault",
            read=f"{fault.name}:{plan.boxes[ident].name}",
            problem="is put into a part that is left out",
            remedy="Name another unit.",
        )
        for fault, ident in faults
        if ident in without
    ]
    if press is not None and press.unit in without:
        name = plan.boxes[press.unit].name
        mistakes.append(Mistake(where="--call", read=name, problem="is left out", remedy="Call at another unit."))
    if mistakes:
        raise Refused("nothing was begun", remedy="Correct this and try again.", mistakes=tuple(mistakes))


def _pressed(walk: Walk, boxes: Mapping[str, Box], text: str) -> _Press:
    """Return the call that a text names: "VCU name:key or number"."""
    name, colon, wanted = (part.strip() for part in text.rpartition(":"))
    units = {box.name.casefold(): box for box in boxes.values() if box.role is Role.VCU}
    box = units.get(name.casefold())
    if not colon or box is None:
        names = ", ".join(sorted((one.name for one in units.values()), key=natural_key))
        raise Refused(f"{text!r} names no call unit and key", remedy=f'Say "NAME:KEY or number". Call units: {names}.')
    keys = [one for one in walk.keys_of(box.id) if one.label in box.keys]
    key = next((one for one in keys if wanted in (one.label, one.label.removeprefix("key "))), None)
    if key is not None:
        called = key.dwelling or key.desk or ""
        return _Press(unit=box.id, key=key.label, number=box.keys[key.label], called=called)
    home = next((one for one in walk.all(Dwelling) if one.call_number == wanted), None)
    desk = next((one for one in walk.units_of_kind(UnitKind.SMU) if one.call_number == wanted), None)
    part = home or desk
    if wanted not in box.lines or part is None:
        there = sorted({*box.keys, *box.lines}, key=natural_key)
        shown = ", ".join(there[:_SHOWN_COUNT]) + (" ..." if len(there) > _SHOWN_COUNT else "")
        raise Refused(f"{box.name} has no key {wanted} and calls no such number", remedy=f"It has: {shown}.")
    return _Press(unit=box.id, key=None, number=wanted, called=part.id)


# live


class _Run:
    """One building's life, and what is known of it when it is over."""

    def __init__(self, walk: Walk, ready: _Ready, wish: Wish, means: Means, watch: Watch) -> None:
        self._walk = walk
        self._ready = ready
        self._wish = wish
        self._means = means
        self._watch = watch
        self._minute_of = _wall(walk)
        self.registered: tuple[str, ...] = ()
        self.refused: tuple[tuple[str, int | None], ...] = ()
        self.settled_s: float | None = None
        self.call: Played | NotPlayed | None = None

    async def live(self) -> None:
        """Bring the building up, let it live until its time is over or somebody stops it, and close it.

        Raises:
            Refused: this machine lacks an address, a port or open files.
        """
        loop = asyncio.get_running_loop()
        broken: asyncio.Future[None] = loop.create_future()

        def note(_loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
            fault = context.get("exception")
            if fault is not None and not broken.done():
                broken.set_exception(fault)

        loop.set_exception_handler(note)
        building = LiveBuilding(
            self._ready.tenants,
            self._ready.plan.nets,
            now=self._means.now,
            minute_of=self._minute_of,
            told=lambda entry: self._tell(building, entry),
        )
        living = asyncio.ensure_future(self._live(building))
        try:
            await asyncio.wait({living, broken}, return_when=asyncio.FIRST_COMPLETED)
        except asyncio.CancelledError:  # somebody stopped it, which is how it usually ends
            pass
        finally:
            living.cancel()
            await asyncio.wait({living})
            self._count(building)
            building.close()
        if broken.done():
            broken.result()
        if not living.cancelled():
            living.result()

    async def _live(self, building: LiveBuilding) -> None:
        await building.open()
        self._watch(Open(len(self._ready.tenants)))
        building.power_up()
        await building.settled()
        self.settled_s = building.time.now_s
        self._watch(Up(self.settled_s, *self._counts(building)))
        if self._ready.press is not None:
            self.call = await self._called(building, self._ready.press)
        if self._wish.stay_s is None:
            await asyncio.get_running_loop().create_future()  # until somebody stops it
        else:
            await asyncio.sleep(self._wish.stay_s)

    async def _called(self, building: LiveBuilding, press: _Press) -> Played | NotPlayed:
        plan = self._ready.plan
        try:
            play = play_at(
                self._walk, prove(self._walk), plan.boxes, unit=press.unit, key=press.key, number=press.number,
                called=press.called, minute=self._minute_of(self._means.now()),
            )  # fmt: skip
        except LookupError:
            entrance = plan.boxes[press.unit].entrance or ""
            return NotPlayed(entrance, press.called, "the proof knows no call to it from here")
        if isinstance(play, NotPlayed):
            return play
        actor = building.actors[press.unit]
        number = play.number if play.key is None else actor.box.keys.get(play.key, "")
        entries = await building.visit(press.unit, number, moods=play.moods, at_most_s=CALL_AT_MOST_S)
        return Played(play, outcome_of(entries))

    def _tell(self, building: LiveBuilding, entry: Entry) -> None:
        box = building.actors[entry.part].box
        self._watch(News(entry, box.name, *self._counts(building)))

    def _counts(self, building: LiveBuilding) -> tuple[int, int]:
        registering = building.registering()
        return sum(actor.registered is True for actor in registering), len(registering)

    def _count(self, building: LiveBuilding) -> None:
        registering = building.registering()
        self.registered = tuple(actor.box.id for actor in registering if actor.registered)
        self.refused = tuple((actor.box.id, actor.answered_code) for actor in registering if not actor.registered)


def _wall(walk: Walk) -> Callable[[datetime], int]:
    """Return what tells the minute of the axis of the week that the clock on the site's wall shows."""
    site = walk.site
    try:
        zone = ZoneInfo(site.time_zone) if site.time_zone else None
    except (ZoneInfoNotFoundError, ValueError):
        zone = None  # a zone that is not known here: this machine's

    def minute_of(now: datetime) -> int:
        wall = now.astimezone(zone)
        return day_of(wall.date(), site.holidays) * DAY_MIN + wall.hour * 60 + wall.minute

    return minute_of
