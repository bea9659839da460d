"""A rehearsal in parts: the same whoever shares the work, also where packets are lost, with one clock in its trace."""

import multiprocessing
from functools import partial

import pytest

from doorwright.app import rehearse_in_parts as sharing
from doorwright.app.rehearse_in_parts import rehearse_in_parts
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse import parts
from doorwright.rehearse.building import Building
from doorwright.rehearse.journal import Entry
from doorwright.rehearse.parts import parts_of
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import Rehearsal, plays_of, rehearse
from doorwright.rehearse.wire import Carried
from tests.rehearsal.yard import YARD

WALK = Walk(YARD)
PLAN = planned(WALK)
PROOF = prove(WALK)
PLAYS, _ = plays_of(WALK, PROOF, PLAN)
LOSSY = partial(Building, tuple(PLAN.boxes.values()), PLAN.nets, seed=7, loss_ratio=0.3)


@pytest.fixture
def short_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make parts short enough for a small site."""
    monkeypatch.setattr(parts, "CALLS_A_PART_COUNT", len(PLAYS) // 3)


def in_parts(workers_count: int) -> tuple[Rehearsal, list[tuple[int, int]]]:
    told: list[tuple[int, int]] = []
    made = rehearse_in_parts(
        WALK, PROOF, PLAN, LOSSY, workers_count=workers_count,
        progress=lambda _building, count, of_count: told.append((count, of_count)),
    )  # fmt: skip
    return made, told


def test_parts_are_whole_and_even_and_never_none() -> None:
    assert parts_of((), boxes_count=5) == ((),)
    (only,) = parts_of(PLAYS, boxes_count=5)
    assert only == PLAYS
    # 4 001 calls and 900 boxes: three parts of at most 2 000; with 1 500 boxes a part may have 3 000 calls, so two
    many = [PLAYS[0]] * 4_001
    assert [len(part) for part in parts_of(many, boxes_count=900)] == [1333, 1334, 1334]
    assert [len(part) for part in parts_of(many, boxes_count=1_500)] == [2000, 2001]


@pytest.mark.usefixtures("short_parts")
def test_who_shares_the_work_changes_nothing() -> None:
    alone, told_alone = in_parts(1)
    shared, told_shared = in_parts(2)
    assert len(parts_of(PLAYS, boxes_count=len(PLAN.boxes))) > 1
    assert shared.played == alone.played
    assert shared.not_played == alone.not_played
    assert alone.differing  # of packets so many are lost that some calls go otherwise
    registered = [{a.box.id: a.registered for a in made.building.units()} for made in (alone, shared)]
    assert registered[0] == registered[1]
    assert told_alone == [(count, len(PLAYS)) for count in range(1, len(PLAYS) + 1)]
    assert [count for count, _ in told_shared] == sorted(count for count, _ in told_shared)
    assert told_shared[-1] == (len(PLAYS), len(PLAYS))


def test_one_part_is_the_plain_rehearsal() -> None:
    assert in_parts(4)[0].played == rehearse(WALK, PROOF, PLAN, LOSSY()).played


@pytest.mark.usefixtures("short_parts")
def test_a_trace_goes_on_from_part_to_part(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sharing, "ProcessPoolExecutor", None)  # with a trace nobody else is asked
    entries: list[Entry] = []
    packets: list[Carried] = []
    rehearse_in_parts(WALK, PROOF, PLAN, LOSSY, workers_count=4, told=entries.append, heard=packets.append)
    for at_s in ([one.at_s for one in entries], [one.at_s for one in packets]):
        assert at_s == sorted(at_s)
    assert sum(one.deed == "called" for one in entries) == len(PLAYS)


@pytest.mark.usefixtures("short_parts")
def test_a_progress_that_stops_it_stops_other_processes_too() -> None:
    def stop(_building: Building, count: int, _of_count: int) -> None:
        if count >= len(PLAYS) // 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rehearse_in_parts(WALK, PROOF, PLAN, LOSSY, workers_count=2, progress=stop)
    assert not multiprocessing.active_children()


def test_a_progress_that_stops_it_stops_it() -> None:
    def stop(_building: Building, count: int, _of_count: int) -> None:
        if count == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        rehearse_in_parts(WALK, PROOF, PLAN, LOSSY, progress=stop)
