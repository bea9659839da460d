"""The building's day: what comes in goes out, a day worked out by hand, formulas where they hold, paired designs."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.calc import queueing
from doorwright.day.chance import Length
from doorwright.day.days import Figure, Played, play_days
from doorwright.day.design import Building, Homes
from doorwright.day.interval import Tally
from doorwright.day.journal import What, _busy_s
from doorwright.day.lockstep import play
from doorwright.day.visitors import Visitors, draw_visitors
from tests.unit.day.blocks import FLAT, block, desk

SURE = 0.999


def brought(building: Building, came: list[tuple[float, int, int]], **other: list[float]) -> Visitors:
    """One day of visitors: time, entrance, dwelling; what else they bring is long patience and 10 s to answer."""
    rows = len(came)

    def column(name: str, usual: float, kind: type) -> np.ndarray:
        return np.array([[value] for value in other.get(name, [usual] * rows)], dtype=kind)

    def tries(name: str, usual: float) -> np.ndarray:
        return np.stack([column(name, usual, np.float32)] * building.tries_max_count)

    return Visitors(
        at_s=np.array([[row[0]] for row in came], dtype=np.float64),
        entrance=np.array([[row[1]] for row in came], dtype=np.int32),
        dwelling=np.array([[row[2]] for row in came], dtype=np.int32),
        diverts=column("diverts", True, bool),
        patience_s=column("patience_s", 600.0, np.float32),
        desk_talk_s=column("desk_talk_s", 60.0, np.float32),
        desk_patience_s=column("desk_patience_s", 600.0, np.float32),
        answer_s=tries("answer_s", 10.0),
        talk_s=tries("talk_s", 20.0),
        again_s=tries("again_s", math.inf),
    )


def outcomes(building: Building, visitors: Visitors) -> dict[What, float]:
    counted = play(building, visitors).count(
        days_count=1, entrances_count=len(building.entrances), line_goal_s=30.0, desk_goal_s=20.0
    )
    found = counted.tries.sum(axis=(0, 1))
    return {what: found[what] for what in What if found[what]}


def test_a_dwelling_in_a_call_is_engaged_from_another_entrance() -> None:
    # 100 to 130 s: the first call. At 120 the same dwelling is engaged, another is not; at 131 it is free again.
    building = block(calls_max_count=None)
    came = [(100.0, 0, 7), (120.0, 2, 7), (121.0, 1, 8), (131.0, 0, 7)]
    assert outcomes(building, brought(building, came)) == {What.ANSWERED: 3, What.ENGAGED: 1}


def test_the_server_refuses_one_call_too_many() -> None:
    building = block(calls_max_count=1)
    came = [(100.0, 0, 7), (120.0, 2, 8), (131.0, 1, 9)]
    assert outcomes(building, brought(building, came)) == {What.ANSWERED: 2, What.REFUSED: 1}


def test_who_stands_in_line_is_served_in_turn_or_leaves() -> None:
    # the second comes at 110 and waits until 130, the third would wait until 160 but has 40 s of patience
    building = block()
    came = [(100.0, 0, 7), (110.0, 0, 8), (111.0, 0, 9)]
    visitors = brought(building, came, patience_s=[600.0, 600.0, 40.0])
    counted = play(building, visitors).count(days_count=1, entrances_count=3, line_goal_s=30.0, desk_goal_s=20.0)
    assert outcomes(building, visitors) == {What.ANSWERED: 2, What.LEFT_LINE: 1}
    assert counted.line_wait_s.sum() == pytest.approx(20.0 + 40.0)
    assert counted.taken.sum() == 2
    assert counted.line_longer.sum() == 1
    assert counted.entrance_busy_s[0].sum(axis=1) == pytest.approx([60.0, 0.0, 0.0])


def test_unanswered_calls_go_on_to_the_desk_and_hold_their_entrance() -> None:
    # both ring 30 s in vain; the desk takes the first from 130 to 190, the second waits from 140 until then
    building = block()
    came = [(100.0, 0, 7), (110.0, 1, 8), (150.0, 0, 9)]
    visitors = brought(building, came, answer_s=[math.inf, math.inf, 10.0])
    counted = play(building, visitors).count(days_count=1, entrances_count=3, line_goal_s=30.0, desk_goal_s=20.0)
    assert outcomes(building, visitors) == {What.ANSWERED: 1, What.DIVERTED: 2, What.DESK_SERVED: 2}
    assert counted.desk_wait_s.sum() == pytest.approx(50.0)
    # the third waits at the first entrance until the desk's talk ends there at 190
    assert counted.line_wait_s.sum() == pytest.approx(40.0)
    # 30 + 60 and 30 of the third; 30 + 50 + 60
    assert counted.entrance_busy_s[0].sum(axis=1) == pytest.approx([120.0, 140.0, 0.0])
    assert counted.desk_busy_s.sum() == pytest.approx(120.0)


def test_who_fails_comes_back_and_is_gone_after_the_last_try() -> None:
    # three tries of 30 s of ringing, 60 s apart: at 100, 190 and 280; then gone
    building = block(desk=None, desk_ratio=0.0)
    visitors = brought(building, [(100.0, 0, 7)], answer_s=[math.inf], again_s=[60.0], diverts=[False])
    visitors.again_s[-1] = math.inf
    counted = play(building, visitors).count(days_count=1, entrances_count=3, line_goal_s=30.0, desk_goal_s=20.0)
    assert outcomes(building, visitors) == {What.UNANSWERED: 3}
    assert counted.gone.sum() == 1
    assert counted.entrance_busy_s.sum() == pytest.approx(90.0)


@pytest.mark.parametrize(
    "building",
    [
        block(),
        block(desk=None, desk_ratio=0.0),
        block(desk=desk(positions_count=2), calls_max_count=None, line_ratio=0.0),
    ],
    ids=["all", "no desk", "two positions"],
)
def test_what_comes_in_goes_out(building: Building) -> None:
    played = play_days(building, days_count=60, seed=3)
    tries = played.counted.tries.sum(axis=(0, 1))
    served = tries[[What.ANSWERED, What.DESK_SERVED]].sum()
    # each visitor is served or gone, and each call that went to the desk ended there
    assert served + played.counted.gone.sum() == played.visitors.sum()
    assert tries[[What.DIVERTED, What.TO_DESK]].sum() == tries[[What.DESK_SERVED, What.DESK_LEFT]].sum()
    shares = [played.tally(figure).estimate().mean for figure in (Figure.SERVED, Figure.GONE)]
    assert sum(shares) == pytest.approx(1.0)
    # every hour's events together are the day's
    by_hour = sum(played.tally(Figure.FOUND_TAKEN, hour).counted.sum() for hour in range(24))
    assert by_hour == played.tally(Figure.FOUND_TAKEN).counted.sum()


def test_visitors_come_by_the_hours_weights() -> None:
    played = play_days(block(), days_count=400, seed=4)
    weights = np.array(block().hours)
    for hour in range(24):
        # 360 visitors on a mean day, spread by the weights; Poisson
        assert played.visitors_a_day(hour).estimate(0.9999).holds(360 * weights[hour] / weights.sum())
    scatter = played.visitors.sum(axis=1)
    assert scatter.var() == pytest.approx(360, rel=0.3)
    assert played.busiest_hour() == 18


def test_visitors_spread_as_told() -> None:
    building = block()
    visitors = draw_visitors(building, seed=7, groups=range(6))
    come = visitors.at_s < math.inf
    entrance, dwelling = visitors.entrance[come], visitors.dwelling[come]
    east, west = (dwelling >= 0) & (dwelling < 30), dwelling >= 30
    count = come.sum()

    def share(chosen: np.ndarray, of: np.ndarray, expected: float) -> bool:
        # within four deviations of a binomial share
        return abs(float(chosen.sum() / of.sum()) - expected) < 4 * math.sqrt(
            expected * (1 - expected) / float(of.sum())
        )

    assert count > 100_000
    assert set(np.unique(entrance[east])) == {0, 2}
    assert set(np.unique(entrance[west])) == {1, 2}
    assert share(east & (entrance == 2), east, 0.5)
    assert share(dwelling < 0, come[come], 0.1)
    assert share(dwelling == 59, come[come], 0.9 / 60)
    # 0.6 of the eastern calls find somebody at home, and some of those answer too late
    assert (visitors.answer_s[0][come][east] < math.inf).mean() < 0.6
    assert share(visitors.again_s[0][come] < math.inf, come[come], 0.4)
    assert (visitors.again_s[-1] == math.inf).all()


def test_one_entrance_is_a_single_line_with_general_calls() -> None:
    # Pollaczek and Khinchine (textbook, from memory): W = λ·E[h²]/(2·(1 - ρ)), here for calls of 20 s and exponential
    # 40 s: E[h] = 60, E[h²] = 60² + 40² = 5200; 30 an hour: ρ = 0.5; W = 30/3600·5200/(2·0.5) = 43.33 s
    homes = (Homes(name="all", count=720, calls_per_day=1.0, entrances=(1.0,), answer_ratio=1.0),)
    building = Building(
        entrances=("door",), homes=homes, hours=FLAT, answer=Length(mean_s=20.0, variation_ratio=0.0),
        talk=Length(mean_s=40.0), ring_limit_s=30.0, line_patience=Length(mean_s=math.inf),
    )  # fmt: skip
    played = play_days(building, days_count=600, seed=5)
    # midnight begins with an empty line; by the sixth hour it has long forgotten. Dwellings are hardly ever engaged.
    waits = [played.tally(Figure.LINE_WAIT, hour) for hour in range(6, 24)]
    together = Tally(np.sum([wait.counted for wait in waits], axis=0), np.sum([wait.of for wait in waits], axis=0))
    assert together.estimate(SURE).holds(30 / 3600 * 5200)
    assert played.tally(Figure.ENTRANCE_BUSY, 12).estimate(SURE).holds(0.5)


def test_a_desk_of_many_entrances_is_a_line_of_callers_who_give_up() -> None:
    # all visitors call the desk, from so many entrances that none waits for a door: Erlang A
    entrances = tuple(f"door {number}" for number in range(40))
    homes = (Homes(name="all", count=100, calls_per_day=24.0, entrances=(1.0,) * 40, answer_ratio=1.0),)
    building = Building(
        entrances=entrances, homes=homes, hours=FLAT, answer=Length(mean_s=10.0), talk=Length(mean_s=10.0),
        ring_limit_s=30.0, desk_ratio=1.0, line_patience=Length(mean_s=math.inf),
        desk=desk(positions_count=2, talk=Length(mean_s=60.0), patience=Length(mean_s=45.0)),
    )  # fmt: skip
    played = play_days(building, days_count=200, seed=6)
    # 100 an hour of 60 s: 1.667 E
    expected = queueing.desk_service(
        offered_erl=100 * 60 / 3600, positions_count=2, hold_s=60.0, patience_s=45.0, wait_s=20.0
    )

    def at_noon(figure: Figure) -> bool:
        figures = {
            Figure.DESK_WAITED: expected.waiting_ratio,
            Figure.DESK_LEFT: expected.left_ratio,
            Figure.DESK_WAIT: expected.mean_wait_s,
            Figure.DESK_BUSY: expected.busy_ratio,
        }
        return played.tally(figure, 12).estimate(SURE).holds(figures[figure])

    # a door that is taken holds its visitor back a little: 100 an hour on 40 doors of some 80 s each, below 1 in 15
    assert played.tally(Figure.LINE_WAIT).estimate().mean < 3.0
    assert all(at_noon(figure) for figure in (Figure.DESK_WAITED, Figure.DESK_LEFT, Figure.DESK_WAIT, Figure.DESK_BUSY))


def test_designs_meet_the_same_visitors() -> None:
    one, two = (draw_visitors(block(desk=desk(positions_count=count)), seed=8, groups=range(2)) for count in (1, 2))
    for name in Visitors.__dataclass_fields__:
        assert (getattr(one, name) == getattr(two, name)).all(), name
    # a busier building has the same visitors closer together: the first ones bring the same
    calm = block()
    busy = replace(calm, homes=tuple(replace(homes, calls_per_day=12.0) for homes in calm.homes))
    few, many = (draw_visitors(building, seed=8, groups=range(1)) for building in (calm, busy))
    rows = few.at_s.shape[0] // 2
    assert (few.talk_s[:, :rows] == many.talk_s[:, :rows]).all()
    assert (few.dwelling[:rows] == many.dwelling[:rows]).all()
    assert (many.at_s[:rows] < few.at_s[:rows]).all()


def test_a_day_is_the_same_however_many_are_played() -> None:
    few, many = (play_days(block(), days_count=days, seed=9) for days in (7, 130))
    assert (few.visitors == many.visitors[:7]).all()
    for name in few.counted.__dataclass_fields__:
        assert getattr(few.counted, name) == pytest.approx(getattr(many.counted, name)[:7])


def test_differences_between_designs_have_narrow_intervals() -> None:
    def left(positions_count: int, seed: int) -> Played:
        return play_days(block(desk=desk(positions_count=positions_count)), days_count=200, seed=seed)

    one, two, other = left(1, 10), left(2, 10), left(2, 11)
    paired = two.tally(Figure.GONE).less(one.tally(Figure.GONE))
    apart = other.tally(Figure.GONE).less(one.tally(Figure.GONE))
    assert paired.half < 0.6 * apart.half
    # a second position helps, and two hundred days are enough to say so
    assert paired.high < 0.0


def test_more_positions_shorten_the_wait() -> None:
    def wait_s(positions_count: int) -> float:
        # the server's limit would keep a third call from the desk
        endless = desk(positions_count=positions_count, patience=Length(mean_s=math.inf))
        return (
            play_days(block(desk=endless, calls_max_count=None), days_count=100, seed=12)
            .tally(Figure.DESK_WAIT)
            .estimate()
            .mean
        )

    waits_s = [wait_s(count) for count in (1, 2, 3)]
    assert all(more < fewer for fewer, more in pairwise(waits_s))


def test_no_visitors_is_no_trouble() -> None:
    homes = (Homes(name="empty", count=5, calls_per_day=0.0, entrances=(1.0,), answer_ratio=1.0),)
    played = play_days(replace(block(), entrances=("door",), homes=homes), days_count=3, seed=1)
    assert played.days_count == 3
    assert played.visitors.sum() == 0
    assert math.isnan(played.tally(Figure.SERVED).estimate().mean)
    assert played.tally(Figure.ENTRANCE_BUSY).estimate().mean == 0.0


spells = st.lists(
    st.tuples(st.integers(0, 2), st.floats(0.0, 90_000.0), st.floats(0.0, 9_000.0, width=32)), min_size=1, max_size=30
)


@given(spells=spells)
def test_busy_time_falls_into_its_hours(spells: list[tuple[int, float, float]]) -> None:
    owner, from_s, held_s = (np.array(column) for column in zip(*spells, strict=True))
    found = _busy_s(owner.astype(np.int32), from_s, held_s.astype(np.float32), 3)
    for one in range(3):
        for hour in range(24):
            begin, end = 3600.0 * hour, 3600.0 * (hour + 1)
            expected = sum(
                max(0.0, min(at + held, end) - max(at, begin)) for who, at, held in spells if who == one
            )  # fmt: skip
            assert found[one, hour] == pytest.approx(expected, abs=1e-5)


@settings(max_examples=15)
@given(
    seed=st.integers(0, 2**32), tries=st.integers(1, 6), retry_ratio=st.floats(0.0, 1.0),
    calls_max_count=st.none() | st.integers(1, 3), line_ratio=st.floats(0.0, 1.0),
)  # fmt: skip
def test_no_visitor_is_lost_whatever_the_habits(
    seed: int, tries: int, retry_ratio: float, calls_max_count: int | None, line_ratio: float
) -> None:
    building = block(
        tries_max_count=tries, retry_ratio=retry_ratio, calls_max_count=calls_max_count, line_ratio=line_ratio,
        retry_after=Length(mean_s=20.0),
    )  # fmt: skip
    played = play_days(building, days_count=4, seed=seed)
    tries_made = played.counted.tries.sum(axis=(0, 1))
    assert tries_made[[What.ANSWERED, What.DESK_SERVED]].sum() + played.counted.gone.sum() == played.visitors.sum()
    assert (played.counted.entrance_busy_s <= 3600.0 + 1e-3).all()


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        ({"entrances": ()}, "no entrance"),
        ({"homes": ()}, "no homes"),
        ({"hours": (1.0,) * 23}, "24 hours"),
        ({"hours": (0.0,) * 24}, "weights are positive"),
        ({"desk": None}, "a desk that is not there"),
        ({"retry_ratio": 1.5}, "between 0 and 1"),
        ({"tries_max_count": 0}, "at least one try"),
        ({"calls_max_count": 0}, "at least one call"),
        ({"talk": Length(mean_s=math.inf)}, "times are finite"),
        ({"entrances": ("one",)}, "one weight an entrance"),
    ],
)
def test_what_cannot_be_played_is_refused(wrong: dict[str, object], text: str) -> None:
    with pytest.raises(ValueError, match=text):
        block(**wrong)


def test_an_hour_that_no_day_has_is_refused() -> None:
    played = play_days(block(), days_count=2, seed=1)
    with pytest.raises(ValueError, match="no hour 24"):
        played.tally(Figure.SERVED, 24)
    with pytest.raises(ValueError, match="must be a day"):
        play_days(block(), days_count=0, seed=1)
