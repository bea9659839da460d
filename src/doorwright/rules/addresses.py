"""Addresses: every unit has one of its own, where its subnet allows, and subnets do not get in each other's way."""

from collections.abc import Iterator
from functools import lru_cache
from ipaddress import IPv4Address, IPv4Network
from typing import Final

from doorwright.calc.addresses import AddressUse, range_of
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, named, others, some, speaks_for
from doorwright.studies.subnet_room import subnet_room

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
VLAN_LAST: Final = 4094
"""IEEE 802.1Q: identifiers 1 to 4094; 0 marks priority only, 4095 is reserved."""


@lru_cache(maxsize=4096)
def network_of(cidr: str) -> IPv4Network | None:
    """Return the IPv4 range of a text in prefix form, whatever its host bits, or None where it is none."""
    try:
        return IPv4Network(cidr, strict=False)
    except ValueError:
        return None


def address_of(text: str) -> IPv4Address | None:
    """Return the IPv4 address of a text, or None where it is none."""
    try:
        return IPv4Address(text)
    except ValueError:
        return None


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-2", "network"), Cite("practice")),
    finds=Example("The unit of dwelling 102 loses its address.", put(Unit, "uru-2", address=None)),
    passes=Example("Every unit has an address.", as_it_is),
)
def unit_without_address(facts: Facts, unit: Unit) -> Said:
    """A unit has no address.

    Why it matters: it cannot be entered at its registrar, and stays at whatever address it has from its maker.
    What to do: let the address planner issue one, or enter the one that the network's owner gave.
    """
    if unit.address:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, unit)} has no address")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc5227", "§1, address conflicts"),),
    finds=Example("The unit of dwelling 102 gets the address of 101's.", put(Unit, "uru-2", address="192.0.2.21")),
    passes=Example("It gets a free address.", put(Unit, "uru-2", address="192.0.2.99")),
)
def address_used_twice(facts: Facts, unit: Unit) -> Said:
    """An address is given to two parts.

    Why it matters: replies come and go, now one answers and now the other, and both seem to be broken.
    What to do: keep the address where it is set already and give the other a free one.
    """
    if not unit.address:
        return
    holders = facts.walk.holders_of_address(unit.address)
    if len(holders) == 1:
        yield HOLDS
    elif speaks_for(unit, holders):
        rest = others(unit, holders)
        names = some(named(facts.walk, part) for part in rest)
        yield Found(f"{named(facts.walk, unit)} has address {unit.address}, and so has {names}", rest)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1"), Cite("rfc3021", "§2.1")),
    finds=Example(
        "The unit of dwelling 102 gets an address of another range.", put(Unit, "uru-2", address="192.0.3.9")
    ),
    passes=Example("It gets another address of its subnet.", put(Unit, "uru-2", address="192.0.2.200")),
)
def address_not_to_be_issued(facts: Facts, unit: Unit) -> Said:
    """An address lies outside its subnet, or is one that must not be issued.

    Why it matters: outside its subnet a unit reaches nobody; the network's own address, the broadcast address and the
    gateway's belong to others; reserved addresses were promised to somebody else.
    What to do: issue another address of the subnet, or correct the subnet's limits with the network's owner.
    """
    yield from _issued(facts.walk, unit)


@rule(
    over=Switch,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1"), Cite("rfc3021", "§2.1"), Cite("practice", "switches are managed")),
    finds=Example("The riser's switch gets the gateway's address.", put(Switch, "switch-1", address="198.51.100.1")),
    passes=Example("It gets another address of its subnet.", put(Switch, "switch-1", address="198.51.100.9")),
)
def switch_address_not_to_be_issued(facts: Facts, switch: Switch) -> Said:
    """A switch has no address, or one that must not be issued.

    Why it matters: the switch cannot be reached to see which ports have link and power, or takes the place of another
    part of the network.
    What to do: issue another address of its subnet.
    """
    if switch.address:
        yield from _issued(facts.walk, switch)
    else:
        yield Found(f"{named(facts.walk, switch)} has no address")


def _issued(walk: Walk, part: Unit | Switch) -> Said:
    if not part.address:
        return
    address = address_of(part.address)
    if address is None:
        yield Found(f"{named(walk, part)}: {part.address!r} is no IPv4 address")
        return
    subnet = walk.find(Subnet, part.subnet)
    if subnet is None:
        yield lacks(part, "subnet")
        return
    network = network_of(subnet.cidr)
    if network is None:
        yield lacks(subnet, "range")
        return
    fault = _fault(subnet, network, address)
    if fault is None:
        yield HOLDS
    else:
        yield Found(
            f"{named(walk, part)}: address {address} {fault} of subnet {subnet.name} ({subnet.cidr})", (subnet,)
        )


