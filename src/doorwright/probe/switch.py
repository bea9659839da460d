"""What a switch tells of its ports, power and neighbours: which tables are asked, and how their values are read.

Pure: tables in, a `SwitchSeen` out. Read are the interfaces (IF-MIB, RFC 2863), the ports of the bridge and the MAC
addresses learned at them (BRIDGE-MIB, RFC 4188; Q-BRIDGE-MIB, RFC 4363), power over Ethernet (POWER-ETHERNET-MIB,
RFC 3621) and the neighbours that introduced themselves (LLDP-MIB of IEEE 802.1AB-2005; its column numbers from memory).
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, TypeAlias

from doorwright.model.aspect import PoeStatus, PoeSupply

Oid: TypeAlias = tuple[int, ...]
"""The name of a value: a column of a table and the row's index behind it."""
Value: TypeAlias = int | bytes
"""A number or octets; values of other kinds are not asked for."""
_Columns: TypeAlias = Mapping[Oid, Mapping[Oid, Value]]
"""The values of each column by the row's index."""

_INTERFACE: Final[Oid] = (1, 3, 6, 1, 2, 1, 2, 2, 1)  # ifEntry; the index is ifIndex
_MORE: Final[Oid] = (1, 3, 6, 1, 2, 1, 31, 1, 1, 1)  # ifXEntry
_BRIDGE: Final[Oid] = (1, 3, 6, 1, 2, 1, 17)  # dot1dBridge
_POWER: Final[Oid] = (1, 3, 6, 1, 2, 1, 105, 1)  # pethObjects
_LLDP: Final[Oid] = (1, 0, 8802, 1, 1, 2, 1)  # lldpObjects

IF_TYPE: Final[Oid] = (*_INTERFACE, 3)
IF_MAC: Final[Oid] = (*_INTERFACE, 6)
IF_STATUS: Final[Oid] = (*_INTERFACE, 8)
IF_IN_FRAMES: Final[Oid] = (*_INTERFACE, 11)
IF_IN_ERRORS: Final[Oid] = (*_INTERFACE, 14)
IF_OUT_FRAMES: Final[Oid] = (*_INTERFACE, 17)
IF_OUT_ERRORS: Final[Oid] = (*_INTERFACE, 20)
IF_NAME: Final[Oid] = (*_MORE, 1)
IF_IN_FRAMES_LONG: Final[Oid] = (*_MORE, 7)
"""ifHCInUcastPkts: the same as the one above in 64 bits, which does not begin anew every few weeks of video."""
IF_OUT_FRAMES_LONG: Final[Oid] = (*_MORE, 11)
IF_SPEED: Final[Oid] = (*_MORE, 15)
BRIDGE_PORT: Final[Oid] = (*_BRIDGE, 1, 4, 1, 2)
"""dot1dBasePortIfIndex; the index is the port."""
LEARNED: Final[Oid] = (*_BRIDGE, 4, 3, 1, 2)
"""dot1dTpFdbPort; the index is the MAC address."""
LEARNED_BY_VLAN: Final[Oid] = (*_BRIDGE, 7, 1, 2, 2, 1, 2)
"""dot1qTpFdbPort; the index is the database and the MAC address."""
POE_ENABLED: Final[Oid] = (*_POWER, 1, 1, 3)
"""pethPsePortAdminEnable, a TruthValue; the index is the group and the port."""
POE_STATUS: Final[Oid] = (*_POWER, 1, 1, 6)
POE_CLASS: Final[Oid] = (*_POWER, 1, 1, 10)
SUPPLY_POWER: Final[Oid] = (*_POWER, 3, 1, 1, 2)
"""pethMainPsePower in watts; the index is the group."""
SUPPLY_STATUS: Final[Oid] = (*_POWER, 3, 1, 1, 3)
SUPPLY_GIVEN: Final[Oid] = (*_POWER, 3, 1, 1, 4)
LOCAL_KIND: Final[Oid] = (*_LLDP, 3, 7, 1, 2)
"""lldpLocPortIdSubtype; the index is the port as LLDP counts it."""
LOCAL_NAME: Final[Oid] = (*_LLDP, 3, 7, 1, 3)
CHASSIS_KIND: Final[Oid] = (*_LLDP, 4, 1, 1, 4)
"""lldpRemChassisIdSubtype; the index is a time, the port as LLDP counts it, and a number."""
CHASSIS: Final[Oid] = (*_LLDP, 4, 1, 1, 5)
PORT_KIND: Final[Oid] = (*_LLDP, 4, 1, 1, 6)
PORT_NAME: Final[Oid] = (*_LLDP, 4, 1, 1, 7)
SYSTEM_NAME: Final[Oid] = (*_LLDP, 4, 1, 1, 9)

