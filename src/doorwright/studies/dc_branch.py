"""The branches of a supply: what each run from its output carries, through junctions, to doors, units and switches."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from doorwright.calc import conductor
from doorwright.calc.cable import CableUse
from doorwright.calc.circuit import Network, Output, Run
from doorwright.calc.loading import Duty, Outcome, outcomes
from doorwright.kernel.verdict import Missing
from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Junction
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.dc_duty import Fed, duty_of, fed_part
from doorwright.studies.run import Line, line_of
from doorwright.studies.study import Trail


@dataclass(frozen=True, slots=True)
class Branch:
    """All that one run from the output of a supply carries. ``runs`` stand each after the one that feeds it.

    ``doubled`` are runs to a part that is fed already: they are not reckoned with. ``lost`` are runs to nothing.
    """

    supply: Supply
    runs: tuple[CableRun, ...]
    parts: tuple[Fed, ...]
    doubled: tuple[CableRun, ...]
    lost: tuple[CableRun, ...]

    @property
    def first(self) -> CableRun:
        """The run at the output."""
        return self.runs[0]


@dataclass(frozen=True, slots=True)
class Circuit:
    """A branch of which everything is known that solving it needs; run and node names are identifiers of parts."""

    wires: Network
    duties: tuple[Duty, ...]
    lines: tuple[Line, ...]
    """Of each run of the branch, in their order."""

    def solved_at(self, output_v: float) -> tuple[Outcome, ...]:
        """Return what flows in every state, at a voltage of the output."""
        return _solved(self.wires.fed_at(output_v), self.duties)

    def way_to(self, node: str) -> tuple[Run, ...]:
        """Return the runs from the output to a node, in that order."""
        feeding = {run.far: run for run in self.wires.runs}
        way: list[Run] = []
        while node in feeding:
            way.append(feeding[node])
            node = feeding[node].near
        return tuple(reversed(way))


def in_order(runs: Iterable[CableRun]) -> list[CableRun]:
    """Return runs by name as people count, so that no answer depends on their order in the site."""
    return sorted(runs, key=lambda run: (natural_key(run.name), run.id))


def branches_of(walk: Walk, supply: Supply) -> tuple[Branch, ...]:
    """Return the branches of a supply, in order of the names of their first runs.

    What two runs lead to is fed by the first of them, counted from the output.
    """
    fed = {supply.id}
    found = []
    for first in in_order(walk.runs_from(supply.id)):
        runs: list[CableRun] = []
        parts: list[Fed] = []
        doubled: list[CableRun] = []
        lost: list[CableRun] = []
        front = [first]
        for run in front:
            if run.far in fed:
                doubled.append(run)
                continue
            fed.add(run.far)
            runs.append(run)
            part = fed_part(walk, run.far)
            if part is not None:
                parts.append(part)
            elif walk.find(Junction, run.far) is not None:
                front += in_order(walk.runs_from(run.far))
            else:
                lost.append(run)
        # a run whose far end another branch feeds belongs to no branch of its own
        found.append(Branch(supply, tuple(runs or [first]), tuple(parts), tuple(doubled), tuple(lost)))
    return tuple(found)


def branch_to(walk: Walk, ident: str) -> Branch | None:
    """Return the branch that feeds a part, or None; where several supplies do, that of the first run by name."""
    for supply in supplies_of(walk, ident):
        for branch in branches_of(walk, supply):
            if any(run.far == ident for run in branch.runs):
                return branch
    return None


def supplies_of(walk: Walk, ident: str) -> tuple[Supply, ...]:
    """Return the supplies that feed a part, straight or through junctions, in order of the runs by name."""
    found: dict[str, Supply] = {}
    seen = {ident}
    front = [ident]
    for node in front:
        for run in in_order(walk.runs_to(node)):
            supply = walk.find(Supply, run.near)
            if supply is not None:
                found.setdefault(supply.id, supply)
            elif run.near not in seen and walk.find(Junction, run.near) is not None:
                seen.add(run.near)
                front.append(run.near)
    return tuple(found.values())


def circuit_of(walk: Walk, branch: Branch, trail: Trail) -> Circuit | tuple[Missing, ...]:
    """Return a branch as a circuit at the voltage of its supply's data sheet, or all that is missing for it.

    The loop resistance of each run, its cable warm, goes into ``trail``, and the draw of each switch.
    """
    missing: dict[Missing, None] = {}
    lines: list[Line] = []
    for run in branch.runs:
        line = line_of(walk, run, CableUse.POWER)
        if isinstance(line, tuple):
            missing.update(dict.fromkeys(line))
        else:
            lines.append(line)
    duties: list[Duty] = []
    for part in branch.parts:
        duty = duty_of(walk, part, trail)
        if isinstance(duty, tuple):
            missing.update(dict.fromkeys(duty))
        else:
            duties.append(duty)
    if branch.lost:
        missing[Missing(CableRun.KIND, "far end")] = None
    missing.update(dict.fromkeys(missing_output_v(walk, branch.supply)))
    profile = walk.profile(branch.supply.profile)
    if missing or profile is None or not profile.output_v:
        return tuple(missing)
    runs = tuple(
        Run(
            name=run.id,
            near=run.near,
            far=run.far,
            loop_ohm=trail.run(
                conductor.two_wire_loop_ohm,
                conductor_ohm_per_km=line.cable.conductor_ohm_per_km,
                length_m=line.length_m,
                temperature_c=line.temperature_c,
            ),
        )
        for run, line in zip(branch.runs, lines, strict=True)
    )
    output = Output(node=branch.supply.id, open_v=profile.output_v)
    return Circuit(Network(output=output, runs=runs), tuple(duties), tuple(lines))


def missing_output_v(walk: Walk, supply: Supply) -> tuple[Missing, ...]:
    """Return what keeps the voltage of a supply's output from being known."""
    profile = walk.profile(supply.profile)
    if profile is None:
        return (Missing(Supply.KIND, "profile"),)
    return () if profile.output_v else (Missing("profile", "output voltage"),)


# Several rules and drawings ask about the same branch; solving is a function of the circuit alone.
@lru_cache(maxsize=4096)
def _solved(wires: Network, duties: tuple[Duty, ...]) -> tuple[Outcome, ...]:
    return outcomes(wires, duties)