def _fault(subnet: Subnet, network: IPv4Network, address: IPv4Address) -> str | None:
    # a prefix of 31 or 32 has neither network nor broadcast address (RFC 3021)
    edges = network.prefixlen < 31
    if address not in network:
        return "lies outside the range"
    if edges and address == network.network_address:
        return "is the network's own address"
    if edges and address == network.broadcast_address:
        return "is the broadcast address"
    if subnet.gateway and address == address_of(subnet.gateway):
        return "is the gateway"
    return _not_to_be_issued(subnet, address)


def _not_to_be_issued(subnet: Subnet, address: IPv4Address) -> str | None:
    first, last = (address_of(text) if text else None for text in (subnet.first, subnet.last))
    if (first and address < first) or (last and address > last):
        return f"lies outside {subnet.first or 'the start'} to {subnet.last or 'the end'}, the part to be issued"
    for text in subnet.reserved:
        span = _span(text)
        if span and span[0] <= address <= span[1]:
            return f"lies in the reserved part {text}"
    return None


def _span(text: str) -> tuple[IPv4Address, IPv4Address] | None:
    low_text, _, high_text = text.partition("-")
    low, high = address_of(low_text.strip()), address_of((high_text or low_text).strip())
    return (low, high) if low and high else None


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc5227", "§1, address conflicts"),),
    finds=Example(
        "Both switches get one address.",
        put(Switch, "switch-2", address="198.51.100.2"),
    ),
    passes=Example("Each switch has an address of its own.", as_it_is),
)
def switch_address_used_twice(facts: Facts, switch: Switch) -> Said:
    """Two switches, or a switch and a server, have one address.

    Why it matters: which of them answers is a matter of luck, and settings go to the wrong one.
    What to do: keep the address where it is set already and give the other a free one.
    """
    holders = facts.walk.holders_of_address(switch.address) if switch.address else ()
    if any(isinstance(holder, Unit) for holder in holders) or not holders:
        return  # a clash with a unit is told with the unit
    if len(holders) == 1:
        yield HOLDS
    elif speaks_for(switch, holders):
        rest = others(switch, holders)
        names = some(named(facts.walk, part) for part in rest)
        yield Found(f"{named(facts.walk, switch)} has address {switch.address}, and so has {names}", rest)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a subnet may be kept for one kind of unit"),),
    finds=Example(
        "The unit of dwelling 102 is put into the switches' subnet.",
        put(Unit, "uru-2", subnet="net-switches", address="198.51.100.9"),
    ),
    passes=Example(
        "The units' subnet is kept for VCUs, URUs and SMUs.", put(Subnet, "net-units", kinds=("VCU", "URU", "SMU"))
    ),
)
def subnet_for_other_kinds(facts: Facts, unit: Unit) -> Said:
    """A unit is in a subnet that is kept for other kinds.

    Why it matters: the owner's firewall and VLAN rules were written for the kinds agreed; this unit may be cut off.
    What to do: issue an address from the right subnet, or agree with the owner that the subnet takes this kind.
    """
    subnet = facts.walk.find(Subnet, unit.subnet)
    if subnet is None or not subnet.kinds:
        return
    if unit.kind.value in subnet.kinds:
        yield HOLDS
    else:
        kept = ", ".join(subnet.kinds)
        yield Found(f"{named(facts.walk, unit)} is in subnet {subnet.name}, which is kept for {kept}", (subnet,))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "between subnets a gateway leads"), Cite("iec62820-1-2", "network")),
    finds=Example(
        "The unit of dwelling 102 is in another subnet than its registrar, and that has no gateway.",
        both(
            put(Unit, "uru-2", subnet="net-switches", address="198.51.100.9"),
            put(Subnet, "net-switches", gateway=None, kinds=()),
        ),
    ),
    passes=Example(
        "It is in another subnet; both have a gateway.",
        both(
            put(Unit, "uru-2", subnet="net-switches", address="198.51.100.9"),
            put(Subnet, "net-switches", kinds=()),
        ),
    ),
)
def registrar_out_of_reach(facts: Facts, unit: Unit) -> Said:
    """A unit and its registrar are in different subnets without a gateway between them.

    Why it matters: the unit never registers, though everything entered at both ends agrees.
    What to do: enter the gateway of both subnets, or give both an address from one subnet.
    """
    walk = facts.walk
    registrar = walk.find(Unit, unit.registrar)
    own = walk.find(Subnet, unit.subnet)
    if registrar is None or own is None:
        return
    far = walk.find(Subnet, registrar.subnet)
    if far is None:
        yield lacks(registrar, "subnet")
        return
    closed = sorted({subnet.name for subnet in (own, far) if not subnet.gateway}) if own.id != far.id else []
    if closed:
        yield Found(
            f"{named(walk, unit)} is in subnet {own.name}, {named(walk, registrar)} in {far.name};"
            f" no gateway is known for {' and '.join(closed)}",
            (registrar,),
        )
    else:
        yield HOLDS


