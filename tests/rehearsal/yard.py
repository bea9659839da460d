"""A small invented site with everything that a rehearsal meets, small enough to say by hand what each call must do.

Four homes (01 to 04) in one core. The gate (a keypad, first call unit, registrar of all) and the porch (keys, second
call unit). 02 has two receivers that ring in turn. A desk takes all calls from the gate on weekdays from 8 to 18, and
those from the porch that nobody answers. Calls to 04 go to 03 always. The porch has two doors; the store door may be
freed by the desk and home 01 alone.
"""

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.network import Subnet
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Key, Unit, UnitKind

SUBNETS = (
    Subnet(id="net-doors", name="Doors", cidr="192.0.2.0/25", gateway="192.0.2.1", vlan=20),
    Subnet(id="net-homes", name="Homes", cidr="198.51.100.0/24", gateway="198.51.100.1", vlan=21),
)
PROFILES = (
    Profile(
        key="gate", title="Gate", kind=ProfileKind.VCU, keypad=True, keypad_digits_max_count=2, outputs_count=2,
        registrations_max_count=20,
    ),
    Profile(key="porch", title="Porch", kind=ProfileKind.VCU, keys_count=6, outputs_count=2),
    Profile(key="home", title="Home", kind=ProfileKind.URU, registrations_max_count=5),
    Profile(key="desk", title="Desk", kind=ProfileKind.SMU),
)  # fmt: skip


def receiver(number: int, **values: object) -> Unit:
    """Return the receiver of a home."""
    fields = {
        "id": f"uru-{number}", "name": f"Receiver {number}", "kind": UnitKind.URU, "profile": "home",
        "dwelling": f"home-{number}", "subnet": "net-homes", "address": f"198.51.100.{10 + number}", "position": 0,
        "registrar": "vcu-gate",
    }  # fmt: skip
    return Unit(**{**fields, **values})  # type: ignore[arg-type]


def door_unit(ident: str, **values: object) -> Unit:
    """Return a unit in the subnet of the doors."""
    return Unit(id=ident, subnet="net-doors", **values)  # type: ignore[arg-type]


UNITS = (
    door_unit(
        "vcu-gate", name="Gate unit", kind=UnitKind.VCU, profile="gate", entrance="gate", address="192.0.2.10",
        position=0,
    ),
    door_unit(
        "vcu-porch", name="Porch unit", kind=UnitKind.VCU, profile="porch", entrance="porch", address="192.0.2.11",
        position=1, registrar="vcu-gate",
    ),
    door_unit(
        "smu", name="Desk", kind=UnitKind.SMU, profile="desk", address="192.0.2.12", call_number="90",
        registrar="vcu-gate",
    ),
    receiver(1),
    receiver(2),
    receiver(2, id="uru-2b", name="Receiver 2 bedroom", address="198.51.100.22", position=1, registrar="uru-2"),
    receiver(3),
    receiver(4),
)  # fmt: skip

YARD = Site(
    name="Invented yard",
    choices=Choices(ring_s=20),
    profiles=PROFILES,
    buildings=(Building(id="house", name="House"),),
    cores=(Core(id="core", building="house", name="A"),),
    levels=(Level(id="ground", building="house", name="0", order=0),),
    dwellings=tuple(
        Dwelling(
            id=f"home-{number}", door_label=f"0{number}", core="core", level="ground", call_number=f"0{number}",
            ring_mode=RingMode.IN_TURN if number == 2 else None,
        )
        for number in (1, 2, 3, 4)
    ),
    entrances=(
        Entrance(id="gate", name="Gate", serves_buildings=("house",)),
        Entrance(id="porch", name="Porch", serves_buildings=("house",), calls_desk=True),
    ),
    doors=(
        Door(id="door-gate", name="Gate leaf", entrance="gate", freed_by="vcu-gate", output=1),
        Door(id="door-porch", name="Porch door", entrance="porch", freed_by="vcu-porch", output=1),
        Door(id="door-store", name="Store", entrance="porch", freed_by="vcu-porch", output=2),
    ),
    units=UNITS,
    keys=(
        *(Key(id=f"key-{n}", unit="vcu-porch", module=0, slot=n, dwelling=f"home-{n}") for n in (1, 2, 3, 4)),
        Key(id="key-desk", unit="vcu-porch", module=0, slot=5, desk="smu"),
    ),
    subnets=SUBNETS,
    timetables=(
        Timetable(
            id="office", name="Office", entrance="gate", purpose=TimetablePurpose.DIVERT, divert_to="smu",
            windows=(Window(days=(0, 1, 2, 3, 4), start_min=8 * 60, end_min=18 * 60),),
        ),
    ),
    diverts=(
        Divert(id="to-desk", cause=DivertCause.NO_ANSWER, entrance="porch", to_desk="smu"),
        Divert(id="to-3", cause=DivertCause.ALWAYS, dwelling="home-4", to_dwelling="home-3"),
    ),
    rights=(ReleaseRight(id="right", door="door-store", dwellings=("home-1",), desks=("smu",)),),
)  # fmt: skip
