"""An invented site whose SIP server runs on this machine: names made to do harm, and every way of ringing.

Addresses are of the loopback net where the server is to be run, else of RFC 5737; MAC addresses of RFC 7042.
"""

from dataclasses import dataclass, field, replace
from datetime import date

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk

REALM = "doors.example"
HOSTILE = (
    'x"\n#!define EVIL\nroute[EVIL] { exit; } /* \\\n; $ORIGIN evil.example.\n'
    "allow 0.0.0.0/0\n@@REALM@@ $si ${x} \u2028é"
)
"""A name that would begin a new line, end a string, open a comment, join lines or name a place in every file."""
WEEK = (0, 1, 2, 3, 4, 5, 6)
EVER = Window(days=WEEK, start_min=0, end_min=1440)


@dataclass
class ServedSite:
    """The site, and the secrets of its vault by the identifier of their mark; ``secret_of`` a unit by its name."""

    site: Site
    secrets: dict[str, str] = field(default_factory=dict)

    @property
    def walk(self) -> Walk:
        return Walk(self.site)

    def secret_of(self, unit: str) -> str:
        return self.secrets[f"mark of {unit}"]


RECEIVERS = {"1001": 3, "1002": 2, "1003": 1, "1004": 1, "1005": 1, "1006": 1, "1007": 1}
"""How many receivers each dwelling has, by call number."""
INSIDE = Timetable(id="inside", name=HOSTILE, entrance="e", purpose=TimetablePurpose.TRADE_RELEASE, windows=(EVER,))
OUTSIDE = Timetable(id="outside", name=HOSTILE, entrance="e", purpose=TimetablePurpose.TRADE_RELEASE)


def served_site(
    *,
    net: str = "192.0.2",
    port: int = 5060,
    name: str = HOSTILE,
    inside: Timetable = INSIDE,
    outside: Timetable = OUTSIDE,
    holidays: tuple[date, ...] = (),
) -> ServedSite:
    """Return the site. ``net`` is the first three numbers of all addresses; the server has 1 in it.

    1001: three receivers that ring together, busy: to the desk. 1002: two that ring in turn for a second each, no
    answer: to the desk. 1003: nobody registers, sent on to 1004. 1004: always to the desk in the hours ``inside``.
    1005: always to the desk in the hours ``outside``. 1006 and 1007 lead to each other.
    """
    dwellings = tuple(
        Dwelling(id=f"d{number}", door_label=f"{number} {name}", core="c", level="l", call_number=number)
        for number in RECEIVERS
    )
    dwellings = tuple(
        replace(one, ring_mode=RingMode.IN_TURN, ring_s=1) if one.call_number == "1002" else one for one in dwellings
    )
    units = [
        Unit(id="v", name="Main panel", kind=UnitKind.VCU, profile="vcu", entrance="e", call_number="7000"),
        Unit(id="k", name="Desk", kind=UnitKind.SMU, profile="smu", call_number="8001"),
    ]
    for number, count in RECEIVERS.items():
        receiver = Unit(id="u", name="u", kind=UnitKind.URU, profile="uru", dwelling=f"d{number}")
        units += [replace(receiver, id=f"u{number}{n}", name=f"{number} {n}", position=n) for n in range(count)]
    served = tuple(
        replace(unit, mac=f"00-00-5E-00-53-{n:02X}", subnet="n", address=f"{net}.{n}", registrar="s")
        for n, unit in enumerate(units, start=11)
    )
    marks = tuple(
        SecretMark(id=f"mark of {unit.name}", owner=unit.id, use=SecretUse.SIP, line=n)
        for n, unit in enumerate(served, start=1)
    )
    site = Site(
        name=name,
        buildings=(Building(id="b", name=name),),
        cores=(Core(id="c", building="b", name=name),),
        levels=(Level(id="l", building="b", name=name, order=0),),
        dwellings=dwellings,
        entrances=(Entrance(id="e", name=name, serves_buildings=("b",), calls_desk=True),),
        units=served,
        secrets=marks,
        subnets=(Subnet(id="n", name=name, cidr=f"{net}.0/24", gateway=f"{net}.254"),),
        servers=(SipServer(id="s", name=name, address=f"{net}.1", port=port, realm=REALM),),
        switches=(
            Switch(id="w", name=name, profile="switch", mac="00-00-5E-00-53-FE", subnet="n", address=f"{net}.250"),
        ),
        timetables=(inside, outside),
        holidays=holidays,
        diverts=(
            Divert(id="1", cause=DivertCause.BUSY, dwelling="d1001", to_desk="k"),
            Divert(id="2", cause=DivertCause.NO_ANSWER, dwelling="d1002", entrance="e", to_desk="k"),
            Divert(id="3", cause=DivertCause.NOT_REGISTERED, dwelling="d1003", to_dwelling="d1004"),
            Divert(id="4", cause=DivertCause.ALWAYS, dwelling="d1004", timetable=inside.id, to_desk="k"),
            Divert(id="5", cause=DivertCause.ALWAYS, dwelling="d1005", timetable=outside.id, to_desk="k"),
            Divert(id="6", cause=DivertCause.ALWAYS, dwelling="d1006", to_dwelling="d1007"),
            Divert(id="7", cause=DivertCause.ALWAYS, dwelling="d1007", to_dwelling="d1006"),
        ),
    )  # fmt: skip
    return ServedSite(site, {mark.id: f"secret-{mark.line}-of-{mark.owner}" for mark in marks})