@rule(
    over=Subnet,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1"),),
    finds=Example("The units' range has host bits.", put(Subnet, "net-units", cidr="192.0.2.20/24")),
    passes=Example("The units' range is 192.0.2.0/24.", as_it_is),
)
def subnet_not_a_range(facts: Facts, subnet: Subnet) -> Said:
    """A subnet is not written as a range, or one of its limits is no address.

    Why it matters: nobody can say which addresses were given to the system; the mask entered at the units may be wrong.
    What to do: write it as its network address and prefix, for example 192.0.2.0/24, and limits as single addresses.
    """
    network = network_of(subnet.cidr)
    faults = []
    if network is None:
        faults.append(f"{subnet.cidr!r} is no IPv4 range")
    elif "/" not in subnet.cidr or str(network.network_address) != subnet.cidr.partition("/")[0]:
        faults.append(f"{subnet.cidr} is the address of a host in {network}")
    for name, text in (("gateway", subnet.gateway), ("first", subnet.first), ("last", subnet.last)):
        if text and address_of(text) is None:
            faults.append(f"{name} {text!r} is no IPv4 address")
    faults += [f"reserved {text!r} is neither an address nor a range" for text in subnet.reserved if not _span(text)]
    yield from found_or_holds(Found(f"{named(facts.walk, subnet)}: {fault}") for fault in faults)


@rule(
    over=Subnet,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1"), Cite("practice")),
    finds=Example("The units' gateway is in another range.", put(Subnet, "net-units", gateway="192.0.3.1")),
    passes=Example(
        "The units' gateway is the last address of the range.", put(Subnet, "net-units", gateway="192.0.2.254")
    ),
)
def gateway_outside_subnet(facts: Facts, subnet: Subnet) -> Said:
    """The gateway is not an address of its subnet.

    Why it matters: units reach their own subnet and nothing else.
    What to do: ask the network's owner for the gateway of this subnet.
    """
    network = network_of(subnet.cidr)
    gateway = address_of(subnet.gateway) if subnet.gateway else None
    if gateway is None:
        return
    if network is None:
        yield lacks(subnet, "range")
        return
    edges = (network.network_address, network.broadcast_address) if network.prefixlen < 31 else ()
    if gateway in network and gateway not in edges:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, subnet)}: gateway {gateway} is no host's address in {network}")


@rule(
    over=Subnet,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1"), Cite("rfc3021", "§2.1")),
    finds=Example("The units' range shrinks to eight addresses.", put(Subnet, "net-units", cidr="192.0.2.0/29")),
    passes=Example("It shrinks to sixty-four.", put(Subnet, "net-units", cidr="192.0.2.0/26")),
)
def subnet_too_small(facts: Facts, subnet: Subnet) -> Said:
    """A subnet has fewer addresses to issue than units that want one.

    Why it matters: the last units get no address; widening a range later means visiting every unit for its mask.
    What to do: ask for a larger range now, and leave room for units to come.
    """
    room = subnet_room(facts.walk, subnet)
    if room.value is None:
        if room.missing:
            yield Lacks(room.missing)
    elif room.value.free_count < 0:
        yield Found(
            f"{named(facts.walk, subnet)}: {room.value.holders_count} units and switches want an address,"
            f" {subnet.cidr} has {room.value.usable_count} to issue"
        )
    else:
        yield HOLDS


