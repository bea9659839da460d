"""What can be seen of a unit, switch or server in the real building, and how it is written down when it was seen."""

from collections.abc import Iterable, Mapping
from datetime import date
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from doorwright.kernel.verdict import Subject
from doorwright.model.change import SITE_KIND

SITE_SUBJECT: Final = Subject(SITE_KIND, "")
"""The subject of what was seen and belongs to no part of the plan."""

DOWN: Final = "down"
"""The link speed of a port without a link."""

NONE: Final = "none"
"""What is written down where there was an answer once and is none now."""

TAKEN: Final = "answered"
"""What is written down of a test call that was answered."""

NOT_TAKEN: Final = "not taken"
"""What is written down of a test call that got through, and that nobody took in time."""

ELSEWHERE: Final = "elsewhere"
"""What is written down of the speech of a test call that was to go to an address which is in no plan."""

UNREADABLE: Final = "unreadable"
"""What is written down where something answered that breaks the rules of the protocol."""

REFUSED: Final = "refused"
"""What is written down where a switch heard who asks and tells nothing."""

_NOT_IN_PLAN: Final = "not in the plan: "
_AND: Final = " and "
_TO: Final = " to "
_OF: Final = " of "


class Aspect(StrEnum):
    """One thing that is seen. The value of each is text in one form, so that it can be compared.

    MAC addresses are written as in IEEE 802 (00-00-5E-00-53-01), positions as whole numbers from 0, link speeds in
    Mb/s or as "down", PoE power in watts, ports as "S1 port 7", registered as "yes" or "no".

    What a part answers when it is asked over the network: "yes at 192.0.2.7" or "no at 192.0.2.7"; the MAC addresses at
    its address, joined with "and"; the codes of its answers, or "none" or "unreadable"; the first and last day of its
    certificate, "2030-01-01 to 2031-01-01"; whole seconds by which its clock is ahead, behind below 0; "yes" where it
    answered to discovery.

    What a switch tells over SNMP of the port of a part: frames with errors among all, "12 of 340000"; `PoeStatus`; the
    PoE class as a number. Of itself: "yes", "none" or "refused"; `PoeSupply`; PoE budget and PoE power given in watts.

    What a registrar tells of a unit: `Standing`, or its code, "none" or "unreadable"; the addresses at which the unit
    is registered, joined with "and", its planned one first, or "none"; seconds for which it still is.

    What a test call tells: "answered", "not taken", the code of the refusal, or "none"; the rating R of ITU-T G.107 of
    what was heard, the worse of both directions, "none" where nothing was heard, or "elsewhere"; packets lost in per
    cent, the worse of both; jitter and round trip (RFC 3550 §6.4.1) in milliseconds.
    """

    NAME = "name"
    SERIAL = "serial number"
    MAC = "MAC address"
    ADDRESS = "IP address"
    MASK = "mask"
    GATEWAY = "gateway"
    VLAN = "VLAN"
    REGISTRAR = "registrar's address"
    CALL_NUMBER = "call number"
    POSITION = "position"
    FIRMWARE = "firmware"
    PORT = "switch port"
    LINK = "link speed"
    POE = "PoE power"
    REGISTERED = "registered"
    ANSWERED = "answer on the network"
    MACS = "MAC addresses at its address"
    SIP = "SIP answer"
    WEB = "web answer"
    RTSP = "RTSP answer"
    CERTIFICATE = "certificate"
    CLOCK = "clock difference"
    REGISTRAR_SAYS = "registrar's answer to its SIP secret"
    BOUND = "registered at"
    BOUND_FOR = "registered for"
    CALLED = "answer to a test call"
    SPEECH = "speech of a test call"
    LOSS = "speech packets lost"
    JITTER = "jitter of speech"
    ROUND_TRIP = "round trip of speech"
    DISCOVERY = "answer to discovery"
    ERRORS = "frames with errors"
    POE_STATUS = "PoE status"
    POE_CLASS = "PoE class"
    SNMP = "SNMP answer"
    POE_SUPPLY = "PoE supply"
    POE_BUDGET = "PoE budget"
    POE_GIVEN = "PoE power given"


