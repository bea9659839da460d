"""Addresses: every unit, switch and server has one of its own, where its subnet allows."""

from ipaddress import IPv4Address, IPv4Network
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.ranges import address_of, network_of, span_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, others, some, speaks_for

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)


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
        span = span_of(text)
        if span and span[0] <= address <= span[1]:
            return f"lies in the reserved part {text}"
    return None


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
