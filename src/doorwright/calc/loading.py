"""In which states a network must carry its loads: standing, all operated, one inrush on top, all inrush at once."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from doorwright.calc.circuit import Draw, Load, Network
from doorwright.calc.flow import Flow, NetworkCollapse
from doorwright.calc.sweep import solve


class Moment(StrEnum):
    """Which of its loads a network carries."""

    STANDING = "standing load"
    ALL_OPERATED = "everything operated at once"
    ONE_INRUSH = "one inrush on top of the standing load"
    ALL_INRUSH = "every inrush at once"


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """What a load takes through its day.

    ``standing`` flows for hours: the hold of a magnet, the rest of a unit, nothing for a lock that is freed by current.
    ``operated`` flows while it works, None where that is no more than standing. ``inrush`` flows at the first instant,
    instead of the others, None where the data sheet names none.
    """

    name: str
    node: str
    standing: Draw
    operated: Draw | None = None
    inrush: Draw | None = None

    @property
    def working(self) -> Draw:
        """What it takes while it works."""
        return self.standing if self.operated is None else self.operated

    @property
    def starting(self) -> Draw:
        """What it takes at its first instant."""
        return self.working if self.inrush is None else self.inrush


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadState:
    """One state to solve a network in; ``starts`` names the load whose inrush is on top, where it is one."""

    moment: Moment
    loads: tuple[Load, ...]
    starts: str | None = None

    def __str__(self) -> str:
        return f"{self.moment.value}: {self.starts}" if self.starts else self.moment.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A network solved in one state."""

    state: LoadState
    flow: Flow | NetworkCollapse

    def voltage_v(self, node: str) -> float:
        """Return the voltage at a node, volts; 0 where the network collapses."""
        return self.flow.node_v[node] if isinstance(self.flow, Flow) else 0.0


def load_states(duties: Iterable[Duty]) -> Iterator[LoadState]:
    """Yield every state that a supply must bear.

    One state of inrush is made for each load that takes more at its start than standing: which of them is the worst
    depends on the node one asks about.
    """
    known = tuple(duties)
    standing = tuple(Load(name=duty.name, node=duty.node, draw=duty.standing) for duty in known)
    yield LoadState(moment=Moment.STANDING, loads=standing)
    yield LoadState(
        moment=Moment.ALL_OPERATED,
        loads=tuple(Load(name=duty.name, node=duty.node, draw=duty.working) for duty in known),
    )
    for i, duty in enumerate(known):
        if duty.starting != duty.standing:
            starting = Load(name=duty.name, node=duty.node, draw=duty.starting)
            yield LoadState(
                moment=Moment.ONE_INRUSH, loads=(*standing[:i], starting, *standing[i + 1 :]), starts=duty.name
            )
    yield LoadState(
        moment=Moment.ALL_INRUSH,
        loads=tuple(Load(name=duty.name, node=duty.node, draw=duty.starting) for duty in known),
    )


def outcomes(wires: Network, duties: Iterable[Duty]) -> tuple[Outcome, ...]:
    """Return a network solved in every state of its loads; the loads of ``wires`` itself are put aside.

    Raises:
        ValueError: a load hangs on a node that the network has not, or takes less than nothing.
    """
    return tuple(Outcome(state=state, flow=solve(wires.with_loads(state.loads))) for state in load_states(duties))


def worst(solved: Iterable[Outcome], node: str, *moments: Moment) -> Outcome:
    """Return the outcome with the lowest voltage at a node, among the moments named, or among all.

    Raises:
        LookupError: no outcome is of these moments.
    """
    among = [outcome for outcome in solved if not moments or outcome.state.moment in moments]
    if not among:
        raise LookupError(f"no outcome is of {', '.join(moment.value for moment in moments) or 'any moment'}")
    return min(among, key=lambda outcome: outcome.voltage_v(node))
