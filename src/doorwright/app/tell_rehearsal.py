"""What came of a rehearsal, in words: as the command prints it and the page shows it."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from doorwright.app.rehearse_book import Rehearsed
from doorwright.model.naming import name_of
from doorwright.model.place import Dwelling, Entrance
from doorwright.rehearse.observed import told_outcome, told_play


@dataclass(frozen=True, slots=True)
class CallLine:
    """A call that was played, counted from 1: where, who was called and how, what the proof says, what happened."""

    number: int
    entrance: str
    unit: str
    call: str
    proved: str
    rehearsed: str
    as_proved: bool


@dataclass(frozen=True, slots=True)
class SeenLine:
    """Something that is seen, and everywhere it is seen."""

    what: str
    where: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EntranceLine:
    """An entrance, how many calls were played there, and how many went otherwise than the proof says."""

    entrance: str
    calls_count: int
    otherwise_count: int


def name_in(made: Rehearsed, ident: str) -> str:
    """Return what a part is called; what is no part of the site is told by its identifier."""
    part = made.walk.part(ident)
    return name_of(made.walk, part) if part is not None else ident


def place_in(made: Rehearsed, ident: str) -> str:
    """Return what a part is called where something is seen at it: a dwelling by its door."""
    dwelling = made.walk.find(Dwelling, ident)
    return f"dwelling {dwelling.door_label}" if dwelling is not None else name_in(made, ident)


def registered_counts(made: Rehearsed) -> tuple[int, int]:
    """Return how many units registered, and how many should have."""
    asked = [one.registered for one in made.rehearsal.building.actors.values() if one.registered is not None]
    return sum(asked), len(asked)


def seen_lines(made: Rehearsed) -> tuple[SeenLine, ...]:
    """Return what is seen, each with every place where it is."""
    places: dict[str, list[str]] = {}
    for one in made.symptoms:
        place = place_in(made, one.part)
        places.setdefault(one.look.value, []).append(f"{place} ({one.about})" if one.about else place)
    return tuple(SeenLine(look, tuple(where)) for look, where in places.items())


def entrance_lines(made: Rehearsed) -> tuple[EntranceLine, ...]:
    """Return how many calls were played from each entrance."""
    counts = Counter(one.play.entrance for one in made.rehearsal.played)
    wrong = Counter(one.play.entrance for one in made.rehearsal.differing)
    return tuple(
        EntranceLine(made.walk.get(Entrance, ident).name, count, wrong[ident]) for ident, count in counts.items()
    )


def call_lines(made: Rehearsed) -> Iterator[CallLine]:
    """Yield every call that was played, in order."""
    walk = made.walk
    told: dict[object, str] = {}  # most outcomes are alike
    for number, one in enumerate(made.rehearsal.played, start=1):
        for outcome in (one.play.expected, one.happened):
            if outcome not in told:
                told[outcome] = told_outcome(walk, outcome)
        yield CallLine(
            number=number,
            entrance=walk.get(Entrance, one.play.entrance).name,
            unit=name_in(made, one.play.unit),
            call=told_play(walk, one.play),
            proved=told[one.play.expected],
            rehearsed=told[one.happened],
            as_proved=one.as_proved,
        )


def left_counts(made: Rehearsed) -> tuple[tuple[str, int], ...]:
    """Return what could not be rehearsed and why, and how often, the most often first."""
    left = Counter(f"{one.kind}: {one.lacks} is missing" for one in made.left_out)
    left.update(one.why for one in made.rehearsal.not_played)
    return tuple(left.most_common())
