"""A configuration for dnsmasq as a DHCP server: addresses kept by MAC address (RFC 2131), and none for anybody else."""

from collections.abc import Iterator
from typing import Final

from doorwright.model.walk import Walk
from doorwright.render.services.hosts import LEASE_S, SubnetHosts, subnets_with_hosts
from doorwright.render.services.served import Served, ServerFile
from doorwright.render.services.spelling import notes

NAME: Final = "dnsmasq.conf"


def dnsmasq_files(walk: Walk, title: str) -> Served:
    """Return the configuration; it answers no questions for names, so that it stands beside a name server."""
    subnets, remarks = subnets_with_hosts(walk)
    if not subnets:
        return Served(remarks=("No DHCP: the site has no subnets that can be served", *remarks))
    told = notes([title, "DHCP for units and switches by MAC address. Who is not listed gets no answer.", *remarks])
    # "static": no address is given out but those listed below; "!known": the others are not even answered
    lines = [told, "", "port=0", "dhcp-ignore=tag:!known"]
    for subnet in subnets:
        lines += ["", *_subnet(subnet)]
    return Served(files=(ServerFile(name=NAME, text="\n".join(lines) + "\n"),), remarks=remarks)


def _subnet(subnet: SubnetHosts) -> Iterator[str]:
    tag = f"subnet{subnet.number}"
    yield notes([f"{subnet.name}, {subnet.network}"])
    yield f"dhcp-range=set:{tag},{subnet.network.network_address},static,{subnet.network.netmask},{LEASE_S}"
    # without a value the option is not sent: else dnsmasq tells its own address as the router
    yield f"dhcp-option=tag:{tag},option:router" + (f",{subnet.gateway}" if subnet.gateway else "")
    if subnet.time_server:
        yield f"dhcp-option=tag:{tag},option:ntp-server,{subnet.time_server}"
    for host in subnet.hosts:
        yield notes([host.label])
        yield f"dhcp-host={host.mac},{host.address},{host.host}"