ASKED: Final[tuple[tuple[Oid, ...], ...]] = (
    (IF_TYPE, IF_MAC, IF_STATUS, IF_NAME, IF_SPEED),
    (IF_IN_FRAMES, IF_IN_ERRORS, IF_OUT_FRAMES, IF_OUT_ERRORS, IF_IN_FRAMES_LONG, IF_OUT_FRAMES_LONG),
    (BRIDGE_PORT,),
    (POE_ENABLED, POE_STATUS, POE_CLASS),
    (SUPPLY_POWER, SUPPLY_STATUS, SUPPLY_GIVEN),
    (LOCAL_KIND, LOCAL_NAME),
    (CHASSIS_KIND, CHASSIS, PORT_KIND, PORT_NAME, SYSTEM_NAME),
    (LEARNED_BY_VLAN,),
    (LEARNED,),
)
"""The columns that are asked for, those of one table together."""

_ETHERNET: Final = 6  # ethernetCsmacd, for every speed (RFC 3635 §3.2.4)
_UP: Final = 1  # ifOperStatus up(1) (RFC 2863)
_DOWN: Final = frozenset({2, 6, 7})  # down(2), notPresent(6), lowerLayerDown(7); the others say neither
_TRUE: Final = 1  # TruthValue true(1) (RFC 2579)
_STATUSES: Final[Mapping[int, PoeStatus]] = MappingProxyType(
    {1: PoeStatus.DISABLED, 2: PoeStatus.SEARCHING, 3: PoeStatus.DELIVERING, 4: PoeStatus.FAULT, 5: PoeStatus.TEST,
     6: PoeStatus.OTHER_FAULT}
)  # fmt: skip  # pethPsePortDetectionStatus
_SUPPLIES: Final[Mapping[int, PoeSupply]] = MappingProxyType({1: PoeSupply.ON, 2: PoeSupply.OFF, 3: PoeSupply.FAULTY})
_CLASSES: Final = range(1, 6)  # class0(1) to class4(5)
_CHASSIS_MAC, _PORT_MAC, _BY_NAME, _BY_OWN_WORD = 4, 3, 5, 7
"""LldpChassisIdSubtype macAddress(4); LldpPortIdSubtype macAddress(3), interfaceName(5), local(7)."""
_MAC_BYTES: Final = 6
_LAST_NUMBER: Final = re.compile(r"(\d+)\D*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class LldpNeighbour:
    """Who introduced itself at a port: the MAC addresses it gave for itself and for its port, and its name."""

    macs: tuple[str, ...]
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PortSeen:
    """One port.

    Attributes:
        name: what the switch calls it.
        is_up: whether it has a link; None where it says neither.
        speed_mbps: the speed of the link; None without one, or where it is not told.
        errors_count, frames_count: frames with errors, and with them all for one receiver, both ways, since the
            counters began.
        macs: the MAC addresses learned at it.
        neighbours: who introduced itself there.
        poe: what its power is doing; None where it has none or does not tell.
        poe_class: the class that it measured, 0 to 4; None unless it delivers power, as it means nothing then.
    """

    name: str = ""
    is_up: bool | None = None
    speed_mbps: int | None = None
    errors_count: int | None = None
    frames_count: int | None = None
    macs: tuple[str, ...] = ()
    neighbours: tuple[LldpNeighbour, ...] = ()
    poe: PoeStatus | None = None
    poe_class: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchSeen:
    """What a switch told.

    Attributes:
        ports: by the number that stands on the port, from 1.
        supply: how its PoE supplies are, the worst of several; None where it told of none.
        budget_w: what they can give together.
        given_w: what they give.
        unplaced: what it told that could not be brought to its ports, in words.
    """

    ports: Mapping[int, PortSeen]
    supply: PoeSupply | None = None
    budget_w: int | None = None
    given_w: int | None = None
    unplaced: tuple[str, ...] = ()


def read_switch(values: Mapping[Oid, Value]) -> SwitchSeen:
    """Read what a switch told. What breaks the tables' own rules is passed over."""
    columns: dict[Oid, dict[Oid, Value]] = defaultdict(dict)
    for oid, value in values.items():
        for column in _COLUMNS_OF_LENGTH.get(len(oid), ()):
            if oid[: len(column)] == column:
                columns[column][oid[len(column) :]] = value
    interfaces = {row[0] for row in (*columns[IF_TYPE], *columns[IF_STATUS], *columns[IF_NAME]) if len(row) == 1}
    bridge = {row[0]: index for row, index in columns[BRIDGE_PORT].items() if isinstance(index, int)}
    numbers = _numbers(columns, interfaces, bridge)
    unplaced = [] if numbers or not interfaces else ["its ports: neither their names nor its bridge number them"]
    learned = _learned(columns, {port: numbers[index] for port, index in bridge.items() if index in numbers})
    introduced = _introduced(columns, _lldp_ports(columns, numbers, bridge))
    powered, why = _powered(columns, numbers)
    if why:
        unplaced.append(why)
    there = {number: index for index, number in numbers.items()}
    ports = {
        number: _port(columns, there.get(number), learned.get(number, ()), introduced.get(number, ()),
                      powered.get(number, (None, None)))
        for number in sorted({*there, *powered})
    }  # fmt: skip
    return SwitchSeen(
        ports=ports,
        supply=_worst(columns[SUPPLY_STATUS].values()),
        budget_w=_sum(columns[SUPPLY_POWER].values()),
        given_w=_sum(columns[SUPPLY_GIVEN].values()),
        unplaced=tuple(unplaced),
    )


def mac_text(octets: Iterable[int]) -> str:
    """Return six octets as IEEE 802 writes a MAC address."""
    return "-".join(f"{octet:02X}" for octet in octets)


def _numbers(columns: _Columns, interfaces: set[int], bridge: Mapping[int, int]) -> dict[int, int]:
    """Return the number on the port, by ifIndex.

    The name's last number is on the label ("Port 7", "g1/0/7"), where each has its own and none is 0. Where names do
    not do, the bridge's own count is taken (RFC 4188, dot1dBasePort).
    """
    ethernet = {index for index in interfaces if columns[IF_TYPE].get((index,), _ETHERNET) == _ETHERNET}
    if bridge:
        ethernet &= set(bridge.values())
    named = {
        index: found for index in ethernet if (found := _LAST_NUMBER.search(_text(columns[IF_NAME].get((index,)))))
    }
    numbers = {index: int(found[1]) for index, found in named.items()}
    if len(numbers) == len(ethernet) == len(set(numbers.values())) and 0 not in numbers.values():
        return numbers
    return {index: port for port, index in bridge.items() if index in ethernet}


def _learned(columns: _Columns, by_bridge: Mapping[int, int]) -> dict[int, tuple[str, ...]]:
    """Return the MAC addresses by port."""
    found: dict[int, set[str]] = defaultdict(set)
    for column in (LEARNED, LEARNED_BY_VLAN):
        for row, port in columns[column].items():
            octets = row[-_MAC_BYTES:]
            if isinstance(port, int) and port in by_bridge and _is_mac(octets):
                found[by_bridge[port]].add(mac_text(octets))
    return {number: tuple(sorted(macs)) for number, macs in found.items()}


def _lldp_ports(columns: _Columns, numbers: Mapping[int, int], bridge: Mapping[int, int]) -> dict[int, int]:
    """Return the number on the port by the number that LLDP gives it: what the port is called there decides."""
    by_name = {_text(columns[IF_NAME].get((index,))): number for index, number in numbers.items()}
    macs = [columns[IF_MAC].get((index,)) for index in numbers]
    by_mac = {mac: number for mac, number in zip(macs, numbers.values(), strict=True) if macs.count(mac) == 1}
    found: dict[int, int] = {}
    for row in {*columns[LOCAL_KIND], *columns[LOCAL_NAME], *(row[1:2] for row in columns[CHASSIS])}:
        if len(row) != 1:
            continue
        (lldp,) = row
        kind, called = columns[LOCAL_KIND].get(row), columns[LOCAL_NAME].get(row)
        number = None
        if kind == _BY_NAME:
            number = by_name.get(_text(called))
        elif kind == _PORT_MAC:
            number = by_mac.get(called)
        elif kind == _BY_OWN_WORD:
            word = _text(called)
            number = by_name.get(word) or (numbers.get(int(word)) if word.isdecimal() else None)
        if number is None:  # the port by the bridge's count, or by ifIndex: the two that the standard's note suggests
            number = numbers.get(bridge.get(lldp, lldp))
        if number is not None:
            found[lldp] = number
    return found


def _introduced(columns: _Columns, by_lldp: Mapping[int, int]) -> dict[int, tuple[LldpNeighbour, ...]]:
    """Return who introduced itself, by port."""
    found: dict[int, list[LldpNeighbour]] = defaultdict(list)
    for row in sorted({*columns[CHASSIS], *columns[PORT_NAME], *columns[SYSTEM_NAME]}):
        if len(row) != 3 or row[1] not in by_lldp:
            continue
        macs = {
            mac_text(octets)
            for kind, mac_kind, name in ((CHASSIS_KIND, _CHASSIS_MAC, CHASSIS), (PORT_KIND, _PORT_MAC, PORT_NAME))
            if columns[kind].get(row) == mac_kind
            and isinstance(octets := columns[name].get(row), bytes)
            and _is_mac(octets)
        }
        one = LldpNeighbour(macs=tuple(sorted(macs)), name=_text(columns[SYSTEM_NAME].get(row)))
        if one.macs or one.name:
            found[by_lldp[row[1]]].append(one)
    return {number: tuple(there) for number, there in found.items()}


def _powered(
    columns: _Columns, numbers: Mapping[int, int]
) -> tuple[dict[int, tuple[PoeStatus | None, int | None]], str]:
    """Return status and class by port, and why they could not be brought to ports.

    Within the one group the index is the number of the port, or else the ifIndex, as some have it; how several groups
    are numbered is each maker's own business (RFC 3621, "the numbering scheme for ports is implementation specific").
    """
    rows = {row for row in (*columns[POE_STATUS], *columns[POE_ENABLED]) if len(row) == 2}
    if not rows:
        return {}, ""
    if len({group for group, _ in rows}) > 1:
        return {}, "its PoE: the ports are in several groups, which it does not number through"
    on_ports = set(numbers.values())
    by_number = not numbers or {port for _, port in rows} <= on_ports
    found: dict[int, tuple[PoeStatus | None, int | None]] = {}
    for row in rows:
        number = row[1] if by_number else numbers.get(row[1])
        if number is None:
            continue
        status = _STATUSES.get(_whole(columns[POE_STATUS].get(row)))
        if columns[POE_ENABLED].get(row, _TRUE) != _TRUE:
            status = PoeStatus.DISABLED
        measured = _whole(columns[POE_CLASS].get(row))
        is_class = status is PoeStatus.DELIVERING and measured in _CLASSES
        found[number] = (status, measured - 1 if is_class else None)
    return found, "" if found else "its PoE: the ports have other numbers there than their names tell"


def _port(
    columns: _Columns,
    index: int | None,
    macs: tuple[str, ...],
    neighbours: tuple[LldpNeighbour, ...],
    power: tuple[PoeStatus | None, int | None],
) -> PortSeen:
    row = (index,) if index is not None else ()
    status, speed_mbps = _whole(columns[IF_STATUS].get(row)), _whole(columns[IF_SPEED].get(row))
    is_up = True if status == _UP else False if status in _DOWN else None
    errors_count = _sum(columns[column].get(row) for column in (IF_IN_ERRORS, IF_OUT_ERRORS))
    frames_count = _sum(
        columns[long].get(row, columns[short].get(row))
        for long, short in ((IF_IN_FRAMES_LONG, IF_IN_FRAMES), (IF_OUT_FRAMES_LONG, IF_OUT_FRAMES))
    )
    return PortSeen(
        name=_text(columns[IF_NAME].get(row)),
        is_up=is_up,
        speed_mbps=speed_mbps if is_up and speed_mbps > 0 else None,
        errors_count=errors_count,
        frames_count=None if errors_count is None or frames_count is None else frames_count + errors_count,
        macs=macs,
        neighbours=neighbours,
        poe=power[0],
        poe_class=power[1],
    )


def _worst(statuses: Iterable[Value]) -> PoeSupply | None:
    there = Counter(supply for status in statuses if (supply := _SUPPLIES.get(_whole(status))) is not None)
    return next((supply for supply in (PoeSupply.FAULTY, PoeSupply.OFF, PoeSupply.ON) if there[supply]), None)


def _sum(numbers: Iterable[Value | None]) -> int | None:
    there = [number for number in numbers if isinstance(number, int)]
    return sum(there) if there else None


def _whole(value: Value | None) -> int:
    """Return a number, or -1 where there is none: no figure that is read here goes below 0."""
    return value if isinstance(value, int) else -1


def _text(value: Value | None) -> str:
    """Return a name in one line of letters that can be shown."""
    if not isinstance(value, bytes):
        return ""
    return "".join(letter for letter in value.decode("utf-8", "replace") if letter.isprintable()).strip()


def _is_mac(octets: Iterable[int]) -> bool:
    """Return whether octets are the address of one device: six, not all 0, without the mark of a group (IEEE 802)."""
    there = tuple(octets)
    return len(there) == _MAC_BYTES and all(0 <= one <= 255 for one in there) and any(there) and not there[0] & 1


def _all_columns() -> Iterator[Oid]:
    for table in ASKED:
        yield from table


_INDEX_LENGTHS: Final[Mapping[Oid, tuple[int, ...]]] = MappingProxyType(
    dict.fromkeys(_all_columns(), (1,))
    | dict.fromkeys((POE_ENABLED, POE_STATUS, POE_CLASS), (2,))
    | dict.fromkeys((CHASSIS_KIND, CHASSIS, PORT_KIND, PORT_NAME, SYSTEM_NAME), (3,))
    | {LEARNED: (6,), LEARNED_BY_VLAN: (7,)}
)
_COLUMNS_OF_LENGTH: Final[Mapping[int, tuple[Oid, ...]]] = MappingProxyType(
    {
        length: tuple(column for column, (own,) in _INDEX_LENGTHS.items() if len(column) + own == length)
        for length in {len(column) + own for column, (own,) in _INDEX_LENGTHS.items()}
    }
)
"""The columns by the length of a whole name, so that a thousand learned addresses are not each compared with all."""
