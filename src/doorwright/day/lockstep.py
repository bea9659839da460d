"""The engine: many days played side by side, each on its own clock, one event of every day a step.

An entrance serves its visitors one after another, so that all it needs is when it is free again and who comes next:
its next event is a beginning of a call, or the arrival of its present call at the desk. Each step takes, on every day
at once, the earliest of these events over the entrances. Everything is therefore seen in order of time: dwellings,
server and desk know what an event finds.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from doorwright.day.chance import Floats, Times
from doorwright.day.design import Building
from doorwright.day.journal import Journal, What
from doorwright.day.line import Lines
from doorwright.day.positions import Positions
from doorwright.day.visitors import Visitors

Index = NDArray[np.intp]
Whats = NDArray[np.int8]

# as numbers of the arrays they are compared with, millions of times: an enumeration would be converted each time
_ANSWERED, _UNANSWERED, _DIVERTED, _TO_DESK, _ENGAGED, _REFUSED, _LEFT_LINE, _DESK_SERVED, _DESK_LEFT = (
    np.int8(what) for what in What
)
_NO_TIME: Final = np.float32(0.0)


def play(building: Building, visitors: Visitors) -> Journal:
    """Play the days of these visitors and return what happened."""
    days = _Days(building, visitors)
    days.play()
    return days.journal


class _Days:
    """The state of all days. ``key`` is the number of an entrance within its day, plus the day times the entrances."""

    def __init__(self, building: Building, visitors: Visitors) -> None:
        self.journal = Journal()
        self._days_count = visitors.at_s.shape[1]
        self._entrances_count = len(building.entrances)
        keys = self._days_count * self._entrances_count
        homes = sum(homes.count for homes in building.homes)
        self._engaged_s = np.float32(building.engaged_s)
        most = building.calls_max_count
        self._calls_max_count = most if most is not None and most < self._entrances_count else None
        self._lines = Lines(visitors.at_s, visitors.entrance, self._entrances_count)
        self._desk = Positions(self._days_count, building.desk.positions_count) if building.desk else None
        self._free_s = np.zeros(keys)
        self._call_until_s = np.zeros((self._days_count, self._entrances_count))
        self._waits_for_desk = np.zeros(keys, dtype=np.bool_)
        self._present_try = np.zeros(keys, dtype=np.intp)
        # number 0 of each day stands for the desk, which as a dwelling is never engaged
        self._home_free_s = np.zeros(self._days_count * (homes + 1))
        first_home = (np.arange(self._days_count) * (homes + 1) + 1).astype(np.int32)
        self._home = (visitors.dwelling + first_home).ravel()
        self._visitors_count = visitors.at_s.size
        self._patience_s = visitors.patience_s.ravel()
        self._desk_talk_s = visitors.desk_talk_s.ravel()
        self._desk_patience_s = visitors.desk_patience_s.ravel()
        self._again_s = visitors.again_s.ravel()
        what, held_s = _if_nothing_hinders(building, visitors)
        self._what, self._held_s = what.ravel(), held_s.ravel()

    def play(self) -> None:
        """Take the earliest event of every day until no day has one."""
        entrances = self._entrances_count
        next_s = self._lines.next_s(np.arange(self._free_s.size)).reshape(-1, entrances)
        days = np.arange(self._days_count)
        row = days * entrances
        while days.size:
            entrance = next_s.argmin(axis=1)
            spot = row + entrance
            at_s = next_s.ravel()[spot]
            going = at_s < np.inf
            if not going.all():
                days, next_s = days[going], next_s[going]
                row = np.arange(days.size) * entrances
                continue
            key = days * entrances + entrance
            self._step(key, days, at_s)
            coming_s = np.maximum(self._free_s[key], self._lines.next_s(key))
            # a call on its way to the desk holds its entrance, and its own time is the next event
            next_s.ravel()[spot] = np.where(self._waits_for_desk[key], self._free_s[key], coming_s)

    def _step(self, key: Index, days: Index, at_s: Times) -> None:
        if self._desk is None:
            self._begin(key, days, at_s)
            return
        reaching = self._waits_for_desk[key]
        some = np.flatnonzero(reaching)
        if some.size:
            self._reach_desk(self._desk, key[some], days[some], at_s[some])
            some = np.flatnonzero(~reaching)
            key, days, at_s = key[some], days[some], at_s[some]
        if key.size:
            self._begin(key, days, at_s)

    def _begin(self, key: Index, days: Index, at_s: Times) -> None:
        """Let the next visitor of each line come to the entrance, which is free."""
        tries, came_s = self._lines.take(key)
        who = self._who(tries)
        what, held_s, home = self._what[tries], self._held_s[tries], self._home[who].astype(np.intp)
        delay_s = at_s - came_s
        waited_s = delay_s
        patience_s = self._patience_s[who]
        home_free_s = self._home_free_s[home]
        hindered = home_free_s > at_s
        np.copyto(what, _ENGAGED, where=hindered)
        if self._calls_max_count is not None:
            full = (self._call_until_s[days] > at_s[:, np.newaxis]).sum(axis=1) >= self._calls_max_count
            np.copyto(what, _REFUSED, where=full)
            hindered |= full
        np.copyto(held_s, self._engaged_s, where=hindered)
        left = delay_s > patience_s
        if left.any():
            np.copyto(what, _LEFT_LINE, where=left)
            np.copyto(held_s, _NO_TIME, where=left)
            waited_s = np.minimum(delay_s, patience_s)
            hindered |= left
        until_s = at_s + held_s
        self._home_free_s[home] = np.where(hindered, home_free_s, until_s)
        self._free_s[key] = until_s
        self._present_try[key] = tries
        waits = (what == _DIVERTED) | (what == _TO_DESK)
        self._waits_for_desk[key] = waits
        if self._calls_max_count is not None:
            call_until_s = np.where(hindered, at_s, np.where(waits, np.inf, until_s))
            self._call_until_s.ravel()[key] = call_until_s
        failed = (hindered | (what == _UNANSWERED)).nonzero()[0]
        gone = np.zeros(key.size, dtype=np.bool_)
        # who left the line held nothing, and turned away when patience ended
        left_s = came_s[failed] + waited_s[failed] + held_s[failed]
        gone[failed] = self._try_again(key[failed], tries[failed], left_s)
        self.journal.note(
            what, key=key, came_s=came_s, delay_s=delay_s, waited_s=waited_s, held_s=held_s, gone=gone
        )  # fmt: skip

    def _reach_desk(self, desk: Positions, key: Index, days: Index, at_s: Times) -> None:
        """Let the present call of each entrance arrive at the desk."""
        tries = self._present_try[key]
        who = self._who(tries)
        patience_s = self._desk_patience_s[who]
        talk_s = self._desk_talk_s[who]
        wait_s, served = desk.admit_on(days, at_s, talk_s, patience_s)
        waited_s = np.minimum(wait_s, patience_s)
        held_s = waited_s + np.where(served, talk_s, 0.0)
        until_s = at_s + held_s
        self._free_s[key] = until_s
        self._call_until_s.ravel()[key] = until_s
        self._waits_for_desk[key] = False
        failed = np.flatnonzero(~served)
        gone = np.zeros(key.size, dtype=np.bool_)
        gone[failed] = self._try_again(key[failed], tries[failed], until_s[failed])
        self.journal.note(
            np.where(served, _DESK_SERVED, _DESK_LEFT),
            key=key, came_s=at_s, delay_s=wait_s, waited_s=waited_s, held_s=held_s, gone=gone,
        )  # fmt: skip

    def _who(self, tries: Index) -> Index:
        """Return whose tries these are. Most are first tries, which bear the visitor's own number."""
        later = np.flatnonzero(tries >= self._visitors_count)
        if not later.size:
            return tries
        who = tries.copy()
        who[later] %= self._visitors_count
        return who

    def _try_again(self, key: Index, tries: Index, left_s: Times) -> NDArray[np.bool_]:
        """Send visitors whose try failed back into their line, later; return who of them is gone for good."""
        again_s = self._again_s[tries]
        gone: NDArray[np.bool_] = again_s == np.inf
        some = np.flatnonzero(~gone)
        if some.size:
            # the same visitor's next try lies one array of visitors further on
            self._lines.put_back(key[some], left_s[some] + again_s[some], tries[some] + self._visitors_count)
        return gone


def _if_nothing_hinders(building: Building, visitors: Visitors) -> tuple[Whats, Floats]:
    """Return what becomes of each try that finds dwelling and server free, and how long it holds the entrance."""
    answered = visitors.answer_s < np.inf
    for_desk = visitors.dwelling < 0
    what = np.where(visitors.diverts, _DIVERTED, _UNANSWERED)
    what = np.where(answered, _ANSWERED, what)
    what = np.where(for_desk, _TO_DESK, what)
    held_s = np.where(answered, visitors.answer_s + visitors.talk_s, np.float32(building.ring_limit_s))
    return what, np.where(for_desk, _NO_TIME, held_s)
