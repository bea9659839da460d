"""A subnet and an address for every unit and switch that has none.

The subnet is the one that names the kind of unit, else one that names none. Addresses are given in rising order to
switches, VCUs, SMUs and URUs in walking order, past the gateway, past what is reserved, past what is taken.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network

from doorwright.model.label import natural_key
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.ranges import address_of, hosts_of, span_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder


def plan_addresses(walk: Walk) -> Draft:
    """Draft subnets and addresses."""
    draft = Draft(walk.site)
    rooms = _rooms(walk, draft)
    holders: list[Unit | Switch] = sorted(walk.all(Switch), key=lambda switch: natural_key(switch.name))
    holders += WalkingOrder(walk).units(walk.all(Unit))
    taken = {part.address for part in (*holders, *walk.all(SipServer)) if part.address}
    taken |= {subnet.gateway for subnet in walk.all(Subnet) if subnet.gateway}
    free = {room.subnet.id: room.free(taken) for room in rooms}
    homeless: list[Unit | Switch] = []
    left_over: dict[str, list[Unit | Switch]] = {}
    for part in holders:
        subnet_id = part.subnet or _choose(draft, part, rooms)
        if subnet_id is None:
            homeless.append(part)
        elif part.address is None and subnet_id in free:
            address = next(free[subnet_id], None)
            if address is None:
                left_over.setdefault(subnet_id, []).append(part)
            else:
                taken.add(address)
                draft.fill(part, "address", address, what="address", why="the next free address of its subnet")
    if homeless:
        draft.trouble(
            homeless,
            f"{len(homeless)} units and switches have no subnet to take an address from, or an address outside of all",
            "List the subnets that the network's owner has given, on the sheet Subnets.",
        )
    for subnet_id, parts in left_over.items():
        subnet = walk.get(Subnet, subnet_id)
        draft.trouble(
            [subnet, *parts],
            f"subnet {subnet.name} ({subnet.cidr}) is full: {len(parts)} units and switches get no address",
            "Ask the network's owner for a larger subnet or a second one, or free reserved addresses.",
        )
    return draft


@dataclass(frozen=True, slots=True)
class _Room:
    """What a subnet has to give, as numbers: its ends, and the ranges in it that must not be issued."""

    subnet: Subnet
    network: IPv4Network
    low: int
    high: int
    closed: tuple[tuple[int, int], ...]

    def free(self, taken: set[str]) -> Iterator[str]:
        """Yield addresses in rising order; ``taken`` may grow meanwhile."""
        for number in range(self.low, self.high + 1):
            if any(first <= number <= last for first, last in self.closed):
                continue
            address = str(IPv4Address(number))
            if address not in taken:
                yield address


def _rooms(walk: Walk, draft: Draft) -> list[_Room]:
    rooms: list[_Room] = []
    for subnet in sorted(walk.all(Subnet), key=lambda subnet: natural_key(subnet.name)):
        try:
            rooms.append(_room(subnet))
        except ValueError as error:
            draft.trouble(
                [subnet],
                f"subnet {subnet.name} gives no addresses: {error}",
                "Write the range as an IPv4 subnet such as 192.0.2.0/24, and addresses such as 192.0.2.7.",
            )
    return rooms


def _room(subnet: Subnet) -> _Room:
    network = IPv4Network(subnet.cidr, strict=False)
    low, high = hosts_of(network)
    if subnet.first:
        low = max(low, IPv4Address(subnet.first))
    if subnet.last:
        high = min(high, IPv4Address(subnet.last))
    closed: list[tuple[int, int]] = []
    for text in subnet.reserved:
        span = span_of(text)
        if span is None:
            raise ValueError(f"{text!r} is neither an address nor a range of addresses")
        closed.append((int(span[0]), int(span[1])))
    return _Room(subnet, network, int(low), int(high), tuple(closed))


def _choose(draft: Draft, part: Unit | Switch, rooms: list[_Room]) -> str | None:
    """Fill in the subnet of a part: the one that its address lies in, else the one for its kind, else for everything.

    Only a subnet that can be read is chosen.
    """
    if part.address is not None:
        room = next((room for room in rooms if _lies_in(part.address, room.network)), None)
        why = f"{part.address} lies in it"
    else:
        kind = part.kind.value if isinstance(part, Unit) else part.KIND
        room = next((room for room in rooms if kind in room.subnet.kinds), None)
        why = f"it is for {kind}"
        if room is None:
            room = next((room for room in rooms if not room.subnet.kinds), None)
            why = "it is for everything"
    if room is None:
        return None
    draft.fill(part, "subnet", room.subnet.id, what="choice of subnet", why=f"{room.subnet.name}: {why}")
    return room.subnet.id


def _lies_in(text: str, network: IPv4Network) -> bool:
    address = address_of(text)
    return address is not None and address in network
