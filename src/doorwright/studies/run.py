"""What studies read of a cable run: who feeds it, which cable it is, how long and how warm."""

from dataclasses import dataclass

from doorwright.calc.cable import CableKind, CableUse, cable_kinds
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun
from doorwright.model.part import Part
from doorwright.model.walk import Walk


@dataclass(frozen=True, slots=True)
class Line:
    """A run of which everything is known that a calculation needs."""

    cable: CableKind
    length_m: float
    temperature_c: float


def feeding_run(walk: Walk, far: str, feeder: type[Part]) -> CableRun | None:
    """Return the run that feeds a part from a feeder of one kind, or None.

    Where there are several the first by name counts, so that the answer does not depend on their order in the site.
    """
    runs = [run for run in walk.runs_to(far) if walk.find(feeder, run.near) is not None]
    return min(runs, key=lambda run: (run.name, run.id)) if len(runs) > 1 else next(iter(runs), None)


def temperature_of(walk: Walk, run: CableRun) -> float:
    """Return the warmest that the cable gets, degrees Celsius: its own figure, else the site's ambient."""
    return run.temperature_c if run.temperature_c is not None else walk.settings().choices.ambient_c


def line_of(walk: Walk, run: CableRun, use: CableUse) -> Line | tuple[Missing, ...]:
    """Return what is known of a run as a line of ``use``, or all that is missing for it.

    A run whose cable is of another use counts as one whose cable is missing: what is drawn is not what will be there.
    """
    kind = cable_kinds().get(run.cable) if run.cable is not None else None
    if kind is not None and kind.use is not use:
        kind = None
    if kind is None or run.length_m is None:
        lacking = {"cable": kind is None, "length": run.length_m is None}
        return tuple(Missing(CableRun.KIND, name) for name, lacks in lacking.items() if lacks)
    return Line(kind, run.length_m, temperature_of(walk, run))
