"""The rehearsal: the building comes up, every call of the script is played and compared with the proof."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.model.walk import Walk
from doorwright.paths.proof import Proof
from doorwright.rehearse.building import Building
from doorwright.rehearse.journal import Deed, Entry
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.script import NotPlayed, Outcome, Play, script

AT_ONCE_S: Final = 1.0
"""Bells that begin within this ring at once."""


@dataclass(frozen=True, slots=True)
class Played:
    """A call that was played, and what became of it."""

    play: Play
    happened: Outcome

    @property
    def as_proved(self) -> bool:
        """Whether what happened is what the proof says."""
        return self.happened == self.play.expected


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """A rehearsal that is over: the building as it was left, the calls, and what could not be rehearsed."""

    building: Building
    played: tuple[Played, ...]
    not_played: tuple[NotPlayed, ...]

    @property
    def differing(self) -> tuple[Played, ...]:
        """The calls that went otherwise than the proof says."""
        return tuple(one for one in self.played if not one.as_proved)


def rehearse(
    walk: Walk,
    proof: Proof,
    plan: Planned,
    building: Building,
    *,
    progress: Callable[[int], None] = lambda _count: None,
) -> Rehearsal:
    """Rehearse a building that is not yet on.

    Args:
        walk: the site.
        proof: its call paths.
        plan: the boxes as planned, without faults.
        building: the building, with the faults that it has.
        progress: is told how many calls were played.
    """
    building.power_up()
    played: list[Played] = []
    not_played: list[NotPlayed] = []
    for one in script(walk, proof, plan.boxes):
        if isinstance(one, NotPlayed):
            not_played.append(one)
        else:
            played.append(Played(one, outcome_of(_played(building, one))))
            progress(len(played))
    return Rehearsal(building=building, played=tuple(played), not_played=tuple(dict.fromkeys(not_played)))


def _played(building: Building, play: Play) -> list[Entry]:
    box = building.actors[play.unit].box
    number = play.number if play.key is None else box.keys.get(play.key, "")
    moods = {ident: mood for ident, mood in play.moods.items() if ident in building.actors}
    return building.visit(play.unit, number, minute=play.minute, moods=moods, lapsed=play.lapsed)


def outcome_of(entries: Sequence[Entry]) -> Outcome:
    """Return what became of a call, out of what was written down while it lasted."""
    took = next((entry.part for entry in entries if entry.deed is Deed.TOOK), None)
    return Outcome(
        rang=tuple(_groups([entry for entry in entries if entry.deed is Deed.RANG])),
        took=took,
        freed=frozenset(_freed(entry.about) for entry in entries if entry.deed is Deed.FREED),
        both_heard=len({entry.part for entry in entries if entry.deed is Deed.HEARD}) > 1,
        silent=any(entry.deed is Deed.SILENT for entry in entries),
    )


def _freed(about: str) -> tuple[str, str]:
    digit, _, door = about.partition(" ")
    return digit, door


def _groups(rang: list[Entry]) -> Iterator[frozenset[str]]:
    group: list[Entry] = []
    for entry in rang:
        if group and entry.at_s - group[0].at_s > AT_ONCE_S:
            yield frozenset(one.part for one in group)
            group = []
        group.append(entry)
    if group:
        yield frozenset(one.part for one in group)
