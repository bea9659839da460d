"""New secrets, and a new range for a subnet."""

from ipaddress import IPv4Address
from typing import Any, TypeAlias

from doorwright.kernel.errors import Mistake, Refused
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.ranges import address_of, hosts_of, network_of, span_of
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called
from doorwright.plan.edits.edit import Edit, Rework

Hosts: TypeAlias = tuple[IPv4Address, IPv4Address]
"""The first and last address of a subnet that a host may have."""


def new_secret(walk: Walk, name: str, use: SecretUse | None = None) -> Edit:
    """Let a unit's or switch's secrets be issued anew: one of them, or where ``use`` is None all.

    Raises:
        Refused: there is no such unit or switch, or no such secret was issued to it.
    """
    owner: Unit | Switch = called(walk, name, Unit, Switch)
    marks = [mark for mark in walk.secrets_of(owner.id) if use in (None, mark.use)]
    if not marks:
        what = use.value if use is not None else "secret"
        raise Refused(
            f"no {what} was issued to {owner.name}", remedy="Issue what is missing first: doorwright plan BOOK"
        )
    rework = Rework(walk)
    for mark in sorted(marks, key=lambda mark: mark.line):
        rework.drop(mark)
        rework.tell(f"The {mark.use.value} on line {mark.line} of the sealed sheet no longer holds; the vault keeps it")
    words = " and ".join(sorted({mark.use.value for mark in marks}))
    return rework.done(f"new {words} for {owner.name}")


def new_subnet(walk: Walk, name: str, *, cidr: str, gateway: str | None = None) -> Edit:
    """Give a subnet another range. Holders whose address the new range cannot have are issued another; others keep it.

    Raises:
        Refused: there is no such subnet, the range or gateway cannot be read, or they do not go together; all at once.
    """
    subnet: Subnet = called(walk, name, Subnet)
    network = network_of(cidr)
    mistakes: list[Mistake] = []
    if network is None or "/" not in cidr:
        remedy = "Write it in prefix form, such as 192.0.2.0/24."
        mistakes.append(Mistake(where="range", read=cidr, problem="this is no IPv4 subnet", remedy=remedy))
    else:
        for other in walk.all(Subnet):
            taken = network_of(other.cidr)
            if other.id != subnet.id and taken is not None and taken.overlaps(network):
                problem = f"subnet {other.name} ({other.cidr}) lies in the same addresses"
                remedy = "Ask the network's owner for a range of its own."
                mistakes.append(Mistake(where="range", read=cidr, problem=problem, remedy=remedy))
    if gateway is not None:
        read = address_of(gateway)
        if read is None:
            remedy = "Write four numbers up to 255, such as 192.0.2.1."
            mistakes.append(Mistake(where="gateway", read=gateway, problem="this is no IPv4 address", remedy=remedy))
        elif network is not None and not _within(gateway, hosts_of(network)):
            remedy = "A gateway has an address of its own subnet."
            mistakes.append(Mistake(where="gateway", read=gateway, problem=f"it is no host of {cidr}", remedy=remedy))
    elif network is not None and subnet.gateway is not None and not _within(subnet.gateway, hosts_of(network)):
        # without it, somebody might be issued the gateway's address, and what was issued stays
        problem = f"the old gateway is no host of {cidr}, and no other is named"
        remedy = "Give --gateway, as the network's owner says."
        mistakes.append(Mistake(where="gateway", read=subnet.gateway, problem=problem, remedy=remedy))
    if mistakes or network is None:
        raise Refused(f"subnet {subnet.name} cannot get this range", mistakes=tuple(mistakes))
    rework = Rework(walk)
    values = _bounds(rework, subnet, hosts_of(network))
    changed = Subnet(
        id=subnet.id, name=subnet.name, notes=subnet.notes, vlan=subnet.vlan, kinds=subnet.kinds,
        cidr=str(network), gateway=gateway or subnet.gateway, **values,
    )  # fmt: skip
    if changed == subnet:
        raise Refused(f"subnet {subnet.name} is {cidr} already", remedy="Nothing is left to do.")
    rework.put(subnet, cidr=changed.cidr, gateway=changed.gateway, **values)
    _free_addresses(rework, changed)
    was = f"{subnet.cidr} -> {changed.cidr}" if subnet.cidr != changed.cidr else changed.cidr
    gate = f", gateway {changed.gateway}" if changed.gateway != subnet.gateway else ""
    return rework.done(f"new range of subnet {subnet.name}: {was}{gate}")


def _bounds(rework: Rework, subnet: Subnet, hosts: Hosts) -> dict[str, Any]:
    """Return which of the bounds and reserved addresses go on holding in the new range, and tell of the others."""
    values: dict[str, Any] = {}
    dropped: list[str] = []
    for field, words in (("first", "first to issue"), ("last", "last to issue")):
        bound = getattr(subnet, field)
        holds = bound is None or _within(bound, hosts)
        values[field] = bound if holds else None
        dropped += [] if holds else [f"{bound}, the {words}"]
    spans = {text: span_of(text) for text in subnet.reserved}
    kept = [text for text, span in spans.items() if span and all(_within(str(end), hosts) for end in span)]
    dropped += [f"{text}, reserved" for text in spans if text not in kept]
    values["reserved"] = tuple(kept)
    if dropped:
        rework.trouble(
            (subnet,),
            f"no longer in the range and dropped: {'; '.join(dropped)}",
            "Ask the network's owner what they keep for themselves in the new range; if that meets addresses issued "
            "now, undo, enter it on the sheet Subnets, and change the range again.",
        )
    return values


def _free_addresses(rework: Rework, subnet: Subnet) -> None:
    walk = rework.walk
    moving = [
        holder
        for holder in walk.holders_in_subnet(subnet.id)
        if holder.address is not None and not _may_have(subnet, holder.address)
    ]
    for holder in moving:
        rework.put(holder, address=None)
    if moving:
        names = ", ".join(sorted((holder.name for holder in moving), key=natural_key)[:6])
        more = f" and {len(moving) - 6} more" if len(moving) > 6 else ""
        what = "1 address" if len(moving) == 1 else f"{len(moving)} addresses"
        rework.tell(f"{what} must be issued anew, because {subnet.cidr} cannot have what there is: {names}{more}")
    elsewhere = [server for server in walk.all(SipServer) if _moved_away(walk, subnet, server)]
    for server in elsewhere:
        rework.trouble(
            (server,),
            f"{server.name} has {server.address}, an address of the range that was given up",
            "Ask whoever runs the server for its new address, and enter it in the workbook.",
        )


def _moved_away(walk: Walk, subnet: Subnet, server: SipServer) -> bool:
    old = network_of(walk.get(Subnet, subnet.id).cidr)
    address = address_of(server.address) if server.address is not None else None
    new = network_of(subnet.cidr)
    return address is not None and old is not None and address in old and (new is None or address not in new)


def _may_have(subnet: Subnet, text: str) -> bool:
    """Say whether an address may stay: a host of the range, within its bounds, neither reserved nor the gateway."""
    network, address = network_of(subnet.cidr), address_of(text)
    if network is None or address is None or text == subnet.gateway:
        return False
    low, high = hosts_of(network)
    first, last = address_of(subnet.first or "") or low, address_of(subnet.last or "") or high
    closed = [span for reserved in subnet.reserved if (span := span_of(reserved)) is not None]
    return max(low, first) <= address <= min(high, last) and not any(a <= address <= b for a, b in closed)


def _within(text: str, hosts: Hosts) -> bool:
    address = address_of(text)
    low, high = hosts
    return address is not None and low <= address <= high
