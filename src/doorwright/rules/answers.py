"""What is right of an answer on the network, and what to do where it is not."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from doorwright.kernel.observation import Observation
from doorwright.kernel.words import counted
from doorwright.model.aspect import NONE, UNREADABLE, Aspect, answered_at, days_of, macs_of
from doorwright.model.naming import named
from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.planned import run_to
from doorwright.rules.saying import others

ANSWERS: Final = (Aspect.ANSWERED, Aspect.MACS, Aspect.SIP, Aspect.CERTIFICATE, Aspect.CLOCK)
"""The aspects judged here."""

CLOCK_MOST_S: Final = 60
"""How far a clock may be out (common practice): timetables open and close by the minute."""
CERTIFICATE_LEFT: Final = timedelta(days=30)
"""How long a certificate should still last (common practice): time to renew it in working hours."""
_DAY_S: Final = 86_400
_HOUR_S: Final = 3_600


@dataclass(frozen=True, slots=True)
class Amiss:
    """What is not right: what should be, what is in words, what to do, and whom else it concerns.

    With nothing ``said`` there is nothing to judge: the observation is about what is no longer planned or not there.
    """

    planned: str = ""
    said: str = ""
    to_do: str = ""
    also: tuple[Part, ...] = ()


_NOTHING: Final = Amiss()


def amiss(
    walk: Walk, part: Unit | Switch | SipServer, aspect: Aspect, seen: Observation, *, today: date
) -> Amiss | None:
    """Return what is not right of one of the ``ANSWERS``, or None where it is right.

    Args:
        walk: the way around the site.
        part: who was asked.
        aspect: which answer.
        seen: what was seen.
        today: the day for which a certificate must be good.
    """
    match aspect:
        case Aspect.ANSWERED:
            return _silence(walk, part, seen.value)
        case Aspect.MACS:
            return _shared(walk, part, seen.value)
        case Aspect.SIP:
            return _sip(part, seen.value)
        case Aspect.CERTIFICATE:
            return _certificate(part, seen.value, today)
        case Aspect.CLOCK:
            return _clock(part, seen.value)
        case _:
            raise ValueError(f"{aspect} is no answer on the network")


def _silence(walk: Walk, part: Unit | Switch | SipServer, value: str) -> Amiss | None:
    is_there, address = answered_at(value)
    if address != part.address:
        return _NOTHING  # asked at an address that it has no longer: whether it answers at the new one is not known
    if is_there:
        return None
    there = None if isinstance(part, SipServer) else run_to(walk, part)
    at_switch = f"the lamp of {there[1].name} at the port of cable {there[0].name}, " if there else ""
    return Amiss(
        planned=f"yes at {address}",
        said=f"gave no answer at {address}",
        to_do=f"look at its power, {at_switch}its VLAN, address, mask and gateway, in this order; then ask again",
    )


def _shared(walk: Walk, part: Unit | Switch | SipServer, value: str) -> Amiss | None:
    macs = macs_of(value)
    if len(macs) < 2:
        return None
    holders = others(part, tuple(holder for mac in macs for holder in walk.holders_of_mac(mac)))
    whose = "".join(f"; {mac} is that of {named(walk, one)}" for one in holders for mac in macs if _has(one, mac))
    return Amiss(
        planned="one alone",
        said=f"shares its address: {value} answered for {part.address}",
        to_do=f"find both by the switch ports at which these MAC addresses are seen, and give the one that is not"
        f" {part.label} its own address{whose}",
        also=holders,
    )


def _has(part: Part, mac: str) -> bool:
    return isinstance(part, Unit | Switch) and part.mac == mac


def _sip(part: Unit | Switch | SipServer, value: str) -> Amiss | None:
    if value == NONE:
        said, to_do = (
            "is on the network and did not answer over SIP",
            f"see that SIP is turned on at {part.label}, at the port that was asked; a unit that restarts needs"
            " minutes; where its data sheet says that it answers only whom it knows, accept that with this reason",
        )
    elif value == UNREADABLE:
        said, to_do = (
            "answered over SIP with what cannot be read",
            f"see what else listens at that port of {part.label}, and which firmware it has",
        )
    elif value.isdecimal() and int(value) // 100 == 5 and value != "501":  # 501: it knows no OPTIONS, and works
        said, to_do = (
            f"answered over SIP that it is in trouble ({value})",
            f"look at the load and the log of {part.label}: 503 means that it is full or overloaded",
        )
    else:
        return None
    return Amiss(planned="an answer", said=said, to_do=to_do)


def _certificate(part: Unit | Switch | SipServer, value: str, today: date) -> Amiss | None:
    days = days_of(value)
    if days is None:
        return _NOTHING
    first, last = days
    if first > today:
        said = f"showed a certificate that is not valid before {first}"
        to_do = f"compare the clock of whoever made it, and the one of {part.label}; then have it made anew"
    elif last < today:
        said = f"showed a certificate that ended on {last}"
        to_do = f"renew the certificate at {part.label}, and see that whoever trusts it gets the new one"
    elif last - today < CERTIFICATE_LEFT:
        said = f"showed a certificate that ends on {last}"
        to_do = f"renew the certificate at {part.label} before then, and see that whoever trusts it gets the new one"
    else:
        return None
    return Amiss(planned=f"good for {counted(CERTIFICATE_LEFT.days, 'day')}", said=said, to_do=to_do)


def _clock(part: Unit | Switch | SipServer, value: str) -> Amiss | None:
    if value == NONE:
        return _NOTHING
    ahead_s = int(value)
    if abs(ahead_s) <= CLOCK_MOST_S:
        return None
    side = "ahead" if ahead_s > 0 else "behind"
    return Amiss(
        planned=f"at most {CLOCK_MOST_S} s",
        said=f"had its clock {_length(abs(ahead_s))} {side}",
        to_do=f"enter the time server at {part.label} and see that it is reached; where all clocks seem wrong alike,"
        " it is that of the machine that asked",
    )


def _length(time_s: int) -> str:
    if time_s >= 2 * _DAY_S:
        return counted(time_s // _DAY_S, "day")
    if time_s >= 2 * _HOUR_S:
        return counted(round(time_s / _HOUR_S), "hour")
    return counted(time_s, "second")
