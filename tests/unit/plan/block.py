"""An invented block of dwellings for the planners' tests: cores, levels, labels, and units wherever asked."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import count
from random import Random
from typing import Any

from doorwright.model.change import Set
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.plan.draft import Draft
from doorwright.plan.plan import Plan, plan_site
from doorwright.store.profiles import load_profiles

Labels = Mapping[str, Mapping[int, Sequence[str]]]
"""Door labels by core and level."""

KINDS = {"vcu": UnitKind.VCU, "uru": UnitKind.URU, "smu": UnitKind.SMU}


def block(labels: Labels, vcu: str | None = "vcu-directory", **choices: Any) -> Site:
    """Return a block with an entrance and a VCU a core, and a video URU a dwelling.

    Identifiers tell what they are: core "A", dwelling "A/101", its receiver "uru A/101", entrance "at A", its
    visitor call unit "vcu A", level "L-1".
    """
    levels = sorted({order for core in labels.values() for order in core})
    dwellings = [
        Dwelling(id=f"{core}/{label}", door_label=label, core=core, level=f"L{order}")
        for core, storeys in labels.items()
        for order, names in storeys.items()
        for label in names
    ]
    entrances = [Entrance(id=f"at {core}", name=f"Entrance {core}", serves_cores=(core,)) for core in labels]
    units = [unit(f"vcu {core}", profile=vcu, entrance=f"at {core}") for core in labels] if vcu else []
    units += [unit(f"uru {dwelling.id}", dwelling=dwelling.id) for dwelling in dwellings]
    return Site(
        name="Block",
        choices=Choices(**choices),
        profiles=tuple(load_profiles().values()),
        buildings=(Building(id="block", name="Block"),),
        cores=tuple(Core(id=core, building="block", name=core) for core in labels),
        levels=tuple(Level(id=f"L{order}", building="block", name=str(order), order=order) for order in levels),
        dwellings=tuple(dwellings),
        entrances=tuple(entrances),
        units=tuple(units),
    )


def unit(name: str, *, profile: str = "", **values: Any) -> Unit:
    """Return a unit whose name begins with its kind: "uru 12", "vcu gate", "smu desk"."""
    kind = KINDS[name.split(maxsplit=1)[0]]
    usual = {UnitKind.VCU: "vcu-directory", UnitKind.URU: "uru-video", UnitKind.SMU: "smu-desk"}[kind]
    return Unit(id=name, name=name, kind=kind, profile=profile or usual, **values)


def run(name: str, near: str, far: str, **values: Any) -> CableRun:
    """Return a cable run whose identifier is its name."""
    return CableRun(id=name, name=name, near=near, far=far, **values)


def switch(name: str, profile: str = "switch-8", **values: Any) -> Switch:
    """Return a switch whose identifier is its name."""
    return Switch(id=name, name=name, profile=profile, **values)


def subnet(cidr: str, name: str = "net", **values: Any) -> Subnet:
    """Return a subnet whose identifier is its name."""
    return Subnet(id=name, name=name, cidr=cidr, **values)


def server(**values: Any) -> SipServer:
    """Return a SIP server."""
    return SipServer(id="server", name="Server", realm="example.org", **values)


def plus(site: Site, *parts: Part) -> Site:
    """Return the site with more parts."""
    for part in parts:
        site = site.with_tables({type(part): (*site.table(type(part)), part)})
    return site


def put(site: Site, ident: str, **values: Any) -> Site:
    """Return the site with fields of the part of this identifier changed."""
    for kind in (Dwelling, Entrance, Unit, Switch, Subnet, CableRun):
        table = site.table(kind)
        if any(part.id == ident for part in table):
            return site.with_tables({kind: tuple(replace(p, **values) if p.id == ident else p for p in table)})
    raise LookupError(ident)


def set_profile(site: Site, key: str, **values: Any) -> Site:
    """Return the site with fields of one profile changed."""
    return replace(site, profiles=tuple(replace(p, **values) if p.key == key else p for p in site.profiles))


def drafted(draft: Draft, field: str) -> dict[str, Any]:
    """Return what a draft fills into a field, by identifier."""
    return {change.id: change.new for change in draft.changes if isinstance(change, Set) and change.field == field}


def new_ids(prefix: str = "made ") -> Callable[[], str]:
    """Return a maker of identifiers."""
    numbers = count(1)
    return lambda: f"{prefix}{next(numbers)}"


def planned(site: Site, *, prefix: str = "made ") -> Plan:
    """Return the plan of a site; its secrets are the same each time."""
    chance = Random(7)  # noqa: S311  (a test says the same each time; what it makes is no secret)
    return plan_site(site, new_id=new_ids(prefix), choose=chance.randrange)