class Standing(StrEnum):
    """What a registrar makes of a unit's user and SIP secret."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    UNKNOWN = "unknown user"
    NOT_ASKED = "accepted without a secret"


class PoeStatus(StrEnum):
    """What the power of a port is doing (RFC 3621, pethPsePortDetectionStatus; also disabled: turned off)."""

    DISABLED = "disabled"
    SEARCHING = "searching"
    DELIVERING = "delivering power"
    FAULT = "fault"
    TEST = "test"
    OTHER_FAULT = "other fault"


class PoeSupply(StrEnum):
    """How the supply of a switch's PoE is (RFC 3621, pethMainPseOperStatus)."""

    ON = "on"
    OFF = "off"
    FAULTY = "faulty"


_UNITS_OF_CALLS: Final[dict[str, str]] = {
    Aspect.BOUND_FOR: "s",
    Aspect.SPEECH: "R",
    Aspect.LOSS: "%",
    Aspect.JITTER: "ms",
    Aspect.ROUND_TRIP: "ms",
}
_UNITS: Final[Mapping[str, str]] = MappingProxyType(
    _UNITS_OF_CALLS
    | {Aspect.LINK: "Mb/s", Aspect.POE: "W", Aspect.CLOCK: "s", Aspect.POE_BUDGET: "W", Aspect.POE_GIVEN: "W"}
)


def with_unit(aspect: str, value: str) -> str:
    """Return a value as people read it, with its unit where it has one."""
    unit = _UNITS.get(aspect)
    is_number = value.lstrip("+-")[:1].isdigit()  # "at most 60 s" says its unit itself
    return f"{value} {unit}" if unit and is_number else value


def answered_text(address: str, *, there: bool) -> str:
    """Return whether there was an answer at an address as it is written down: "yes at 192.0.2.7"."""
    return f"{'yes' if there else 'no'} at {address}"


def answered_at(value: str) -> tuple[bool, str]:
    """Return whether there was an answer, and at which address, from what was written down."""
    there, _, address = value.partition(" at ")
    return there == "yes", address


def macs_text(macs: Iterable[str]) -> str:
    """Return the MAC addresses at one address as they are written down."""
    return _AND.join(sorted(macs))


def macs_of(value: str) -> tuple[str, ...]:
    """Return the MAC addresses at one address from what was written down."""
    return tuple(value.split(_AND))


def bound_text(hosts: Iterable[str]) -> str:
    """Return the addresses at which a unit is registered as they are written down: "192.0.2.21 and 192.0.2.99"."""
    return _AND.join(hosts)


def bound_of(value: str) -> tuple[str, ...]:
    """Return the addresses at which a unit is registered from what was written down."""
    return () if value == NONE else tuple(value.split(_AND))


def days_text(first: date, last: date) -> str:
    """Return the days on which a certificate is valid as they are written down."""
    return f"{first.isoformat()}{_TO}{last.isoformat()}"


def days_of(value: str) -> tuple[date, date] | None:
    """Return the first and last day of a certificate from what was written down; None where there was none."""
    first, to, last = value.partition(_TO)
    return (date.fromisoformat(first), date.fromisoformat(last)) if to else None


def errors_text(errors_count: int, frames_count: int) -> str:
    """Return how many frames had errors, of how many, as it is written down: "12 of 340000"."""
    return f"{errors_count}{_OF}{frames_count}"


def errors_of(value: str) -> tuple[int, int]:
    """Return how many frames had errors, of how many, from what was written down."""
    errors, _, frames = value.partition(_OF)
    return int(errors), int(frames)


def port_text(switch: str, port: int) -> str:
    """Return a switch port as it is written down: "S1 port 7"."""
    return f"{switch} port {port}"


def stranger(by: Aspect, identity: str) -> str:
    """Return the aspect under which the site keeps what was seen and is in no plan: known by one of its own values."""
    return f"{_NOT_IN_PLAN}{by} {identity}"


def stranger_of(aspect: str) -> tuple[Aspect, str] | None:
    """Return by what a stranger is known, and that value; None where the aspect speaks of no stranger."""
    if not aspect.startswith(_NOT_IN_PLAN):
        return None
    rest = aspect.removeprefix(_NOT_IN_PLAN)
    for by in Aspect:
        if rest.startswith(f"{by} "):
            return by, rest.removeprefix(f"{by} ")
    return None
