"""An invented site of any size for the papers: towers of eight levels, planned by the planners, with doors and locks.

Names, serial numbers and lengths are made up; addresses are RFC 5737 ranges while they last, then RFC 1918; MACs
likewise come from the range that RFC 7042 sets aside for documentation, then from the locally administered ones.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from random import Random

from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.plan.plan import plan_site
from doorwright.store.profiles import load_profiles

PER_LEVEL = 4
LEVELS = 8


@dataclass(frozen=True)
class Sample:
    """A planned site and the secrets of its vault, by the identifier of their mark."""

    site: Site
    secrets: dict[str, str]


def sample(dwellings: int = 64, *, name: str = "Larch Quay, phase 1") -> Sample:
    """Return a planned site with this many dwellings, one tower of four homes a level for each 32 of them."""
    serial = (f"K{number:08d}" for number in count(40310017, 37))
    site = _building(dwellings, name, serial)
    draw = Random(20)  # noqa: S311  (the same secrets every time: they guard nothing)
    ids = (f"made-{number}" for number in count(1))
    plan = plan_site(site, new_id=lambda: next(ids), choose=draw.randrange)
    return Sample(plan.site, dict(plan.secrets))


def _mac(number: int) -> str:
    if number < 256:
        return f"00-00-5E-00-53-{number:02X}"
    return f"02-00-00-{number >> 16:02X}-{number >> 8 & 255:02X}-{number & 255:02X}"  # locally administered: invented


def _building(dwelling_count: int, name: str, serials: Iterator[str]) -> Site:
    macs = (_mac(number) for number in count(1))
    towers = -(-dwelling_count // (PER_LEVEL * LEVELS))
    small = dwelling_count <= 100
    building = Building(id="b", name="Larch Quay")
    levels = tuple(
        Level(id=f"l{n}", building="b", name="G" if n == 0 else str(n), order=n, height_m=3.1 * n)
        for n in range(LEVELS)
    )
    cores: list[Core] = []
    places: list[Place] = [
        Place(id="office", name="Concierge's office", kind=PlaceKind.OFFICE, building="b", level="l0")
    ]
    dwellings: list[Dwelling] = []
    entrances: list[Entrance] = []
    doors: list[Door] = []
    units: list[Unit] = []
    switches: list[Switch] = []
    supplies: list[Supply] = []
    runs: list[CableRun] = []

    def run(near: str, far: str, length_m: float | None, cable: str = "cat6") -> None:
        runs.append(
            CableRun(
                id=f"r{len(runs)}", name=f"W{len(runs) + 1:03d}", near=near, far=far, cable=cable, length_m=length_m
            )
        )

    switches.append(
        Switch(id="s0", name="S0", profile="switch-24", place="office", serial=next(serials), mac=next(macs))
    )
    for t in range(towers):
        core = Core(id=f"c{t}", building="b", name=f"Core {chr(65 + t % 26)}{t // 26 or ''}")
        cores.append(core)
        places += [
            Place(id=f"lobby{t}", name=f"Lobby {core.name[5:]}", kind=PlaceKind.LOBBY, core=core.id, level="l0"),
            Place(
                id=f"riser{t}", name=f"Riser {core.name[5:]}2", kind=PlaceKind.RISER_CUPBOARD, core=core.id, level="l2"
            ),
        ]
        entrances.append(
            Entrance(
                id=f"e{t}",
                name=f"Main entrance {core.name[5:]}",
                place=f"lobby{t}",
                serves_cores=(core.id,),
                calls_desk=True,
            )
        )
        units.append(
            Unit(id=f"v{t}", name=f"VCU {core.name[5:]}1", kind=UnitKind.VCU, profile="vcu-direct", entrance=f"e{t}",
                 serial=next(serials), mac=next(macs), height_mm=1150)
        )  # fmt: skip
        supplies.append(
            Supply(id=f"p{t}", name=f"PSU {core.name[5:]}", profile="supply-12v-5a", place=f"riser{t}", battery_ah=7.0)
        )
        doors.append(
            Door(id=f"d{t}", name=f"Lobby door {core.name[5:]}", entrance=f"e{t}", lock=LockKind.MAGNET,
                 fail_mode=FailMode.SAFE,
                 freed_by=f"v{t}", output=1, release_s=5, lock_rated_v=12, lock_operate_a=0.5, lock_minimum_v=10.8,
                 escape_route=True, fire_release=True, emergency_release=None if t else True)
        )  # fmt: skip
        switches.append(
            Switch(
                id=f"s{t + 1}",
                name=f"S{t + 1}",
                profile="switch-48",
                place=f"riser{t}",
                serial=next(serials),
                mac=next(macs),
            )
        )
        run("s0", f"s{t + 1}", 24.0 + t)
        run(f"s{t + 1}", f"v{t}", 18.5)
        run(f"p{t}", f"d{t}", 21.0, "2x1.0")
        for n in range(PER_LEVEL * LEVELS):
            if len(dwellings) == dwelling_count:
                break
            level, door = levels[n // PER_LEVEL], n % PER_LEVEL + 1
            number = f"{level.order}{door:02d}" if level.order else f"G{door:02d}"
            dwelling = Dwelling(
                id=f"h{len(dwellings)}", door_label=f"{core.name[5:]}{number}", core=core.id, level=level.id,
                call_number=f"{t + 1}{level.order}{door:02d}",
            )  # fmt: skip
            dwellings.append(dwelling)
            homes = 2 if n % 8 == 3 else 1
            for k in range(homes):
                known = small and not (n == 9 and k == 0)
                unit = Unit(
                    id=f"u{len(units)}", name=f"URU {dwelling.door_label}" + (f" {'ab'[k]}" if homes > 1 else ""),
                    kind=UnitKind.URU, profile="uru-video" if k == 0 else "uru-audio", dwelling=dwelling.id,
                    serial=next(serials) if known else None, mac=next(macs) if known else None,
                )  # fmt: skip
                units.append(unit)
                run(f"s{t + 1}", unit.id, None if n == 17 else round(14 + 3.1 * level.order + 4.5 * door + k, 1))
    entrances.append(Entrance(id="rear", name="Car park gate", serves_buildings=("b",)))
    places.append(Place(id="desk", name="Concierge's desk", kind=PlaceKind.LOBBY, building="b", level="l0"))
    units += [
        Unit(id="vr", name="VCU gate", kind=UnitKind.VCU, profile="vcu-directory", entrance="rear",
             serial=next(serials), mac=next(macs)),
        Unit(id="smu", name="Concierge", kind=UnitKind.SMU, profile="smu-desk", place="desk", call_number="9001",
             serial=next(serials), mac=next(macs)),
    ]  # fmt: skip
    doors.append(
        Door(
            id="dr",
            name="Car park gate",
            entrance="rear",
            lock=LockKind.MOTOR,
            fail_mode=FailMode.SECURE,
            freed_by="vr",
            output=1,
        )
    )
    run("s0", "vr", 62.0)
    run("s0", "smu", 9.0)
    subnets = (
        Subnet(id="net", name="Door entry", cidr="192.0.2.0/24" if small else "10.64.0.0/20",
               gateway="192.0.2.1" if small else "10.64.0.1", vlan=120),
    )  # fmt: skip
    return Site(
        name=name, reference="LQ-1", time_zone="Europe/London", standard_edition="IEC 62820-1-1:2016", grade=1,
        record_keeper="The managing agent's office, ground floor",
        profiles=tuple(load_profiles().values()), buildings=(building,), cores=tuple(cores), levels=levels,
        places=tuple(places), dwellings=tuple(dwellings), entrances=tuple(entrances), doors=tuple(doors),
        units=tuple(units), switches=tuple(switches), supplies=tuple(supplies), runs=tuple(runs), subnets=subnets,
    )  # fmt: skip
