"""What a switch tells, read without a network: numbers of ports, odd tables, and which part hangs where.

Columns and values are those of the MIB texts named beside them in ``probe/switch.py``.
"""

import pytest

from doorwright.model.aspect import SITE_SUBJECT, Aspect, PoeStatus, PoeSupply, stranger
from doorwright.model.network import CableRun, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.probe import switch as told
from doorwright.probe.at_ports import at_ports
from doorwright.probe.switch import LldpNeighbour, Oid, PortSeen, SwitchSeen, Value, read_switch

MAC = bytes.fromhex("00005E005307")


def interfaces(**names: str) -> dict[Oid, Value]:
    """Ethernet interfaces that are up, by ifIndex and name: i101="port 1"."""
    values: dict[Oid, Value] = {}
    for index, name in ((int(key[1:]), name) for key, name in names.items()):
        values |= {
            (*told.IF_TYPE, index): 6,
            (*told.IF_STATUS, index): 1,
            (*told.IF_NAME, index): name.encode(),
        }
    return values


@pytest.mark.parametrize(
    ("names", "bridge", "numbers"),
    [
        ({"i101": "port 1", "i102": "port 2"}, {}, {"port 1": 1, "port 2": 2}),
        ({"i1": "g1/0/7", "i2": "g1/0/8"}, {1: 1, 2: 2}, {"g1/0/7": 7, "g1/0/8": 8}),  # the label counts
        ({"i7": "e0/0/0", "i8": "e0/0/1"}, {1: 7, 2: 8}, {"e0/0/0": 1, "e0/0/1": 2}),  # counted from 0: the bridge's
        ({"i7": "1/0/1", "i8": "2/0/1"}, {1: 7, 2: 8}, {"1/0/1": 1, "2/0/1": 2}),  # two of one number: the bridge's
        ({"i1": "port 1", "i2": "eth0"}, {1: 1}, {"port 1": 1}),  # the port for its own management is not bridged
        ({"i7": "e0/0/0", "i8": "e0/0/1"}, {}, {}),  # nobody says
    ],
)
def test_the_number_on_a_port(names: dict[str, str], bridge: dict[int, int], numbers: dict[str, int]) -> None:
    bridged: dict[Oid, Value] = {(*told.BRIDGE_PORT, port): index for port, index in bridge.items()}
    seen = read_switch(interfaces(**names) | bridged)
    assert {port.name: number for number, port in seen.ports.items()} == numbers
    assert bool(seen.unplaced) is not bool(numbers)


def test_only_links_of_ports_that_are_up_have_a_speed() -> None:
    values = interfaces(i1="port 1", i2="port 2", i3="port 3") | {
        (*told.IF_STATUS, 2): 7,  # lowerLayerDown
        (*told.IF_STATUS, 3): 4,  # unknown
        (*told.IF_SPEED, 1): 100,
        (*told.IF_SPEED, 2): 1000,  # as some tell of a port without a link
        (*told.IF_SPEED, 3): 1000,
    }
    seen = read_switch(values).ports
    assert [(seen[port].is_up, seen[port].speed_mbps) for port in (1, 2, 3)] == [
        (True, 100), (False, None), (None, None),
    ]  # fmt: skip


def test_errors_without_frames_and_frames_without_errors_tell_nothing() -> None:
    values = interfaces(i1="port 1", i2="port 2") | {
        (*told.IF_IN_ERRORS, 1): 5,
        (*told.IF_IN_FRAMES, 2): 5,
    }
    seen = read_switch(values).ports
    assert (seen[1].frames_count, seen[2].errors_count) == (None, None)


