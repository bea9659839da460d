"""Who registers with whom, and at which position.

Entrances that serve a dwelling in common form a group: one primary VCU, the others its secondaries. The primary is the
unit that reaches most dwellings. Where the site has a SIP server, everything but a dwelling's secondaries registers
there. Positions and registrars already issued stay.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder


@dataclass(slots=True)
class _Registrars:
    """Positions and registrars as they stand while the draft grows."""

    walk: Walk
    draft: Draft
    load: dict[str, int] = field(default_factory=dict)
    refused: dict[str, list[Unit]] = field(default_factory=dict)

    def register(self, unit: Unit, registrar: Unit | SipServer, why: str) -> None:
        """Let ``unit`` register with ``registrar``, unless it has a registrar or that one is full."""
        if unit.registrar is not None or unit.id == registrar.id:
            return
        if registrar.id not in self.load:
            self.load[registrar.id] = len(self.walk.units_registered_with(registrar.id))
        limit = self._limit(registrar)
        if limit is not None and self.load[registrar.id] >= limit:
            self.refused.setdefault(registrar.id, []).append(unit)
            return
        self.load[registrar.id] += 1
        self.draft.fill(unit, "registrar", registrar.id, what="registrar", why=why)

    def _limit(self, registrar: Unit | SipServer) -> int | None:
        if isinstance(registrar, SipServer):
            return registrar.registrations_max
        profile = self.walk.profile(registrar.profile)
        return profile.registrations_max_count if profile else None

    def tell(self) -> None:
        """Turn what did not fit into troubles."""
        for ident, units in self.refused.items():
            registrar = self.walk.part(ident)
            assert isinstance(registrar, Unit | SipServer)  # noqa: S101  (only such were asked to register)
            self.draft.trouble(
                [registrar, *units],
                f"{registrar.name} takes {self._limit(registrar)} registrations; {len(units)} more are wanted",
                "Use a type that registers more, split the group of entrances, or add a SIP server.",
            )


def plan_groups(walk: Walk) -> Draft:
    """Draft positions and registrars."""
    draft = Draft(walk.site)
    registrars = _Registrars(walk, draft)
    servers = sorted(walk.all(SipServer), key=lambda server: natural_key(server.name))
    server = servers[0] if servers else None
    order = WalkingOrder(walk)
    primary_of_dwelling: dict[str, Unit] = {}
    desk_registrar: Unit | None = None
    for entrances in entrance_groups(walk):
        primary = _plan_vcus(walk, registrars, order, entrances, server)
        if primary is None:
            continue
        if any(entrance.calls_desk for entrance in entrances) and desk_registrar is None:
            desk_registrar = primary
        for entrance in entrances:
            for dwelling in walk.dwellings_served(entrance):
                primary_of_dwelling.setdefault(dwelling.id, primary)
    for desk in order.units(walk.units_of_kind(UnitKind.SMU)):
        if server is not None:
            registrars.register(desk, server, "the site's SIP server")
        elif desk_registrar is not None:
            registrars.register(desk, desk_registrar, "the primary VCU of the entrances that call the desk")
    for dwelling in order.dwellings():
        _plan_urus(walk, registrars, order, dwelling, server or primary_of_dwelling.get(dwelling.id))
    registrars.tell()
    return draft


def entrance_groups(walk: Walk) -> tuple[tuple[Entrance, ...], ...]:
    """Return the entrances in groups that serve dwellings in common, each group and all groups in order of name."""
    group_of: dict[str, list[Entrance]] = {}
    first_at: dict[str, Entrance] = {}
    for entrance in sorted(walk.all(Entrance), key=lambda e: natural_key(e.name)):
        group_of[entrance.id] = [entrance]
        for dwelling in walk.dwellings_served(entrance):
            other = first_at.setdefault(dwelling.id, entrance)
            if group_of[other.id] is not group_of[entrance.id]:
                merged = group_of[other.id] + group_of[entrance.id]
                for member in merged:
                    group_of[member.id] = merged
    unique = {id(group): group for group in group_of.values()}
    return tuple(tuple(sorted(group, key=lambda e: natural_key(e.name))) for group in unique.values())


def _plan_vcus(
    walk: Walk,
    registrars: _Registrars,
    order: WalkingOrder,
    entrances: Iterable[Entrance],
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
    if not appointed:
        why = f"the primary: it reaches {fitness(primary)[0]} dwellings, the most of its group"
        registrars.draft.fill(primary, "position", 0, what="position", why=why)
    _number_secondaries(registrars.draft, vcus, primary)
    for vcu in vcus:
        if server is not None:
            registrars.register(vcu, server, "the site's SIP server")
        elif vcu not in appointed:
            registrars.register(vcu, primary, f"{primary.name} is the primary of its group of entrances")
    if server is None:
        _tell_of_rivals(registrars.draft, appointed)
    return primary


def _tell_of_rivals(draft: Draft, appointed: list[Unit]) -> None:
    """Say where a group has more than one primary: issued positions stay until a person decides."""
    if len(appointed) > 1:
        names = ", ".join(unit.name for unit in appointed)
        draft.trouble(
            appointed,
            f"{names} are all primaries, yet they now belong to one group",
            "Keep one primary; empty the position and registrar of the others and of what registers with them.",
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
        registrars.draft.fill(primary, "position", 0, what="position", why=f"the primary of {dwelling.door_label}")
    if registrar is not None:
        registrars.register(primary, registrar, f"{registrar.name} calls {dwelling.door_label}")
    _number_secondaries(registrars.draft, urus, primary)
    for uru in urus:
        if uru not in appointed:
            registrars.register(uru, primary, f"{primary.name} is the primary of {dwelling.door_label}")
    _tell_of_rivals(registrars.draft, appointed)


def _number_secondaries(draft: Draft, units: Iterable[Unit], primary: Unit) -> None:
    units = tuple(units)
    free = _free_positions({unit.position for unit in units if unit.position is not None})
    for unit in units:
        if unit.position is None and unit.id != primary.id:
            draft.fill(unit, "position", next(free), what="position", why=f"the next secondary of {primary.name}")


def _free_positions(used: set[int]) -> Iterator[int]:
    position = 0
    while True:
        position += 1
        if position not in used:
            yield position
