"""The tree of switches: which units lie on either side of a link, and how many links a packet crosses."""

from collections import deque
from collections.abc import Iterator

from doorwright.model.network import CableRun, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.run import feeding_run


def links_of(walk: Walk, switch: str) -> Iterator[tuple[CableRun, str]]:
    """Yield the runs between a switch and others, and the switch at the other end of each."""
    for run in walk.runs_from(switch):
        if run.far != switch and walk.find(Switch, run.far) is not None:
            yield run, run.far
    for run in walk.runs_to(switch):
        if run.near != switch and walk.find(Switch, run.near) is not None:
            yield run, run.near


def beyond(walk: Walk, start: str, *, without: str) -> frozenset[str]:
    """Return the switches that are reached from one without crossing the run ``without``, itself among them."""
    found = {start}
    open_ends = [start]
    while open_ends:
        for run, other in links_of(walk, open_ends.pop()):
            if run.id != without and other not in found:
                found.add(other)
                open_ends.append(other)
    return frozenset(found)


def units_on(walk: Walk, switches: frozenset[str]) -> Iterator[Unit]:
    """Yield the units that these switches feed, each once."""
    for switch in sorted(switches):
        for run in walk.runs_from(switch):
            unit = walk.find(Unit, run.far)
            if unit is not None and switch_of(walk, unit) == switch:
                yield unit


def switch_of(walk: Walk, unit: Unit) -> str | None:
    """Return the switch that feeds a unit, or None."""
    run = feeding_run(walk, unit.id, Switch)
    return run.near if run is not None else None


def links_count_from(walk: Walk, start: str, *, wanted: frozenset[str]) -> dict[str, int]:
    """Return how many links lie between one switch and those ``wanted`` that it reaches, by the shortest way.

    The search ends with the last of them, so that a question about one building does not walk through all the others.
    """
    counts = {start: 0}
    still = set(wanted - {start})
    queue = deque([start])
    while queue and still:
        switch = queue.popleft()
        for _, other in links_of(walk, switch):
            if other not in counts:
                counts[other] = counts[switch] + 1
                still.discard(other)
                queue.append(other)
    return {switch: count for switch, count in counts.items() if switch in wanted}
