"""The plant of the rehearsed building: switch ports and the cables to units, budgets, links, supplies and batteries.

All of it is values that a fault can alter. What a plan does not say is not here, and is then taken as sound.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from doorwright.calc.battery import Battery
from doorwright.rehearse.cable import SOUND, Draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """The port that feeds a unit, and the cable to it.

    ``set_aside_w`` is what the switch sets aside for it, ``by_lldp`` whether that is what the unit asks for; 0 where
    it takes no power there. ``draw`` is None where the cable or the unit's draw is not known. ``contacts_ohm`` are
    those of the four pairs.
    """

    switch: str
    number: int
    on: bool = True
    planned_mbps: float = 100.0
    set_aside_w: float = 0.0
    by_lldp: bool = False
    draw: Draw | None = None
    contacts_ohm: tuple[float, ...] = SOUND


@dataclass(frozen=True, slots=True, kw_only=True)
class Hub:
    """A switch as it powers its ports: its budget and what share of what is asked for is drawn at once.

    ``budget_w`` is None where nobody has said. ``source`` is the supply that feeds it, None where it is the mains.
    """

    name: str
    budget_w: float | None
    diversity_ratio: float = 1.0
    source: str | None = None
    restart_s: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A supply in a power cut: its battery, None where it has none, and what it carries meanwhile."""

    name: str
    battery: Battery | None
    standing_a: float

    @property
    def lasts_min(self) -> float:
        """How long it carries its loads without mains, minutes."""
        return 60.0 * self.battery.runtime_h(self.standing_a) if self.battery is not None else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Uplink:
    """A link between two switches, with as many calls at once as there can be.

    ``beyond`` are the units that hang after it. ``down_kbps`` run to them, ``up_kbps`` from them; ``others_kbps`` is
    what else is on the link, each way: nothing, as planned.
    """

    name: str
    mbps: float
    down_kbps: float
    up_kbps: float
    beyond: frozenset[str]
    others_kbps: float = 0.0

    @property
    def is_full(self) -> bool:
        """Whether there is no room for all of it, one way or the other."""
        return max(self.lost_ratio(down=True), self.lost_ratio(down=False)) > 0.0

    def lost_ratio(self, *, down: bool) -> float:
        """Return the share of packets that find no room."""
        load_kbps = (self.down_kbps if down else self.up_kbps) + self.others_kbps
        return max(0.0, 1.0 - self.mbps * 1000.0 / load_kbps) if load_kbps else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """Ports by unit, switches, supplies and links by identifier, and units that a supply feeds straight."""

    ports: Mapping[str, Port] = field(default_factory=dict)
    hubs: Mapping[str, Hub] = field(default_factory=dict)
    sources: Mapping[str, Source] = field(default_factory=dict)
    uplinks: Mapping[str, Uplink] = field(default_factory=dict)
    fed_by: Mapping[str, str] = field(default_factory=dict)

    def ports_of(self, hub: str) -> list[tuple[str, Port]]:
        """Return the units of a switch with their ports, in order of the ports."""
        return sorted(((u, p) for u, p in self.ports.items() if p.switch == hub), key=lambda at: (at[1].number, at[0]))

    def source_of(self, unit: str) -> str | None:
        """Return the supply on which a unit hangs, through its switch or straight; None where it is the mains."""
        port = self.ports.get(unit)
        if port is not None and port.set_aside_w:
            return self.hubs[port.switch].source
        return self.fed_by.get(unit)
