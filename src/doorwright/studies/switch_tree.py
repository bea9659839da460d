"""The tree of switches: which of them lie beyond a link, which one feeds a unit, and how many links lie between."""

from collections import deque

from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.run import feeding_run


def links_of(walk: Walk, switch: Switch) -> tuple[tuple[str, str], ...]:
    """Return the identifiers of the runs between a switch and others, each with the switch at its other end."""
    ends = [
        *((run.id, run.far) for run in walk.runs_from(switch.id)),
        *((run.id, run.near) for run in walk.runs_to(switch.id)),
    ]
    return tuple((run, other) for run, other in ends if other != switch.id and walk.find(Switch, other) is not None)


def _links_at(walk: Walk, switch: str) -> tuple[tuple[str, str], ...]:
    return walk.once_of(links_of, Switch, switch) or ()


def beyond(walk: Walk, start: str, *, without: str) -> frozenset[str]:
    """Return the switches that are reached from one without crossing the run ``without``, itself among them."""
    found = {start}
    open_ends = [start]
    while open_ends:
        for run, other in _links_at(walk, open_ends.pop()):
            if run != without and other not in found:
                found.add(other)
                open_ends.append(other)
    return frozenset(found)


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
        for _, other in _links_at(walk, switch):
            if other not in counts:
                counts[other] = counts[switch] + 1
                still.discard(other)
                queue.append(other)
    return {switch: count for switch, count in counts.items() if switch in wanted}
