"""Whether everyone can have a number of their own: exact answers for the explanation of conflicts."""

from collections.abc import Callable, Sequence
from typing import Final, TypeVar

Number = TypeVar("Number")

STEPS_MAX: Final = 20_000
"""How many steps a search may take before it gives up and says so. Our choice: a fraction of a second."""


def can_all_have_one(options: Sequence[Sequence[Number]]) -> bool:
    """Say whether everyone can have one of their options with no option given twice.

    A bipartite matching grown along shortest augmenting paths; by Hall's theorem a failing path proves that there is
    none.

    Args:
        options: for each, what would do, best first.
    """
    holder: dict[Number, int] = {}
    given: dict[int, Number] = {}
    passed: dict[int, int] = {}  # of lists that many share: how many options at the front are given for good
    for newcomer in range(len(options)):
        via: dict[Number, int] = {}
        walked: set[int] = set()
        queue, free = [newcomer], None
        for one in queue:  # it grows while it is walked
            shared = id(options[one])
            if shared in walked:
                continue
            walked.add(shared)
            start = passed.get(shared, 0)
            while start < len(options[one]) and options[one][start] in holder:
                start += 1
            passed[shared] = start
            if start < len(options[one]):
                free = options[one][start]
                via[free] = one
                break
            for option in options[one]:
                if option not in via:
                    via[option] = one
                    queue.append(holder[option])
        if free is None:
            return False
        step = free
        while True:
            one = via[step]
            before = given.get(one)
            holder[step], given[one] = one, step
            if one == newcomer or before is None:
                break
            step = before
    return True


def can_agree(options: Sequence[Sequence[Number]], clash: Callable[[int, Number, int, Number], bool]) -> bool | None:
    """Say whether everyone can have one of their options so that no two clash; None where the search gave up.

    Depth first, fewest options left first, striking out what clashes with each choice.
    """
    steps = 0

    def search(left: dict[int, list[Number]]) -> bool | None:
        nonlocal steps
        if not left:
            return True
        one = min(left, key=lambda index: len(left[index]))
        gave_up = False
        for option in left[one]:
            steps += 1
            if steps > STEPS_MAX:
                return None
            rest = {
                other: [kept for kept in kept_options if not clash(one, option, other, kept)]
                for other, kept_options in left.items()
                if other != one
            }
            answer = search(rest) if all(rest.values()) else False
            if answer:
                return True
            gave_up = gave_up or answer is None
        return None if gave_up else False

    return search({index: list(own) for index, own in enumerate(options)})
