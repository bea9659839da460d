"""Call one unit by name, speak for some seconds, and say how that sounded. This rings in a home."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from ipaddress import ip_address
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.vault import opened_secrets
from doorwright.app.verify_book import CAUTION, chosen_of, of_these
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.trail import Act
from doorwright.model.aspect import ELSEWHERE, NONE, NOT_TAKEN, TAKEN, Aspect
from doorwright.model.naming import named
from doorwright.model.network import SipServer
from doorwright.model.profile import Profile
from doorwright.model.sip_user import call_number_of, own_user_of, sip_user_of
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe.call import Called, Callee, CallManner, call
from doorwright.probe.conversation import PACKET_S, SPOKEN
from doorwright.probe.reach import Outcome
from doorwright.probe.registrant import Entered, entered_by_plan
from doorwright.probe.target import LeftOut, Ports, Target, targets
from doorwright.sip.formats import Codec
from doorwright.store.book import Book
from doorwright.studies.measured_speech import MeasuredSpeech, measured_speech

CALL_CAUTION: Final = (
    "A test call rings in a home, or at a desk, and whoever takes it hears silence. Call by day, and only where those"
    " who live there expect it. A call that is sent on rings where it is sent on to; a call as a unit, through its"
    " registrar, rings all receivers of the dwelling. What a test call shows says nothing of doors: press no key."
)
"""What is shown before each test call."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalledUnit:
    """What came of a test call.

    Attributes:
        unit: who was called.
        through: the registrar through which, with the unit as which it was called; None where it was called directly.
        called: what happened.
        to_us, to_them: how their speech and ours sounded; None where that is not known, or the codec is not rated.
        compared: what is found of the unit beside the plan.
    """

    unit: Unit
    through: str | None
    called: Called
    to_us: MeasuredSpeech | None
    to_them: MeasuredSpeech | None
    compared: Compared


