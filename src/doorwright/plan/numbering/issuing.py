"""Numbers given out by one scheme: each dwelling gets the first that is free, not reserved, and can be dialled."""

from collections.abc import Mapping
from typing import Final

from doorwright.model.place import Dwelling
from doorwright.model.site import Choices
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
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
        self.taken = Taken()
        self.issued: dict[str, Candidate] = {}
        self.stuck: list[Dwelling] = []
        self.refused: dict[str, list[str]] = {}
        self._dialled: dict[str, _Dialled] = {}
        for unit in walk.all(Unit):
            if unit.call_number:
                self.taken.give(EVERYWHERE, unit.call_number, unit)
        waiting = []
        for dwelling in self.numbering.dwellings:
            if dwelling.call_number is None:
                waiting.append(dwelling)
            else:
                self._give(dwelling, dwelling.call_number)
        self._issue(waiting)

    @property
    def numbers(self) -> Mapping[str, str]:
        """The numbers issued, by dwelling."""
        return {ident: number for ident, (number, _) in self.issued.items()}

    def _issue(self, waiting: list[Dwelling]) -> None:
        if not waiting:
            return
        candidates = self.numbering.candidates(self.numbering.dwellings, self.taken.numbers)
        for dwelling in waiting:
            tried: list[str] = []
            for number, why in candidates(dwelling):
                refused = self._refusal(dwelling, number)
                if refused is None:
                    self.issued[dwelling.id] = (number, why)
                    self._give(dwelling, number)
                    break
                if len(tried) < TRIED_COUNT:
                    tried.append(refused)
                if self.numbering.only_grows and not self._short_enough(dwelling, number):
                    self._stay_without(dwelling, tried)
                    break
            else:
                self._stay_without(dwelling, tried)

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
            return f"{number} is longer than the {digits_max} digits that a keypad at its entrances takes"
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
