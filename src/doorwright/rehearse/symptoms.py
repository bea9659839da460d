"""What somebody on site would see of a rehearsed building: dark units, refused registrations, calls gone astray.

Each symptom is read off what happened: who replies to whom, what the registrars were asked and answered, and how calls
went. Its words are those in which the trade tells it (common practice).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.rehearse.actors import Actor
from doorwright.rehearse.building import Building
from doorwright.rehearse.front_desk import Attempt
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.rehearsal import Played, Rehearsal
from doorwright.rehearse.script import Play

_REFUSED: Final = {401: Look.REFUSED_401, 403: Look.REFUSED_403, 404: Look.REFUSED_404}


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something that is seen at a part: at a unit, or at the dwelling or desk that is called."""

    part: str
    look: Look
    about: str = ""


def symptoms(plan: Planned, rehearsal: Rehearsal) -> tuple[Symptom, ...]:
    """Return everything that is not as it should be, units first, then calls."""
    building = rehearsal.building
    attempts = [one for actor in building.actors.values() if actor.desk for one in actor.desk.attempts]
    found = [s for actor in building.units() for s in _of_unit(plan, building, actor, attempts)]
    return tuple(dict.fromkeys((*found, *_of_calls(building, rehearsal.differing, rehearsal.played))))


# units


def _of_unit(plan: Planned, building: Building, actor: Actor, attempts: list[Attempt]) -> Iterator[Symptom]:
    box = actor.box
    planned_address = plan.boxes[box.id].jack.address
    reply = _reply(building, actor)
    if not box.jack.link:
        yield Symptom(box.id, Look.DARK)
        return
    if box.jack.address != planned_address and len(building.wire.holders(box.jack.address)) == 1:
        yield Symptom(box.id, Look.ELSEWHERE, box.jack.address)
        return
    if reply is not None:
        yield Symptom(box.id, reply)
    macs = {jack.mac for jack in building.wire.holders(box.jack.address)}
    if len(macs) > 1:
        yield Symptom(box.id, Look.TWO_MACS, box.jack.address)
    if actor.registered is False and box.registers is not None and reply is not Look.NO_REPLY:
        mine = [one for one in attempts if one.user == box.registers.user and one.address == box.jack.address]
        look = _REFUSED.get(mine[-1].code) if mine else Look.NO_ATTEMPT
        if look is not None:
            yield Symptom(box.id, look)


def _reply(building: Building, actor: Actor) -> Look | None:
    """Return what an echo from everywhere in the plan shows."""
    others = [one for one in building.units() if one is not actor and one.box.jack.link]
    near = [one for one in others if one.box.jack.cidr == actor.box.jack.cidr]
    far = [one for one in others if one.box.jack.cidr != actor.box.jack.cidr]
    # one witness of each subnet and VLAN is enough: all others there see the same
    ways = [_any_reaches(building, group, actor) for group in (_witnesses(near), _witnesses(far))]
    if not any(ways) and others:
        return Look.NO_REPLY
    return Look.NEAR_ONLY if far and near and ways == [True, False] else None


def _witnesses(actors: list[Actor]) -> list[Actor]:
    return list({(one.box.jack.cidr, one.box.jack.segment, one.box.jack.gateway): one for one in actors}.values())


def _any_reaches(building: Building, witnesses: list[Actor], actor: Actor) -> bool:
    return any(building.reaches(one.box.id, actor.box.id) for one in witnesses)


# calls


def _of_calls(building: Building, differing: tuple[Played, ...], played: tuple[Played, ...]) -> Iterator[Symptom]:
    sound = [one for one in played if one.as_proved]
    heard_at = {one.play.unit for one in sound if one.happened.both_heard}
    reached = {one.play.expected.took for one in sound}
    by_key = {(one.play.unit, one.play.key, one.play.called) for one in sound}
    at_once = {_call_of(one.play) for one in differing if not one.play.way}
    for one in differing:
        play, look = one.play, _look(building, one)
        if play.way and _call_of(play) in at_once:
            continue  # it fails before it goes that way
        if look in (Look.RELEASE_DEAD, Look.OTHER_DOOR):
            yield Symptom(play.unit, look)
        elif look is Look.ONE_WAY:
            yield Symptom(play.called if play.unit in heard_at else play.unit, look)
        elif play.expected.took in reached and not play.way and (play.unit, play.key, play.called) in by_key:
            yield Symptom(play.unit, Look.SOME_HOURS)
        elif play.expected.took in reached and not play.way and look is Look.RINGS_ELSEWHERE and play.key:
            # who should have taken it takes calls from elsewhere: the fault is where this call came from
            yield Symptom(play.unit, Look.ONE_KEY, play.key)
        else:
            yield Symptom(play.called, look)


def _call_of(play: Play) -> tuple[str, str | None, str, int]:
    return play.unit, play.key, play.called, play.minute


def _look(building: Building, one: Played) -> Look:
    """Return how a call that went wrong looks."""
    expected, happened = one.play.expected, one.happened
    meant: frozenset[str] = frozenset().union(*expected.rang)
    rang: frozenset[str] = frozenset().union(*happened.rang)
    muted = any(unit in building.actors and building.actors[unit].box.muted for unit in meant - rang)
    if rang == meant and happened.took == expected.took and happened.took is not None:
        other = Look.OTHER_DOOR if happened.freed - expected.freed else Look.RELEASE_DEAD
        look = other if happened.both_heard else Look.ONE_WAY
    elif meant and rang > meant:
        look = Look.TWO_RING
    elif muted:
        look = Look.NOT_HEARD
    else:
        off_line = any(unit in building.actors and building.actors[unit].registered is False for unit in meant)
        look = Look.RINGS_ELSEWHERE if rang - meant and not off_line else Look.CALLS_FAIL
    return look
