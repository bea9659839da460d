"""What somebody on site would see of a rehearsed building: dark units, refused registrations, calls gone astray.

Each symptom is read off what happened: who replies to whom, what the registrars were asked and answered, and how calls
went. Its words are those in which the trade tells it (common practice).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.words import counted
from doorwright.rehearse.actors import Actor
from doorwright.rehearse.building import Building
from doorwright.rehearse.front_desk import Attempt
from doorwright.rehearse.hunt import NOT_ACCEPTABLE
from doorwright.rehearse.looks import Look
from doorwright.rehearse.outage import BACK_WITHIN_S, NIGHT_S, Outage
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.rehearsal import Played, Rehearsal
from doorwright.rehearse.script import Outcome, Play
from doorwright.rehearse.wire import Segment

_ANSWERED: Final = {
    401: Look.REFUSED_401,
    403: Look.REFUSED_403,
    404: Look.REFUSED_404,
    503: Look.REFUSED_503,
    None: Look.NEVER_THOUGH,
}


@dataclass(frozen=True, slots=True)
class Symptom:
    """Something that is seen at a part: at a unit, or at the dwelling or desk that is called."""

    part: str
    look: Look
    about: str = ""


def symptoms(plan: Planned, rehearsal: Rehearsal) -> tuple[Symptom, ...]:
    """Return everything that is not as it should be, units first, then calls."""
    building = rehearsal.building
    attempts: dict[tuple[str, str], Attempt] = {}
    for actor in building.actors.values():
        attempts |= {(one.user, one.address): one for one in (actor.desk.attempts if actor.desk else ())}
    around = _Witnesses(building)
    found = [s for actor in building.units() for s in _of_unit(plan, building, actor, attempts, around)]
    if building.outage is not None:
        found += _of_outage(building.outage)
    found += _of_locks(rehearsal.played)
    return tuple(dict.fromkeys((*found, *_of_calls(building, rehearsal.differing, rehearsal.played))))


# units


def _of_unit(
    plan: Planned,
    building: Building,
    actor: Actor,
    attempts: Mapping[tuple[str, str], Attempt],
    around: "_Witnesses",
) -> Iterator[Symptom]:
    """Yield what is seen at a unit; ``attempts`` are the last ones to register, by user and address."""
    box = actor.box
    planned_address = plan.boxes[box.id].jack.address
    reply = _reply(building, actor, around)
    if not box.jack.link:
        yield Symptom(box.id, Look.DARK if _neighbours_are_fine(building, box.id) else Look.ALL_DARK)
        return
    poor = _poor_link(building, actor)
    if poor:
        yield Symptom(box.id, Look.POOR_LINK, poor)
    if box.jack.address != planned_address and len(building.wire.holders(box.jack.address)) == 1:
        yield Symptom(box.id, Look.ELSEWHERE, box.jack.address)
        return
    if reply is not None:
        yield Symptom(box.id, reply)
    macs = {jack.mac for jack in building.wire.holders(box.jack.address)}
    if len(macs) > 1:
        yield Symptom(box.id, Look.TWO_MACS, box.jack.address)
    if actor.registered is False and box.registers is not None and reply is not Look.NO_REPLY:
        mine = attempts.get((box.registers.user, box.jack.address))
        look = _ANSWERED.get(mine.code) if mine else Look.NO_ATTEMPT
        if look is not None:
            yield Symptom(box.id, look)


def _neighbours_are_fine(building: Building, unit: str) -> bool:
    """Say whether another unit on the same switch has a link; where no switch is known, any other unit."""
    ports = building.plant.ports
    at = ports[unit].switch if unit in ports else None
    others = [one for one in building.units() if one.box.id != unit]
    if at is not None:
        others = [one for one in others if one.box.id in ports and ports[one.box.id].switch == at]
    return any(one.box.jack.link for one in others) or not others


def _poor_link(building: Building, actor: Actor) -> str:
    """Return what is poor about the link of a unit, as its switch counts it; nothing where it is sound."""
    jack, told = actor.box.jack, []
    if jack.mbps is not None and jack.mbps < building.plant.ports[actor.box.id].planned_mbps:
        told.append(f"{jack.mbps:g} Mb/s")
    if jack.lost_ratio:
        told.append(f"{100 * jack.lost_ratio:g} % of packets lost")
    restarts_count = building.restarts.get(actor.box.id, 0)
    if restarts_count:
        told.append(f"{counted(restarts_count, 'restart')} in {NIGHT_S / 60:g} minutes of night")
    return ", ".join(told)


# power


def _of_outage(outage: Outage) -> Iterator[Symptom]:
    """Yield what somebody finds after a power cut: what was dark, told once for each supply, and who is not back."""
    together: dict[tuple[str, float], list[str]] = {}
    for unit, dark_s in outage.dark_s.items():
        together.setdefault((outage.source_of[unit] or "", dark_s), []).append(unit)
    for (source, dark_s), units in together.items():
        about = f"{counted(len(units), 'unit')} dark {_after(dark_s)}"
        yield Symptom(source or units[0], Look.CUT, about if source else f"{about}: on the mains alone")
    for source, (doors_count, dark_s) in outage.locks.items():
        yield Symptom(source, Look.CUT, f"{counted(doors_count, 'lock')} without power {_after(dark_s)}")
    for unit in outage.source_of:
        back_s = outage.back_s.get(unit)
        if back_s is None:
            yield Symptom(unit, Look.CUT, "not on line again")
        elif back_s > BACK_WITHIN_S:
            yield Symptom(unit, Look.CUT, f"on line again {back_s / 60:.0f} minutes after the mains")


def _after(dark_s: float) -> str:
    return f"after {dark_s / 60:.0f} minutes" if dark_s >= 60.0 else "at once"


# reach


def _reply(building: Building, actor: Actor, around: "_Witnesses") -> Look | None:
    """Return what an echo from everywhere in the plan shows."""
    near, far = around.of(actor)
    ways = [_any_reaches(building, group, actor) for group in (near, far)]
    if not any(ways) and (near or far):
        return Look.NO_REPLY
    return Look.NEAR_ONLY if far and near and ways == [True, False] else None


class _Witnesses:
    """Who can say whether a unit is reached: one of each subnet, VLAN and gateway; all others there see the same."""

    def __init__(self, building: Building) -> None:
        self._alike: dict[tuple[str, Segment, str | None], list[Actor]] = {}
        for one in building.units():
            jack = one.box.jack
            if jack.link:
                alike = self._alike.setdefault((jack.cidr, jack.segment, jack.gateway), [])
                if len(alike) < 2:  # the second speaks where it is about the first
                    alike.append(one)

    def of(self, actor: Actor) -> tuple[list[Actor], list[Actor]]:
        """Return the witnesses in the subnet of a unit and those elsewhere, itself not among them."""
        found = [next((one for one in alike if one is not actor), None) for alike in self._alike.values()]
        there = [one for one in found if one is not None]
        cidr = actor.box.jack.cidr
        return [one for one in there if one.box.jack.cidr == cidr], [one for one in there if one.box.jack.cidr != cidr]


def _any_reaches(building: Building, witnesses: list[Actor], actor: Actor) -> bool:
    return any(building.reaches(one.box.id, actor.box.id) for one in witnesses)


# calls


def _of_calls(building: Building, differing: tuple[Played, ...], played: tuple[Played, ...]) -> Iterator[Symptom]:
    sound = [one for one in played if one.as_proved]
    heard_at = {one.play.unit for one in sound if one.happened.both_heard}
    shown_at = {one.play.unit for one in sound if one.happened.picture}
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
        elif look is Look.NO_PICTURE:
            yield Symptom(play.called if play.unit in shown_at else play.unit, look)
        elif play.expected.took in reached and not play.way and (play.unit, play.key, play.called) in by_key:
            yield Symptom(play.unit, Look.SOME_HOURS)
        elif play.expected.took in reached and not play.way and look is Look.RINGS_ELSEWHERE and play.key:
            # who should have taken it takes calls from elsewhere: the fault is where this call came from
            yield Symptom(play.unit, Look.ONE_KEY, play.key)
        else:
            yield Symptom(play.called, look)


def _of_locks(played: tuple[Played, ...]) -> Iterator[Symptom]:
    """Yield the doors that were freed and did not open, whatever the proof says of the call."""
    for one in played:
        for _, door in sorted(one.happened.held):
            yield Symptom(door, Look.HELD)


def _call_of(play: Play) -> tuple[str, str | None, str, int]:
    return play.unit, play.key, play.called, play.minute


def _look(building: Building, one: Played) -> Look:
    """Return how a call that went wrong looks."""
    expected, happened = one.play.expected, one.happened
    meant: frozenset[str] = frozenset().union(*expected.rang)
    rang: frozenset[str] = frozenset().union(*happened.rang)
    actors = [building.actors[unit] for unit in meant if unit in building.actors]
    if rang == meant and happened.took == expected.took and happened.took is not None:
        return _look_of_talk(expected, happened)
    if meant and rang > meant:
        return Look.TWO_RING
    if any(actor.box.muted for actor in actors if actor.box.id not in rang):
        return Look.NOT_HEARD
    if happened.code == str(NOT_ACCEPTABLE):
        return Look.NO_CODEC
    if rang - meant and not any(actor.registered is False for actor in actors):
        return Look.RINGS_ELSEWHERE
    caller = building.actors[one.play.unit]
    on_line = caller.registered is not False and all(actor.registered is True for actor in actors)
    return Look.THROUGH_ROUTER if on_line and meant and not rang and not happened.silent else Look.CALLS_FAIL


def _look_of_talk(expected: Outcome, happened: Outcome) -> Look:
    """Return how a call looks that the right one took, of those who should have rung."""
    if not happened.both_heard:
        return Look.ONE_WAY
    if happened.freed - expected.freed:
        return Look.OTHER_DOOR
    return Look.NO_PICTURE if expected.picture and not happened.picture else Look.RELEASE_DEAD
