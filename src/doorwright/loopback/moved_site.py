"""A site whose units and SIP servers have the loopback addresses at which they are rehearsed."""

from dataclasses import replace
from ipaddress import AddressValueError
from typing import TypeVar

from doorwright.loopback.places import Places
from doorwright.model.network import SipServer
from doorwright.model.site import Site
from doorwright.model.unit import Unit

P = TypeVar("P", Unit, SipServer)


def moved_site(site: Site, places: Places) -> Site:
    """Return the site with other addresses, so that a real server's files fit the rehearsed units; ports stay.

    Args:
        site: as planned.
        places: of its addresses.
    """
    return replace(
        site,
        units=tuple(_moved(unit, places) for unit in site.units),
        servers=tuple(_moved(server, places) for server in site.servers),
    )


def _moved(part: P, places: Places) -> P:
    if part.address is None:
        return part
    try:
        return replace(part, address=places.of(part.address).address)
    except AddressValueError:  # it has none that is rehearsed
        return part
