"""A configuration for the DHCP server Kea: addresses kept by MAC address (RFC 2131), and none for anybody else."""

import json
from typing import Any, Final

from doorwright.model.walk import Walk
from doorwright.render.services.hosts import LEASE_S, Host, SubnetHosts, subnets_with_hosts
from doorwright.render.services.served import Served, ServerFile
from doorwright.render.services.spelling import note

NAME: Final = "kea-dhcp4.conf"


def kea_files(walk: Walk, title: str) -> Served:
    """Return the configuration. A subnet has no pool: who has no address of its own gets no answer.

    Plain JSON: what people named stands in it as ``user-context``, which the server keeps and passes over.
    """
    subnets, remarks = subnets_with_hosts(walk)
    if not subnets:
        return Served(remarks=("No DHCP: the site has no subnets that can be served", *remarks))
    made = {
        "Dhcp4": {
            "user-context": {"made-from": note(title), "left-out": list(map(note, remarks))},
            "interfaces-config": {"interfaces": ["*"]},
            "lease-database": {"type": "memfile", "persist": True, "lfc-interval": 3600},
            "authoritative": False,
            "valid-lifetime": LEASE_S,
            "host-reservation-identifiers": ["hw-address"],
            "reservations-global": False,
            "reservations-in-subnet": True,
            "reservations-out-of-pool": True,
            "subnet4": [_subnet(subnet) for subnet in subnets],
        }
    }
    text = json.dumps(made, indent=2, ensure_ascii=False) + "\n"
    return Served(files=(ServerFile(name=NAME, text=text),), remarks=remarks)


def _subnet(subnet: SubnetHosts) -> dict[str, Any]:
    options = {"routers": subnet.gateway, "ntp-servers": subnet.time_server}
    return {
        "id": subnet.number,
        "subnet": str(subnet.network),
        "user-context": {"name": note(subnet.name)},
        "option-data": [{"name": name, "data": str(data)} for name, data in options.items() if data is not None],
        "reservations": [_reservation(host) for host in subnet.hosts],
    }


def _reservation(host: Host) -> dict[str, Any]:
    return {
        "hw-address": host.mac,
        "ip-address": str(host.address),
        "hostname": host.host,
        "user-context": {"name": note(host.label)},
    }
