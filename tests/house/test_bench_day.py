"""The benchmark of the day plays the same model on both sides. Nothing is timed here."""

import pytest

from bench import day


def test_both_sides_have_the_same_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, small in {"DAYS_COUNT": 60, "_SIMPY_DAYS_COUNT": 3, "_SIMPY_CALLS_COUNT": 20_000}.items():
        monkeypatch.setattr(day, name, small)
    figures = {figure.what.strip(): figure for figure in day.figures({}, ())}
    assert figures["days of 3 with other outcomes"].measured == 0.0
    assert figures["difference of lost calls, in both intervals"].met
    assert {what for what, figure in figures.items() if figure.at_most == day.GOAL_RATIO} == {
        "4 lines without waiting",
        "500 dwellings, 6 entrances, a desk",
    }


def test_the_block_is_of_the_size_asked_for() -> None:
    block = day.block(cores_count=2, homes_count=30, desk_positions_count=2)
    assert block.entrances == ("core 0", "core 1", "north gate", "south gate")
    assert block.visitors_per_day == 2 * 30 * 3.0
    assert [homes.entrances for homes in block.homes] == [(1.0, 0.0, 0.5, 0.5), (0.0, 1.0, 0.5, 0.5)]
