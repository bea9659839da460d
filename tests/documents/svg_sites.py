"""Invented sites that the drawings are tested on: a realistic one of 64 dwellings, and others of any size."""

from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import PARTS, Site
from doorwright.model.unit import Unit, UnitKind

PROFILES = (
    Profile(key="vcu", title="Keypad VCU", kind=ProfileKind.VCU, poe_draw_w=16.0, registrations_max_count=250),
    Profile(key="uru", title="Video URU", kind=ProfileKind.URU, poe_draw_w=7.5),
    Profile(key="smu", title="Desk SMU", kind=ProfileKind.SMU, poe_draw_w=14.0),
    Profile(
        key="sw24", title="PoE switch 24", kind=ProfileKind.SWITCH, ports_count=28, uplinks_count=4, poe_budget_w=370.0
    ),
    Profile(key="psu", title="Lock supply", kind=ProfileKind.SUPPLY, output_v=12.0, output_a=5.0),
)


def orchard_court() -> Site:
    """64 dwellings in 3 cores on 8 levels above the ground, a gate, a desk, 6 switches in riser cupboards."""
    names = ["G", *map(str, range(1, 9))]
    levels = tuple(
        Level(id=f"l{i}", building="b1", name=f"Level {name}", order=i, height_m=i * 3.0)
        for i, name in enumerate(names)
    )
    cores = tuple(Core(id=f"c{c}", building="b1", name=f"Core {c}") for c in "ABC")
    places = [
        *(
            Place(id=f"lobby{c}", name=f"Lobby {c}", kind=PlaceKind.LOBBY, building="b1", core=f"c{c}", level="l0")
            for c in "ABC"
        ),
        *(
            Place(
                id=f"riser{c}{i}",
                name=f"Riser cupboard {c}{i}",
                kind=PlaceKind.RISER_CUPBOARD,
                building="b1",
                core=f"c{c}",
                level=f"l{i}",
            )
            for c in "ABC"
            for i in (1, 5)
        ),
        Place(id="gate", name="Street gate", kind=PlaceKind.OUTDOORS),
        Place(id="office", name="Porter's office", kind=PlaceKind.OFFICE, building="b1", core="cA", level="l0"),
        Place(id="psu-room", name="Intake room", kind=PlaceKind.RISER_CUPBOARD, building="b1", core="cB", level="l0"),
    ]
    per_level = {"A": 3, "B": 3, "C": 2}
    dwellings, units = [], []
    runs: list[CableRun] = []
    switches = tuple(
        Switch(
            id=f"sw{c}{i}",
            name=f"SW-{c}{i}",
            profile="sw24",
            place=f"riser{c}{i}",
            subnet="net",
            address=f"192.0.2.{2 + n}",
        )
        for n, (c, i) in enumerate((c, i) for c in "ABC" for i in (1, 5))
    )
    port = {switch.id: 0 for switch in switches}

    def run(near: str, far: str, cable: str | None, length_m: float | None) -> None:
        if near in port:
            port[near] += 1
        runs.append(
            CableRun(
                id=f"run{len(runs)}",
                name=f"W{len(runs) + 1:03d}",
                near=near,
                far=far,
                cable=cable,
                length_m=length_m,
                near_port=port.get(near),
            )
        )

    host = 20
    for c in "ABC":
        for i in range(1, 9):
            for k in range(per_level[c]):
                ident = f"d{c}{i}{k}"
                label = f"{c}{i}{k + 1:02d}"
                number = f"{'ABC'.index(c) + 1}{i}{k + 1:02d}"
                dwellings.append(Dwelling(id=ident, door_label=label, core=f"c{c}", level=f"l{i}", call_number=number))
                host += 1
                address = f"192.0.2.{host}" if host < 240 else None
                units.append(
                    Unit(
                        id=f"u{ident}",
                        name=f"URU {label}",
                        kind=UnitKind.URU,
                        profile="uru",
                        dwelling=ident,
                        subnet="net",
                        address=address,
                        position=0,
                        registrar=f"vcu{c}",
                    )
                )
                run(f"sw{c}{1 if i < 5 else 5}", f"u{ident}", "cat6", 12.0 + 3 * abs(i - (1 if i < 5 else 5)) + 7 * k)
    units.append(
        Unit(
            id="udA10b",
            name="URU A101 bedroom",
            kind=UnitKind.URU,
            profile="uru",
            dwelling="dA10",
            position=1,
            registrar="udA10",
        )
    )
    run("swA1", "udA10b", "cat6", 22.0)
    entrances, doors = [], []
    for c in "ABC":
        entrances.append(
            Entrance(id=f"e{c}", name=f"Entrance {c}", place=f"lobby{c}", serves_cores=(f"c{c}",), calls_desk=True)
        )
        units.append(
            Unit(
                id=f"vcu{c}",
                name=f"VCU {c}",
                kind=UnitKind.VCU,
                profile="vcu",
                entrance=f"e{c}",
                subnet="net",
                address=f"192.0.2.{9 + 'ABC'.index(c)}",
                position=0,
            )
        )
        doors.append(
            Door(
                id=f"door{c}",
                name=f"Main door {c}",
                entrance=f"e{c}",
                lock=LockKind.MAGNET,
                fail_mode=FailMode.SAFE,
                freed_by=f"vcu{c}",
                escape_route=True,
            )
        )
        run(f"sw{c}1", f"vcu{c}", "cat6", 24.0)
        run("psu1", f"door{c}", "2 × 1.0 mm²", {"A": 31.0, "B": 9.0, "C": 36.0}[c])
    entrances.append(Entrance(id="eN", name="Bicycle store", place="lobbyB", serves_cores=("cB",)))
    units.append(
        Unit(id="vcuN", name="VCU store", kind=UnitKind.VCU, profile="vcu", entrance="eN", position=1, registrar="vcuB")
    )
    doors.append(
        Door(
            id="doorN",
            name="Store door",
            entrance="eN",
            lock=LockKind.STRIKE,
            fail_mode=FailMode.SECURE,
            freed_by="vcuN",
            escape_route=False,
        )
    )
    run("swB1", "vcuN", "cat6", None)
    entrances.append(Entrance(id="eG", name="Gate", place="gate", serves_buildings=("b1",), calls_desk=True))
    units.append(
        Unit(
            id="vcuG",
            name="VCU gate",
            kind=UnitKind.VCU,
            profile="vcu",
            entrance="eG",
            subnet="net",
            address="192.0.2.13",
            position=0,
        )
    )
    doors.append(Door(id="doorG", name="Pedestrian gate", entrance="eG", lock=LockKind.STRIKE))
    run("swA1", "vcuG", "cat6a", 71.0)
    units.append(
        Unit(
            id="desk",
            name="Desk",
            kind=UnitKind.SMU,
            profile="smu",
            place="office",
            subnet="net",
            address="192.0.2.14",
            call_number="9000",
            registrar="vcuG",
        )
    )
    run("swA1", "desk", "cat6", 18.0)
    supplies = (
        Supply(id="psu1", name="PS-1", profile="psu", place="psu-room", battery_ah=7.0),
        Supply(id="psu2", name="PS-2", profile="psu", place="riserA1"),
    )
    run("psu2", "swA1", "2 × 1.0 mm²", 2.0)
    run("swA1", "swA5", "cat6a", 16.0)
    run("swA1", "swB1", "cat6a", 44.0)
    run("swB1", "swB5", "cat6a", 16.0)
    run("swB1", "swC1", "fibre OM3", 52.0)
    run("swC1", "swC5", "cat6a", 16.0)
    return Site(
        name="Orchard Court",
        reference="OC-2031",
        profiles=PROFILES,
        buildings=(Building(id="b1", name="Orchard Court"),),
        cores=cores,
        levels=levels,
        places=tuple(places),
        dwellings=tuple(dwellings),
        entrances=tuple(entrances),
        doors=tuple(doors),
        units=tuple(units),
        subnets=(Subnet(id="net", name="Door entry", cidr="192.0.2.0/24", gateway="192.0.2.1", vlan=40),),
        servers=(
            SipServer(
                id="sip", name="House SIP server", address="192.0.2.250", realm="orchard.example", registrations_max=100
            ),
        ),
        switches=switches,
        supplies=supplies,
        runs=tuple(runs),
    )


