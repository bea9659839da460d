"""What flows in the circuits of a supply: at the output of its data sheet, and at the end of its standby."""

from dataclasses import dataclass
from itertools import chain
from typing import Final

from doorwright.calc.flow import Flow, NetworkCollapse
from doorwright.calc.loading import Moment, Outcome, worst
from doorwright.kernel.verdict import Missing
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import Circuit, branches_of, circuit_of
from doorwright.studies.dc_duty import minimum_v_of, missing_minimum_v
from doorwright.studies.study import Study, Trail

TITLE: Final = "Circuits of the supply"

_LASTING: Final = (Moment.STANDING, Moment.ALL_OPERATED)
_STARTS: Final = (Moment.ONE_INRUSH, Moment.ALL_INRUSH)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadVoltage:
    """The lowest voltages at one load, volts: with everything operated, and while anything starts.

    ``end_v`` is the lowest with everything operated at the end of standby, None where there is no battery or its last
    voltage is not known. A voltage of 0 says that the circuit collapses.
    """

    part: str
    minimum_v: float
    operated_v: float
    starting_v: float
    end_v: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchCollapse:
    """A state in which a branch cannot carry its loads: ``node`` is the identifier of where the proof fell."""

    output_v: float
    moment: Moment
    node: str
    carried_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunCurrent:
    """The currents of one run, the higher of mains and end of standby: for hours, everything operated, at the worst."""

    run: str
    standing_a: float
    operated_a: float
    peak_a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyNetwork:
    """Every voltage and current that a supply's circuits must bear, cables warm.

    The currents count all branches, the higher of mains and end of standby. ``peak_a`` is with every inrush at once.
    ``end_v`` is the output at the end of standby, None where there is no battery or nobody has said.
    """

    output_v: float
    end_v: float | None
    branches_count: int
    loads: tuple[LoadVoltage, ...]
    runs: tuple[RunCurrent, ...]
    collapses: tuple[BranchCollapse, ...]
    standing_a: float
    operated_a: float
    peak_a: float

    @property
    def loads_count(self) -> int:
        """How many locks, units and switches it feeds."""
        return len(self.loads)

    @property
    def worst_load(self) -> LoadVoltage:
        """The load with the least to spare at the end of standby, or on mains where that is not known."""
        return min(
            self.loads,
            key=lambda load: ((load.operated_v if load.end_v is None else load.end_v) - load.minimum_v, load.part),
        )

    @property
    def spare_v(self) -> float:
        """What the worst load has to spare on mains, volts; negative where it gets too little."""
        return min(load.operated_v - load.minimum_v for load in self.loads)

    @property
    def end_spare_v(self) -> float | None:
        """What the worst load has to spare at the end of standby, volts; None where that is not known."""
        spares_v = [load.end_v - load.minimum_v for load in self.loads if load.end_v is not None]
        return min(spares_v, default=None)


def supply_network(walk: Walk, supply: Supply) -> Study[SupplyNetwork]:
    """Study all circuits of a supply. The question does not arise for one that feeds nothing."""
    branches = branches_of(walk, supply)
    missing: dict[Missing, None] = {}
    trail = Trail()
    circuits: list[Circuit] = []
    for branch in branches:
        circuit = circuit_of(walk, branch, trail)
        if isinstance(circuit, tuple):
            missing.update(dict.fromkeys(circuit))
        else:
            circuits.append(circuit)
        for part in branch.parts:
            missing.update(dict.fromkeys(missing_minimum_v(walk, part)))
    if missing or not any(branch.parts for branch in branches):
        return Study(supply.subject, TITLE, missing=tuple(missing))
    output_v = circuits[0].wires.output.open_v
    end_v = end_v_of(walk, supply)
    solved = [circuit.solved_at(output_v) for circuit in circuits]
    ended = [circuit.solved_at(end_v) for circuit in circuits] if end_v is not None else []
    runs = tuple(
        current for i in range(len(branches)) for current in run_currents(solved[i], *((ended[i],) if ended else ()))
    )
    firsts = {branch.first.id for branch in branches}
    at_output = [current for current in runs if current.run in firsts]
    value = SupplyNetwork(
        output_v=output_v,
        end_v=end_v,
        branches_count=len(branches),
        loads=tuple(
            LoadVoltage(
                part=part.id,
                minimum_v=minimum_v_of(walk, part) or 0.0,
                operated_v=worst(solved[i], part.id, *_LASTING).voltage_v(part.id),
                starting_v=worst(solved[i], part.id, *_STARTS).voltage_v(part.id),
                end_v=worst(ended[i], part.id, *_LASTING).voltage_v(part.id) if ended else None,
            )
            for i, branch in enumerate(branches)
            for part in branch.parts
        ),
        runs=runs,
        collapses=(
            *(collapse for each in solved for collapse in _collapses(each, output_v)),
            *(collapse for each in ended for collapse in _collapses(each, end_v or 0.0)),
        ),
        standing_a=sum(current.standing_a for current in at_output),
        operated_a=sum(current.operated_a for current in at_output),
        peak_a=sum(current.peak_a for current in at_output),
    )
    return Study(supply.subject, TITLE, value, steps=trail.steps)


def end_v_of(walk: Walk, supply: Supply) -> float | None:
    """Return the output of a supply at the end of its standby, volts; None without battery or where nobody has said."""
    profile = walk.profile(supply.profile)
    return profile.battery_end_v or None if profile is not None and supply.battery_ah is not None else None


def missing_end_v(walk: Walk, supply: Supply) -> tuple[Missing, ...]:
    """Return what keeps the end of standby from being judged, for a supply with a battery."""
    known = supply.battery_ah is None or end_v_of(walk, supply) is not None
    return () if known else (Missing("profile", "output at end of standby"),)


def run_currents(*solved: tuple[Outcome, ...]) -> tuple[RunCurrent, ...]:
    """Return the highest currents of every run of a branch, in the order of feeding.

    Args:
        solved: the branch in all its states, once for each voltage of the output. States that collapse are left out.
    """
    highest: dict[str, dict[Moment, float]] = {}
    for outcome in chain.from_iterable(solved):
        for run in outcome.flow.runs if isinstance(outcome.flow, Flow) else ():
            known = highest.setdefault(run.name, {})
            known[outcome.state.moment] = max(run.current_a, known.get(outcome.state.moment, 0.0))
    return tuple(
        RunCurrent(
            run=run,
            standing_a=known.get(Moment.STANDING, 0.0),
            operated_a=max(known.get(Moment.STANDING, 0.0), known.get(Moment.ALL_OPERATED, 0.0)),
            peak_a=max(known.values()),
        )
        for run, known in highest.items()
    )


def _collapses(solved: tuple[Outcome, ...], output_v: float) -> tuple[BranchCollapse, ...]:
    """Return the collapses of a branch, the states in which one load starts told once for each place of collapse."""
    found: dict[tuple[Moment, str], BranchCollapse] = {}
    for outcome in solved:
        flow = outcome.flow
        if isinstance(flow, NetworkCollapse):
            collapse = BranchCollapse(
                output_v=output_v,
                moment=outcome.state.moment,
                node=flow.node,
                carried_ratio=flow.carried_ratio,
            )
            found.setdefault((outcome.state.moment, flow.node), collapse)
    return tuple(found.values())
