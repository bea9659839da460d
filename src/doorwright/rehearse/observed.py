"""What was seen in a rehearsal, as observations: the same facts that somebody finds in the real building."""

from collections.abc import Callable, Iterator
from datetime import datetime

from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import DOWN, Aspect
from doorwright.model.calling import DAY_MIN
from doorwright.model.door import Door
from doorwright.model.place import Dwelling
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
    """Return what was seen of each unit, and what became of each call.

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
    facts += [_of_call(walk, one) for one in rehearsal.played]
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


def _of_call(walk: Walk, one: Played) -> tuple[Subject, str, str]:
    return Subject(Unit.KIND, one.play.unit), f"call: {told_play(walk, one.play)}", told_outcome(walk, one.happened)


# in words


def told_play(walk: Walk, play: Play) -> str:
    """Return a call in words: "key 1.3 to 101, Mon 08:00, no answer"."""
    how = play.key or f"number {play.number}"
    return ", ".join((f"{how} to {told_called(walk, play.called)}", told_minute(play.minute), *play.way))


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
        return "no call goes through"
    rang = ", then ".join(" and ".join(sorted(told_called(walk, unit) for unit in group)) for group in outcome.rang)
    said = [f"{rang} rang" if rang else "nothing rang"]
    if outcome.took is not None:
        said.append(f"{told_called(walk, outcome.took)} took it")
        said += [f"digit {digit} freed {_door(walk, door)}" for digit, door in sorted(outcome.freed)] or [
            "no door freed"
        ]
        if not outcome.both_heard:
            said.append("speech one way or not at all")
    return "; ".join(said)


def _door(walk: Walk, ident: str) -> str:
    door = walk.find(Door, ident)
    return door.name if door is not None else ident
