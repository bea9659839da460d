"""The numbering schemes: which numbers each would give a dwelling, best first.

What a visitor reads on the door is what they should dial, if the keypad can take it (common practice). Where the
digits of several labels clash, a letter counts by its place in the alphabet (12B is 122), and else those dwellings get
the number of their core in front, if the site wants a prefix there. A scheme only proposes; whether a number is free
and can be dialled is asked elsewhere (``dialling.py``).
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator
from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.place import Building, Dwelling
from doorwright.model.site import Choices, NumberPrefix, NumberScheme
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder

_NO_DIGITS: Final = re.compile(r"[^0-9]+")
_LETTER_BEHIND: Final = re.compile(r"[0-9]\s*([A-I])\Z", re.IGNORECASE)

Candidate = tuple[str, str]
"""A number and the reason for it."""

Candidates = Callable[[Dwelling], Iterator[Candidate]]
"""Gives the numbers to try for a dwelling, best first."""

DomainOf = Callable[[Dwelling], str]
"""Says within which system a dwelling's number must be its own; the same text, the same system."""

TakenIn = Callable[[str], Collection[str]]
"""Gives the numbers that are taken in a system."""


Proposals = Callable[[Collection[Dwelling], TakenIn], Candidates]
"""A scheme that has worked out once what holds for the whole site."""


class Numbering:
    """A numbering scheme and its prefix, ready for one site: everything that is worked out once for all dwellings."""

    def __init__(self, walk: Walk, order: WalkingOrder, choices: Choices, domain_of: DomainOf) -> None:
        self.choices = choices
        self.always = choices.number_prefix in {NumberPrefix.BUILDING, NumberPrefix.CORE}
        self.order = order
        self.domain_of = domain_of
        self.dwellings = order.dwellings()
        self._core_of_building = {core.id: core.building for core in order.cores()}
        self._prefixes = self._counted(walk)
        self._proposals = _SCHEMES[choices.number_scheme](self)

    def candidates(self, among: Collection[Dwelling], taken_in: TakenIn) -> Candidates:
        """Return what gives each dwelling its numbers, where ``among`` are all the dwellings that are to have one.

        What is taken may grow while numbers are issued; a scheme may pass over it.
        """
        return self._proposals(among, taken_in)

    @property
    def only_grows(self) -> bool:
        """Whether no number proposed is shorter than the one before: after one too long, all are."""
        return self.choices.number_scheme is not NumberScheme.DOOR

    def kinship(self, dwelling: Dwelling) -> str:
        """Return a text that is the same for dwellings to which the scheme proposes the same numbers."""
        if self.choices.number_scheme is NumberScheme.RUNNING:
            return f"{self.prefix(dwelling) if self.always else ''} {self.domain_of(dwelling)}"
        return dwelling.id

    def group(self, dwelling: Dwelling) -> str:
        """Return the building or core by which numbers are told apart."""
        building = self._core_of_building.get(dwelling.core, "")
        return building if self.choices.number_prefix is NumberPrefix.BUILDING else dwelling.core

    def prefix(self, dwelling: Dwelling) -> str:
        """Return the number of the dwelling's building or core; nothing where there is only one of them."""
        return self._prefixes.get(self.group(dwelling), "")

    def digits(self, dwelling: Dwelling) -> str:
        """Return the digits of a door label, filled with zeros to as many as the site asks for."""
        digits = _NO_DIGITS.sub("", dwelling.door_label)
        pad = self.choices.number_digits_count
        return digits.zfill(pad) if pad and digits else digits

    def _counted(self, walk: Walk) -> dict[str, str]:
        match self.choices.number_prefix:
            case NumberPrefix.NONE:
                return {}
            case NumberPrefix.BUILDING:
                buildings = sorted(walk.all(Building), key=lambda building: natural_key(building.name))
                return _numbered(building.id for building in buildings)
            case NumberPrefix.CORE | NumberPrefix.AS_NEEDED:
                return _numbered(core.id for core in self.order.cores())


def _numbered(idents: Iterable[str]) -> dict[str, str]:
    ordered = tuple(idents)
    width = len(str(len(ordered)))
    if len(ordered) < 2:
        return {}
    return {ident: str(number).zfill(width) for number, ident in enumerate(ordered, start=1)}


class Rivals:
    """Dwellings whose door labels keep a number from another: they read the same, or like it behind its prefix."""

    def __init__(self, numbering: Numbering) -> None:
        self._numbering = numbering
        self._reading: dict[str, list[Dwelling]] = {}
        if numbering.choices.number_scheme is NumberScheme.DOOR:
            for dwelling in numbering.dwellings:
                digits = numbering.digits(dwelling)
                for text in {digits, digits + letter_of(dwelling)} - {""}:
                    self._reading.setdefault(text, []).append(dwelling)

    def of(self, dwelling: Dwelling) -> tuple[Dwelling, ...]:
        """Return the rivals of one dwelling, itself left out."""
        digits = self._numbering.digits(dwelling)
        texts = {digits, digits + letter_of(dwelling)}
        texts |= {number for number, _ in self._numbering.candidates((dwelling,), lambda _: frozenset())(dwelling)}
        found = {one.id: one for text in sorted(texts) for one in self._reading.get(text, ())}
        found.pop(dwelling.id, None)
        return tuple(found.values()) if self._reading else ()


def letter_of(dwelling: Dwelling) -> str:
    """Return the place in the alphabet of the letter behind a label's digits: 1 to 9 for A to I, else nothing."""
    found = _LETTER_BEHIND.search(dwelling.door_label)
    return str(ord(found[1].upper()) - ord("A") + 1) if found else ""


