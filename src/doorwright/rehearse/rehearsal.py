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
    plays, not_played = plays_of(walk, proof, plan)
    outcomes = play_all(building, plays, progress=progress)
    played = tuple(Played(play, outcome) for play, outcome in zip(plays, outcomes, strict=True))
    return Rehearsal(building=building, played=played, not_played=not_played)


def plays_of(walk: Walk, proof: Proof, plan: Planned) -> tuple[tuple[Play, ...], tuple[NotPlayed, ...]]:
    """Return the calls to be played, in the order of the script, and those that cannot be."""
    plays: list[Play] = []
    not_played: dict[NotPlayed, None] = {}
    for one in script(walk, proof, plan.boxes):
        if isinstance(one, NotPlayed):
            not_played[one] = None
        else:
            plays.append(one)
    return tuple(plays), tuple(not_played)


def play_all(
    building: Building, plays: Sequence[Play], *, progress: Callable[[int], None] = lambda _count: None
) -> tuple[Outcome, ...]:
    """Let a building come up, play calls in it, and return what became of each.

    Args:
        building: the building, not yet on.
        plays: the calls.
        progress: is told how many were played.
    """
    building.come_up()
    outcomes = []
    for play in plays:
        outcomes.append(outcome_of(play_call(building, play)))
        progress(len(outcomes))
    return tuple(outcomes)


def play_call(building: Building, play: Play) -> list[Entry]:
    """Play a call in a building that is up, and return what happened."""
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
        picture=any(entry.deed is Deed.SAW for entry in entries),
        held=frozenset(_freed(entry.about) for entry in entries if entry.deed is Deed.HELD),
        code=next((entry.about for entry in entries if entry.deed is Deed.REFUSED), ""),
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
