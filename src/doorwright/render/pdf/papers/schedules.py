"""The schedules: dwellings and numbers, addresses, cables, switches and ports."""

from collections.abc import Iterator
from ipaddress import ip_address
from itertools import groupby
from typing import Any, Final

from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.plan.runsheet import switches_from_root
from doorwright.render.pdf.papers.paper import Paper

_GONE: Final = "a part that is gone"


def schedules(walk: Walk) -> Paper | None:
    """Return the schedules, or None where the site has none of what they list."""
    if not any(walk.all(kind) for kind in (Dwelling, Unit, Switch, SipServer, CableRun)):
        return None
    return {
        "kind": "schedules",
        "title": "Schedules",
        "purpose": "dwellings and numbers, addresses, cables, switches and ports",
        "dwellings": [_dwelling(walk, dwelling) for dwelling in WalkingOrder(walk).dwellings()],
        "legends": any(dwelling.legend for dwelling in walk.all(Dwelling)),
        "subnets": [_subnet(walk, subnet) for subnet in walk.all(Subnet)],
        "addresses": [_address(walk, part) for part in _holders(walk)],
        "cables": [_cable(walk, run) for run in sorted(walk.all(CableRun), key=lambda run: natural_key(run.name))],
        "switches": [_switch(walk, switch) for switch in switches_from_root(walk)],
    }


def _dwelling(walk: Walk, dwelling: Dwelling) -> dict[str, Any]:
    core, level = walk.find(Core, dwelling.core), walk.find(Level, dwelling.level)
    return {
        "core": core.name if core else "",
        "level": level.name if level else "",
        "label": dwelling.door_label,
        "number": dwelling.call_number,
        "legend": dwelling.legend or "",
        "units": ", ".join(unit.name for unit in walk.units_in(dwelling.id)),
        "entrances": _entrances(walk, dwelling),
    }


def _entrances(walk: Walk, dwelling: Dwelling) -> str:
    """Return from where a dwelling is called; of many entrances, those that are left out where they are the fewer."""
    serving = {entrance.id for entrance in walk.entrances_serving(dwelling)}
    every = sorted(walk.all(Entrance), key=lambda entrance: natural_key(entrance.name))
    others = [entrance.name for entrance in every if entrance.id not in serving]
    if len(every) > 2 and len(others) < len(serving):
        return "all entrances" + (f" but {', '.join(others)}" if others else "")
    return ", ".join(entrance.name for entrance in every if entrance.id in serving)


def _subnet(walk: Walk, subnet: Subnet) -> dict[str, Any]:
    return {
        "name": subnet.name,
        "cidr": subnet.cidr,
        "gateway": subnet.gateway,
        "vlan": str(subnet.vlan) if subnet.vlan is not None else "",
        "issued_from": f"{subnet.first or 'first'} to {subnet.last or 'last'}"
        if subnet.first or subnet.last
        else "all",
        "reserved": ", ".join(subnet.reserved),
        "holders": str(len(walk.holders_in_subnet(subnet.id))),
    }


def _holders(walk: Walk) -> list[Unit | Switch | SipServer]:
    holders: list[Unit | Switch | SipServer] = [*walk.all(Unit), *walk.all(Switch), *walk.all(SipServer)]
    return sorted(holders, key=lambda part: (*_address_key(part.address), natural_key(part.name)))


def _address_key(address: str | None) -> tuple[int, int, int]:
    try:
        known = ip_address(address or "")
    except ValueError:
        return (1 if address else 2, 0, 0)
    return (0, known.version, int(known))


def _address(walk: Walk, part: Unit | Switch | SipServer) -> dict[str, Any]:
    subnet = walk.find(Subnet, getattr(part, "subnet", None))
    return {
        "address": part.address,
        "name": part.name,
        "kind": part.kind.value if isinstance(part, Unit) else part.KIND,
        "where": where_is(walk, part),
        "mac": getattr(part, "mac", None),
        "serial": getattr(part, "serial", None),
        "subnet": subnet.name if subnet else "",
    }


def _cable(walk: Walk, run: CableRun) -> dict[str, Any]:
    near, far = walk.part(run.near), walk.part(run.far)
    return {
        "name": run.name,
        "near": _end(near, run.near_port),
        "far": _end(far, run.far_port),
        "where": where_is(walk, far) if far else "",
        "cable": run.cable or "",
        "length": f"{run.length_m:g}" if run.length_m is not None else None,
    }


def _end(part: Part | None, port: int | None) -> str:
    name = part.label if part else _GONE
    return f"{name}, port {port}" if port is not None else name


def _switch(walk: Walk, switch: Switch) -> dict[str, Any]:
    profile = walk.profile(switch.profile)
    rows = list(_ports(walk, switch, profile.ports_count if profile else 0, profile.uplinks_count if profile else 0))
    return {
        "name": switch.name,
        "where": where_is(walk, switch),
        "profile": profile.title if profile else switch.profile,
        "address": switch.address,
        "used": f"{sum(1 for row in rows if row['far'])} of {profile.ports_count if profile else 0} ports in use",
        "ports": _free_ports_together(rows),
    }


def _ports(walk: Walk, switch: Switch, ports_count: int, uplinks_count: int) -> Iterator[dict[str, str]]:
    """Yield every port of a switch, free ones too, then runs whose port is not planned."""
    at: dict[int | None, list[tuple[str, str, str]]] = {}
    ends = [(run.near_port, run.far, run.name) for run in walk.runs_from(switch.id)]
    ends += [(run.far_port, run.near, run.name) for run in walk.runs_to(switch.id)]
    for port, other, run_name in ends:
        part = walk.part(other)
        known_part = (part.label, where_is(walk, part)) if part else (_GONE, "")
        at.setdefault(port, []).append((*known_part, run_name))
    known = range(1, ports_count + 1)
    beyond = sorted(port for port in at if port is not None and port not in known)
    for port in [*known, *beyond, None]:
        use = "uplink" if port is not None and ports_count - uplinks_count < port <= ports_count else ""
        rows = at.get(port) or ([] if port is None else [("", "", "")])
        for label, where, name in rows:
            yield {"port": str(port or "–"), "use": use, "far": label, "where": where, "run": name}


def _free_ports_together(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Give neighbouring free ports of one use a single row: "38 to 48"."""
    together: list[dict[str, str]] = []
    for (use, free), group in groupby(rows, key=lambda row: (row["use"], not row["far"])):
        ports = list(group)
        if free and len(ports) > 1:
            together.append({**ports[0], "port": f"{ports[0]['port']} to {ports[-1]['port']}", "use": use})
        else:
            together += ports
    return together
