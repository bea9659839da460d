"""Subnets: each is a range with room for its units, and they do not get in each other's way."""

from collections.abc import Iterator
from ipaddress import IPv4Network
from typing import Final

from doorwright.calc.addresses import AddressUse, range_of
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.network import Subnet
from doorwright.model.ranges import address_of, network_of, span_of
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, plus, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, lacks, rule
from doorwright.rules.saying import found_or_holds
from doorwright.studies.subnet_room import subnet_room

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
VLAN_LAST: Final = 4094
"""IEEE 802.1Q: identifiers 1 to 4094; 0 marks priority only, 4095 is reserved."""


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
    faults += [f"reserved {text!r} is neither an address nor a range" for text in subnet.reserved if not span_of(text)]
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
