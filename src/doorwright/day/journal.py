"""What happened, event by event, and the same counted by day and hour."""

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from doorwright.day.chance import Floats, Times
from doorwright.day.design import HOUR_S, HOURS_COUNT


class What(IntEnum):
    """What became of a try at an entrance, and of a call that reached the desk."""

    ANSWERED = 0
    UNANSWERED = 1
    DIVERTED = 2
    """Unanswered, and goes on to the desk."""
    TO_DESK = 3
    """The visitor calls the desk."""
    ENGAGED = 4
    """The dwelling was in a call with another entrance."""
    REFUSED = 5
    """The server held as many calls as it can."""
    LEFT_LINE = 6
    """The visitor tired of standing in line, or would not stand in it."""
    DESK_SERVED = 7
    DESK_LEFT = 8
    """The visitor tired of waiting for the desk."""


WHATS_COUNT: Final = len(What)
_AT_ENTRANCE: Final = slice(0, What.DESK_SERVED)
_AT_DESK: Final = slice(What.DESK_SERVED, WHATS_COUNT)


class Journal:
    """Events of some days, kept as they come: one array of each kind a step."""

    __slots__ = ("_rows",)

    def __init__(self) -> None:
        self._rows: list[tuple[NDArray[np.generic], ...]] = []

    def note(
        self,
        what: NDArray[np.int8],
        *,
        key: NDArray[np.intp],
        came_s: Times,
        delay_s: Times,
        waited_s: Times,
        held_s: Times | Floats,
        gone: NDArray[np.bool_],
    ) -> None:
        """Keep events. Lengths are kept in single precision, for there are millions of them.

        Args:
            what: what became of them.
            key: number of the entrance within the day, plus the day times the number of entrances.
            came_s: when the visitor came to the entrance, or the call to the desk.
            delay_s: how long after that the entrance or the desk was free for it.
            waited_s: how long the visitor was willing to wait of that.
            held_s: how long the entrance was held from its beginning, or from the coming of the call to the desk.
            gone: the visitor is served by nobody and does not try again.
        """
        single = np.float32
        self._rows.append(
            (
                what, key.astype(np.int32), came_s,
                delay_s.astype(single), waited_s.astype(single), held_s.astype(single), gone,
            )
        )  # fmt: skip

    def count(self, *, days_count: int, entrances_count: int, line_goal_s: float, desk_goal_s: float) -> "Counted":
        """Return the events counted by day and hour."""
        if not self._rows:
            return Counted.nothing(days_count, entrances_count)
        what, key, came_s, delay_s, waited_s, held_s, gone = (
            np.concatenate(column) for column in zip(*self._rows, strict=True)
        )
        hour = np.minimum((came_s * (1.0 / HOUR_S)).astype(np.int32), HOURS_COUNT - 1)
        slot = (key // entrances_count * HOURS_COUNT + hour) * WHATS_COUNT + what

        def by_what(slots: NDArray[np.int32], weights: NDArray[np.generic] | None = None) -> Times:
            found = np.bincount(slots, weights, minlength=days_count * HOURS_COUNT * WHATS_COUNT)
            return found.reshape(days_count, HOURS_COUNT, WHATS_COUNT).astype(np.float64)

        # most events wait for nothing, and most visitors are served: count those who are not apart
        late = np.flatnonzero(delay_s > 0.0)
        late_slot, late_s = slot[late], waited_s[late]
        waited, wait_s = by_what(late_slot), by_what(late_slot, late_s)
        line_longer = by_what(late_slot[late_s > line_goal_s])
        desk_longer = by_what(late_slot[late_s > desk_goal_s])
        # A try holds the entrance from its beginning, a call to the desk from its coming, waiting and all.
        from_s = np.where(what >= What.DESK_SERVED, came_s, came_s + delay_s)
        held_by_hour_s = _busy_s(key, from_s, held_s, days_count * entrances_count)
        talked = np.flatnonzero(what == What.DESK_SERVED)
        talk_from_s, talk_s = came_s[talked] + delay_s[talked], held_s[talked] - delay_s[talked]
        return Counted(
            tries=by_what(slot),
            gone=by_what(slot[np.flatnonzero(gone)]),
            taken=waited[..., _AT_ENTRANCE].sum(axis=-1),
            line_wait_s=wait_s[..., _AT_ENTRANCE].sum(axis=-1),
            line_longer=line_longer[..., _AT_ENTRANCE].sum(axis=-1),
            desk_waited=waited[..., _AT_DESK].sum(axis=-1),
            desk_wait_s=wait_s[..., _AT_DESK].sum(axis=-1),
            desk_longer=desk_longer[..., _AT_DESK].sum(axis=-1),
            entrance_busy_s=held_by_hour_s.reshape(days_count, entrances_count, HOURS_COUNT),
            desk_busy_s=_busy_s(key[talked] // entrances_count, talk_from_s, talk_s, days_count),
        )


def _busy_s(owner: NDArray[np.int32], from_s: Times, held_s: Floats, owners_count: int) -> Times:
    """Return how long each owner was busy in each hour of the day, not after it. Shape: (owners, hours)."""
    until_s = from_s + held_s
    hour = (from_s * (1.0 / HOUR_S)).astype(np.int32)
    slots = HOURS_COUNT + 1  # the last one: after midnight
    first = np.bincount(owner * slots + np.minimum(hour, HOURS_COUNT), held_s, minlength=owners_count * slots)
    within: Times = first.reshape(owners_count, slots)[:, :HOURS_COUNT].astype(np.float64)
    # Spells that reach into another hour are counted whole in their first: move what lies beyond it.
    beyond = np.flatnonzero((until_s > HOUR_S * (hour + 1)) & (hour < HOURS_COUNT))
    owner, hour, until_s = owner[beyond], hour[beyond], until_s[beyond]
    mark_s = HOUR_S * (hour + 1)
    while owner.size:
        over_s = until_s - mark_s
        np.subtract.at(within, (owner, hour), over_s)
        going_on = np.flatnonzero(hour + 1 < HOURS_COUNT)
        owner, hour, until_s, over_s = owner[going_on], hour[going_on] + 1, until_s[going_on], over_s[going_on]
        np.add.at(within, (owner, hour), over_s)
        mark_s = HOUR_S * (hour + 1)
        still = np.flatnonzero(until_s > mark_s)
        owner, hour, until_s, mark_s = owner[still], hour[still], until_s[still], mark_s[still]
    return within


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Counted:
    """Events by day and hour of coming. Shapes: (days, hours), with another axis where told."""

    tries: Times
    """What became of tries and of calls to the desk. Shape: (days, hours, whats)."""
    gone: Times
    """The same of visitors who went away for good, served by nobody."""
    taken: Times
    """Tries that found the entrance taken."""
    line_wait_s: Times
    line_longer: Times
    """Tries that stood in line longer than the goal."""
    desk_waited: Times
    desk_wait_s: Times
    desk_longer: Times
    entrance_busy_s: Times
    """Shape: (days, entrances, hours)."""
    desk_busy_s: Times
    """Talk at all positions of the desk together."""

    @classmethod
    def nothing(cls, days_count: int, entrances_count: int) -> "Counted":
        """Return the count of days on which nobody came."""
        hours, whats = (days_count, HOURS_COUNT), (days_count, HOURS_COUNT, WHATS_COUNT)
        shapes = {"tries": whats, "gone": whats, "entrance_busy_s": (days_count, entrances_count, HOURS_COUNT)}
        return cls(**{name: np.zeros(shapes.get(name, hours)) for name in cls.__dataclass_fields__})

    @classmethod
    def joined(cls, parts: list["Counted"]) -> "Counted":
        """Return the days of all parts one after another."""
        return cls(
            **{name: np.concatenate([getattr(part, name) for part in parts]) for name in cls.__dataclass_fields__}
        )
