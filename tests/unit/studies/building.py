"""A small invented site on which each study has something to say; the tests change one fact of it at a time."""

from dataclasses import replace
from typing import Any

from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.profile import Profile, ProfileKind, SecretPolicy
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk

SITE = Site(
    name="Invented House",
    choices=Choices(ambient_c=20.0),
    profiles=(
        Profile(
            key="desk",
            title="desk",
            kind=ProfileKind.SMU,
            poe_class=3,
            poe_draw_w=10.0,
            sip_secret=SecretPolicy(length_min_count=12, length_max_count=16, alphabet="letters and digits"),
        ),
        Profile(key="plain", title="fed from elsewhere", kind=ProfileKind.URU),
        Profile(
            key="switch", title="switch", kind=ProfileKind.SWITCH, ports_count=6, uplinks_count=2, poe_budget_w=40.0
        ),
        Profile(key="supply", title="supply", kind=ProfileKind.SUPPLY, output_v=12.0, output_a=2.0),
    ),
    units=(
        Unit(id="desk", name="Desk", kind=UnitKind.SMU, profile="desk", subnet="net"),
        Unit(id="home", name="Home", kind=UnitKind.URU, profile="plain", subnet="net"),
    ),
    switches=(
        Switch(id="low", name="Low", profile="switch", subnet="net"),
        Switch(id="high", name="High", profile="switch"),
    ),
    supplies=(Supply(id="supply", name="Supply", profile="supply"),),
    doors=(
        Door(
            id="front",
            name="Front",
            entrance="e",
            lock=LockKind.MAGNET,
            fail_mode=FailMode.SAFE,
            lock_operate_a=0.5,
            lock_minimum_v=10.8,
        ),
    ),
    runs=(
        CableRun(id="to-desk", name="A1", near="low", far="desk", cable="data-24awg", length_m=80.0),
        CableRun(id="to-home", name="A2", near="low", far="home", cable="cat6", length_m=95.0),
        CableRun(id="riser", name="A3", near="low", far="high", near_port=5, far_port=5, cable="fibre", length_m=120.0),
        CableRun(
            id="to-front", name="L1", near="supply", far="front", cable="2x1.0", length_m=40.0, temperature_c=40.0
        ),
    ),
    subnets=(Subnet(id="net", name="Net", cidr="192.0.2.0/26", gateway="192.0.2.1"),),
    servers=(SipServer(id="server", name="Server", address="192.0.2.2"),),
)


def part(kind: type[Part], ident: str, site: Site = SITE) -> Any:
    return next(part for part in site.table(kind) if part.id == ident)


def walk_with(kind: type[Part], ident: str, /, **facts: Any) -> Walk:
    """Return the way around the site with facts of one part changed."""
    changed = tuple(replace(part, **facts) if part.id == ident else part for part in SITE.table(kind))
    return Walk(SITE.with_tables({kind: changed}))


def walk_without(kind: type[Part], ident: str) -> Walk:
    """Return the way around the site without one part."""
    return Walk(SITE.with_tables({kind: tuple(part for part in SITE.table(kind) if part.id != ident)}))


def walk_with_profile(profile: str, /, **facts: Any) -> Walk:
    """Return the way around the site with facts of one profile changed."""
    return Walk(
        replace(
            SITE, profiles=tuple(replace(known, **facts) if known.key == profile else known for known in SITE.profiles)
        )
    )
