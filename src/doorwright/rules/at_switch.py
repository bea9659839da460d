"""What is right of that which a switch tells of its ports and of itself, and what to do where it is not."""

from collections.abc import Callable, Mapping
from math import ceil
from types import MappingProxyType
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.aspect import NONE, REFUSED, Aspect, PoeStatus, PoeSupply, errors_of
from doorwright.model.network import SipServer, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.answers import Amiss
from doorwright.rules.planned import run_to
from doorwright.studies.switch_power import switch_power

ERRORS_MOST_RATIO: Final = 1e-5
"""The part of all frames that may have errors: ten times what one bit in 10^10 makes of full frames of 12 144 bits."""
ERRORS_MIN_COUNT: Final = 10
"""Fewer errors are no sign (common practice): a plug that was pulled, a unit that restarted."""
_HIGHEST_TOLD: Final = 4
"""The highest class that RFC 3621 can tell: of classes 5 to 8 a switch tells this one."""
_NOTHING: Final = Amiss()


def amiss_at_switch(walk: Walk, part: Unit | Switch | SipServer, aspect: Aspect, value: str) -> Amiss | None:
    """Return what is not right of one of the aspects ``AT_SWITCH``, or None where it is right.

    Args:
        walk: the way around the site.
        part: the part at the port, or the switch itself.
        aspect: which aspect.
        value: what the switch told.
    """
    if isinstance(part, SipServer):
        return _NOTHING  # of a server the plan knows no port
    return _BY_ASPECT[aspect](walk, part, value)


def _snmp(_: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    if value == NONE:
        return Amiss(
            planned="an answer",
            said="did not answer over SNMP",
            to_do=f"see that SNMP is on at {part.label}, in the version that was asked, that it lets this machine ask,"
            " and that community or secrets are right: to a wrong community or privacy secret a switch says nothing",
        )
    if value == REFUSED:
        return Amiss(
            planned="an answer",
            said="refused whoever asked over SNMP",
            to_do=f"compare user, authentication and its secret with what is entered at {part.label}",
        )
    return None


def _supply(_: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    if value == PoeSupply.FAULTY:
        to_do = f"have the power supply of {part.label} looked at: what it feeds may fail at any time"
    elif value == PoeSupply.OFF:
        to_do = f"turn on PoE at {part.label}; where it is on, see what its power supply is connected to"
    else:
        return None
    return Amiss(planned=PoeSupply.ON, said=f"told that the supply of its PoE is {value}", to_do=to_do)


def _budget(walk: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    found_w = float(value)
    profile = walk.profile(part.profile)
    planned_w = profile.poe_budget_w if profile is not None else None
    if planned_w is None:
        return _NOTHING
    if found_w >= planned_w:
        return None
    return Amiss(
        planned=f"{planned_w:g}",
        said=f"told a PoE budget of {found_w:g} W, planned {planned_w:g} W",
        to_do=f"see which type {part.label} is and whether each of its power supplies is in and on; if its data sheet"
        " says so, correct the profile, and plan the power again",
    )


def _given(walk: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    found_w = float(value)
    power = walk.once(switch_power, part).value if isinstance(part, Switch) else None
    if power is None:
        return _NOTHING
    most_w = ceil(round(power.at_once_w, 6))  # the switch tells whole watts
    if found_w <= most_w:
        return None
    return Amiss(
        planned=f"{most_w}",
        said=f"gave {found_w:g} W by PoE, planned {most_w} W at most",
        to_do=f"see what else hangs at {part.label} than is planned, and compare the profiles of its units with their"
        f" data sheets: its budget is {power.budget_w:g} W",
    )


_STATUS_TO_DO: Final[Mapping[str, str]] = MappingProxyType(
    {
        PoeStatus.DISABLED: "turn on PoE at {at}",
        PoeStatus.SEARCHING: "look whether {part} is plugged in at both ends, then test {cable} pair by pair, all four:"
        " {at} finds nothing there that asks for power; another lead or supply may feed {part}",
        PoeStatus.FAULT: "test {cable} for a short and for crossed pairs, then take {part} off and try another in its"
        " place; see whether the power budget was used up",
        PoeStatus.OTHER_FAULT: "look at the log at {at}; take {part} off and try another in its place; see whether the"
        " power budget was used up",
        PoeStatus.TEST: "end the test at {at}",
    }
)


def _status(walk: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    profile = walk.profile(part.profile)
    if profile is None or isinstance(part, Switch) or (profile.poe_class is None and profile.poe_draw_w is None):
        return _NOTHING  # it takes its power elsewhere
    if value == PoeStatus.DELIVERING:
        return None
    at, cable = _port_and_cable(walk, part)
    return Amiss(
        planned=PoeStatus.DELIVERING,
        said=f"got no power from its switch port, which told: {value}",
        to_do=_STATUS_TO_DO.get(value, "look at {at}").format(at=at, cable=cable, part=part.label),
    )


def _measured(walk: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    found = int(value)
    profile = walk.profile(part.profile)
    if profile is None or profile.poe_class is None:
        return _NOTHING
    if found == min(profile.poe_class, _HIGHEST_TOLD):
        return None
    at, _ = _port_and_cable(walk, part)
    return Amiss(
        planned=str(profile.poe_class),
        said=f"was measured as PoE class {found}, planned {profile.poe_class}",
        to_do=f"read the label of what hangs at {at}: it is of another type, or the profile of {part.label} is wrong;"
        " the switch sets its budget aside by this class",
    )


def _errors(walk: Walk, part: Unit | Switch, value: str) -> Amiss | None:
    errors_count, frames_count = errors_of(value)
    if errors_count < ERRORS_MIN_COUNT or errors_count <= frames_count * ERRORS_MOST_RATIO:
        return None
    at, cable = _port_and_cable(walk, part)
    return Amiss(
        planned=f"fewer than {ERRORS_MIN_COUNT}, or {ERRORS_MOST_RATIO * 1e6:g} in a million",
        said=f"had {counted(errors_count, 'frame')} with errors at its switch port, of {frames_count}",
        to_do=f"test {cable} and both its connectors, see that nothing mains runs beside it and that both ends settle"
        f" speed and duplex by themselves; then clear the counters at {at} and look again",
    )


def _port_and_cable(walk: Walk, part: Unit | Switch) -> tuple[str, str]:
    there = run_to(walk, part)
    if there is None:
        return f"the switch port of {part.label}", "its cable"
    run, switch = there
    port = f"port {run.near_port}" if run.near_port is not None else f"the port of cable {run.name}"
    return f"{switch.name}, {port}", f"cable {run.name}"


_BY_ASPECT: Final[Mapping[Aspect, Callable[[Walk, Unit | Switch, str], Amiss | None]]] = MappingProxyType(
    {
        Aspect.SNMP: _snmp,
        Aspect.POE_SUPPLY: _supply,
        Aspect.POE_BUDGET: _budget,
        Aspect.POE_GIVEN: _given,
        Aspect.POE_STATUS: _status,
        Aspect.POE_CLASS: _measured,
        Aspect.ERRORS: _errors,
    }
)

AT_SWITCH: Final = tuple(_BY_ASPECT)
"""The aspects judged here."""
