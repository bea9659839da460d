"""Claim: 500 dwellings are rehearsed at all their entrances in a minute, and time grows with size to at most 1.1.

``python -m bench.rehearsal`` measures it; so does ``python -m bench`` with the others. Every unit registers and every
number is called: at the gate of each building by day, by night and where nobody answers; at each core's entrance once.
Time is the processor's, of one process: with others beside it a long rehearsal is over sooner.
"""

import math
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Final

from bench.claim import Costs, Figure
from bench.steps import PLANNED, lay_out
from doorwright.cli.main import collect_seldom
from doorwright.model.calling import Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.building import Building
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import rehearse
from doorwright.rehearse.symptoms import symptoms
from doorwright.store import codec

NAME: Final = "rehearsal of the building"
SIZES: Final = (64, 500, 5_000)
GOAL_S: Final = 60.0
GOAL_DWELLINGS_COUNT: Final = 500
GOAL_EXPONENT: Final = 1.1


@dataclass(frozen=True, slots=True)
class Took:
    """What a rehearsal took: the processor's time of all of it, and how many calls that were."""

    busy_s: float
    calls_count: int


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (sizes of its own)
    """Yield for each size the seconds and the calls a second, and how time grows from each to the next."""
    took = {size: _rehearsed(size) for size in SIZES}
    for size, one in took.items():
        goal_s = GOAL_S if size == GOAL_DWELLINGS_COUNT else None
        yield Figure(NAME, f"seconds, {size} dwellings, {one.calls_count} calls", one.busy_s, goal_s)
        yield Figure(NAME, "  calls a second", one.calls_count / one.busy_s)
    for small, large in pairwise(SIZES):
        exponent = math.log(took[large].busy_s / took[small].busy_s) / math.log(large / small)
        goal = GOAL_EXPONENT if small >= GOAL_DWELLINGS_COUNT else None
        yield Figure(NAME, f"growth of time with size, as an exponent, {small} to {large}", exponent, goal)


def _rehearsed(size: int) -> Took:
    with tempfile.TemporaryDirectory() as folder:
        lay_out(Path(folder), size)
        site = called_at_all_hours(codec.load((Path(folder) / PLANNED).read_bytes()))
    collect_seldom()  # as the command line does at its start
    begin_s = time.process_time()
    walk = Walk(site)
    plan = planned(walk)
    made = rehearse(walk, prove(walk), plan, Building(plan.boxes.values(), plan.nets))
    seen = symptoms(plan, made)
    busy_s = time.process_time() - begin_s
    if made.differing or made.not_played or seen:
        raise ValueError(
            f"the invented site does not go as proved: {made.differing[:1]}{made.not_played[:1]}{seen[:1]}"
        )
    return Took(busy_s, len(made.played))


def called_at_all_hours(site: Site) -> Site:
    """Return an invented site with a door at every entrance and a desk, which answers for the gates.

    By night the desk takes all calls from them, by day those that nobody takes.
    """
    vcus = {unit.entrance: unit for unit in site.units if unit.kind is UnitKind.VCU}
    gates = [one for one in site.entrances if one.serves_buildings]
    some_vcu = next(iter(vcus.values()))
    desk = Unit(
        id="desk", name="Desk", kind=UnitKind.SMU, profile="smu-desk", registrar=some_vcu.registrar,
        subnet=some_vcu.subnet, address="10.1.14.250", call_number="9999999",
    )  # fmt: skip
    night = Window(days=(0, 1, 2, 3, 4, 5, 6), start_min=22 * 60, end_min=6 * 60)
    return replace(
        site,
        units=(*site.units, desk),
        entrances=tuple(replace(one, calls_desk=one in gates) for one in site.entrances),
        doors=tuple(_door(one, vcus[one.id]) for one in site.entrances),
        timetables=tuple(
            Timetable(
                id=f"night-{gate.id}", name="Night", entrance=gate.id, purpose=TimetablePurpose.DIVERT,
                windows=(night,), divert_to=desk.id,
            )
            for gate in gates
        ),
        diverts=tuple(
            Divert(id=f"silent-{gate.id}", cause=DivertCause.NO_ANSWER, entrance=gate.id, to_desk=desk.id)
            for gate in gates
        ),
    )  # fmt: skip


def _door(entrance: Entrance, vcu: Unit) -> Door:
    return Door(id=f"leaf-{entrance.id}", name=f"{entrance.name} door", entrance=entrance.id, freed_by=vcu.id, output=1)


if __name__ == "__main__":
    for figure in figures({}, ()):
        word = {None: "", True: "met", False: "not met"}[figure.met]
        print(f"{figure.what}: {figure.measured:.3f} {word}")
