"""The models of ``doorwright.day`` written a second time, event by event for simpy: to compare speed and answers.

They share no code with the engine but what is played: the building, and the visitors drawn for it.
"""

import random
from collections import Counter
from collections.abc import Generator
from dataclasses import dataclass, field
from math import inf
from typing import Any

import simpy

from doorwright.day.design import Building
from doorwright.day.journal import What
from doorwright.day.visitors import Visitors

Steps = Generator[simpy.Event, Any, None]


def lossy_calls(*, offered_erl: float, lines_count: int, calls_count: int, seed: int) -> int:
    """Play calls of mean length 1 that are lost when all lines are taken; return how many are lost."""
    env = simpy.Environment()
    chance = random.Random(seed)
    taken = lost = 0

    def hold() -> Steps:
        nonlocal taken
        yield env.timeout(chance.expovariate(1.0))
        taken -= 1

    def come() -> Steps:
        nonlocal taken, lost
        for _ in range(calls_count):
            yield env.timeout(chance.expovariate(offered_erl))
            if taken < lines_count:
                taken += 1
                env.process(hold())
            else:
                lost += 1

    env.process(come())
    env.run()
    return lost


@dataclass
class Told:
    """What happened on one day."""

    whats: Counter[What] = field(default_factory=Counter)
    gone: Counter[What] = field(default_factory=Counter)
    taken: int = 0
    line_wait_s: float = 0.0
    desk_wait_s: float = 0.0
    entrance_busy_s: float = 0.0
    desk_busy_s: float = 0.0


def play_day(building: Building, visitors: Visitors, day: int) -> Told:
    """Play one day of the building with the visitors that were drawn for it."""
    return _Day(building, visitors, day).told


class _Day:
    def __init__(self, building: Building, visitors: Visitors, day: int) -> None:
        self.told = Told()
        self.building = building
        self.env = simpy.Environment()
        self.entrances = [simpy.Resource(self.env) for _ in building.entrances]
        self.desk = simpy.Resource(self.env, building.desk.positions_count) if building.desk else None
        self.home_free_s: dict[int, float] = {}
        self.calls_count = 0
        # plain lists are several times faster to read one by one than arrays
        self.at_s = visitors.at_s[:, day].tolist()
        self.entrance = visitors.entrance[:, day].tolist()
        self.dwelling = visitors.dwelling[:, day].tolist()
        self.diverts = visitors.diverts[:, day].tolist()
        self.patience_s = visitors.patience_s[:, day].tolist()
        self.desk_talk_s = visitors.desk_talk_s[:, day].tolist()
        self.desk_patience_s = visitors.desk_patience_s[:, day].tolist()
        self.answer_s = visitors.answer_s[:, :, day].tolist()
        self.talk_s = visitors.talk_s[:, :, day].tolist()
        self.again_s = visitors.again_s[:, :, day].tolist()
        self.env.process(self.come())
        self.env.run()

    def come(self) -> Steps:
        for visitor, at_s in enumerate(self.at_s):
            if at_s < inf:
                yield self.env.timeout(at_s - self.env.now)
                self.env.process(self.visit(visitor))

    def visit(self, visitor: int) -> Steps:
        for number in range(self.building.tries_max_count):
            what = yield from self.attempt(visitor, number)
            self.told.whats[what] += 1
            if what in {What.ANSWERED, What.DESK_SERVED}:
                return
            if self.again_s[number][visitor] == inf:
                self.told.gone[what] += 1
                return
            yield self.env.timeout(self.again_s[number][visitor])

    def attempt(self, visitor: int, number: int) -> Generator[simpy.Event, Any, What]:
        env = self.env
        came_s = env.now
        entrance = self.entrances[self.entrance[visitor]]
        if entrance.count:
            self.told.taken += 1
            if self.patience_s[visitor] == 0.0:
                return What.LEFT_LINE
        with entrance.request() as turn:
            if not turn.triggered:
                yield turn | env.timeout(self.patience_s[visitor])
                self.told.line_wait_s += env.now - came_s
                if not turn.triggered:
                    return What.LEFT_LINE
            begun_s = env.now
            what = yield from self.call(visitor, number)
            self.told.entrance_busy_s += env.now - begun_s
            return what

    def call(self, visitor: int, number: int) -> Generator[simpy.Event, Any, What]:
        env, building = self.env, self.building
        dwelling = self.dwelling[visitor]
        if building.calls_max_count is not None and self.calls_count >= building.calls_max_count:
            yield env.timeout(building.engaged_s)
            return What.REFUSED
        if dwelling >= 0 and self.home_free_s.get(dwelling, 0.0) > env.now:
            yield env.timeout(building.engaged_s)
            return What.ENGAGED
        self.calls_count += 1
        what = What.TO_DESK
        if dwelling >= 0:
            answered = self.answer_s[number][visitor] < inf
            length_s = (
                self.answer_s[number][visitor] + self.talk_s[number][visitor] if answered else building.ring_limit_s
            )
            self.home_free_s[dwelling] = env.now + length_s
            yield env.timeout(length_s)
            what = What.ANSWERED if answered else What.DIVERTED if self.diverts[visitor] else What.UNANSWERED
        if self.desk is not None and what in {What.TO_DESK, What.DIVERTED}:
            self.told.whats[what] += 1
            what = yield from self.reach(self.desk, visitor)
        self.calls_count -= 1
        return what

    def reach(self, desk: simpy.Resource, visitor: int) -> Generator[simpy.Event, Any, What]:
        env = self.env
        came_s = env.now
        with desk.request() as turn:
            if not turn.triggered:
                yield turn | env.timeout(self.desk_patience_s[visitor])
                self.told.desk_wait_s += env.now - came_s
                if not turn.triggered:
                    return What.DESK_LEFT
            yield env.timeout(self.desk_talk_s[visitor])
            self.told.desk_busy_s += self.desk_talk_s[visitor]
            return What.DESK_SERVED
