"""From the plan for switches to changes of the site: switches, cable runs to units, runs between switches."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Place
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.edit import Edit, Rework
from doorwright.plan.placement.from_site import Question
from doorwright.plan.placement.result import Placement, Uplink
from doorwright.studies.run import feeding_run

_NUMBERED: Final = re.compile(r"(.*?)(\d+)")
_LETTER: Final = "C"
_DIGITS_COUNT: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Drafted:
    """The edit, with the switches and runs that are new in it, by their keys in the plan.

    ``uplinks`` are runs between switches by the switch below, ``runs`` those to units by the unit.
    """

    edit: Edit
    switches: dict[str, Switch] = field(default_factory=dict)
    runs: dict[str, CableRun] = field(default_factory=dict)
    uplinks: dict[str, CableRun] = field(default_factory=dict)


def draft_placement(walk: Walk, question: Question, plan: Placement, new_id: Callable[[], str]) -> Drafted:
    """Make the changes that a plan stands for; what is there already stays, but for the runs that the plan moves.

    A switch is called by its cupboard, a run by the next number of those that are there. Ports are left to
    ``plan_ports``. A switch that is there and hangs on nothing gets its uplink too.
    """
    names, wish = question.names, question.wish
    rework = Rework(walk)
    switches = {}
    ident = {one.key: names.ident(Switch, one.key) for one in plan.switches if not one.new}
    taken = {switch.name.casefold() for switch in walk.all(Switch)}
    profiles = {profile.key: profile for profile in wish.profiles}
    for one in plan.switches:
        if one.new:
            name = _free_name(one.cupboard, taken)
            place = names.ident(Place, one.cupboard)
            switches[one.key] = Switch(id=new_id(), name=name, profile=one.type, place=place)
            ident[one.key] = switches[one.key].id
            rework.take_profile(profiles[one.type])
            rework.add(switches[one.key])
    lacking = [link for link in plan.uplinks if not link.new and _hangs_loose(walk, ident[link.switch])]
    links = sorted((*lacking, *(link for link in plan.uplinks if link.new)), key=lambda one: natural_key(one.switch))
    runs = sorted((run for run in plan.runs if run.new), key=lambda one: natural_key(one.demand))
    run_names = _run_names(walk, len(links) + len(runs))
    uplinks = {}
    for link in links:
        uplinks[link.switch] = CableRun(
            id=new_id(),
            name=next(run_names),
            near=ident[link.to or plan.root_switch or ""],
            far=ident[link.switch],
            cable=_cable(question, link),
            length_m=link.length_m,
        )
        rework.add(uplinks[link.switch])
    laid = {}
    for run in runs:
        unit = names.ident(Unit, run.demand)
        before = feeding_run(walk, unit, Switch)
        if before is not None:
            rework.drop(before)
        laid[run.demand] = CableRun(
            id=new_id(), name=next(run_names), near=ident[run.switch], far=unit, cable=wish.cable, length_m=run.length_m
        )
        rework.add(laid[run.demand])
    done = f"place {counted(len(switches), 'switch')}, {counted(len(laid) + len(uplinks), 'cable run')}"
    return Drafted(edit=rework.done(done), switches=switches, runs=laid, uplinks=uplinks)


def _free_name(cupboard: str, taken: set[str]) -> str:
    number = 1
    while (name := f"SW {cupboard}" if number == 1 else f"SW {cupboard} {number}").casefold() in taken:
        number += 1
    taken.add(name.casefold())
    return name


def _hangs_loose(walk: Walk, switch: str) -> bool:
    return feeding_run(walk, switch, Switch) is None


def _cable(question: Question, link: Uplink) -> str:
    return question.wish.optical_cable if link.optical else question.wish.uplink_cable


def _run_names(walk: Walk, count: int) -> Iterator[str]:
    """Yield so many names that go on from those of the runs there are: C0558 is followed by C0559."""
    numbered = [found for run in walk.all(CableRun) if (found := _NUMBERED.fullmatch(run.name))]
    letters = Counter(found[1] for found in numbered)
    letter = max(letters, key=lambda one: (letters[one], one), default=_LETTER)
    digits = [found[2] for found in numbered if found[1] == letter]
    last = max((int(one) for one in digits), default=0)
    width = max((len(one) for one in digits), default=max(_DIGITS_COUNT, len(str(count))))
    for number in range(last + 1, last + count + 1):
        yield f"{letter}{number:0{width}d}"
