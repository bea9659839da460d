"""Has a subnet enough addresses for those that are to take theirs from it?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc import addresses
from doorwright.kernel.verdict import Missing
from doorwright.model.network import SipServer, Subnet
from doorwright.model.ranges import address_of, hosts_of, network_of, span_of
from doorwright.model.walk import Walk
from doorwright.studies.study import Study, Trail

TITLE: Final = "Room in the subnet"


@dataclass(frozen=True, slots=True, kw_only=True)
class SubnetRoom:
    """Addresses of a subnet, and who is to have them.

    ``hosts_count`` is what the prefix gives; ``usable_count`` what may be issued of it: within first and last, and
    neither the gateway, nor reserved, nor a server's. ``holders_count`` counts the units and switches that name the
    subnet, with or without an address yet.
    """

    hosts_count: int
    usable_count: int
    holders_count: int

    @property
    def free_count(self) -> int:
        """Addresses that stay free once every holder has one; negative where they do not suffice."""
        return self.usable_count - self.holders_count


def subnet_room(walk: Walk, subnet: Subnet) -> Study[SubnetRoom]:
    """Study the usable addresses of an IPv4 subnet against the units and switches that take theirs from it.

    Text that is no address counts as missing under the name of its field.
    """
    network = network_of(subnet.cidr)
    if network is None:
        return Study(subnet.subject, TITLE, missing=(Missing(Subnet.KIND, "range in CIDR form (IPv4)"),))
    missing: list[Missing] = []
    low, high = (int(end) for end in hosts_of(network))
    closed: list[tuple[int, int]] = []
    for name, texts in (
        ("first", (subnet.first,)),
        ("last", (subnet.last,)),
        ("gateway", (subnet.gateway,)),
        ("reserved", subnet.reserved),
    ):
        for span in (span_of(text) for text in texts if text):
            if span is None:
                missing.append(Missing(Subnet.KIND, name))
            elif name == "first":
                low = max(low, int(span[0]))
            elif name == "last":
                high = min(high, int(span[1]))
            else:
                closed.append((int(span[0]), int(span[1])))
    if missing:
        return Study(subnet.subject, TITLE, missing=tuple(missing))
    servers = [address_of(server.address) for server in walk.all(SipServer) if server.address]
    closed += [(int(address), int(address)) for address in servers if address]
    trail = Trail()
    value = SubnetRoom(
        hosts_count=trail.run(addresses.usable_hosts_count, prefix_bit=network.prefixlen),
        usable_count=_open_count(low, high, closed),
        holders_count=len(walk.holders_in_subnet(subnet.id)),
    )
    return Study(subnet.subject, TITLE, value, steps=trail.steps)


def _open_count(low: int, high: int, closed: list[tuple[int, int]]) -> int:
    """Count the numbers from low to high that no closed span covers; spans may overlap and lie outside."""
    count, next_open = 0, low
    for first, last in sorted(closed):
        if first > high:
            break
        count += max(0, first - next_open)
        next_open = max(next_open, last + 1)
    return count + max(0, high + 1 - next_open)
