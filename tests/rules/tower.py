"""An invented estate of any size, for tests that need more parts than the sound site has."""

from collections.abc import Iterator
from ipaddress import IPv4Address
from itertools import count

from doorwright.model.calling import Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.unit import Key, KeyModule, SecretMark, SecretUse, Unit, UnitKind
from doorwright.rules.sound import sound_site

HOMES_A_SWITCH = 40


def estate(*, cores: int, levels: int, homes: int) -> Site:
    """Return an estate of one building: each core has an entrance with a VCU, each home a URU with its cable.

    The first core's VCU has keys, the others a directory; every third home has a second URU.
    """
    core_ids = [f"core-{number}" for number in range(1, cores + 1)]
    level_ids = [f"level-{number}" for number in range(levels)]
    dwellings = [
        Dwelling(id=f"home-{n}", door_label=str(n), core=core, level=level, call_number=str(n))
        for n, (core, level, _) in enumerate(
            ((core, level, home) for core in core_ids for level in level_ids for home in range(homes)), start=1001
        )
    ]
    units = tuple(_units(core_ids, dwellings))
    switches = tuple(
        Switch(
            id=f"switch-{n}",
            name=f"S{n}",
            profile="switch-48",
            serial=f"S{n:08d}",
            subnet="net-switches",
            address=str(IPv4Address("10.1.0.1") + n),
        )
        for n in range(1, len(units) // HOMES_A_SWITCH + 2)
    )
    first_homes = [dwelling for dwelling in dwellings if dwelling.core == "core-1"][:24]
    return Site(
        name="Estate",
        time_zone="Etc/UTC",
        profiles=sound_site().profiles,
        buildings=(Building(id="building", name="Estate"),),
        cores=tuple(Core(id=ident, building="building", name=ident) for ident in core_ids),
        levels=tuple(
            Level(id=ident, building="building", name=ident[6:], order=n) for n, ident in enumerate(level_ids)
        ),
        dwellings=tuple(dwellings),
        entrances=tuple(
            Entrance(id=f"entrance-{core}", name=f"Entrance {core}", serves_cores=(core,), calls_desk=core == "core-1")
            for core in core_ids
        ),
        doors=tuple(
            Door(
                id=f"door-{core}",
                name=f"Door {core}",
                entrance=f"entrance-{core}",
                lock=LockKind.STRIKE,
                fail_mode=FailMode.SECURE,
                freed_by=f"vcu-{core}",
                output=1,
                lock_operate_a=0.3,
                lock_minimum_v=10.8,
            )
            for core in core_ids
        ),
        units=units,
        modules=tuple(
            KeyModule(id=f"module-{n}", unit="vcu-core-1", profile="key-module-6", ordinal=n) for n in range(1, 5)
        ),
        keys=tuple(
            Key(id=f"key-{n}", unit="vcu-core-1", module=n // 6 + 1, slot=n % 6 + 1, dwelling=home.id)
            for n, home in enumerate(first_homes)
        ),
        secrets=tuple(
            SecretMark(id=f"secret-{unit.id}-{use.name}", owner=unit.id, use=use, line=2 * n + (use is SecretUse.SIP))
            for n, unit in enumerate(units)
            for use in SecretUse
        ),
        subnets=(
            Subnet(id="net-units", name="Units", cidr="10.0.0.0/16", gateway="10.0.0.1", vlan=10),
            Subnet(id="net-switches", name="Switches", cidr="10.1.0.0/16", gateway="10.1.0.1", vlan=11),
        ),
        servers=(SipServer(id="server", name="Server", address="10.0.0.2", realm="example.org", registrations_max=50),),
        switches=switches,
        supplies=(Supply(id="supply", name="Locks", profile="supply-12v-5a"),),
        runs=tuple(_runs(units, switches, core_ids)),
        timetables=(
            Timetable(
                id="times",
                name="Trade",
                entrance="entrance-core-1",
                purpose=TimetablePurpose.TRADE_RELEASE,
                windows=(Window(days=(0, 1), start_min=420, end_min=600),),
            ),
        ),
    )


def secrets_of(site: Site) -> dict[str, str]:
    """Return a secret for each mark; no two are the same."""
    return {mark.id: f"Zq{mark.line:08d}xK" for mark in site.secrets}


def _units(core_ids: list[str], dwellings: list[Dwelling]) -> Iterator[Unit]:
    numbers = count(1)

    def unit(ident: str, kind: UnitKind, profile: str, **values: str | int | None) -> Unit:
        n = next(numbers)
        fields: dict[str, object] = {
            "serial": f"A{n:08d}",
            "mac": "-".join(f"02{n:010X}"[i : i + 2] for i in range(0, 12, 2)),
            "firmware": "3.2",
            "subnet": "net-units",
            "address": str(IPv4Address("10.0.0.10") + n),
            "position": 0,
        }
        return Unit(id=ident, name=ident.upper(), kind=kind, profile=profile, **(fields | values))  # type: ignore[arg-type]

    for core in core_ids:
        profile = "vcu-direct" if core == "core-1" else "vcu-directory"
        yield unit(f"vcu-{core}", UnitKind.VCU, profile, entrance=f"entrance-{core}", height_mm=1000)
    yield unit("smu-desk", UnitKind.SMU, "smu-desk", registrar="vcu-core-1", call_number="8001")
    for n, home in enumerate(dwellings):
        yield unit(f"uru-{home.id}", UnitKind.URU, "uru-video", dwelling=home.id, registrar=f"vcu-{home.core}")
        if n % 3 == 0:
            registrar = f"uru-{home.id}"
            yield unit(f"{registrar}-b", UnitKind.URU, "uru-audio", dwelling=home.id, position=1, registrar=registrar)


def _runs(units: tuple[Unit, ...], switches: tuple[Switch, ...], core_ids: list[str]) -> Iterator[CableRun]:
    for n, unit in enumerate(units):
        near, port = switches[n // HOMES_A_SWITCH].id, n % HOMES_A_SWITCH + 1
        yield CableRun(
            id=f"run-{unit.id}",
            name=f"D{n}",
            near=near,
            far=unit.id,
            near_port=port,
            cable="cat6",
            length_m=20.0 + n % 60,
        )
    for n, switch in enumerate(switches[1:], start=1):
        yield CableRun(
            id=f"link-{n}", name=f"U{n}", near="switch-1", far=switch.id, near_port=48 + n, far_port=50, cable="cat6"
        )
    for n, core in enumerate(core_ids):
        yield CableRun(id=f"lock-{n}", name=f"L{n}", near="supply", far=f"door-{core}", cable="2x1.0", length_m=30.0)
