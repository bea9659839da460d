"""What is right of a registrar's word of a unit and of a test call, and what to correct at which end."""

from typing import Final

from doorwright.model.aspect import ELSEWHERE, NONE, NOT_TAKEN, TAKEN, UNREADABLE, Aspect, Standing, bound_of, with_unit
from doorwright.model.naming import named
from doorwright.model.network import SipServer, Switch
from doorwright.model.ranges import address_of
from doorwright.model.sip_user import sip_user_of
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.rules.answers import Amiss
from doorwright.rules.planned import registrar_of
from doorwright.rules.saying import others
from doorwright.rules.streams import MEDIUM_POINTS

OVER_SIP: Final = (Aspect.REGISTRAR_SAYS, Aspect.BOUND, Aspect.CALLED, Aspect.SPEECH)
"""The aspects judged here."""

_NOTHING: Final = Amiss()
_RANG: Final = frozenset({TAKEN, NOT_TAKEN, "480", "486", "600", "603"})
"""Answers that say that a call came through: taken or not, nobody there, busy, declined (RFC 3261 §21.4.18, §21.6)."""


def amiss_over_sip(walk: Walk, part: Unit | Switch | SipServer, aspect: Aspect, value: str) -> Amiss | None:
    """Return what is not right of one of ``OVER_SIP``, or None where it is right.

    Args:
        walk: the way around the site.
        part: the unit that was asked about.
        aspect: what was asked.
        value: what was seen.
    """
    if not isinstance(part, Unit):
        return _NOTHING
    match aspect:
        case Aspect.REGISTRAR_SAYS:
            return _standing(walk, part, value)
        case Aspect.BOUND:
            return _bound(walk, part, value)
        case Aspect.CALLED:
            return _called(walk, part, value)
        case Aspect.SPEECH:
            return _speech(part, value)
        case _:
            raise ValueError(f"{aspect} is not asked over SIP")


def _standing(walk: Walk, unit: Unit, value: str) -> Amiss | None:
    registrar = registrar_of(walk, unit)
    if value == Standing.ACCEPTED or registrar is None:
        return None if registrar is not None else _NOTHING
    at, user = registrar.label, sip_user_of(walk, unit) or "its user"
    lines = [mark.line for mark in walk.secrets_of(unit.id) if mark.use is SecretUse.SIP]
    secret = f"sealed sheet, line {max(lines)}" if lines else "the vault"
    if value == Standing.REFUSED:
        said = f"was refused by {at} with the user and SIP secret of the plan"
        to_do = (
            f"at {at} enter for it SIP user {user} and the SIP secret of {secret}; see that there is room for it; if"
            f" {unit.label} registers all the same, both ends have another secret than the vault: enter it there too"
        )
    elif value == Standing.UNKNOWN:
        said = f"is not known to {at} as {user}"
        to_do = f"at {at} enter it: SIP user {user}, the SIP secret of {secret}; nothing changes at {unit.label}"
    elif value == Standing.NOT_ASKED:
        said = f"may be registered with {at} by anybody: no secret was asked for"
        to_do = f"turn on proof by secret at {at}, and see that it has that of {secret} for {unit.label}"
    elif value in (NONE, UNREADABLE):
        said = f"could not be asked about: {at} gave no answer about registrations that can be read"
        to_do = f"see that SIP is turned on at {at}, at the port that was asked; then ask again"
    else:
        said = f"was answered {value} by {at} when its registration was asked about"
        to_do = f"look at the log and load of {at}; 5xx means that it is in trouble; then ask again"
    return Amiss(planned=Standing.ACCEPTED, said=said, to_do=to_do, also=(registrar,))


def _bound(walk: Walk, unit: Unit, value: str) -> Amiss | None:
    hosts = bound_of(value)
    own = str(address_of(unit.address or "") or "")
    elsewhere = tuple(host for host in hosts if host != own)
    registrar = registrar_of(walk, unit)
    if not hosts or registrar is None:
        return _NOTHING  # not registered: that is told as such
    if not elsewhere:
        return None
    holders = others(unit, tuple(one for host in elsewhere for one in walk.holders_of_address(host)))
    whose = "".join(f"; {named(walk, one)} has that address in the plan" for one in holders)
    where, user = " and ".join(elsewhere), sip_user_of(walk, unit) or "its user"
    if own in hosts:
        said = f"is registered with {registrar.label} twice: at its own address and at {where}"
        to_do = (
            f"call number used twice: find what else registers as {user}, by the switch port of {where}, and give it"
            f" its own user and secret; where {unit.label} had that address before, it ends when it is not renewed"
        )
    else:
        said = f"is registered with {registrar.label} at {where}"
        to_do = f"at {unit.label} enter address {own}; {registrar.label} learns it with the next registration"
        if holders:
            both = " and ".join(one.label for one in (unit, *holders))
            to_do = f"see at {both} which SIP user is entered: {user} belongs to {unit.label} alone; else {to_do}"
    return Amiss(planned=own, said=said, to_do=f"{to_do}{whose}", also=holders)


def _called(walk: Walk, unit: Unit, value: str) -> Amiss | None:
    if value in _RANG:
        return None
    if value == NONE:
        return Amiss(
            planned=TAKEN,
            said="gave no answer at all to a test call",
            to_do=f"ask it over the network first; then see that SIP is turned on at {unit.label}, at the port that was"
            " called",
        )
    number = sip_user_of(walk, unit) or "its number"
    known = {
        "403": f"see whom {unit.label} takes calls from: from its registrar alone, as some do? Call as a unit then",
        "404": f"see which number {unit.label} answers to: the plan has {number}",
        "488": f"compare the codecs of {unit.label} with those that were offered, PCMU and PCMA",
    }
    to_do = known.get(value, f"look at the log of {unit.label}, and at what {value} means in its manual")
    return Amiss(planned=TAKEN, said=f"refused a test call with {value}", to_do=to_do)


def _speech(unit: Unit, value: str) -> Amiss | None:
    if value == NONE:
        return Amiss(
            planned="heard both ways",
            said="took a test call, and its speech did not come through both ways",
            to_do=f"see what stands on the way that lets SIP through and RTP not, the VLAN and gateway of {unit.label},"
            " which ports it sends speech from and which codec; call again from its own subnet to compare",
        )
    if value == ELSEWHERE:
        return Amiss(
            planned="heard both ways",
            said="took a test call, and wants its speech sent to an address that is not in the plan",
            to_do=f"see at {unit.label} which address it gives for its speech: its own, none of a router and none"
            " that it had before; if something else passes speech on there, enter that in the plan",
        )
    if float(value) >= MEDIUM_POINTS:
        return None
    return Amiss(
        planned=with_unit(Aspect.SPEECH, f"{MEDIUM_POINTS:g}"),
        said=f"was heard at R {value} in a test call, below medium quality",
        to_do="look at the packets lost, the jitter and the round trip of the same call; then at the errors of the"
        " switch ports on the way and at the load of the links",
    )
