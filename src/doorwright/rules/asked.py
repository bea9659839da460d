"""Asked over the network: units, switches and servers answer at their addresses, each alone, in time, in good order."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Severity
from doorwright.model.aspect import Aspect, answered_text, macs_text
from doorwright.model.network import SipServer, Switch
from doorwright.rules.example import plus
from doorwright.rules.found import as_planned

_LOST: Final = Cite("practice", "a unit that does not answer: power, link, VLAN, address, in this order")
_OPTIONS: Final = Cite("rfc3261", "§11, every user agent answers OPTIONS as it would an INVITE")
_ONE_EACH: Final = Cite("rfc5227", "§1, two hosts with one address")
_VALID: Final = Cite("rfc5280", "§4.1.2.5, validity")
_DATE: Final = Cite("rfc9110", "§6.6.1, Date")
_IN_TIME: Final = Cite("practice", "timetables open and close by the clocks of the units: within a minute")
_SERVER: Final = plus(SipServer(id="server", name="House server", address="192.0.2.9"))


@as_planned(
    Aspect.ANSWERED,
    severity=Severity.ERROR,
    cites=(_LOST,),
    finds=("Nothing answered at the address of dwelling 102's unit.", answered_text("192.0.2.22", there=False)),
    passes=("It answered at its address.", answered_text("192.0.2.22", there=True)),
)
def found_unit_silent() -> None:
    """A unit gave no answer at its planned address.

    Why it matters: no call reaches it. It is dark, cut off, in a wrong VLAN, or has another address.
    What to do: look at its power and at the lamp of its switch port, then at VLAN, address, mask and gateway. Give a
    unit that was just started some minutes, and ask again.
    """


@as_planned(
    Aspect.MACS,
    severity=Severity.ERROR,
    cites=(_ONE_EACH, Cite("practice", "address used twice: replies come and go, two MACs for one address")),
    finds=(
        "Two MAC addresses answered for the address of dwelling 102's unit.",
        macs_text(("00-00-5E-00-53-07", "00-00-5E-00-53-99")),
    ),
    passes=("One alone answered.", macs_text(("00-00-5E-00-53-07",))),
)
def found_address_shared() -> None:
    """Two devices answer at the address of a unit.

    Why it matters: replies come and go, and both register in turn, so calls reach now one and now the other.
    What to do: find both by the switch ports at which their MAC addresses are seen, and give each its own address. A
    unit that was exchanged while it was asked shows the same: ask again first.
    """


@as_planned(
    Aspect.SIP,
    severity=Severity.WARNING,
    cites=(_OPTIONS,),
    finds=("The unit of dwelling 102 answers pings and does not answer OPTIONS.", "none"),
    passes=("It answers that it is busy, which is an answer.", "486"),
)
def found_sip_amiss() -> None:
    """A unit is on the network and gives no good answer over SIP.

    Why it matters: what does not answer a question about itself mostly takes no call either.
    What to do: see that SIP is turned on and listens at the port that was asked, and that the unit has done restarting.
    Some units answer only whom they know: where a data sheet says so, accept the finding with that reason.
    """


@as_planned(
    Aspect.CLOCK,
    severity=Severity.WARNING,
    cites=(_DATE, Cite("rfc3261", "§20.17, Date"), _IN_TIME),
    finds=("The clock of dwelling 102's unit is an hour behind.", "-3600"),
    passes=("It is four seconds ahead.", "4"),
)
def found_clock_differs() -> None:
    """A unit's clock is out by more than a minute.

    Why it matters: timetables open and close at its hours, so calls and releases fail at some hours only; and logs of
    units cannot be set side by side.
    What to do: enter the time server at the unit and see that it is reached. Where all clocks seem wrong alike, set
    that of the machine that asked, and ask again.
    """


@as_planned(
    Aspect.CERTIFICATE,
    severity=Severity.WARNING,
    cites=(_VALID, Cite("practice", "certificates are renewed a month before they end")),
    finds=("The certificate of dwelling 102's unit ended last year.", "2029-05-01 to 2030-05-01"),
    passes=("It lasts for years.", "2029-05-01 to 2039-05-01"),
)
def found_certificate_ends() -> None:
    """A unit's certificate has ended, ends within a month, or is not valid yet.

    Why it matters: programs and servers that check certificates refuse to speak with the unit, all on the same day.
    What to do: renew it, and see that whoever trusts it gets the new one. Where it is not valid yet, compare clocks.
    """


@as_planned(
    Aspect.ANSWERED,
    Aspect.MACS,
    Aspect.CERTIFICATE,
    Aspect.CLOCK,
    over=Switch,
    of="switch-2",
    severity=Severity.ERROR,
    cites=(_LOST, _ONE_EACH, _VALID, _DATE, _IN_TIME),
    finds=("Nothing answered at the address of switch S2.", answered_text("198.51.100.3", there=False)),
    passes=("It answered at its address.", answered_text("198.51.100.3", there=True)),
)
def found_switch_amiss() -> None:
    """A switch gave no answer, shares its address, or its certificate or clock is out.

    Why it matters: behind a dead switch all units are dead; one that cannot be reached cannot be looked at when
    something fails.
    What to do: look at its power and uplink first, then at its address; renew its certificate, enter its time server.
    """


@as_planned(
    Aspect.ANSWERED,
    Aspect.MACS,
    Aspect.SIP,
    Aspect.CERTIFICATE,
    Aspect.CLOCK,
    over=SipServer,
    of="server",
    edit=_SERVER,
    severity=Severity.ERROR,
    cites=(_LOST, _ONE_EACH, _OPTIONS, _VALID, _DATE, _IN_TIME),
    finds=("Nothing answered at the address of the SIP server.", answered_text("192.0.2.9", there=False)),
    passes=("It answered at its address.", answered_text("192.0.2.9", there=True)),
)
def found_server_amiss() -> None:
    """A SIP server gave no answer, none over SIP, shares its address, or its certificate or clock is out.

    Why it matters: units that register with it ring nobody while it is away.
    What to do: look at the machine and its service first, then at its address and port; renew its certificate, enter
    its time server.
    """
