"""Numbers given out by one scheme: each dwelling gets the first that is free, not reserved, and can be dialled.

Where that leaves somebody without, though others could do with another of theirs, all who wait are looked at together.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.place import Dwelling
from doorwright.model.site import Choices
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.numbering.arrangement import Wanting, arranged
from doorwright.plan.numbering.dialling import EVERYWHERE, Dialling, Taken
from doorwright.plan.numbering.schemes import Candidate, Numbering
from doorwright.plan.order import WalkingOrder

TRIED_COUNT: Final = 3
"""How many of the numbers that would not do are told of. Our choice."""


class NumberPlan:
    """What a scheme gives the dwellings that have no number, and which of them stay without.

    ``issued`` holds number and reason by dwelling, ``stuck`` the dwellings without in walking order, ``refused`` what
    was tried for each of them.
    """

    def __init__(self, walk: Walk, order: WalkingOrder, choices: Choices, dialling: Dialling) -> None:
        self.dialling = dialling
        self.numbering = Numbering(
            walk, order, choices, lambda dwelling: dialling.system_of(dwelling, choices.number_prefix)
        )
        self.issued: dict[str, Candidate] = {}
        self.stuck: list[Dwelling] = []
        self.refused: dict[str, list[str]] = {}
        self._walk = walk
        self._begin()
        waiting = [dwelling for dwelling in self.numbering.dwellings if dwelling.call_number is None]
        self._issue(waiting)
        if self.stuck:
            self._arrange(waiting)

    def _begin(self) -> None:
        """Take what is carried already, and nothing else."""
        self.taken = Taken()
        self._dialled: dict[str, _Dialled] = {}
        for unit in self._walk.all(Unit):
            if unit.call_number:
                self.taken.give(EVERYWHERE, unit.call_number, unit)
        for dwelling in self.numbering.dwellings:
            if dwelling.call_number is not None:
                self._give(dwelling, dwelling.call_number)

    @property
    def numbers(self) -> Mapping[str, str]:
        """The numbers issued, by dwelling."""
        return {ident: number for ident, (number, _) in self.issued.items()}

    def _issue(self, waiting: Iterable[Dwelling]) -> None:
        """Give each the first number that will do, or note what was tried."""
        candidates = self.numbering.candidates(self.numbering.dwellings, self.taken.numbers)
        for dwelling in waiting:
            tried: list[str] = []
            for number, why in candidates(dwelling):
                refused = self._refusal(dwelling, number)
                if refused is None:
                    self._settle(dwelling, (number, why))
                    break
                if len(tried) < TRIED_COUNT:
                    tried.append(refused)
                if self._is_last(dwelling, number):
                    self._stay_without(dwelling, tried)
                    break
            else:
                self._stay_without(dwelling, tried)

    def _arrange(self, waiting: Sequence[Dwelling]) -> None:
        """Look at all who wait in the systems where somebody stays without, and arrange it so that more have one."""
        first, stuck = dict(self.issued), list(self.stuck)
        self._begin()
        candidates = self.numbering.candidates(self.numbering.dwellings, self.taken.numbers)
        would_do = {one.id: next(self._would_do(one, candidates(one)), None) for one in stuck}
        systems = {self.numbering.domain_of(one) for one in stuck if would_do[one.id] is not None}
        groups: dict[object, list[Dwelling]] = {}
        for one in waiting:
            if self.numbering.domain_of(one) in systems:
                groups.setdefault(self._likeness(one), []).append(one)
        offered = [dict(self._offered(group, groups.values(), candidates(group[0]))) for group in groups.values()]
        wanting = [
            Wanting(
                system=self.numbering.domain_of(group[0]),
                dwellings_count=len(group),
                numbers=tuple(numbers),
                at_once=self.dialling.at_once(group[0]),
            )
            for group, numbers in zip(groups.values(), offered, strict=True)
        ]
        found = (arranged(wanting) if wanting else None) or ()
        if sum(map(len, found)) > sum(one.id in first for group in groups.values() for one in group):
            for group in groups.values():
                for one in group:
                    first.pop(one.id, None)
            for group, whys, numbers in zip(groups.values(), offered, found, strict=True):
                first |= {one.id: (number, whys[number]) for one, number in zip(group, numbers, strict=False)}
        self.issued, self.stuck, self.refused = {}, [], {}
        for one in waiting:
            if one.id in first:
                self._settle(one, first[one.id])
        self._issue(one for one in waiting if one.id not in first)

    def _likeness(self, dwelling: Dwelling) -> object:
        """Return what is the same for dwellings for which the same numbers would do."""
        keypads = self.dialling.digits_max(dwelling), self.dialling.at_once(dwelling)
        return self.numbering.kinship(dwelling), self.numbering.domain_of(dwelling), keypads

    def _offered(
        self, group: Sequence[Dwelling], groups: Iterable[Sequence[Dwelling]], candidates: Iterator[Candidate]
    ) -> Iterator[Candidate]:
        """Return the numbers for a group: with as many as dwellings wait, nobody is in another's way."""
        enough = None if self.dialling.at_once(group[0]) else sum(map(len, groups))
        return islice(self._would_do(group[0], candidates), enough)

    def _would_do(self, dwelling: Dwelling, candidates: Iterator[Candidate]) -> Iterator[Candidate]:
        for number, why in candidates:
            if self._refusal(dwelling, number) is None:
                yield number, why
            elif self._is_last(dwelling, number):
                return

    def _is_last(self, dwelling: Dwelling, number: str) -> bool:
        """Say whether nothing after this number will do: it is too long, and the next ones are no shorter."""
        return self.numbering.only_grows and not self._short_enough(dwelling, number)

    def _settle(self, dwelling: Dwelling, candidate: Candidate) -> None:
        self.issued[dwelling.id] = candidate
        self._give(dwelling, candidate[0])

    def _stay_without(self, dwelling: Dwelling, tried: list[str]) -> None:
        self.stuck.append(dwelling)
        self.refused[dwelling.id] = tried

    def _short_enough(self, dwelling: Dwelling, number: str) -> bool:
        digits_max = self.dialling.digits_max(dwelling)
        return digits_max is None or len(number) <= digits_max

    def _give(self, dwelling: Dwelling, number: str) -> None:
        if number:
            self.taken.give(self.numbering.domain_of(dwelling), number, dwelling)
            for vcu in self.dialling.at_once(dwelling):
                self._dialled.setdefault(vcu, _Dialled()).add(number)

    def _refusal(self, dwelling: Dwelling, number: str) -> str | None:
        """Return why a number will not do for a dwelling, or None where it will."""
        if number in self.taken.numbers(self.numbering.domain_of(dwelling)):
            return f"{number} is taken"
        if self.dialling.is_reserved(number):
            return f"{number} is reserved"
        if not self._short_enough(dwelling, number):
            digits_max = self.dialling.digits_max(dwelling)
            takes = counted(digits_max, "digit") if digits_max else "digits"
            return f"{number} is longer than the {takes} that a keypad at its entrances takes"
        if any(vcu in self._dialled and self._dialled[vcu].confuses(number) for vcu in self.dialling.at_once(dwelling)):
            return f"{number} begins another number, or another begins it, at a keypad without end key"
        return None


class _Dialled:
    """The numbers dialled at one keypad without end key, with all that they begin with."""

    def __init__(self) -> None:
        self._numbers: set[str] = set()
        self._beginnings: set[str] = set()

    def add(self, number: str) -> None:
        self._numbers.add(number)
        self._beginnings.update(number[:length] for length in range(1, len(number)))

    def confuses(self, number: str) -> bool:
        return number in self._beginnings or any(number[:length] in self._numbers for length in range(1, len(number)))
