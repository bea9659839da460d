"""What was seen in a rehearsal, as observations: the same facts that somebody finds in the real building."""

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import datetime

from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import DOWN, Aspect
from doorwright.model.calling import DAY_MIN
from doorwright.model.door import Door
from doorwright.model.place import Dwelling
from doorwright.model.rehearsed import (
    BETWEEN,
    CALLS,
    NO_CALL,
    NO_DOOR,
    NOTHING_RANG,
    ONE_WAY,
    SEEN,
    TOOK,
    Apart,
    call_aspect,
    sum_text,
)
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.telling import clock
from doorwright.paths.week import day_name
from doorwright.rehearse.actors import Actor
from doorwright.rehearse.box import Role
from doorwright.rehearse.rehearsal import Played, Rehearsal
from doorwright.rehearse.script import Outcome, Play


def observations(
    walk: Walk, rehearsal: Rehearsal, *, new_id: Callable[[], str], seen_at: datetime, seen_by: str
) -> tuple[Observation, ...]:
    """Return what was seen of each unit, and what became of the calls that were made there.

    Calls are summed up: for each call unit how many went as proved, and for each key or number of which some did not,
    how many and the first of them.

    Args:
        walk: the site.
        rehearsal: the rehearsal.
        new_id: gives identifiers.
        seen_at: the moment of the rehearsal.
        seen_by: who rehearsed.
    """
    facts = [
        (Subject(Unit.KIND, actor.box.id), aspect, value)
        for actor in rehearsal.building.units()
        for aspect, value in _of_unit(actor)
    ]
    facts += _of_calls(walk, rehearsal)
    return tuple(
        Observation(
            id=new_id(), stage=Stage.REHEARSED, subject=subject, aspect=aspect, value=value, seen_at=seen_at,
            seen_by=seen_by,
        )
        for subject, aspect, value in facts
    )  # fmt: skip


def _of_unit(actor: Actor) -> Iterator[tuple[str, str]]:
    box = actor.box
    if not box.jack.link:
        yield Aspect.LINK, DOWN
    else:
        yield Aspect.ADDRESS, box.jack.address
        if box.jack.gateway is not None:
            yield Aspect.GATEWAY, box.jack.gateway
        if box.jack.segment is not None:
            yield Aspect.VLAN, str(box.jack.segment)
        if box.registers is not None:
            yield Aspect.REGISTRAR, box.registers.address
        if box.role in (Role.URU, Role.SMU):
            yield Aspect.CALL_NUMBER, box.user.partition("-")[0]
    if actor.registered is not None:
        yield Aspect.REGISTERED, "yes" if actor.registered else "no"


def _of_calls(walk: Walk, rehearsal: Rehearsal) -> Iterator[tuple[Subject, str, str]]:
    made = Counter(one.play.unit for one in rehearsal.played)
    made_of = Counter((one.play.unit, _told_want(walk, one.play)) for one in rehearsal.played)
    apart: dict[tuple[str, str], list[Played]] = {}
    for one in rehearsal.differing:
        apart.setdefault((one.play.unit, _told_want(walk, one.play)), []).append(one)
    wrong = Counter(one.play.unit for one in rehearsal.differing)
    for unit, count in made.items():
        yield Subject(Unit.KIND, unit), CALLS, sum_text(count - wrong[unit], count)
    for (unit, want), those in apart.items():
        first = those[0]
        told = Apart(
            count=len(those),
            of_count=made_of[unit, want],
            when=", ".join((told_minute(first.play.minute), *first.play.way)),
            happened=told_outcome(walk, first.happened),
            proved=told_outcome(walk, first.play.expected),
        )
        yield Subject(Unit.KIND, unit), call_aspect(want), str(told)


# in words


def told_play(walk: Walk, play: Play) -> str:
    """Return a call in words: "key 1.3 to 101, Mon 08:00, no answer"."""
    return ", ".join((_told_want(walk, play), told_minute(play.minute), *play.way))


def _told_want(walk: Walk, play: Play) -> str:
    return f"{play.key or f'number {play.number}'} to {told_called(walk, play.called)}"


def told_called(walk: Walk, called: str) -> str:
    """Return what a dwelling or desk is called."""
    part = walk.find(Dwelling, called) or walk.find(Unit, called)
    return part.label if part is not None else called


def told_minute(minute: int) -> str:
    """Return a minute of the axis in words: "Sat 14:30"."""
    return f"{day_name(minute // DAY_MIN)} {clock(minute % DAY_MIN)}"


def told_outcome(walk: Walk, outcome: Outcome) -> str:
    """Return what became of a call: who rang, who took it, which doors that freed."""
    if outcome.silent:
        return NO_CALL
    rang = ", then ".join(" and ".join(sorted(told_called(walk, unit) for unit in group)) for group in outcome.rang)
    said = [f"{rang} rang" if rang else NOTHING_RANG]
    if outcome.took is not None:
        said.append(f"{told_called(walk, outcome.took)}{TOOK}")
        said += [
            f"digit {digit} freed {_door(walk, door)}" + ", which did not open" * ((digit, door) in outcome.held)
            for digit, door in sorted(outcome.freed)
        ] or [NO_DOOR]
        if outcome.picture:
            said.append(SEEN)
        if not outcome.both_heard:
            said.append(ONE_WAY)
    return BETWEEN.join(said)


def _door(walk: Walk, ident: str) -> str:
    door = walk.find(Door, ident)
    return door.name if door is not None else ident