@rule(
    over=Subnet,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("rfc1918", "§3"), Cite("rfc5737", "§3"), Cite("rfc6598", "§7")),
    finds=Example("The units get a range of public addresses.", put(Subnet, "net-units", cidr="11.0.0.0/16")),
    passes=Example("The units' range is one for documentation.", as_it_is),
)
def public_addresses_inside(facts: Facts, subnet: Subnet) -> Said:
    """A subnet inside the building has public addresses.

    Why it matters: they belong to somebody on the internet. Units may be reachable from there, or cannot reach the
    rightful owner's services.
    What to do: use the private ranges 10.0.0.0/8, 172.16.0.0/12 or 192.168.0.0/16, unless the owner holds this range.
    """
    network = network_of(subnet.cidr)
    if network is None:
        yield lacks(subnet, "range")
        return
    ends = (range_of(network.network_address), range_of(network.broadcast_address))
    if ends[0] is not None and ends[0] == ends[1]:
        if ends[0].use is AddressUse.LINK_LOCAL:
            yield Found(f"{named(facts.walk, subnet)}: {network} is link-local: hosts choose from it themselves")
        else:
            yield HOLDS
    else:
        yield Found(f"{named(facts.walk, subnet)}: {network} is not set aside for private use")


@rule(
    over=Subnet,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("ieee8021q", "VLAN identifiers 1 to 4094"),),
    finds=Example("The units' VLAN is 4095.", put(Subnet, "net-units", vlan=4095)),
    passes=Example("The units' VLAN is 4094.", put(Subnet, "net-units", vlan=4094)),
)
def vlan_out_of_range(facts: Facts, subnet: Subnet) -> Said:
    """A VLAN number is none that a switch can be given.

    Why it matters: the switch refuses it, or treats the units' traffic as untagged.
    What to do: agree a number from 1 to 4094 with the network's owner.
    """
    if subnet.vlan is None:
        return
    if 1 <= subnet.vlan <= VLAN_LAST:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, subnet)}: VLAN {subnet.vlan}; there are 1 to {VLAN_LAST}")


@rule(
    over=Subnet,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc4632", "§3.1, prefixes nest or are apart"), Cite("practice", "one subnet, one VLAN")),
    finds=Example(
        "A third subnet lies within the units' range.",
        plus(Subnet(id="net-more", name="More", cidr="192.0.2.128/25", vlan=40)),
    ),
    passes=Example(
        "A third subnet lies beside it.", plus(Subnet(id="net-more", name="More", cidr="203.0.113.0/25", vlan=40))
    ),
)
def subnets_overlap(facts: Facts, subnet: Subnet) -> Said:
    """Two subnets have addresses in common, or share a VLAN.

    Why it matters: units in an overlap are reached from one side only; two subnets in one VLAN see each other's
    broadcasts, and a unit with the wrong mask still half works.
    What to do: agree separate ranges and VLANs with the network's owner.
    """
    network = network_of(subnet.cidr)
    rest = [other for other in facts.walk.all(Subnet) if other.id > subnet.id]
    yield from found_or_holds(_in_the_way(facts.walk, subnet, network, rest))


def _in_the_way(walk: Walk, subnet: Subnet, network: IPv4Network | None, rest: list[Subnet]) -> Iterator[Found]:
    for other in rest:
        far = network_of(other.cidr)
        if network is not None and far is not None and network.overlaps(far):
            yield Found(f"{named(walk, subnet)} ({network}) and {named(walk, other)} ({far}) overlap", (other,))
        if subnet.vlan is not None and subnet.vlan == other.vlan:
            yield Found(f"{named(walk, subnet)} and {named(walk, other)} are both in VLAN {subnet.vlan}", (other,))


@rule(
    over=SipServer,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc3261", "§10 and §22.1"), Cite("practice")),
    finds=Example("A SIP server without address is added.", plus(SipServer(id="server", name="SIP 1"))),
    passes=Example(
        "A SIP server with address and realm is added.",
        plus(SipServer(id="server", name="SIP 1", address="192.0.2.5", realm="doors.example", registrations_max=100)),
    ),
)
def server_out_of_reach(facts: Facts, server: SipServer) -> Said:
    """A SIP server has no address or realm that units could be given.

    Why it matters: every unit that registers there is told its address and realm (RFC 3261, section 22.1).
    What to do: ask whoever runs the server.
    """
    faults = [name for name, value in (("address", server.address), ("realm", server.realm)) if not value]
    if not 1 <= server.port <= 65535:
        faults.append(f"usable port ({server.port})")
    yield from found_or_holds(Found(f"{named(facts.walk, server)} has no {fault}") for fault in faults)