@pytest.mark.parametrize(
    ("index", "places"),
    [
        ({(1, 1): 3, (1, 2): 2}, {1: PoeStatus.DELIVERING, 2: PoeStatus.SEARCHING}),
        ({(1, 101): 3, (1, 102): 2}, {1: PoeStatus.DELIVERING, 2: PoeStatus.SEARCHING}),  # by ifIndex
        ({(1, 1): 3, (2, 1): 2}, {}),  # two groups: which is which is the maker's own business
        ({(1, 501): 3}, {}),
        ({(1, 1): 9}, {1: None}),  # a status that the RFC does not have
    ],
)
def test_poe_is_brought_to_ports_only_where_that_is_certain(
    index: dict[tuple[int, int], int], places: dict[int, PoeStatus | None]
) -> None:
    values = interfaces(i101="port 1", i102="port 2") | {
        (*told.POE_STATUS, *row): status for row, status in index.items()
    }
    seen = read_switch(values)
    assert {number: port.poe for number, port in seen.ports.items() if number in places} == places
    assert bool(seen.unplaced) is not bool(places)


def test_a_class_counts_only_while_power_is_delivered() -> None:
    values = interfaces(i1="port 1", i2="port 2") | {
        (*told.POE_STATUS, 1, 1): 3, (*told.POE_CLASS, 1, 1): 1,  # class0
        (*told.POE_STATUS, 1, 2): 2, (*told.POE_CLASS, 1, 2): 4,
    }  # fmt: skip
    seen = read_switch(values).ports
    assert (seen[1].poe_class, seen[2].poe_class) == (0, None)


def test_of_several_supplies_the_worst_counts_and_their_power_adds_up() -> None:
    values: dict[Oid, Value] = {
        (*told.SUPPLY_POWER, 1): 120, (*told.SUPPLY_STATUS, 1): 1, (*told.SUPPLY_GIVEN, 1): 20,
        (*told.SUPPLY_POWER, 2): 120, (*told.SUPPLY_STATUS, 2): 3, (*told.SUPPLY_GIVEN, 2): 5,
    }  # fmt: skip
    seen = read_switch(values)
    assert (seen.supply, seen.budget_w, seen.given_w) == (PoeSupply.FAULTY, 240, 25)


@pytest.mark.parametrize(
    ("kind", "name"),
    [(5, b"port 2"), (3, MAC), (7, b"port 2"), (7, b"102"), (1, b"to the riser"), (None, b"")],
    ids=["interfaceName", "macAddress", "local name", "local ifIndex", "interfaceAlias", "nothing said"],
)
def test_the_port_of_a_neighbour_is_found_by_what_it_is_called(kind: int | None, name: bytes) -> None:
    lldp = 102 if kind in {1, None} else 9  # where the name does not help, the number is the ifIndex
    values = interfaces(i101="port 1", i102="port 2") | {
        (*told.IF_MAC, 102): MAC,
        (*told.LOCAL_NAME, lldp): name,
        (*told.CHASSIS_KIND, 0, lldp, 1): 4,
        (*told.CHASSIS, 0, lldp, 1): bytes.fromhex("00005E005301"),
        (*told.SYSTEM_NAME, 0, lldp, 1): b"VCU\x00 Main\n",
    }
    if kind is not None:
        values[*told.LOCAL_KIND, lldp] = kind
    seen = read_switch(values).ports
    assert seen[2].neighbours == (LldpNeighbour(macs=("00-00-5E-00-53-01",), name="VCU Main"),)
    assert seen[1].neighbours == ()


def test_what_breaks_the_tables_rules_is_passed_over() -> None:
    values = interfaces(i1="port 1") | {
        (*told.BRIDGE_PORT, 1): 1,
        (*told.IF_NAME, 1): b"port 1\xff",
        (*told.IF_SPEED, 1): b"fast",
        (*told.IF_STATUS, 1, 1): 1,  # a row's name that is too long
        (*told.CHASSIS_KIND, 0, 1, 1): 4,
        (*told.CHASSIS, 0, 1, 1): b"short",
        (*told.LEARNED, 1, 0, 94, 0, 83, 7): 1,  # 01-...: the address of a group
        (*told.LEARNED, 0, 0, 0, 0, 0, 0): 1,
        (*told.LEARNED, 0, 0, 94, 0, 83, 300): 1,
        (*told.LEARNED, 0, 0, 94, 0, 83, 7): 9,  # at a port that there is not
        (*told.LEARNED_BY_VLAN, 20, 0, 0, 94, 0, 83, 8): 1,
        (9, 9): 1,
    }
    (port,) = read_switch(values).ports.values()
    assert (port.is_up, port.speed_mbps, port.neighbours, port.macs) == (True, None, (), ("00-00-5E-00-53-08",))
    assert read_switch({}) == SwitchSeen(ports={})


