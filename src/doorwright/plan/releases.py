"""What frees a door, as it is entered in the unit whose output frees it: output, time, lock, and who may.

Common practice: the unit on whose output the lock hangs decides, by the call from which it is asked to.
"""

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Final

from doorwright.model.calling import Timetable
from doorwright.model.door import Door, FailMode, ReleaseRight
from doorwright.model.place import Dwelling
from doorwright.model.sip_user import call_number_of
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.piece import PieceKind

ANYBODY: Final = "whoever is called"
"""Who may free a door that has no right of its own."""
NOBODY: Final = "nobody"

_OUTPUT_DOES: Final = {
    FailMode.SAFE: "fail-safe: the output takes its power away",
    FailMode.SECURE: "fail-secure: the output gives it power",
}


def door(walk: Walk, holder: Unit, ident: str) -> Mapping[str, str]:
    """Return what a unit is told of a door that it frees."""
    freed = walk.find(Door, ident)
    if freed is None or freed.freed_by != holder.id:
        return {}
    callers = sorted(unit.name for unit in walk.units_at(freed.entrance) if unit.kind is UnitKind.VCU)
    entered = {
        "output": str(freed.output) if freed.output is not None else None,
        "release time": f"{freed.release_s:g} s" if freed.release_s is not None else None,
        "lock": _OUTPUT_DOES[freed.fail_mode] if freed.fail_mode is not None else None,
        "in calls from": ", ".join(callers) or None,
        "freed by": _freed_by(walk, freed),
    }
    return {f"{PieceKind.DOOR} {ident}: {name}": value for name, value in entered.items() if value is not None}


def _freed_by(walk: Walk, freed: Door) -> str:
    rights = walk.rights_to(freed.id)
    return "; ".join(sorted(_holders(walk, right) for right in rights)) if rights else ANYBODY


def _holders(walk: Walk, right: ReleaseRight) -> str:
    cores = [*right.cores, *(core.id for building in right.buildings for core in walk.cores_of(building))]
    homes = [home for core in dict.fromkeys(cores) for home in walk.dwellings_of_core(core)]
    homes += [home for ident in right.dwellings if (home := walk.find(Dwelling, ident)) is not None]
    numbers = {home.call_number for home in homes}
    numbers |= {call_number_of(walk, desk) for ident in right.desks if (desk := walk.find(Unit, ident)) is not None}
    text = ", ".join(runs_of(number for number in numbers if number is not None)) or NOBODY
    kept = walk.find(Timetable, right.timetable)
    return f"{text} inside {kept.name}" if kept is not None else text


def runs_of(numbers: Iterable[str]) -> Iterator[str]:
    """Yield call numbers in order, three and more that follow one another as "101-104".

    Only numbers of as many digits follow one another: 09 is not followed by 10, which dials otherwise than 010.
    """
    ordered = sorted(set(numbers), key=lambda number: (len(number), number))
    stretches = groupby(enumerate(ordered), key=lambda pair: (len(pair[1]), _value(pair[1], pair[0])))
    for _, stretch in stretches:
        run = [number for _, number in stretch]
        if len(run) > 2:
            yield f"{run[0]}-{run[-1]}"
        else:
            yield from run


def _value(number: str, at: int) -> int | str:
    """Return what is the same for numbers that follow one another; a text that is no number follows nothing."""
    return int(number) - at if number.isascii() and number.isdecimal() else number
