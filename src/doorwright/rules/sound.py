"""A small invented building in which every rule holds and nothing is left unchecked.

The rules' examples are edits of it. Addresses are from RFC 5737, MAC addresses from RFC 7042, and the secrets lie in
plain text below because they open nothing.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from hashlib import sha256
from itertools import count
from types import MappingProxyType
from typing import Any, Final

from doorwright import data
from doorwright.kernel.signoff import SignOff, Statement
from doorwright.kernel.verdict import Subject
from doorwright.model.calling import Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, FailMode, LockKind, ReleaseRight
from doorwright.model.network import CableRun, Junction, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.profile import FirmwareLine, Profile, ProfileKind, SecretPolicy
from doorwright.model.site import Site
from doorwright.model.unit import Key, KeyModule, SecretMark, SecretUse, Unit, UnitKind

HOMES: Final = ("flat-1", "flat-2", "flat-3", "flat-4")


@cache
def sound_site() -> Site:
    """Return the building: one core, three levels, four dwellings, three entrances and a desk."""
    units, switches = _units(), _switches()
    return Site(
        name="Sound House",
        reference="EX-1",
        time_zone="Etc/UTC",
        standard_edition="IEC 62820-1-1:2016",
        grade=1,
        record_keeper="The house's office",
        profiles=tuple(_profile(key, row) for key, row in data.table("profiles").items()),
        buildings=(Building(id="building-1", name="Sound House"),),
        cores=(Core(id="core-a", building="building-1", name="Core A"),),
        levels=tuple(
            Level(id=f"level-{name.lower()}", building="building-1", name=name, order=order, height_m=3.0 * order)
            for order, name in enumerate(("G", "1", "2"))
        ),
        places=_places(),
        dwellings=tuple(
            Dwelling(id=ident, door_label=label, core="core-a", level=f"level-{label[0]}", call_number=label)
            for ident, label in zip(HOMES, ("101", "102", "201", "202"), strict=True)
        ),
        entrances=(
            Entrance(
                id="entrance-main", name="Main entrance", place="lobby", serves_buildings=("building-1",),
                calls_desk=True,
            ),
            Entrance(id="entrance-rear", name="Rear entrance", place="rear", serves_cores=("core-a",)),
            Entrance(id="entrance-gate", name="Gate", place="gate", serves_dwellings=HOMES),
        ),
        doors=_doors(),
        units=units,
        modules=(
            KeyModule(id="module-1", unit="vcu-main", profile="key-module-6", ordinal=1, serial="M00000001"),
        ),
        keys=(
            Key(id="key-desk", unit="vcu-main", module=0, slot=1, desk="smu-desk"),
            *(
                Key(id=f"key-{slot}", unit="vcu-main", module=1, slot=slot, dwelling=home)
                for slot, home in enumerate(HOMES, start=1)
            ),
        ),
        secrets=tuple(_marks(units, switches)),
        subnets=(
            Subnet(
                id="net-units", name="Units", cidr="192.0.2.0/24", gateway="192.0.2.1", vlan=20,
                reserved=("192.0.2.2-192.0.2.9",),
            ),
            Subnet(
                id="net-switches", name="Switches", cidr="198.51.100.0/28", gateway="198.51.100.1", vlan=30,
                kinds=("switch",),
            ),
        ),
        switches=switches,
        supplies=(
            Supply(
                id="supply-1", name="Lock supply", profile="supply-24v-5a", place="riser", battery_ah=7.0,
                battery_rate_h=20.0, battery_temperature_c=15.0, standby_h=4.0, standby_busy_h=0.5,
            ),
        ),
        junctions=(Junction(id="junction-1", name="Box 1", place="lobby"),),
        runs=_runs(),
        timetables=(
            Timetable(
                id="times-desk", name="Desk hours", entrance="entrance-main", purpose=TimetablePurpose.DIVERT,
                windows=(Window(days=(0, 1, 2, 3, 4), start_min=8 * 60, end_min=18 * 60),), divert_to="smu-desk",
            ),
            Timetable(
                id="times-trade", name="Trade hours", entrance="entrance-rear", purpose=TimetablePurpose.TRADE_RELEASE,
                windows=(Window(days=(0, 1, 2, 3, 4, 5), start_min=7 * 60, end_min=10 * 60),),
            ),
        ),
        diverts=(
            Divert(
                id="divert-1", cause=DivertCause.NO_ANSWER, dwelling="flat-1", entrance="entrance-main",
                to_desk="smu-desk",
            ),
        ),
        rights=(ReleaseRight(id="right-main", door="door-main", cores=("core-a",), desks=("smu-desk",)),),
        prices=(Price(id="price-cable", item="cat6", amount=Decimal("0.60"), per=PricedBy.METRE),),
    )  # fmt: skip


@cache
def sound_secrets() -> Mapping[str, str]:
    """Return the opened secrets by the identifier of their mark.

    Two more lie in the vault, whose marks are not in the site: bad ones, for the examples of the rules on secrets.
    """
    site = sound_site()
    # a digest stands in for chance, so that the examples are the same every time
    secrets = {mark.id: _letters_and_digits(mark.id) for mark in site.secrets}
    desk = next(unit for unit in site.units if unit.id == "smu-desk")
    secrets["repeated"] = secrets["secret-uru-1-sip"]
    secrets["from-the-box"] = f"{desk.serial}xyz"
    return MappingProxyType(secrets)


@cache
def sound_sign_offs() -> tuple[SignOff, ...]:
    """Return what people have given their word on: the releases of the one door on an escape route."""
    return tuple(
        SignOff(
            id=f"sign-off-{number}",
            statement=statement,
            subject=Subject(Door.KIND, "door-main"),
            name="A. Warden",
            role="responsible for fire safety",
            on=date(2031, 5, 1),
            until=None,
            recorded_by="A. Fitter",
        )
        for number, statement in enumerate((Statement.ESCAPE_RELEASE, Statement.FIRE_RELEASE), start=1)
    )


def _letters_and_digits(seed: str) -> str:
    alphabet = "abcdefghijkmnopqrstuvwxyzABCDEFGHJKLMNPQRSTUVWXYZ23456789"
    return "".join(alphabet[octet % len(alphabet)] for octet in sha256(seed.encode()).digest()[:12])


_SHEETS: Final[Mapping[str, Mapping[str, float | bool]]] = MappingProxyType(
    {
        **{
            key: {"output_contact_v": 30.0, "output_contact_inrush_a": 3.0}
            for key in ("vcu-direct", "vcu-keypad", "vcu-directory")
        },
        **{key: {"poe_port_w": 30.0, "poe_by_lldp": False} for key in ("switch-8", "switch-16")},
        "supply-24v-5a": {"output_fuse_a": 3.0, "battery_end_v": 21.6, "peukert_exponent": 1.2},
    }
)
"""What the data sheets of this building say of power, whatever those of the library do."""


def _profile(key: str, row: Mapping[str, Any]) -> Profile:
    row = {**row, **_SHEETS.get(key, {})}
    values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}
    values["kind"] = ProfileKind(row["kind"])
    values["firmware"] = tuple(FirmwareLine(**line) for line in row.get("firmware", ()))
    for name in ("device_secret", "sip_secret"):
        if name in row:
            values[name] = SecretPolicy(**row[name])
    return Profile(key=key, **values)


def _places() -> tuple[Place, ...]:
    inside: dict[str, Any] = {"building": "building-1", "core": "core-a"}
    return (
        Place(id="lobby", name="Lobby", kind=PlaceKind.LOBBY, level="level-g", **inside),
        Place(id="rear", name="Bicycle room", kind=PlaceKind.LOBBY, level="level-g", **inside),
        Place(id="office", name="Office", kind=PlaceKind.OFFICE, level="level-g", **inside),
        Place(id="riser", name="Riser A", kind=PlaceKind.RISER_CUPBOARD, level="level-g", **inside),
        Place(id="riser-2", name="Riser A2", kind=PlaceKind.RISER_CUPBOARD, level="level-2", **inside),
        Place(id="gate", name="Garden gate", kind=PlaceKind.OUTDOORS),
    )


def _units() -> tuple[Unit, ...]:
    serials, hosts = count(1), count(16)

    def unit(ident: str, name: str, kind: UnitKind, profile: str, **values: Any) -> Unit:
        number = next(serials)
        settings: dict[str, Any] = {
            "serial": f"A{number:08d}",
            "mac": f"00-00-5E-00-53-{number:02X}",
            "firmware": "3.2",
            "subnet": "net-units",
            "address": f"192.0.2.{next(hosts)}",
            "position": 0,
            "registrar": "vcu-main",
            "height_mm": 1000,
        }
        return Unit(id=ident, name=name, kind=kind, profile=profile, **(settings | values))

    def uru(ident: str, name: str, home: str, **values: Any) -> Unit:
        return unit(ident, name, UnitKind.URU, "uru-video", dwelling=home, **values)

    vcu = UnitKind.VCU
    return (
        unit("vcu-main", "VCU main", vcu, "vcu-direct", entrance="entrance-main", registrar=None),
        unit("vcu-rear", "VCU rear", vcu, "vcu-keypad", entrance="entrance-rear", position=1),
        unit("vcu-gate", "VCU gate", vcu, "vcu-directory", entrance="entrance-gate", position=2, firmware="5.1"),
        unit("smu-desk", "Desk", UnitKind.SMU, "smu-desk", place="office", call_number="8001"),
        uru("uru-1", "URU 101", "flat-1"),
        uru("uru-1b", "URU 101 bedroom", "flat-1", position=1, registrar="uru-1"),
        uru("uru-2", "URU 102", "flat-2"),
        uru("uru-3", "URU 201", "flat-3"),
        uru("uru-4", "URU 202", "flat-4"),
    )


def _switches() -> tuple[Switch, ...]:
    return tuple(
        Switch(
            id=f"switch-{number}",
            name=f"S{number}",
            profile=profile,
            place=place,
            serial=f"S{number:08d}",
            mac=f"00-00-5E-00-53-E{number}",
            subnet="net-switches",
            address=f"198.51.100.{number + 1}",
        )
        for number, profile, place in ((1, "switch-16", "riser"), (2, "switch-8", "riser-2"))
    )


def _doors() -> tuple[Door, ...]:
    def door(where: str, name: str, lock: LockKind, fail_mode: FailMode, *, escape: bool, fire_door: bool) -> Door:
        return Door(
            id=f"door-{where}",
            name=name,
            entrance=f"entrance-{where}",
            lock=lock,
            fail_mode=fail_mode,
            freed_by=f"vcu-{where}",
            output=1,
            release_s=8.0,
            lock_rated_v=24.0,
            lock_operate_a=0.25,
            lock_minimum_v=20.4,
            lock_inrush_a=0.5 if lock is LockKind.MOTOR else None,
            lock_suppressed=True,
            relock_s=3.0 if lock is LockKind.MOTOR else 0.5,
            escape_route=escape,
            fire_door=fire_door,
            fire_release=escape,
            emergency_release=escape,
            exit_button=escape,
        )

    return (
        door("main", "Main door", LockKind.MAGNET, FailMode.SAFE, escape=True, fire_door=False),
        door("rear", "Rear door", LockKind.STRIKE, FailMode.SECURE, escape=False, fire_door=True),
        door("gate", "Garden gate", LockKind.MOTOR, FailMode.SECURE, escape=False, fire_door=False),
    )


def _runs() -> tuple[CableRun, ...]:
    data_runs = (
        ("switch-1", "vcu-main", 1, 18.0), ("switch-1", "vcu-rear", 2, 25.0), ("switch-1", "vcu-gate", 3, 60.0),
        ("switch-1", "smu-desk", 4, 12.0), ("switch-1", "uru-1", 5, 22.0), ("switch-1", "uru-1b", 6, 28.0),
        ("switch-1", "uru-2", 7, 30.0), ("switch-2", "uru-3", 1, 15.0), ("switch-2", "uru-4", 2, 19.0),
    )  # fmt: skip
    lock_runs = (
        ("supply-1", "door-main", 20.0), ("supply-1", "junction-1", 5.0),
        ("junction-1", "door-rear", 22.0), ("junction-1", "door-gate", 57.0),
    )  # fmt: skip
    return (
        *(
            CableRun(
                id=f"run-{far}", name=f"D{number}", near=near, far=far, near_port=port, cable="cat6", length_m=length_m,
                temperature_c=30.0,
            )
            for number, (near, far, port, length_m) in enumerate(data_runs, start=1)
        ),
        CableRun(
            id="run-switches", name="U1", near="switch-1", far="switch-2", near_port=17, far_port=9, cable="cat6",
            length_m=10.0, temperature_c=30.0,
        ),
        *(
            CableRun(
                id=f"run-{far}", name=f"L{number}", near=near, far=far, cable="2x1.0", length_m=length_m,
                temperature_c=40.0,
            )
            for number, (near, far, length_m) in enumerate(lock_runs, start=1)
        ),
    )  # fmt: skip


def _marks(units: tuple[Unit, ...], switches: tuple[Switch, ...]) -> Iterator[SecretMark]:
    lines = count(1)
    for part in (*units, *switches):
        for use, word in ((SecretUse.DEVICE, "device"), (SecretUse.SIP, "sip")):
            if isinstance(part, Unit) or use is SecretUse.DEVICE:
                yield SecretMark(id=f"secret-{part.id}-{word}", owner=part.id, use=use, line=next(lines))
