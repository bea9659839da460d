"""A configuration for the time server chrony (RFC 5905): it answers the site's subnets, also without the internet."""

from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.network import Subnet
from doorwright.model.ranges import network_of
from doorwright.model.walk import Walk
from doorwright.render.services.hosts import time_server_of
from doorwright.render.services.served import Served, ServerFile
from doorwright.render.services.spelling import notes

NAME: Final = "chrony.conf"
STRATUM: Final = 10
"""What the server claims where it has no better clock to follow. Common practice: a real one is always preferred."""


def ntp_files(walk: Walk, title: str) -> Served:
    """Return the configuration. Which clock it follows is for the owner of the network to enter."""
    subnets = sorted(walk.all(Subnet), key=lambda one: (natural_key(one.name), one.id))
    networks = {subnet.id: network for subnet in subnets if (network := network_of(subnet.cidr)) is not None}
    if not networks:
        return Served(remarks=("No time server: the site has no subnets that can be served",))
    remarks = [] if time_server_of(walk) else ["No SIP server has an address, so DHCP tells no unit where the time is"]
    remarks.append(
        "Time: no outer clock is named; enter the owner's in chrony.conf, else the machine's own clock holds"
    )
    head = [title, "Time for units and switches.", *remarks, "server ADDRESS iburst"]
    lines = [
        notes(head),
        "",
        "driftfile /var/lib/chrony/chrony.drift",
        "makestep 1.0 3",
        "rtcsync",
        f"local stratum {STRATUM}",
    ]
    for subnet in subnets:
        if subnet.id in networks:
            lines += ["", notes([subnet.name]), f"allow {networks[subnet.id]}"]
    return Served(files=(ServerFile(name=NAME, text="\n".join(lines) + "\n"),), remarks=tuple(remarks))
