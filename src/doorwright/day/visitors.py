"""The visitors of many days: when each comes, to which entrance and dwelling, how patient, how long each talks.

Everything is drawn before the day is played, so that what a visitor brings never depends on what the building does.
Arrays have one row a visitor (in order of time) and one column a day; where a day has fewer visitors than rows, the
last ones come at infinity. What may differ from try to try has one such array a try.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from doorwright.day.chance import GROUP_COUNT, Floats, Times, stream_of
from doorwright.day.design import HOUR_S, HOURS_COUNT, NEVER, Building, Homes

Shape = tuple[int, ...]
Streams = Callable[[str], np.random.Generator]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Visitors:
    """The visitors of some days. Shapes: (visitors, days), or (tries, visitors, days)."""

    at_s: Times
    entrance: NDArray[np.int32]
    dwelling: NDArray[np.int32]
    """Number of the dwelling through all homes in order; -1 for the desk."""
    diverts: NDArray[np.bool_]
    patience_s: Floats
    desk_talk_s: Floats
    desk_patience_s: Floats
    answer_s: Floats
    """Time until somebody answers, by try; infinite where nobody does within the ring limit."""
    talk_s: Floats
    again_s: Floats
    """Time until the next try after this one failed; infinite where there is none."""

    def first_days(self, count: int) -> "Visitors":
        """Return the first days alone; all of them where there are no more."""
        if count >= self.at_s.shape[1]:
            return self
        return Visitors(
            **{name: np.ascontiguousarray(getattr(self, name)[..., :count]) for name in self.__dataclass_fields__}
        )

    def by_hour(self) -> Times:
        """Return how many come in each hour of each day. Shape: (days, hours)."""
        visitor, day = np.nonzero(self.at_s < np.inf)
        hour = np.minimum((self.at_s[visitor, day] / HOUR_S).astype(np.intp), HOURS_COUNT - 1)
        days = self.at_s.shape[1]
        counts = np.bincount(day * HOURS_COUNT + hour, minlength=days * HOURS_COUNT)
        return counts.reshape(days, HOURS_COUNT).astype(np.float64)


def draw_visitors(building: Building, *, seed: int, groups: range) -> Visitors:
    """Draw the visitors of the days in ``groups``, each a number of ``GROUP_COUNT`` days."""
    parts = [_draw_group(building, seed, group) for group in groups]
    if len(parts) == 1:
        return Visitors(**parts[0])
    rows = max(part["at_s"].shape[0] for part in parts)
    # each part's array is let go as soon as it is copied: there are hundreds of megabytes of them
    return Visitors(
        **{name: _side_by_side([part.pop(name) for part in parts], rows) for name in Visitors.__dataclass_fields__}
    )


def _side_by_side(arrays: list[NDArray[Any]], rows: int) -> NDArray[Any]:
    first = arrays[0]
    days = sum(array.shape[-1] for array in arrays)
    # only times of arrival beyond the last are ever looked at, and those must be infinite
    fill = np.inf if np.issubdtype(first.dtype, np.floating) else 0
    joined = np.full((*first.shape[:-2], rows, days), fill, dtype=first.dtype)
    at = 0
    for array in arrays:
        joined[..., : array.shape[-2], at : at + array.shape[-1]] = array
        at += array.shape[-1]
    return joined


def _draw_group(building: Building, seed: int, group: int) -> dict[str, Any]:
    """Return the fields of the visitors of one group of days."""
    stream = partial(stream_of, seed, group=group)
    at_s = _arrivals(building, stream("arrivals"))
    shape: Shape = at_s.shape
    homes, dwelling = _dwellings(building.homes, stream("dwelling").random(shape))
    dwelling[_chosen(stream("for the desk"), shape, building.desk_ratio)] = -1
    desk = building.desk
    answer_s, talk_s, again_s = (np.empty((building.tries_max_count, *shape), dtype=np.float32) for _ in range(3))
    for number in range(building.tries_max_count):
        answer_s[number] = _answers(building, homes, stream, shape, number)
        talk_s[number] = building.talk.draw(stream(f"talk, try {number}"), shape)
        again_s[number] = _again(building, stream, shape, number)
    patience_s = building.line_patience.draw(stream("line patience"), shape)
    patience_s[~_chosen(stream("stands in line"), shape, building.line_ratio)] = 0.0
    return {
        "at_s": at_s,
        "entrance": _entrances(building.homes, homes, stream("entrance").random(shape, dtype=np.float32)),
        "dwelling": dwelling,
        "diverts": np.array([group.diverts and desk is not None for group in building.homes])[homes],
        "patience_s": patience_s,
        "desk_talk_s": (desk.talk if desk else NEVER).draw(stream("desk talk"), shape),
        "desk_patience_s": (desk.patience if desk else NEVER).draw(stream("desk patience"), shape),
        "answer_s": answer_s,
        "talk_s": talk_s,
        "again_s": again_s,
    }


def _chosen(stream: np.random.Generator, shape: Shape, ratio: float) -> NDArray[np.bool_]:
    chosen: NDArray[np.bool_] = stream.random(shape, dtype=np.float32) < ratio
    return chosen


def _arrivals(building: Building, stream: np.random.Generator) -> Times:
    """Return the times of a Poisson process whose rate is constant in each hour, by inversion of its mean count.

    Gaps of a process of rate 1 are summed; where the expected number of visitors reaches the sum, the visitor comes.
    Busier days therefore see the same visitors closer together, and more of them.
    """
    expected = np.concatenate([[0.0], np.cumsum(building.hours)]) * (
        building.visitors_per_day / float(np.sum(building.hours))
    )
    passed = np.zeros((0, GROUP_COUNT))
    last = np.zeros(GROUP_COUNT)
    while last.min() <= expected[-1]:
        # as many as are likely missing and a few more; the stream goes on where it stopped
        missing = float(expected[-1] - last.min())
        gaps = stream.standard_exponential((int(missing + 4.0 * missing**0.5) + 8, GROUP_COUNT))
        block = last + np.cumsum(gaps, axis=0)
        passed, last = np.concatenate([passed, block]), block[-1]
    passed = passed[: int((passed <= expected[-1]).sum(axis=0).max(initial=0)) + 1]
    at_s: Times = np.interp(passed, expected, HOUR_S * np.arange(HOURS_COUNT + 1))
    at_s[passed > expected[-1]] = np.inf
    return at_s


def _dwellings(homes: tuple[Homes, ...], drawn: Times) -> tuple[NDArray[np.intp], NDArray[np.int32]]:
    """Return the group of homes and the dwelling that each visitor wants, from one number between 0 and 1."""
    calls = np.array([group.count * group.calls_per_day for group in homes])
    bounds = np.cumsum(calls)
    drawn = drawn * bounds[-1]
    group = np.minimum(np.searchsorted(bounds, drawn, side="right"), len(homes) - 1)
    counts = np.array([group.count for group in homes])
    within = (drawn - (bounds - calls)[group]) / np.maximum(calls, 1e-300)[group]
    number = np.clip((within * counts[group]).astype(np.int32), 0, counts[group] - 1)
    return group, (number + (np.cumsum(counts) - counts)[group]).astype(np.int32)


def _entrances(homes: tuple[Homes, ...], group: NDArray[np.intp], drawn: Floats) -> NDArray[np.int32]:
    bounds = np.cumsum([row.entrances for row in homes], axis=1)
    bounds /= bounds[:, -1:]
    entrance = np.zeros(group.shape, dtype=np.int32)
    for bound in bounds.T[:-1]:
        entrance += drawn >= bound[group]
    return entrance


def _answers(building: Building, homes: NDArray[np.intp], stream: Streams, shape: Shape, number: int) -> Floats:
    at_home = np.array([group.answer_ratio for group in building.homes], dtype=np.float32)[homes]
    answer_s = building.answer.draw(stream(f"answer, try {number}"), shape)
    nobody = stream(f"at home, try {number}").random(shape, dtype=np.float32) >= at_home
    answer_s[nobody | (answer_s > building.ring_limit_s)] = np.inf
    return answer_s


def _again(building: Building, stream: Streams, shape: Shape, number: int) -> Floats:
    if number + 1 >= building.tries_max_count or building.retry_ratio == 0.0:
        return np.full(shape, np.inf, dtype=np.float32)
    again_s = building.retry_after.draw(stream(f"again after, try {number}"), shape)
    again_s[~_chosen(stream(f"tries again, try {number}"), shape, building.retry_ratio)] = np.inf
    return again_s
