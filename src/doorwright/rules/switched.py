"""Asked of the switches: power, class, errors and links at each port, and the switch's own supply, are as planned."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Severity
from doorwright.model.aspect import DOWN, Aspect, PoeStatus, PoeSupply, errors_text
from doorwright.model.network import Switch
from doorwright.rules.found import as_planned

_STATUS: Final = Cite("rfc3621", "pethPsePortDetectionStatus")
_CLASS: Final = Cite("rfc3621", "pethPsePortPowerClassifications")
_SUPPLY: Final = Cite("rfc3621", "pethMainPseOperStatus, pethMainPsePower, pethMainPseConsumptionPower")
_COUNTERS: Final = Cite("rfc2863", "ifInErrors, ifOutErrors")
_BIT_ERRORS: Final = Cite("ieee8023", "clause 40, bit error ratio of at most one in 10^10 (from memory)")
_TELLING: Final = Cite(
    "practice", "errors that are counted at a port: cable, connector or duplex, before anything else"
)


@as_planned(
    Aspect.POE_STATUS,
    severity=Severity.ERROR,
    cites=(_STATUS,),
    finds=("The switch looks for the unit of dwelling 102 and does not find it.", PoeStatus.SEARCHING.value),
    passes=("The switch gives it power.", PoeStatus.DELIVERING.value),
)
def found_port_without_power() -> None:
    """A unit that is fed by PoE gets no power from its switch port.

    Why it matters: it is dark, or something else feeds it that nobody planned and no battery keeps up.
    What to do: turned off, turn it on. Searching: nothing at the other end asks for power, so look at both plugs and
    test every pair. Fault: a short, crossed pairs, a broken unit, or a budget that is used up.
    """


@as_planned(
    Aspect.POE_CLASS,
    severity=Severity.WARNING,
    cites=(_CLASS,),
    finds=("The unit of dwelling 102, planned with class 3, was measured as class 1.", "1"),
    passes=("It was measured as class 3, as its profile says.", "3"),
)
def found_poe_class_differs() -> None:
    """A unit was measured by its switch as another PoE class than its profile says.

    Why it matters: the switch sets power aside by this class, so the budget holds fewer units than planned; or another
    type hangs there.
    What to do: read the label at the port. Correct the profile where its data sheet says so, and plan the power again.
    """


@as_planned(
    Aspect.ERRORS,
    severity=Severity.WARNING,
    cites=(_COUNTERS, _BIT_ERRORS, _TELLING),
    finds=("Of 340 000 frames at the port of dwelling 102's unit, 400 had errors.", errors_text(400, 340_000)),
    passes=("Of 34 000 000 frames, 12 had errors.", errors_text(12, 34_000_000)),
)
def found_frames_with_errors() -> None:
    """Frames with errors were counted at the switch port of a unit.

    Why it matters: the picture stutters and speech drops out long before a link goes down, at some hours only.
    What to do: test the cable and both connectors, keep it away from mains, let both ends settle speed and duplex by
    themselves. Clear the counters, and look again after a day.
    """


@as_planned(
    Aspect.LINK,
    Aspect.ERRORS,
    over=Switch,
    of="switch-2",
    severity=Severity.ERROR,
    cites=(_COUNTERS, _BIT_ERRORS, _TELLING),
    finds=("The link up to switch S2 is down.", DOWN),
    passes=("It runs at 1000 Mb/s, as both ends and the cable allow.", "1000"),
)
def found_uplink_amiss() -> None:
    """The link to a switch is down or slower than planned, or frames with errors were counted on it.

    Why it matters: everything behind it is cut off, or shares too little; a ring that has lost one link still works
    and has no second way any more.
    What to do: test the cable and both connectors pair by pair, and see at which speed both ports are set.
    """


@as_planned(
    Aspect.POE_SUPPLY,
    Aspect.POE_BUDGET,
    Aspect.POE_GIVEN,
    over=Switch,
    of="switch-2",
    severity=Severity.ERROR,
    cites=(_SUPPLY,),
    finds=("The supply of switch S2 is faulty.", PoeSupply.FAULTY.value),
    passes=("It is on.", PoeSupply.ON.value),
)
def found_switch_power_amiss() -> None:
    """A switch's PoE supply is off or faulty, has a smaller budget than planned, or gives more than planned.

    Why it matters: once the budget is used up, units are turned off or not started, often those added last.
    What to do: see that its power supplies are in and on, which type it is, and what else hangs at it.
    """


@as_planned(
    Aspect.SNMP,
    over=Switch,
    of="switch-2",
    severity=Severity.NOTE,
    cites=(Cite("rfc3414", "§3.2, reports to whom is not known; silence of version 2c to a wrong community"),),
    finds=("Switch S2 was asked and said nothing.", "none"),
    passes=("It told what it was asked.", "yes"),
)
def found_switch_untold() -> None:
    """A switch told nothing of its ports over SNMP.

    Why it matters: what hangs at which port, at which speed and power, was not checked there.
    What to do: turn on SNMP for reading from this machine alone, with version 3 where it can, and compare the secrets.
    """
