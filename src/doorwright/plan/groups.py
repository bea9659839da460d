"""Who registers with whom, and at which position.

Entrances that serve a dwelling in common form a group: one primary VCU, the others its secondaries. The primary is the
unit that reaches most dwellings. Where a building has a SIP server, everything but its dwellings' secondaries registers
there. Positions and registrars already issued stay. Where a group outgrows its primary, the split that touches the
fewest units is proposed (``plan/outgrown.py``), and nothing moves unasked.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance, Place
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder
from doorwright.plan.outgrown import Outgrown, proposal
from doorwright.plan.systems import server_of_building, server_of_dwelling, servers_of_entrance


@dataclass(slots=True)
class _Registrars:
    """Positions and registrars as they stand while the draft grows."""

    walk: Walk
    draft: Draft
    load: dict[str, int] = field(default_factory=dict)
    given: dict[str, str] = field(default_factory=dict)
    refused: dict[str, list[Unit]] = field(default_factory=dict)
    too_many: dict[str, list[Unit]] = field(default_factory=dict)
    group_of: dict[str, tuple[Entrance, ...]] = field(default_factory=dict)

    def register(self, unit: Unit, registrar: Unit | SipServer, why: str) -> None:
        """Let ``unit`` register with ``registrar``, unless it has a registrar or that one is full."""
        if unit.registrar is not None or unit.id == registrar.id or unit in self.too_many.get(registrar.id, ()):
            return
        if registrar.id not in self.load:
            self.load[registrar.id] = len(self.walk.units_registered_with(registrar.id))
        limit = self._limit(registrar)
        if limit is not None and self.load[registrar.id] >= limit:
            self.refused.setdefault(registrar.id, []).append(unit)
            return
        self.load[registrar.id] += 1
        self.given[unit.id] = registrar.id
        self.draft.fill(unit, "registrar", registrar.id, what="registrar", why=why)

    def number_secondaries(self, units: Iterable[Unit], primary: Unit, *, limited: bool) -> None:
        """Give the secondaries of a primary their positions, as many as it takes where it limits them."""
        units = tuple(units)
        used = {unit.position for unit in units if unit.position is not None}
        free = _free_positions(used)
        profile = self.walk.profile(primary.profile)
        room = profile.secondaries_max_count - len(used - {0}) if limited and profile else len(units)
        for unit in units:
            if unit.position is not None or unit.id == primary.id:
                continue
            if room <= 0:
                self.too_many.setdefault(primary.id, []).append(unit)
                continue
            room -= 1
            self.draft.fill(unit, "position", next(free), what="position", why=f"the next secondary of {primary.name}")

    def _limit(self, registrar: Unit | SipServer) -> int | None:
        if isinstance(registrar, SipServer):
            return registrar.registrations_max
        profile = self.walk.profile(registrar.profile)
        return profile.registrations_max_count if profile else None

    def tell(self) -> None:
        """Turn what did not fit into troubles."""
        for ident in dict.fromkeys([*self.refused, *self.too_many]):
            registrar = self.walk.part(ident)
            assert isinstance(registrar, Unit | SipServer)  # noqa: S101  (only such were asked to register)
            refused, too_many = self.refused.get(ident, []), self.too_many.get(ident, [])
            problems = []
            if refused:
                takes = self._limit(registrar)
                problems.append(f"{registrar.name} takes {takes} registrations; {len(refused)} more are wanted")
            if too_many and isinstance(registrar, Unit):
                profile = self.walk.profile(registrar.profile)
                takes = profile.secondaries_max_count if profile else 0
                problems.append(f"{registrar.name} takes {takes} secondaries; {len(too_many)} more are wanted")
            units = list(dict.fromkeys([*refused, *too_many]))
            self.draft.trouble([registrar, *units], "; ".join(problems), self._remedy(registrar))

    def _remedy(self, registrar: Unit | SipServer) -> str:
        if isinstance(registrar, SipServer):
            return "Ask for more registrations, or let a further server serve some of the buildings."
        if registrar.kind is UnitKind.URU:
            return "Use a type that takes more secondaries, or fewer units in this dwelling."
        entrances = self.group_of.get(registrar.id, ())
        split = proposal(self.walk, Outgrown(registrar, entrances, dict(self.given))) if entrances else None
        instead = "use a type that takes more, or add a SIP server."
        return f"{split} Or {instead}" if split else f"No split of its entrances fits: {instead}"


def plan_groups(walk: Walk) -> Draft:
    """Draft positions and registrars."""
    draft = Draft(walk.site)
    registrars = _Registrars(walk, draft)
    order = WalkingOrder(walk)
    primary_of_dwelling: dict[str, Unit] = {}
    desk_registrars: dict[str, Unit | SipServer] = {}
    for entrances in entrance_groups(walk):
        server = _server_of_group(walk, entrances)
        primary = _plan_vcus(walk, registrars, order, entrances, server)
        if primary is None:
            continue
        if any(entrance.calls_desk for entrance in entrances):
            called_from = server or primary
            desk_registrars[called_from.id] = called_from
        for entrance in entrances:
            for dwelling in walk.dwellings_served(entrance):
                primary_of_dwelling.setdefault(dwelling.id, primary)
    _tell_of_divided_entrances(walk, draft)
    _plan_desks(walk, registrars, order, desk_registrars)
    for dwelling in order.dwellings():
        registrar = server_of_dwelling(walk, dwelling) or primary_of_dwelling.get(dwelling.id)
        _plan_urus(walk, registrars, order, dwelling, registrar)
    registrars.tell()
    return draft


def entrance_groups(walk: Walk) -> tuple[tuple[Entrance, ...], ...]:
    """Return the entrances in groups that serve dwellings in common, each group and all groups in order of name.

    An entrance whose dwellings register with different systems belongs to no group: no registrar knows all of them.
    """
    group_of: dict[str, list[Entrance]] = {}
    first_at: dict[str, Entrance] = {}
    for entrance in sorted(walk.all(Entrance), key=lambda e: natural_key(e.name)):
        if len(servers_of_entrance(walk, entrance)) > 1:
            continue
        group_of[entrance.id] = [entrance]
        for dwelling in walk.dwellings_served(entrance):
            other = first_at.setdefault(dwelling.id, entrance)
            if group_of[other.id] is not group_of[entrance.id]:
                merged = group_of[other.id] + group_of[entrance.id]
                for member in merged:
                    group_of[member.id] = merged
    unique = {id(group): group for group in group_of.values()}
    return tuple(tuple(sorted(group, key=lambda e: natural_key(e.name))) for group in unique.values())


def _server_of_group(walk: Walk, entrances: tuple[Entrance, ...]) -> SipServer | None:
    for entrance in entrances:
        for server in servers_of_entrance(walk, entrance).values():
            return server
    place = walk.find(Place, entrances[0].place)
    return server_of_building(walk, place.building if place else None)


def _tell_of_divided_entrances(walk: Walk, draft: Draft) -> None:
    for entrance in sorted(walk.all(Entrance), key=lambda e: natural_key(e.name)):
        servers = servers_of_entrance(walk, entrance)
        if len(servers) > 1:
            systems = sorted(server.name if server else "their own primary units" for server in servers.values())
            draft.trouble(
                [entrance, *walk.units_at(entrance.id)],
                f"{entrance.name} serves dwellings that register with {' and '.join(systems)}:"
                " no registrar knows all of them, so its units get none",
                "Let one server serve all these buildings, or plan an entrance with a unit of its own for each system.",
            )


def _plan_vcus(
    walk: Walk,
    registrars: _Registrars,
    order: WalkingOrder,
    entrances: tuple[Entrance, ...],
    server: SipServer | None,
) -> Unit | None:
    reach = {entrance.id: len(walk.dwellings_served(entrance)) for entrance in entrances}
    vcus = order.units(unit for entrance in entrances for unit in walk.units_at(entrance.id))
    if not vcus:
        return None

    def fitness(unit: Unit) -> tuple[int, int]:
        profile = walk.profile(unit.profile)
        return reach[unit.entrance or ""], profile.registrations_max_count if profile else 0

    appointed = [unit for unit in vcus if unit.position == 0]
    primary = appointed[0] if appointed else max((u for u in vcus if u.position is None), key=fitness, default=None)
    if primary is None:
        return None
    registrars.group_of[primary.id] = entrances
    if not appointed:
        why = f"the primary: it reaches {fitness(primary)[0]} dwellings, the most of its group"
        registrars.draft.fill(primary, "position", 0, what="position", why=why)
    registrars.number_secondaries(vcus, primary, limited=server is None)
    for vcu in vcus:
        if server is not None:
            registrars.register(vcu, server, _why_server(server))
        elif vcu not in appointed:
            registrars.register(vcu, primary, f"{primary.name} is the primary of its group of entrances")
    if server is None:
        _tell_of_rivals(registrars.draft, appointed)
    return primary


def _why_server(server: SipServer) -> str:
    return "the SIP server of its building" if server.serves_buildings else "the site's SIP server"


def _tell_of_rivals(draft: Draft, appointed: list[Unit]) -> None:
    """Say where a group has more than one primary: issued positions stay until a person decides."""
    if len(appointed) > 1:
        names = ", ".join(unit.name for unit in appointed)
        draft.trouble(
            appointed,
            f"{names} are all primaries, yet they now belong to one group",
            "Keep one primary; empty the position and registrar of the others and of what registers with them.",
        )


def _plan_desks(
    walk: Walk, registrars: _Registrars, order: WalkingOrder, called_from: dict[str, Unit | SipServer]
) -> None:
    """Let desks register where they are called from: with a server before a primary, for it knows more units."""
    desks = order.units(walk.units_of_kind(UnitKind.SMU))
    choices = sorted(called_from.values(), key=lambda one: isinstance(one, Unit))  # stable: else the first group's
    # a server that is for the whole site takes desks that no entrance calls
    registrar = next(iter(choices), None) or server_of_building(walk, None)
    for desk in desks:
        if isinstance(registrar, SipServer):
            registrars.register(desk, registrar, _why_server(registrar))
        elif registrar is not None:
            registrars.register(desk, registrar, "the primary VCU of the entrances that call the desk")
    if desks and len(choices) > 1:
        names = ", ".join(one.name for one in choices)
        registrars.draft.trouble(
            [*desks, *choices],
            f"desks are called from groups that register with {names}; each desk registers with one of them only",
            "Let all entrances that call a desk register with one SIP server, or give each group a desk of its own.",
        )


def _plan_urus(
    walk: Walk, registrars: _Registrars, order: WalkingOrder, dwelling: Dwelling, registrar: Unit | SipServer | None
) -> None:
    urus = order.units(walk.units_in(dwelling.id))
    if not urus:
        return
    appointed = [unit for unit in urus if unit.position == 0]
    primary = appointed[0] if appointed else next((unit for unit in urus if unit.position is None), None)
    if primary is None:
        return
    if not appointed:
        why = f"the primary of {dwelling.door_label}"
        registrars.draft.fill(primary, "position", 0, what="position", why=why)
    if registrar is not None:
        registrars.register(primary, registrar, f"{registrar.name} calls {dwelling.door_label}")
    registrars.number_secondaries(urus, primary, limited=True)
    for uru in urus:
        if uru not in appointed:
            registrars.register(uru, primary, f"{primary.name} is the primary of {dwelling.door_label}")
    _tell_of_rivals(registrars.draft, appointed)


def _free_positions(used: set[int]) -> Iterator[int]:
    position = 0
    while True:
        position += 1
        if position not in used:
            yield position
