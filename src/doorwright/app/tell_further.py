"""What switches told of themselves and their ports, and who answered to discovery: in words, for commands and pages."""

from collections.abc import Iterator
from typing import Final

from doorwright.app.find_units import FoundUnits, Whereabouts
from doorwright.app.tell_verified import NOTHING
from doorwright.app.verify_switches import SwitchHeard
from doorwright.kernel.words import counted
from doorwright.model.aspect import DOWN, Aspect, errors_text, with_unit
from doorwright.model.naming import name_of
from doorwright.model.walk import Walk
from doorwright.probe.reach import Outcome
from doorwright.probe.switch import PortSeen

SWITCH_HEADINGS: Final = ("switch", "address", "SNMP", "links up", "PoE given", "could not be read")
PORT_HEADINGS: Final = ("port", "planned there", "seen there", "link", "errors", "PoE")
DISCOVERY_HEADINGS: Final = ("answers at", "part", "planned at", "calls itself")
SNMP_WORDS: Final = {
    Outcome.ANSWERED: "yes", Outcome.REFUSED: "refused", Outcome.SILENT: "none", Outcome.NO_WAY: "no way"
}  # fmt: skip
_SEEN_MOST: Final = 4
"""So many are named at one port: behind a link to another switch are all of its units."""


def switch_row(one: SwitchHeard) -> tuple[str, ...]:
    """Return a row below ``SWITCH_HEADINGS``."""
    seen = one.seen
    given = f"{seen.given_w} of {seen.budget_w} W" if seen and seen.given_w is not None else NOTHING
    return (
        one.target.name,
        one.target.address,
        SNMP_WORDS[one.outcome],
        str(sum(port.is_up is True for port in seen.ports.values())) if seen else NOTHING,
        given,
        "; ".join(seen.unplaced) if seen and seen.unplaced else NOTHING,
    )


def port_rows(walk: Walk, one: SwitchHeard) -> tuple[tuple[str, ...], ...]:
    """Return a row below ``PORT_HEADINGS`` for each port that the switch told of, or that the plan uses."""
    if one.seen is None:
        return ()
    planned = dict(_planned(walk, one.target.subject.id))
    numbers = sorted({*one.seen.ports, *planned})
    return tuple(_port_row(walk, number, planned.get(number), one.seen.ports.get(number)) for number in numbers)


def _port_row(walk: Walk, number: int, planned: str | None, port: PortSeen | None) -> tuple[str, ...]:
    if port is None:
        return (str(number), planned or NOTHING, "not told", NOTHING, NOTHING, NOTHING)
    link = NOTHING
    if port.is_up is not None:
        link = DOWN if not port.is_up else "up"
        if port.speed_mbps is not None:
            link = with_unit(Aspect.LINK, str(port.speed_mbps))
    errors = NOTHING
    if port.errors_count is not None and port.frames_count is not None:
        errors = errors_text(port.errors_count, port.frames_count)
    poe = port.poe.value if port.poe is not None else NOTHING
    return (
        str(number),
        planned or NOTHING,
        _some(list(dict.fromkeys(_seen(walk, port)))) or NOTHING,
        link,
        errors,
        f"{poe}, class {port.poe_class}" if port.poe_class is not None else poe,
    )


def _planned(walk: Walk, switch: str) -> Iterator[tuple[int, str]]:
    """Yield what the plan has at each port of a switch."""
    ends = [(run.near_port, run.far) for run in walk.runs_from(switch)]
    ends += [(run.far_port, run.near) for run in walk.runs_to(switch)]
    for port, other in ends:
        part = walk.part(other)
        if port is not None and part is not None:
            yield port, name_of(walk, part)


def _seen(walk: Walk, port: PortSeen) -> Iterator[str]:
    """Yield who introduced itself at a port, then whose MAC addresses were learned there."""
    for one in port.neighbours:
        names = [name for mac in one.macs for name in _holders(walk, mac)]
        yield from names or [one.name or " ".join(one.macs)]
    for mac in port.macs:
        introduced = any(mac in one.macs for one in port.neighbours)
        yield from _holders(walk, mac) or ([] if introduced else [mac])


def _holders(walk: Walk, mac: str) -> list[str]:
    return [name_of(walk, part) for part in walk.holders_of_mac(mac)]


def _some(names: list[str]) -> str:
    more = len(names) - _SEEN_MOST
    return ", ".join(names[:_SEEN_MOST]) + (f" and {more} more" if more > 0 else "")


def discovery_words(said: FoundUnits) -> str:
    """Return in a sentence how many answered, and how many of them not as planned."""
    elsewhere_count = sum(one.is_elsewhere for one in said.answered)
    strangers_count = sum(one.part is None for one in said.answered)
    return (
        f"To discovery answered {counted(len(said.answered), 'device')}: {elsewhere_count} of the plan elsewhere"
        f" than planned, {strangers_count} that {'is' if strangers_count == 1 else 'are'} not known by what they say."
    )


def discovery_row(one: Whereabouts) -> tuple[str, ...]:
    """Return a row below ``DISCOVERY_HEADINGS``."""
    return (one.address, one.part or "not known", one.planned or NOTHING, one.endpoint)