def grown(*, cores: int = 1, levels: int = 1, per_level: int = 1, buildings: int = 1, switch_every: int = 6) -> Site:
    """A site of any size: in each core a switch every few levels, chained by uplinks over the cores of a building."""
    parts: list[Part] = []
    count = 0
    for b in range(buildings):
        parts.append(Building(id=f"b{b}", name=f"House {b + 1}"))
        parts += [Level(id=f"b{b}l{i}", building=f"b{b}", name=f"Level {i}", order=i) for i in range(levels)]
        last = None
        for c in range(cores):
            core = f"b{b}c{c}"
            parts.append(Core(id=core, building=f"b{b}", name=f"Core {c + 1}"))
            parts.append(
                Place(id=f"{core}lobby", name=f"Lobby {c + 1}", kind=PlaceKind.LOBBY, core=core, level=f"b{b}l0")
            )
            parts.append(Entrance(id=f"{core}e", name=f"Entrance {c + 1}", place=f"{core}lobby", serves_cores=(core,)))
            parts.append(Door(id=f"{core}d", name=f"Door {c + 1}", entrance=f"{core}e", fail_mode=FailMode.SAFE))
            parts.append(
                Unit(
                    id=f"{core}v",
                    name=f"VCU {b + 1}.{c + 1}",
                    kind=UnitKind.VCU,
                    profile="vcu",
                    entrance=f"{core}e",
                    position=0,
                )
            )
            for i in range(levels):
                if i % switch_every == 0:
                    place, switch = f"{core}r{i}", f"{core}s{i}"
                    parts.append(
                        Place(
                            id=place,
                            name=f"Riser {c + 1}.{i}",
                            kind=PlaceKind.RISER_CUPBOARD,
                            core=core,
                            level=f"b{b}l{i}",
                        )
                    )
                    parts.append(Switch(id=switch, name=f"SW-{b + 1}.{c + 1}.{i}", profile="sw24", place=place))
                    if last:
                        parts.append(
                            CableRun(
                                id=f"up{switch}", name=f"U{switch}", near=last, far=switch, cable="cat6a", length_m=20.0
                            )
                        )
                    last = switch
                if i == 0:
                    parts.append(
                        CableRun(
                            id=f"{core}vr", name=f"{core}vr", near=switch, far=f"{core}v", cable="cat6", length_m=15.0
                        )
                    )
                for k in range(per_level):
                    count += 1
                    ident = f"{core}l{i}d{k}"
                    parts.append(
                        Dwelling(
                            id=ident, door_label=str(count), core=core, level=f"b{b}l{i}", call_number=str(1000 + count)
                        )
                    )
                    parts.append(
                        Unit(
                            id=f"{ident}u",
                            name=f"URU {count}",
                            kind=UnitKind.URU,
                            profile="uru",
                            dwelling=ident,
                            registrar=f"{core}v",
                            position=0,
                        )
                    )
                    parts.append(
                        CableRun(
                            id=f"{ident}r",
                            name=f"R{count}",
                            near=switch,
                            far=f"{ident}u",
                            cable="cat6",
                            length_m=10.0 + k,
                        )
                    )
    tables = {kind: tuple(part for part in parts if isinstance(part, kind)) for kind in PARTS}
    return Site(name="Grown House", profiles=PROFILES).with_tables(tables)