def _as_on_the_door(numbering: Numbering) -> Proposals:
    width = _widths(numbering)

    def space(dwelling: Dwelling) -> str:
        """Return within what a plain number must be nobody else's: behind a prefix, its own building or core."""
        prefix = numbering.prefix(dwelling) if numbering.always else ""
        return f"behind {prefix}" if prefix else numbering.domain_of(dwelling)

    def proposals(among: Collection[Dwelling], _taken_in: TakenIn) -> Candidates:
        contesting = [one for one in among if _contests(numbering, one)]
        plain = Counter((space(one), numbering.digits(one)) for one in contesting)
        lettered = Counter((space(one), numbering.digits(one) + letter_of(one)) for one in contesting)
        on_doors = {(space(one), text) for one in among for text in _texts(numbering, one)}

        def candidates(dwelling: Dwelling) -> Iterator[Candidate]:
            digits, letter, here = numbering.digits(dwelling), letter_of(dwelling), space(dwelling)
            if not digits:
                return
            prefix = numbering.prefix(dwelling)
            front = prefix if numbering.always else ""
            behind = f" behind {prefix} for its {_group_word(numbering)}" if front else ""
            own = front + (digits.zfill(width[numbering.group(dwelling)]) if front else digits)
            label = dwelling.door_label
            if plain[here, digits] == 1:
                yield own, f"as on the door{behind}" if digits == label else f"the digits of {label}{behind}"
            if letter and lettered[here, digits + letter] == 1:
                yield own + letter, f"the digits of {label} and the place of its letter in the alphabet{behind}"
            if prefix and not front:
                why = f"as on the door behind {prefix} for its core, because {digits} alone is not free"
                # core 1's 5 must not be called 105 where somebody's door says 105: a further 0 keeps them apart
                for zeros in range(2):
                    number = prefix + digits.zfill(width[dwelling.core] + zeros) + letter
                    if (here, number) not in on_doors:
                        yield number, why

        return candidates

    return proposals


def _texts(numbering: Numbering, dwelling: Dwelling) -> tuple[str, str]:
    digits = numbering.digits(dwelling)
    return digits, digits + letter_of(dwelling)


def _contests(numbering: Numbering, dwelling: Dwelling) -> bool:
    """Say whether a dwelling keeps others from the digits on its door: not where a person gave it quite another number.

    One that carries its digits behind a prefix or before a letter's place does: who reads 12 there may dial 12.
    """
    return not dwelling.call_number or numbering.digits(dwelling) in dwelling.call_number


def _group_word(numbering: Numbering) -> str:
    return "building" if numbering.choices.number_prefix is NumberPrefix.BUILDING else "core"


def _widths(numbering: Numbering) -> Counter[str]:
    """Return how many digits the widest label of each building or core has."""
    widths: Counter[str] = Counter()
    for dwelling in numbering.dwellings:
        group = numbering.group(dwelling)
        widths[group] = max(widths[group], len(numbering.digits(dwelling)))
    return widths


def _level_and_position(numbering: Numbering) -> Proposals:
    order = numbering.order
    levels = {order.level(dwelling) for dwelling in numbering.dwellings}
    level_width = max((len(str(abs(level))) for level in levels), default=1)
    places: dict[str, int] = {}
    seen: Counter[tuple[str, int]] = Counter()
    for dwelling in numbering.dwellings:
        # without prefixes the positions of a storey run on from core to core, where one system must tell them apart
        where = numbering.group(dwelling) if numbering.prefix(dwelling) else numbering.domain_of(dwelling)
        seen[where, order.level(dwelling)] += 1
        places[dwelling.id] = seen[where, order.level(dwelling)]
    place_width = max(2, len(str(max(seen.values(), default=1))))

    def candidates(dwelling: Dwelling) -> Iterator[Candidate]:
        level = order.level(dwelling)
        # a level below ground is led by 9: storeys that high do not occur beside basements in one width
        storey = str(level).zfill(level_width) if level >= 0 else "9" + str(-level).zfill(level_width)
        front = numbering.prefix(dwelling) + storey
        for place in range(places[dwelling.id], 10**place_width):
            yield front + str(place).zfill(place_width), f"level {level}, position {place}"

    return lambda _among, _taken_in: candidates


def _running(numbering: Numbering) -> Proposals:
    counted = Counter(numbering.kinship(dwelling) for dwelling in numbering.dwellings)
    width = max(numbering.choices.number_digits_count or 0, *(len(str(many)) for many in counted.values()), 1)

    def proposals(_among: Collection[Dwelling], taken_in: TakenIn) -> Candidates:
        first: dict[str, int] = {}
        used: dict[str, set[int]] = {}

        def candidates(dwelling: Dwelling) -> Iterator[Candidate]:
            prefix = numbering.prefix(dwelling) if numbering.always else ""
            kin, taken = numbering.kinship(dwelling), taken_in(numbering.domain_of(dwelling))
            if kin not in used:  # 07 beside 7 would be mistaken for it
                used[kin] = {int(number) for number in taken if number.isdecimal()}
            for tail in range(first.get(kin, 1), 10 ** (width + 1)):
                number = prefix + str(tail).zfill(width)
                if int(number) in used[kin] or number in taken:
                    if tail == first.get(kin, 1):  # nobody gives a number back while numbers are issued
                        first[kin] = tail + 1
                    continue
                yield number, "the next running number" + (f" behind {prefix}" if prefix else "")

        return candidates

    return proposals


_SCHEMES: Final = {
    NumberScheme.DOOR: _as_on_the_door,
    NumberScheme.LEVEL: _level_and_position,
    NumberScheme.RUNNING: _running,
}
