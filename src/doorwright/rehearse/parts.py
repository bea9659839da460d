"""A long rehearsal in parts, each in a building of its own that has just come up.

How the calls are parted hangs on the plan alone. No part knows of another, so they may be rehearsed one after the other
or at the same time, in one process or in many, and what comes out is the same.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import ceil
from typing import Final, Protocol

from doorwright.rehearse.building import Building
from doorwright.rehearse.journal import Told
from doorwright.rehearse.script import Play
from doorwright.rehearse.wire import Heard

CALLS_A_PART_COUNT: Final = 2_000
"""How many calls a part has at most, or two for each box where that is more: coming up costs little beside them."""


class Build(Protocol):
    """Builds the building, faults and all; the same each time."""

    def __call__(self, *, told: Told | None = None, heard: Heard | None = None) -> Building:
        """Return it; nothing is on yet."""


def parts_of(plays: Sequence[Play], *, boxes_count: int) -> tuple[tuple[Play, ...], ...]:
    """Return calls in parts of the same length or nearly, in their order; there is always one part at least.

    Args:
        plays: the calls.
        boxes_count: how many boxes come up before the calls of a part are played.
    """
    most_count = max(CALLS_A_PART_COUNT, 2 * boxes_count)
    parts_count = max(1, ceil(len(plays) / most_count))
    ends = [len(plays) * number // parts_count for number in range(parts_count + 1)]
    return tuple(tuple(plays[start:end]) for start, end in pairwise(ends))
