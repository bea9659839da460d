"""Does the fuse at the near end of a run carry what flows through it?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.protection import FuseDuty, fuse_duty
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun, Junction
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branch_to, circuit_of
from doorwright.studies.study import Study, Trail
from doorwright.studies.supply_network import end_v_of, run_currents

TITLE: Final = "Fuse of the run"


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseLoad:
    """What a fuse must carry for hours, with everything operated, and at the worst inrush.

    Currents are the higher of mains and end of standby: what takes a constant power takes more of a lower voltage.
    ``at_supply`` is true for the fuse of the supply's own output.
    """

    fuse_a: float
    standing_a: float
    operated_a: float
    peak_a: float
    at_supply: bool
    duty: FuseDuty


def fuse_load(walk: Walk, run: CableRun) -> Study[FuseLoad]:
    """Study the fuse of a run: its own, or for a run at the output of a supply that of the output.

    The question does not arise for a run of data, nor beyond a junction where there is no fuse.
    """
    supply = walk.find(Supply, run.near)
    if supply is None and (run.fuse_a is None or walk.find(Junction, run.near) is None):
        return Study(run.subject, TITLE)
    branch = branch_to(walk, run.far)
    if branch is None or run.id not in {known.id for known in branch.runs}:
        return Study(run.subject, TITLE)  # it feeds nothing, or what another run feeds: told by the rules on circuits
    profile = walk.profile(branch.supply.profile)
    fuse_a = run.fuse_a if run.fuse_a is not None or profile is None else profile.output_fuse_a
    missing: dict[Missing, None] = {}
    if not fuse_a and profile is not None:
        missing[Missing("profile", "output fuse")] = None
    trail = Trail()
    circuit = circuit_of(walk, branch, trail)
    if isinstance(circuit, tuple) or not fuse_a:
        missing.update(dict.fromkeys(circuit if isinstance(circuit, tuple) else ()))
        return Study(run.subject, TITLE, missing=tuple(missing))
    end_v = end_v_of(walk, branch.supply)
    solved = [circuit.solved_at(circuit.wires.output.open_v)]
    if end_v is not None:
        solved.append(circuit.solved_at(end_v))
    current = next((known for known in run_currents(*solved) if known.run == run.id), None)
    if current is None:
        return Study(run.subject, TITLE)  # nothing flows in a circuit that collapses: its own rule tells it
    duty = trail.run(fuse_duty, standing_a=current.operated_a, peak_a=current.peak_a, fuse_a=fuse_a)
    value = FuseLoad(
        fuse_a=fuse_a,
        standing_a=current.standing_a,
        operated_a=current.operated_a,
        peak_a=current.peak_a,
        at_supply=run.fuse_a is None,
        duty=duty,
    )
    return Study(run.subject, TITLE, value, steps=trail.steps)
