"""What the network tree shows: switches in the order of their uplinks, what each feeds, and what stands beside.

Pure sorting, no millimetres. The uplinks of a real plan form a tree; those that do not (a second path, a ring, a
cable back to its own switch) are kept as further links and marked as such.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

from doorwright.kernel.words import counted_all
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Level, Place
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg.riser_cables import Cabling, Feed, Uplink, kind_and_length
from doorwright.render.svg.symbols import Sign, lock_sign

_SIGN: Final = {UnitKind.VCU: Sign.VCU, UnitKind.URU: Sign.URU, UnitKind.SMU: Sign.SMU}
_KINDS: Final = (UnitKind.VCU, UnitKind.SMU, UnitKind.URU)


@dataclass(frozen=True, slots=True)
class Group:
    """One line of what a switch feeds: a unit by name, or the URUs of a core together."""

    sign: Sign
    words: str
    ports: str
    title: str
    parts: tuple[tuple[str, str], ...]
    is_registrar: bool = False


@dataclass(frozen=True, slots=True)
class Node:
    """A switch in the tree, its lines of facts, its further links, and what it feeds; or, without ident, the rest."""

    ident: str
    name: str
    depth: int
    parent: str | None
    lines: tuple[str, ...]
    further: tuple[tuple[str, str, str], ...]
    groups: tuple[Group, ...]
    title: str


@dataclass(frozen=True, slots=True)
class Card:
    """A subnet, a SIP server or a registrar, or (without lines) the heading of such."""

    heading: str
    name: str
    lines: tuple[str, ...]
    part: str
    sign: Sign | None = None
    is_registrar: bool = False


@dataclass(frozen=True, slots=True)
class NetworkContents:
    """Everything the network tree shows."""

    nodes: tuple[Node, ...]
    cards: tuple[Card, ...]


def network_contents(walk: Walk) -> NetworkContents:
    """Sort the network of a site."""
    cabling = Cabling(walk)
    return NetworkContents(tuple(_nodes(walk, cabling)), tuple(_cards(walk)))


# the tree


_Step: TypeAlias = tuple[Switch, int, Uplink | None]
"""A switch, its depth, and the uplink by which it was reached."""


def _forest(switches: Iterable[Switch], uplinks: list[Uplink]) -> tuple[list[_Step], list[Uplink]]:
    """Return the switches in the order of a walk down the tree, with depth and uplink, and the links outside it."""
    by_id = {switch.id: switch for switch in sorted(switches, key=lambda switch: natural_key(switch.name))}
    down: dict[str, list[Uplink]] = {}
    fed: set[str] = set()
    for link in uplinks:
        down.setdefault(link.near.id, []).append(link)
        if link.near.id != link.far.id:
            fed.add(link.far.id)
    order: list[_Step] = []
    seen: set[str] = set()
    used: set[str] = set()
    roots = [switch for switch in by_id.values() if switch.id not in fed]
    for root in (*roots, *by_id.values()):  # the second round reaches rings, which have no root
        waiting: list[_Step] = [(root, 0, None)]
        while waiting:
            switch, depth, above = waiting.pop()
            if switch.id in seen:
                continue
            seen.add(switch.id)
            if above is not None:
                used.add(above.ident)
            order.append((switch, depth, above))
            children = sorted(down.get(switch.id, ()), key=lambda link: natural_key(link.far.name), reverse=True)
            waiting += [(child.far, depth + 1, child) for child in children]
    return order, [link for link in uplinks if link.ident not in used]


def _nodes(walk: Walk, cabling: Cabling) -> Iterable[Node]:
    order, further = _forest(walk.all(Switch), cabling.uplinks)
    feeds: dict[str, list[Feed]] = {}
    for feed in cabling.feeds:
        feeds.setdefault(feed.feeder.id, []).append(feed)
    for switch, depth, link in order:
        lines = [*_facts(walk, cabling, switch, feeds.get(switch.id, []))]
        if link:
            port = f"port {link.run.near_port} of " if link.run.near_port is not None else ""
            lines.append(f"uplink from {port}{link.near.name} · {kind_and_length(link.run)}")
        marks = tuple(_further(link, switch.id) for link in further if switch.id in (link.near.id, link.far.id))
        yield Node(
            ident=switch.id,
            name=switch.name,
            depth=depth,
            parent=link.near.id if link else None,
            lines=tuple(lines),
            further=marks,
            groups=tuple(_groups(walk, [(f.fed, f.run.near_port) for f in feeds.get(switch.id, [])])),
            title=f"Switch {switch.name}: {'; '.join(lines)}",
        )
    fed = {feed.fed.id for feed in cabling.feeds if isinstance(feed.feeder, Switch)}
    loose: list[tuple[Part, int | None]] = [(unit, None) for unit in walk.all(Unit) if unit.id not in fed]
    if loose:
        groups = tuple(_groups(walk, loose))
        yield Node(
            "", "Not cabled to a switch", 0, None, (f"{len(loose)} units",), (), groups, "Units without a switch"
        )


def _further(link: Uplink, switch: str) -> tuple[str, str, str]:
    """Return run, other end and words of a link outside the tree, seen from one of its ends."""
    other = link.far if switch == link.near.id else link.near
    return link.ident, other.id, f"further link {link.words_at(switch)}"


def _facts(walk: Walk, cabling: Cabling, switch: Switch, feeds: list[Feed]) -> Iterable[str]:
    place = walk.find(Place, switch.place)
    profile = walk.profile(switch.profile)
    yield f"{place.name if place else 'no place'} · {switch.address or 'no address'}"
    total = profile.ports_count if profile else None
    used = cabling.ports_used(switch.id)
    over = ", more than it has" if total is not None and used > total else ""
    draws_w = []
    unknown = 0
    for feed in feeds:
        if isinstance(feed.fed, Unit):
            fed = walk.profile(feed.fed.profile)
            if fed is None or fed.poe_draw_w is None:
                unknown += 1
            else:
                draws_w.append(fed.poe_draw_w)
    budget = f"{profile.poe_budget_w:g}" if profile and profile.poe_budget_w is not None else "?"
    at_least = "at least " if unknown else ""
    yield f"ports {used} of {'?' if total is None else total}{over} · PoE {at_least}{sum(draws_w):g} of {budget} W"


def _groups(walk: Walk, fed: Sequence[tuple[Part, int | None]]) -> Iterable[Group]:
    by_core: dict[str, list[tuple[Unit, Dwelling, int | None]]] = {}
    single: list[tuple[tuple[object, ...], Group]] = []
    for part, port in fed:
        if isinstance(part, Door):
            words = f"{part.name} · door"
            group = Group(lock_sign(part.fail_mode), words, _ports([port]), words, ((f"door:{part.id}", words),))
            single.append(((9, natural_key(part.name)), group))
        elif isinstance(part, Unit):
            dwelling = walk.find(Dwelling, part.dwelling)
            if part.kind is UnitKind.URU and dwelling is not None:
                by_core.setdefault(dwelling.core, []).append((part, dwelling, port))
            else:
                single.append(((_KINDS.index(part.kind), natural_key(part.name)), _unit(walk, part, port)))
    yield from (group for _, group in sorted(single, key=lambda pair: pair[0]))
    receivers = (_receivers(walk, core, units) for core, units in by_core.items())
    yield from sorted(receivers, key=lambda group: natural_key(group.words))


def _unit(walk: Walk, unit: Unit, port: int | None) -> Group:
    registered = len(walk.units_registered_with(unit.id))
    words = f"{unit.name} · {unit.address or 'no address'}" + (f" · registrar of {registered}" if registered else "")
    title = f"{unit.kind.value} {words}"
    return Group(_SIGN[unit.kind], words, _ports([port]), title, ((f"unit:{unit.id}", title),), registered > 0)


def _receivers(walk: Walk, core_id: str, units: list[tuple[Unit, Dwelling, int | None]]) -> Group:
    core = walk.find(Core, core_id)
    levels = {level.id: level for _, dwelling, _ in units if (level := walk.find(Level, dwelling.level))}
    ordered = sorted(levels.values(), key=lambda level: level.order)
    reach = "level not known"
    if ordered:
        reach = ordered[0].name if len(ordered) == 1 else f"{ordered[0].name} to {ordered[-1].name}"
        if ordered[-1].order - ordered[0].order + 1 > len(ordered):
            reach += f" ({len(ordered)} levels)"
    words = f"{len(units)} URU · {core.name if core else 'core not known'} · {reach}"
    units = sorted(units, key=lambda found: natural_key(found[0].name))
    return Group(
        sign=Sign.URU,
        words=words,
        ports=_ports([port for _, _, port in units]),
        title=f"{words}: " + ", ".join(unit.name for unit, _, _ in units),
        parts=tuple((f"unit:{unit.id}", f"URU {unit.name}, {unit.address or 'no address'}") for unit, _, _ in units),
    )


def _ports(ports: list[int | None]) -> str:
    known = sorted({port for port in ports if port is not None})
    if not known:
        return "no port"
    runs: list[list[int]] = []
    for port in known:
        if runs and port == runs[-1][1] + 1:
            runs[-1][1] = port
        else:
            runs.append([port, port])
    listed = ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in runs)
    return f"port {listed}" if len(known) == 1 else f"ports {listed}"


# beside the tree


def _cards(walk: Walk) -> Iterable[Card]:
    subnets = walk.all(Subnet)
    if subnets:
        yield Card("Subnets", "", (), "")
    for subnet in subnets:
        vlan = f"VLAN {subnet.vlan}" if subnet.vlan is not None else "no VLAN"
        holders = walk.holders_in_subnet(subnet.id)
        kinds = Counter("switch" if isinstance(part, Switch) else part.kind.value for part in holders)
        holds = counted_all(dict(sorted(kinds.items()))) or "nothing yet"
        lines = (f"{subnet.cidr} · {vlan}", f"gateway {subnet.gateway or 'not given'}", f"for {holds}")
        yield Card("", subnet.name, lines, f"subnet:{subnet.id}")
    servers = walk.all(SipServer)
    if servers:
        yield Card("SIP servers", "", (), "")
    for server in servers:
        where = "no address"
        if server.address:
            where = f"[{server.address}]:{server.port}" if ":" in server.address else f"{server.address}:{server.port}"
        limit = f" of {server.registrations_max}" if server.registrations_max is not None else ""
        registered = len(walk.units_registered_with(server.id))
        lines = (where, f"realm {server.realm or 'not given'}", f"registrations {registered}{limit}")
        yield Card("", server.name, lines, f"SIP server:{server.id}", Sign.SERVER, is_registrar=registered > 0)
    yield from _registrars(walk)


def _registrars(walk: Walk) -> Iterable[Card]:
    counts = Counter(unit.registrar for unit in walk.all(Unit) if unit.registrar)
    units = [(unit, count) for ident, count in counts.items() if (unit := walk.find(Unit, ident)) is not None]
    if not units:
        return
    yield Card("Registrars among the units", "", (), "")
    for unit, count in sorted(units, key=lambda pair: natural_key(pair[0].name)):
        if unit.kind is not UnitKind.URU:
            profile = walk.profile(unit.profile)
            limit = f" of {profile.registrations_max_count}" if profile and profile.registrations_max_count else ""
            yield Card("", unit.name, (f"registrations {count}{limit}",), "", _SIGN[unit.kind], is_registrar=True)
    homes = [count for unit, count in units if unit.kind is UnitKind.URU]
    if homes:
        line = f"register {sum(homes)} further URU of their dwellings"
        yield Card("", f"{len(homes)} primary URU", (line,), "", Sign.URU, is_registrar=True)
