"""Which registrar a building's units are for: a SIP server, or the primary units of its own entrances."""

from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.walk import Walk


def server_of_building(walk: Walk, building: str | None) -> SipServer | None:
    """Return the server for a building: one that names it, else one that is for all; of several the first by name.

    None where the building's units register with each other.
    """
    servers = sorted(walk.all(SipServer), key=lambda server: (natural_key(server.name), server.id))
    own = [server for server in servers if building is not None and building in server.serves_buildings]
    return next(iter(own or [server for server in servers if not server.serves_buildings]), None)


def server_of_dwelling(walk: Walk, dwelling: Dwelling) -> SipServer | None:
    """Return the server of a dwelling's building."""
    core = walk.find(Core, dwelling.core)
    return server_of_building(walk, core.building if core else None)


def servers_of_entrance(walk: Walk, entrance: Entrance) -> dict[str | None, SipServer | None]:
    """Return what the dwellings that an entrance serves register with, by identifier; None for each other's units.

    More than one means that no registrar knows all of them.
    """
    buildings = {
        core.building if (core := walk.find(Core, one.core)) else None for one in walk.dwellings_served(entrance)
    }
    found = [server_of_building(walk, building) for building in buildings]
    return {server.id if server else None: server for server in found}
