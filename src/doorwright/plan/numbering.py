"""Call numbers for dwellings that have none, and for units that are called by a number of their own.

What a visitor reads on the door is what they should dial, if the keypad can take it (common practice). Where the
digits of several labels clash, a letter counts by its place in the alphabet (12B is 122), and else those dwellings get
the number of their core in front. Numbers already issued stay.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import count
from typing import Final

from doorwright.model.network import SipServer
from doorwright.model.place import Core, Dwelling
from doorwright.model.site import NumberScheme
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder

_NO_DIGITS: Final = re.compile(r"[^0-9]+")
_LETTER_BEHIND: Final = re.compile(r"[0-9]\s*([A-I])\Z", re.IGNORECASE)
_LEADING: Final = {UnitKind.SMU: "8", UnitKind.VCU: "7"}
"""First digit of the numbers given to units: far from emergency numbers and from most door labels. Our choice."""

TRIED_COUNT: Final = 3
"""How many of the numbers that would not do are told of. Our choice."""

Candidate = tuple[str, str]
"""A number and the reason for it."""

Candidates = Callable[[Dwelling], Iterator[Candidate]]
"""Gives the numbers to try for a dwelling, best first."""


def plan_numbers(walk: Walk) -> Draft:
    """Draft call numbers by the scheme that the site chooses."""
    draft = Draft(walk.site)
    taken = {dwelling.call_number for dwelling in walk.all(Dwelling) if dwelling.call_number}
    taken |= {unit.call_number for unit in walk.all(Unit) if unit.call_number}
    order = WalkingOrder(walk)
    waiting = [dwelling for dwelling in order.dwellings() if dwelling.call_number is None]
    if waiting:
        candidates = _SCHEMES[walk.settings().choices.number_scheme](walk, order, taken)
        reach = _KeypadReach(walk)
        for dwelling in waiting:
            number = _issue(draft, dwelling, candidates(dwelling), taken, reach.digits_max(dwelling))
            if number:
                taken.add(number)
    _number_units(walk, draft, taken)
    return draft


def _issue(
    draft: Draft, dwelling: Dwelling, candidates: Iterator[Candidate], taken: set[str], digits_max: int | None
) -> str | None:
    tried: list[str] = []
    for number, why in candidates:
        if number in taken:
            tried.append(f"{number} is taken")
        elif digits_max is not None and len(number) > digits_max:
            tried.append(f"{number} is longer than the {digits_max} digits that a keypad at its entrances takes")
        else:
            draft.fill(dwelling, "call_number", number, what="call number", why=why)
            return number
    why_not = "; ".join(tried[:TRIED_COUNT]) or "its door label has no digits, or the same as another in its only core"
    draft.trouble(
        [dwelling],
        f"no call number for dwelling {dwelling.door_label}: {why_not}",
        "Give it a call number in the workbook, or choose another numbering scheme there.",
    )
    return None


# schemes: what each makes of the walk, its order, and the numbers that are taken (the set grows while they are issued)


def _as_on_the_door(walk: Walk, order: WalkingOrder, _taken: set[str]) -> Candidates:
    clashes = Counter(_digits(walk, dwelling) for dwelling in walk.all(Dwelling))
    lettered = Counter(_digits(walk, dwelling) + _letter(dwelling) for dwelling in walk.all(Dwelling))
    on_doors = {*clashes, *lettered}
    core_number = _core_numbers(order.cores())
    width = {
        core.id: max((len(_digits(walk, d)) for d in walk.dwellings_of_core(core.id)), default=0)
        for core in order.cores()
    }

    def candidates(dwelling: Dwelling) -> Iterator[Candidate]:
        digits = _digits(walk, dwelling)
        if not digits:
            return
        if clashes[digits] == 1:
            plain = digits == dwelling.door_label
            yield digits, "as on the door" if plain else f"the digits of {dwelling.door_label}"
        letter = _letter(dwelling)
        if letter and lettered[digits + letter] == 1:
            yield digits + letter, f"the digits of {dwelling.door_label} and the place of its letter in the alphabet"
        if len(core_number) > 1:
            prefix = core_number[dwelling.core]
            why = f"as on the door behind {prefix} for its core, because {digits} alone is not free"
            # core 1's 5 must not be called 105 where somebody's door says 105: a further 0 keeps them apart
            for zeros in range(2):
                number = prefix + digits.zfill(width[dwelling.core] + zeros) + letter
                if number not in on_doors:
                    yield number, why

    return candidates


def _digits(walk: Walk, dwelling: Dwelling) -> str:
    digits = _NO_DIGITS.sub("", dwelling.door_label)
    pad = walk.settings().choices.number_digits_count
    return digits.zfill(pad) if pad and digits else digits


def _letter(dwelling: Dwelling) -> str:
    """Return the place in the alphabet of the letter behind a label's digits: 1 to 9 for A to I, else nothing."""
    found = _LETTER_BEHIND.search(dwelling.door_label)
    return str(ord(found[1].upper()) - ord("A") + 1) if found else ""


