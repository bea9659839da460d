"""Why numbers cannot be issued: the fewest causes that together leave no way, each of them needed.

A cause is a dwelling that wants a number, a number carried already, a keypad's limit, or a reservation. From causes
that leave no way, one after the other is thought away; where there is still no way without it, it was no cause
(deletion to an irreducible subset). What is left cannot be reduced: without any one of it, a plan can be made.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from itertools import islice
from typing import Final

from doorwright.model.place import Dwelling
from doorwright.model.reserved import Reserved
from doorwright.model.site import NumberScheme
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.numbering.assignment import can_agree, can_all_have_one
from doorwright.plan.numbering.dialling import EVERYWHERE, Dialling, Taken, begins
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.numbering.schemes import Rivals

WIDEST_COUNT: Final = 2000
"""How many dwellings may take part in a conflict before it is told without its causes. Our choice."""


CONFLICTS_MAX: Final = 8
"""How many conflicts are worked out. Our choice: what a person reads, in a few seconds on a large site."""

LIKENESS_COUNT: Final = 12
"""How many causes are looked at to tell whether two conflicts are one. Our choice."""


class CauseKind(IntEnum):
    """What a cause is, in the order in which causes are thought away: dwellings last."""

    KEYPAD_DIGITS = 0
    KEYPAD_AT_ONCE = 1
    RESERVED = 2
    CARRIED = 3
    WANTING = 4


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause. ``ident`` is the part that it is about, or the text of a reservation."""

    kind: CauseKind
    ident: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Dwellings that stay without number for the same causes. ``proven`` says that each cause is needed."""

    stuck: tuple[Dwelling, ...]
    causes: tuple[Cause, ...]
    proven: bool

    def of_kind(self, kind: CauseKind) -> tuple[str, ...]:
        """Return what the causes of one kind are about."""
        return tuple(cause.ident for cause in self.causes if cause.kind is kind)


def conflicts_of(walk: Walk, plan: NumberPlan) -> tuple[tuple[Conflict, ...], tuple[Dwelling, ...]]:
    """Return the conflicts of a plan, and those dwellings without number whose causes were not told.

    After ``CONFLICTS_MAX`` conflicts no more are worked out: a site with so many wants another scheme, not details.
    """
    question = Question(walk, plan)
    conflicts: list[Conflict] = []
    untold: list[Dwelling] = []
    for dwelling in plan.stuck:
        for place, known in enumerate(conflicts):
            if question.belongs(known, dwelling):
                conflicts[place] = Conflict((*known.stuck, dwelling), known.causes, known.proven)
                break
        else:
            found = question.explain(dwelling) if len(conflicts) < CONFLICTS_MAX else None
            if found is None:
                untold.append(dwelling)
            else:
                conflicts.append(found)
    return tuple(conflicts), tuple(untold)


class Question:
    """Asks whether numbers can be issued under some causes and no others."""

    def __init__(self, walk: Walk, plan: NumberPlan) -> None:
        self._walk = walk
        self._dialling: Dialling = plan.dialling
        self._numbering = plan.numbering
        self._taken = plan.taken
        self._waiting = {one.id for one in plan.stuck} | set(plan.issued)
        self._reserved = {one.text: one for one in plan.dialling.reserved}
        self._rivals = Rivals(plan.numbering)

    def possible(self, causes: Collection[Cause]) -> bool | None:
        """Say whether every dwelling among the causes can have a number; None where the search gave up."""
        wanting, carried, limits = self._sorted(causes)
        taken = Taken()
        for holder in carried:
            system = EVERYWHERE if isinstance(holder, Unit) else self._numbering.domain_of(holder)
            taken.give(system, holder.call_number or "", holder)
        own = [holder for holder in carried if isinstance(holder, Dwelling)]
        candidates = self._numbering.candidates((*wanting, *own), taken.numbers)
        at_once = {one.id: self._dialling.at_once(one) & limits.at_once for one in (*wanting, *own)}
        enough = len(wanting) if not any(at_once.values()) else None  # with as many as all, nobody is in another's way
        lists: dict[object, list[tuple[str, str]]] = {}
        options = []
        for one in wanting:
            system = self._numbering.domain_of(one)
            digits_max = limits.digits_max(self._dialling, one)
            key = (self._numbering.kinship(one), system, digits_max, at_once[one.id])
            if key not in lists:
                would_do = (
                    (system, number)
                    for number in self._short_enough((number for number, _ in candidates(one)), digits_max)
                    if number not in taken.numbers(system)
                    and not any(reserved.holds(number) for reserved in limits.reserved)
                    and not self._confused(number, at_once[one.id], own)
                )
                lists[key] = list(islice(would_do, enough))
            if not lists[key]:
                return False
            options.append(lists[key])
        if not can_all_have_one(options):
            return False
        if enough is not None:
            return True

        def clash(one: int, mine: tuple[str, str], other: int, theirs: tuple[str, str]) -> bool:
            shared = at_once[wanting[one].id] & at_once[wanting[other].id]
            return mine == theirs or bool(shared and begins(mine[1], theirs[1]))

        return can_agree(options, clash)

    def explain(self, stuck: Dwelling) -> Conflict | None:
        """Return why a dwelling has no number, or None where that cannot be told."""
        group: dict[str, Dwelling | Unit] = {stuck.id: stuck}
        causes = self._causes(group.values())
        while self.possible(causes) is not False:
            more = {one.id: one for one in self._in_the_way(group.values()) if one.id not in group}
            if not more or len(group) + len(more) > WIDEST_COUNT:
                return None
            group |= more
            causes = self._causes(group.values())
        return self._reduced(causes, stuck)

    def belongs(self, conflict: Conflict, other: Dwelling) -> bool:
        """Say whether a dwelling is without number for the same causes as one of a conflict's."""
        first = Cause(CauseKind.WANTING, conflict.stuck[0].id)
        own = Cause(CauseKind.WANTING, other.id)
        if own in conflict.causes:
            return True
        if not self._alike(conflict, other):
            return False
        instead = [own if cause == first else cause for cause in conflict.causes]
        if self.possible(instead) is not False:
            return False
        # in its place it must be needed, and need the others: else it has a cause of its own
        rest = [cause for cause in instead if cause != own][:LIKENESS_COUNT]
        return all(self.possible([other for other in instead if other != cause]) is not False for cause in rest)

    def _alike(self, conflict: Conflict, other: Dwelling) -> bool:
        """Say whether it is worth asking: as on the door, doors that read nothing alike have nothing in common."""
        if self._numbering.choices.number_scheme is not NumberScheme.DOOR:
            return True
        return self._numbering.digits(conflict.stuck[0]) == self._numbering.digits(other)

    def _reduced(self, causes: list[Cause], stuck: Dwelling) -> Conflict:
        last = Cause(CauseKind.WANTING, stuck.id)
        ordered = sorted(causes, key=lambda cause: (cause.kind, cause == last, cause.ident))
        kept = list(ordered)
        proven = True
        needed_kin: set[object] = set()
        for cause in ordered:
            kin = self._kin(cause)
            if kin in needed_kin:  # as good as one that is needed, so needed too
                continue
            without = [other for other in kept if other != cause]
            answer = self.possible(without)
            if answer is False:
                kept = without
            else:
                proven = proven and answer is not None
                needed_kin.add(kin)
        return Conflict((stuck,), tuple(kept), proven)

    def _kin(self, cause: Cause) -> object:
        dwelling = self._walk.find(Dwelling, cause.ident) if cause.kind is CauseKind.WANTING else None
        if dwelling is None or self._numbering.choices.number_scheme is not NumberScheme.RUNNING:
            return cause
        return self._numbering.kinship(dwelling), self._dialling.keypads(dwelling)

    def _causes(self, group: Iterable[Dwelling | Unit]) -> list[Cause]:
        causes: dict[Cause, None] = {}
        for one in group:
            if isinstance(one, Unit) or one.id not in self._waiting:
                causes[Cause(CauseKind.CARRIED, one.id)] = None
                continue
            causes[Cause(CauseKind.WANTING, one.id)] = None
            for keypad in self._dialling.keypads(one):
                if keypad.digits_max is not None:
                    causes[Cause(CauseKind.KEYPAD_DIGITS, keypad.vcu.id)] = None
                if keypad.at_once:
                    causes[Cause(CauseKind.KEYPAD_AT_ONCE, keypad.vcu.id)] = None
        causes |= dict.fromkeys(Cause(CauseKind.RESERVED, text) for text in self._reserved)
        return list(causes)

    def _in_the_way(self, group: Iterable[Dwelling | Unit]) -> Iterator[Dwelling | Unit]:
        """Yield who holds, or reads like, a number that one of the group could have."""
        for one in group:
            if isinstance(one, Unit) or one.id not in self._waiting:
                continue
            yield from self._rivals.of(one)
            taken = self._taken.numbers(self._numbering.domain_of(one))
            candidates = self._numbering.candidates((one,), lambda _: frozenset())
            at_once = self._dialling.at_once(one)
            for number in self._short_enough((number for number, _ in candidates(one)), self._dialling.digits_max(one)):
                if number in taken:
                    yield taken[number]
                if at_once:
                    yield from self._confusing(number, at_once, taken)

    def _confusing(
        self, number: str, at_once: frozenset[str], taken: dict[str, Dwelling | Unit]
    ) -> Iterator[Dwelling | Unit]:
        for other, holder in taken.items():
            if begins(number, other) and isinstance(holder, Dwelling) and self._dialling.at_once(holder) & at_once:
                yield holder

    def _short_enough(self, numbers: Iterator[str], digits_max: int | None) -> Iterator[str]:
        """Yield the numbers that are short enough; schemes that count only ever grow, so the first too long ends it."""
        for number in numbers:
            if digits_max is None or len(number) <= digits_max:
                yield number
            elif self._numbering.only_grows:
                return

    def _confused(self, number: str, at_once: frozenset[str], carried: Iterable[Dwelling]) -> bool:
        return bool(at_once) and any(
            begins(number, one.call_number or "") and at_once & self._dialling.at_once(one)
            for one in carried
            if one.call_number
        )

    def _sorted(self, causes: Collection[Cause]) -> tuple[list[Dwelling], list[Dwelling | Unit], "_Limits"]:
        wanting, carried = [], []
        for cause in causes:
            part = self._walk.find(Dwelling, cause.ident) or self._walk.find(Unit, cause.ident)
            if cause.kind is CauseKind.WANTING and isinstance(part, Dwelling):
                wanting.append(part)
            elif cause.kind is CauseKind.CARRIED and part is not None:
                carried.append(part)
        limits = _Limits(
            frozenset(cause.ident for cause in causes if cause.kind is CauseKind.KEYPAD_DIGITS),
            frozenset(cause.ident for cause in causes if cause.kind is CauseKind.KEYPAD_AT_ONCE),
            tuple(self._reserved[cause.ident] for cause in causes if cause.kind is CauseKind.RESERVED),
        )
        return wanting, carried, limits


@dataclass(frozen=True, slots=True)
class _Limits:
    """The limits among some causes: visitor call units by identifier, and reservations."""

    keypads: frozenset[str]
    at_once: frozenset[str]
    reserved: tuple[Reserved, ...]

    def digits_max(self, dialling: Dialling, dwelling: Dwelling) -> int | None:
        counts = (keypad.digits_max for keypad in dialling.keypads(dwelling) if keypad.vcu.id in self.keypads)
        return min((count for count in counts if count), default=None)
