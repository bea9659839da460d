"""Which units have power and a link: ports that are on, budgets that last, cables that carry both.

A switch gives power to its ports in order until its budget is spent, by the same sums that judge the plan.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from doorwright.calc.poe import diverse_w
from doorwright.rehearse.box import Box
from doorwright.rehearse.cable import Link, carries, link_over
from doorwright.rehearse.plant import Hub, Plant, Port


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What a unit gets by day: power, and its link."""

    powered: bool
    link: Link
    planned_mbps: float

    @property
    def as_planned(self) -> bool:
        """Whether it gets both as planned."""
        return self.powered and self.link == Link(mbps=self.planned_mbps, lost_ratio=0.0)

    @property
    def up(self) -> bool:
        """Whether it has power and a link."""
        return self.powered and self.link.mbps > 0.0


def feeds(plant: Plant) -> dict[str, Feed]:
    """Return what each unit with a known port gets."""
    found: dict[str, Feed] = {}
    for ident, hub in plant.hubs.items():
        ports = plant.ports_of(ident)
        given = _given(hub, ports)
        for unit, port in ports:
            link = link_over(port.contacts_ohm, port.planned_mbps) if port.on else Link(mbps=0.0, lost_ratio=0.0)
            carried = port.draw is None or carries(port.draw, port.contacts_ohm, night=False)
            found[unit] = Feed(powered=unit in given and carried, link=link, planned_mbps=port.planned_mbps)
    return found


def fed(plant: Plant, boxes: Iterable[Box]) -> Iterator[Box]:
    """Yield boxes with the links that their ports and cables give them."""
    got = feeds(plant)
    for box in boxes:
        feed = got.get(box.id)
        if feed is None or feed.as_planned:
            yield box
        else:
            link = feed.link
            jack = replace(box.jack, link=box.jack.link and feed.up, mbps=link.mbps, lost_ratio=link.lost_ratio)
            yield replace(box, jack=jack)


def needed_w(hub: Hub, ports: list[Port]) -> float:
    """Return what the budget of a switch must hold for some of its ports, watts."""
    asked_w = [port.set_aside_w for port in ports if port.by_lldp]
    return diverse_w(
        reserved_w=sum(port.set_aside_w for port in ports if not port.by_lldp),
        varying_w=sum(asked_w),
        largest_w=max(asked_w, default=0.0),
        diversity_ratio=hub.diversity_ratio,
    )


def _given(hub: Hub, ports: list[tuple[str, Port]]) -> set[str]:
    """Return the units that a switch powers, or that need none of it."""
    given: set[str] = set()
    powered: list[Port] = []
    for unit, port in ports:
        if not port.set_aside_w:
            given.add(unit)
        elif port.on and (hub.budget_w is None or needed_w(hub, [*powered, port]) <= hub.budget_w):
            powered.append(port)
            given.add(unit)
    return given


def restarts_at_night(plant: Plant) -> tuple[str, ...]:
    """Return the units that run by day, but not with their lamps on."""
    return tuple(
        unit
        for unit, port in plant.ports.items()
        if port.draw is not None
        and carries(port.draw, port.contacts_ohm, night=False)
        and not carries(port.draw, port.contacts_ohm, night=True)
    )