def _level_and_position(_walk: Walk, order: WalkingOrder, _taken: set[str]) -> Candidates:
    core_number = _core_numbers(order.cores())
    dwellings = order.dwellings()
    levels = {order.level(dwelling) for dwelling in dwellings}
    level_width = max((len(str(abs(level))) for level in levels), default=1)
    places: dict[str, int] = {}
    seen: Counter[tuple[str, str]] = Counter()
    for dwelling in dwellings:
        seen[dwelling.core, dwelling.level] += 1
        places[dwelling.id] = seen[dwelling.core, dwelling.level]
    place_width = max(2, len(str(max(seen.values(), default=1))))

    def candidates(dwelling: Dwelling) -> Iterator[Candidate]:
        level = order.level(dwelling)
        prefix = core_number[dwelling.core] if len(core_number) > 1 else ""
        # a level below ground is led by 9: storeys that high do not occur beside basements in one width
        storey = str(level).zfill(level_width) if level >= 0 else "9" + str(-level).zfill(level_width)
        for place in range(places[dwelling.id], 10**place_width):
            yield prefix + storey + str(place).zfill(place_width), f"level {level}, position {place}"

    return candidates


def _running(walk: Walk, _order: WalkingOrder, taken: set[str]) -> Candidates:
    width = max(walk.settings().choices.number_digits_count or 0, len(str(len(walk.all(Dwelling)))))
    used = {int(number) for number in taken if number.isdecimal()}  # 07 beside 7 would be mistaken for it
    numbers = (str(number).zfill(width) for number in count(1) if number not in used)
    upcoming = next(numbers)

    def candidates(_: Dwelling) -> Iterator[Candidate]:
        nonlocal upcoming  # stays the next until somebody takes it
        if upcoming in taken:
            upcoming = next(numbers)
        yield upcoming, "the next running number"

    return candidates


_SCHEMES: Final = {
    NumberScheme.DOOR: _as_on_the_door,
    NumberScheme.LEVEL: _level_and_position,
    NumberScheme.RUNNING: _running,
}


def _core_numbers(cores: Iterable[Core]) -> dict[str, str]:
    ordered = tuple(cores)
    width = len(str(len(ordered)))
    return {core.id: str(number).zfill(width) for number, core in enumerate(ordered, start=1)}


class _KeypadReach:
    """How many digits the keypads take that are to reach a dwelling, worked out once per set of entrances."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._known: dict[tuple[str, ...], int | None] = {}

    def digits_max(self, dwelling: Dwelling) -> int | None:
        """Return the least of their limits; None where no keypad is to reach the dwelling."""
        entrances = tuple(entrance.id for entrance in self._walk.entrances_serving(dwelling))
        if entrances not in self._known:
            profiles = [
                self._walk.profile(unit.profile) for entrance in entrances for unit in self._walk.units_at(entrance)
            ]
            limits = [p.keypad_digits_max_count for p in profiles if p and p.keypad and p.keypad_digits_max_count]
            self._known[entrances] = min(limits, default=None)
        return self._known[entrances]


def _number_units(walk: Walk, draft: Draft, taken: set[str]) -> None:
    kinds = [UnitKind.SMU, *([UnitKind.VCU] if walk.all(SipServer) else [])]
    width = max((len(number) for number in taken), default=2)
    order = WalkingOrder(walk)
    for kind in kinds:
        numbers = _free_numbers(_LEADING[kind], width, taken)
        for unit in order.units(walk.units_of_kind(kind)):
            if unit.call_number is None:
                number = next(numbers)
                taken.add(number)
                why = f"the first free number from {_LEADING[kind]} on, for a {kind.words}"
                draft.fill(unit, "call_number", number, what="call number", why=why)


def _free_numbers(leading: str, width: int, taken: set[str]) -> Iterator[str]:
    while True:
        for tail in range(10 ** (width - 1)):
            number = leading + (str(tail).zfill(width - 1) if width > 1 else "")
            if number not in taken:
                yield number
        width += 1