# which part hangs where


def unit(ident: str, mac: str | None) -> Unit:
    return Unit(id=ident, name=ident.upper(), kind=UnitKind.URU, profile="p", mac=mac)


M1, M2, M3, M9 = (f"00-00-5E-00-53-0{number}" for number in (1, 2, 3, 9))
UP, LOW = "00-00-5E-00-53-E1", "00-00-5E-00-53-E2"
SITE = Site(
    name="Alder Court",
    units=(unit("u1", M1), unit("u2", M2), unit("u3", None)),
    switches=(Switch(id="s1", name="S1", profile="p", mac=UP), Switch(id="s2", name="S2", profile="p", mac=LOW)),
    runs=(
        CableRun(id="r1", name="D1", near="s1", near_port=1, far="u1"),
        CableRun(id="r2", name="D2", near="s2", near_port=1, far="u2"),
        CableRun(id="r3", name="D3", near="s2", near_port=2, far="u3"),
        CableRun(id="r4", name="U1", near="s1", near_port=8, far="s2", far_port=9),
    ),
)


def written(**switches: dict[int, PortSeen]) -> set[tuple[str, str, str]]:
    seen = {ident: SwitchSeen(ports=ports) for ident, ports in switches.items()}
    return {(subject.id, aspect, value) for subject, aspect, value in at_ports(Walk(SITE), seen)}


def learned(*macs: str) -> PortSeen:
    return PortSeen(macs=macs)


def test_a_part_is_where_its_mac_address_is_alone_and_not_where_it_passes() -> None:
    assert written(
        s1={1: learned(M1), 8: learned(LOW, M2)},
        s2={1: learned(M2), 9: learned(M1, UP)},
    ) == {("u1", Aspect.PORT, "S1 port 1"), ("u2", Aspect.PORT, "S2 port 1")}


def test_two_parts_behind_one_port_say_that_it_is_no_ones() -> None:
    assert written(s1={5: learned(M1, M2)}) == set()


def test_who_introduced_itself_counts_before_what_was_learned() -> None:
    said = PortSeen(macs=(M9,), neighbours=(LldpNeighbour(macs=(M1,), name=""),))
    assert written(s1={3: said, 4: learned(M1)}) == {("u1", Aspect.PORT, "S1 port 3")}


def test_who_is_seen_at_two_ports_is_told_at_none() -> None:
    assert written(s1={3: learned(M1), 4: learned(M1)}) == set()


def test_of_a_part_seen_nowhere_its_planned_port_speaks_unless_another_is_there() -> None:
    down = PortSeen(is_up=False, poe=PoeStatus.SEARCHING, errors_count=3, frames_count=9)
    assert written(s2={2: down}) == {
        ("u3", Aspect.LINK, "down"),
        ("u3", Aspect.POE_STATUS, "searching"),
        ("u3", Aspect.ERRORS, "3 of 9"),
    }
    slow = PortSeen(is_up=True, speed_mbps=100, macs=(M1,))
    assert written(s2={2: slow}) == {("u1", Aspect.PORT, "S2 port 2"), ("u1", Aspect.LINK, "100")}


def test_the_link_between_switches_is_told_of_the_lower_one() -> None:
    assert written(s1={8: PortSeen(is_up=True, speed_mbps=100)}) == {("s2", Aspect.LINK, "100")}


def test_a_stranger_is_told_only_in_the_place_of_a_unit_that_is_known() -> None:
    there = written(s1={1: learned(M9), 5: learned("00-00-5E-00-53-77")}, s2={2: learned("00-00-5E-00-53-78")})
    assert there == {(SITE_SUBJECT.id, stranger(Aspect.MAC, M9), "S1 port 1")}  # U3's own address nobody has entered