def call_unit(
    book_path: Path,
    means: Means,
    *,
    name: str,
    ports: Ports,
    manner: CallManner,
    as_unit: str | None = None,
    passphrase: str | None = None,
    permitted: bool = False,
    may_ring: bool = False,
    listen: Callable[[str], None] = lambda _: None,
    still_wanted: Callable[[], None] = lambda: None,
) -> CalledUnit:
    """Call a unit, measure, hang up, and write down what was seen.

    Args:
        book_path: the book.
        means: the world.
        name: the unit to call.
        ports: the port of units for SIP.
        manner: how long to wait, to ring and to speak; the jitter buffer is the site's or the unit type's.
        as_unit: the name of a unit as which to call, through its registrar and with its SIP secret.
        passphrase: the vault's, where a unit's secret is needed.
        permitted: that the network's owner permits it. Once it was said, the book remembers.
        may_ring: that it may ring there now. Said for each call.
        listen: is told how far the call is.
        still_wanted: is asked a few times a second; whatever it raises ends the call, and is raised here.

    Raises:
        Refused: it was not said that it is permitted and may ring, a name is in no plan, a unit has no address or
            number, or the passphrase is wrong. Nothing was sent.
    """
    with Book.open(book_path) as book:
        if not permitted and not any(noted.act is Act.ASKED for noted in book.trail()):
            raise Refused(f"the network's owner must permit this first. {CAUTION}", remedy="If so, say it: --permitted")
        if not may_ring:
            raise Refused(f"it must be said that it may ring there now. {CALL_CAUTION}", remedy="If so: --may-ring")
        walk = Walk(book.site())
        everybody, unfit = targets(walk, ports)
        entered = entered_by_plan(walk, opened_secrets(book, passphrase or "")) if as_unit is not None else {}
        wanted = whom_to_call(walk, everybody, unfit, name=name, as_unit=as_unit, entered=entered)
        book.note_trail(means.trace(Act.ASKED, f"a test call to {named(walk, wanted.unit)}{wanted.way}"))
        rated = rated_call(
            walk, wanted, means, manner=manner, stage=Stage.FOUND, listen=listen, still_wanted=still_wanted
        )
        book.observe(rated.seen)
    return rated.beside(of_these(compare_found(book_path), {wanted.unit.subject}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A test call that can be made: to which unit, at what, and through which registrar as which unit, if through one.

    ``way`` says the latter after the name of the unit that is called.
    """

    unit: Unit
    callee: Callee
    through: str | None = None

    @property
    def way(self) -> str:
        """The registrar and the caller in words, with a comma before; nothing where it is called directly."""
        return f", through {self.through}" if self.through else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rated:
    """A test call that was made, how its speech sounded both ways, and what is to be written down of it."""

    wanted: Wanted
    called: Called
    to_us: MeasuredSpeech | None
    to_them: MeasuredSpeech | None
    seen: tuple[Observation, ...]

    def beside(self, compared: Compared) -> CalledUnit:
        """Return what came of it, beside the plan."""
        return CalledUnit(
            unit=self.wanted.unit,
            through=self.wanted.through,
            called=self.called,
            to_us=self.to_us,
            to_them=self.to_them,
            compared=compared,
        )


def whom_to_call(
    walk: Walk,
    everybody: tuple[Target, ...],
    unfit: tuple[LeftOut, ...],
    *,
    name: str,
    as_unit: str | None,
    entered: Mapping[str, Entered],
) -> Wanted:
    """Return the call to a unit, with its codecs.

    Args:
        walk: the site.
        everybody: who may be asked; speech goes to their addresses alone.
        unfit: who may not.
        name: the unit to call.
        as_unit: the name of a unit as which to call, through its registrar; None calls it directly.
        entered: user and secret by unit.

    Raises:
        Refused: a name is in no plan, or a unit has no address or number.
    """
    unit, target = _unit(walk, *chosen_of(everybody, unfit, [name], where="--call"), "--call")
    through = None
    if as_unit is None:
        callee = _straight(walk, unit, target, everybody)
    else:
        caller, _ = _unit(walk, *chosen_of(everybody, unfit, [as_unit], where="--as"), "--as")
        callee = _through(walk, unit, caller, entered.get(caller.id), everybody)
        through = f"{_registrar(walk, caller)} as {caller.name}"
    return Wanted(unit=unit, callee=replace(callee, codecs=_codecs(walk.profile(unit.profile))), through=through)


def rated_call(
    walk: Walk,
    wanted: Wanted,
    means: Means,
    *,
    manner: CallManner,
    stage: Stage,
    listen: Callable[[str], None],
    still_wanted: Callable[[], None],
) -> Rated:
    """Make a test call and rate its speech; nothing is written down yet.

    Args:
        walk: the site.
        wanted: the call.
        means: the world.
        manner: how long to wait, to ring and to speak; the jitter buffer is the site's or the unit type's.
        stage: of what is written down.
        listen: is told how far the call is.
        still_wanted: is asked a few times a second; whatever it raises ends the call, and is raised here.
    """
    profile = walk.profile(wanted.unit.profile)
    held_ms = profile.jitter_buffer_ms if profile is not None else None
    held_ms = held_ms if held_ms is not None else walk.settings().media.jitter_buffer_ms
    calling = call(
        wanted.callee,
        replace(manner, jitter_buffer_s=held_ms / 1000.0),
        now=means.now,
        chance=means.random_bytes,
        listen=listen,
    )
    called = asyncio.run(while_wanted(calling, still_wanted))
    rate = _Rating(walk, profile, called)
    to_us = rate.of(called.heard.gone_ratio, called.heard.burst_ratio) if called.heard is not None else None
    to_them = rate.of(called.told.gone_ratio) if called.told is not None and called.told.expected_count else None
    seen = tuple(
        Observation(
            id=means.new_id(), stage=stage, subject=wanted.unit.subject, aspect=aspect, value=value,
            seen_at=called.at, seen_by=means.who,
        )
        for aspect, value in sightings_of_call(called, to_us, to_them)
    )  # fmt: skip
    return Rated(wanted=wanted, called=called, to_us=to_us, to_them=to_them, seen=seen)


def sightings_of_call(
    called: Called, to_us: MeasuredSpeech | None, to_them: MeasuredSpeech | None
) -> tuple[tuple[Aspect, str], ...]:
    """Return what is written down of a call, by aspect: the worse of both directions; nothing without a way there."""
    if called.outcome is Outcome.NO_WAY:
        return ()
    got_through = NONE if called.outcome is Outcome.SILENT else NOT_TAKEN
    found = {Aspect.CALLED: TAKEN if called.taken else got_through if called.code is None else str(called.code)}
    if not called.taken:
        return tuple(found.items())
    if called.trouble:
        found[Aspect.SPEECH] = ELSEWHERE if called.strays else NONE
        return tuple(found.items())
    heard, told = called.heard, called.told
    if heard is None or not called.both_ways:
        found[Aspect.SPEECH] = NONE
        return tuple(found.items())
    ratings = [one.rating_points for one in (to_us, to_them) if one is not None]
    if ratings:
        found[Aspect.SPEECH] = f"{min(ratings):.1f}"
    found[Aspect.LOSS] = f"{100.0 * max(one.gone_ratio for one in (heard, told) if one is not None):.1f}"
    found[Aspect.JITTER] = f"{max(one.jitter_ms for one in (heard, told) if one is not None):.1f}"
    if called.round_trip_ms is not None:
        found[Aspect.ROUND_TRIP] = f"{called.round_trip_ms:.1f}"
    return tuple(found.items())


@dataclass(frozen=True, slots=True)
class _Rating:
    """What both directions of one call have in common."""

    walk: Walk
    profile: Profile | None
    called: Called

    def of(self, gone_ratio: float, burst_ratio: float = 1.0) -> MeasuredSpeech | None:
        """Return the rating of one direction."""
        return measured_speech(
            codec=(self.called.codec or "").upper(),
            profile=self.profile,
            media=self.walk.settings().media,
            packet_ms=PACKET_S * 1000.0,
            round_trip_ms=self.called.round_trip_ms,
            gone_ratio=gone_ratio,
            burst_ratio=burst_ratio,
        )


def _unit(walk: Walk, fit: Sequence[Target], unfit: Sequence[LeftOut], where: str) -> tuple[Unit, Target]:
    """Return the one unit that was named.

    Raises:
        Refused: it is no unit, has no address that may be asked, or several have this name.
    """
    found = [(unit, one) for one in fit if (unit := walk.find(Unit, one.subject.id)) is not None]
    if len(found) == 1 and len(fit) + len(unfit) == 1:
        return found[0]
    mistake = Mistake(
        where=where,
        read=", ".join([*(one.name for one in fit), *(one.name for one in unfit)]),
        problem="; ".join(one.reason for one in unfit) or "it is no unit, or several have this name",
        remedy="Name one unit of the plan that has an address.",
    )
    raise Refused("nobody was called", remedy="Correct the name and try again.", mistakes=(mistake,))


def _straight(walk: Walk, unit: Unit, target: Target, everybody: Sequence[Target]) -> Callee:
    if target.ports.sip is None:
        raise Refused("the port of units for SIP is 0: nobody can be called", remedy="Leave out --sip-port 0.")
    # a secondary is rung at the user as which it registers (RFC 3261 §10.2.1), which is not its dwelling's number
    is_receiver = unit.kind is UnitKind.URU
    user = (sip_user_of(walk, unit) if is_receiver else call_number_of(walk, unit)) or own_user_of(walk, unit)
    return Callee(user=user or unit.name, at=(target.address, target.ports.sip), speech_to=_addresses(everybody))


def _through(walk: Walk, unit: Unit, caller: Unit, entered: Entered | None, everybody: Sequence[Target]) -> Callee:
    number = call_number_of(walk, unit)
    registrar = next((one for one in everybody if one.subject.id == caller.registrar), None)
    if number is None or entered is None or registrar is None or registrar.ports.sip is None:
        reasons = (
            (number is None, f"{unit.name} has no call number"),
            (caller.registrar is None, f"{caller.name} registers with nobody: it is what others register with"),
            (registrar is None, f"the registrar of {caller.name} cannot be asked"),
            (entered is None, f"{caller.name} has no user or no SIP secret yet"),
            (True, "the port of units for SIP is 0"),
        )
        raise Refused(next(reason for holds, reason in reasons if holds), remedy="Call without --as, or as another.")
    return Callee(
        user=number, at=(registrar.address, registrar.ports.sip), caller=entered, speech_to=_addresses(everybody)
    )


def _registrar(walk: Walk, unit: Unit) -> str:
    found = walk.find(Unit, unit.registrar) or walk.find(SipServer, unit.registrar)
    return found.label if found is not None else ""


def _addresses(everybody: Sequence[Target]) -> frozenset[str]:
    return frozenset(str(ip_address(one.address)) for one in everybody)


def _codecs(profile: Profile | None) -> tuple[Codec, ...]:
    """Return what is offered, in the order of the unit's own list: what it does not name comes last."""
    known = [name.upper() for name in profile.audio] if profile is not None else []
    rank = {name: place for place, name in enumerate(known)}
    return tuple(sorted(SPOKEN, key=lambda codec: rank.get(codec.encoding, len(rank))))
