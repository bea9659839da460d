"""Asked over the network: units, switches and servers answer at their addresses, each alone, in time, in good order."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Severity
from doorwright.model.aspect import Aspect, Standing, answered_text, bound_text, macs_text
from doorwright.model.network import SipServer, Switch
from doorwright.rules.example import plus
from doorwright.rules.found import as_planned

_LOST: Final = Cite("practice", "a unit that does not answer: power, link, VLAN, address, in this order")
_OPTIONS: Final = Cite("rfc3261", "§11, every user agent answers OPTIONS as it would an INVITE")
_ONE_EACH: Final = Cite("rfc5227", "§1, two hosts with one address")
_VALID: Final = Cite("rfc5280", "§4.1.2.5, validity")
_DATE: Final = Cite("rfc9110", "§6.6.1, Date")
_IN_TIME: Final = Cite("practice", "timetables open and close by the clocks of the units: within a minute")
_BINDINGS: Final = Cite("rfc3261", "§10.2.3 and §10.3 step 8, the list of bindings")
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
    Aspect.REGISTRAR_SAYS,
    severity=Severity.ERROR,
    cites=(_BINDINGS, Cite("practice", "facts that must agree at both ends of a pairing")),
    finds=("The registrar refuses dwelling 102's unit with the SIP secret of the vault.", Standing.REFUSED),
    passes=("It takes that secret.", Standing.ACCEPTED),
)
def found_secret_refused() -> None:
    """A registrar does not take a unit's user and SIP secret as planned.

    Why it matters: the unit never registers, and no call reaches it; or both ends have a secret that nobody wrote down,
    and whoever replaces the unit cannot pair it. A registrar that asks for no secret lets anybody take the calls.
    What to do: enter the planned user and secret at the registrar; if the unit registers all the same, at the unit too.
    """


@as_planned(
    Aspect.BOUND,
    severity=Severity.ERROR,
    cites=(_BINDINGS, Cite("practice", "call number used twice: both ring, or now one and now the other")),
    finds=("Dwelling 102's unit is registered at 192.0.2.99.", bound_text(("192.0.2.99",))),
    passes=("It is registered at its planned address.", bound_text(("192.0.2.22",))),
)
def found_registered_elsewhere() -> None:
    """A unit is registered at another address than planned, or at two.

    Why it matters: calls ring where the registrar knows it to be: at another unit, at nobody, or at two homes.
    What to do: correct the address at the unit, or find what else registers in its name. A registration that is not
    renewed ends by itself: ask again after that time before looking for a stranger.
    """


@as_planned(
    Aspect.CALLED,
    severity=Severity.WARNING,
    cites=(Cite("rfc3261", "§21.4, what a refusal means"),),
    finds=("Dwelling 102's unit refuses a test call with 488.", "488"),
    passes=("It is busy, which says that the call came through.", "486"),
)
def found_call_refused() -> None:
    """A unit refused a test call for another reason than that nobody took it.

    Why it matters: what refuses a test call mostly refuses a visitor's.
    What to do: see whom it takes calls from, which number it answers to and which codecs it has.
    """


@as_planned(
    Aspect.SPEECH,
    severity=Severity.WARNING,
    cites=(
        Cite("itu-g109", "medium quality from R 70"),
        Cite("itu-g107", "the rating of a connection"),
        Cite("rfc3550", "§6.4.1, loss and jitter"),
    ),
    finds=("A test call to dwelling 102's unit was rated R 55.", "55.0"),
    passes=("It was rated R 92.", "92.0"),
)
def found_speech_poor() -> None:
    """A test call to a unit was taken, and its speech was poor or did not come through both ways.

    Why it matters: a visitor is not understood, or hears nothing.
    What to do: loss points to a link or a bad pair, jitter to a full link, one way alone to what filters between.
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
