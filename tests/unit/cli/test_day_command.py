"""`day`: the hours of a played day, compared with another design, drawn."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.day.design import Homes
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import both, put_profile, without
from doorwright.rules.sound import sound_site
from doorwright.store.book import Book
from doorwright.studies.day_building import day_building
from tests.unit.cli.conftest import Doorwright

FEW = ("--days", "60")
AT = datetime(2031, 5, 6, 9, 0, tzinfo=UTC)


def test_every_hour_is_told(doorwright: Doorwright, planned: Path) -> None:
    ran = doorwright("day", planned, *FEW)
    assert ran.code == 0
    assert all(f"\n{hour:02d}-{hour + 1:02d} " in ran.out for hour in range(24))
    assert "Taken for granted" in ran.out
    assert "visitors spread evenly" in ran.out


def test_the_same_seed_gives_the_same_day(doorwright: Doorwright, planned: Path) -> None:
    first, again, other = (doorwright("day", planned, *FEW, "--seed", seed, "--json").json for seed in (7, 7, 8))
    assert first == again
    assert first["day"] != other["day"]


def test_intervals_hold_their_mean(doorwright: Doorwright, planned: Path) -> None:
    told = doorwright("day", planned, *FEW, "--json").json
    assert len(told["hours"]) == 24
    for hour in (*told["hours"], told["day"]):
        for name, interval in hour.items():
            if interval is not None:
                assert interval["low"] <= interval["mean"] <= interval["high"], name
    # visitors of the hours add up to those of the day
    assert sum(hour["visitors"]["mean"] for hour in told["hours"]) == pytest.approx(told["day"]["visitors"]["mean"])


def test_another_call_unit_meets_the_same_visitors(doorwright: Doorwright, planned: Path) -> None:
    told = doorwright("day", planned, *FEW, "--more-at", "GATE", "--more-desks", "1", "--json").json
    compared = told["compared_with"]
    assert compared["design"] == "1 call unit more at Gate and 1 desk more"
    assert compared["day"]["visitors"] == told["day"]["visitors"]
    difference = compared["difference"]["busiest_hour"]["found_taken_ratio"]
    assert difference["high"] < 0.0  # fewer find it taken, and not by chance


def test_a_name_that_no_entrance_has(doorwright: Doorwright, planned: Path) -> None:
    ran = doorwright("day", planned, "--more-at", "Nowhere")
    assert ran.code == 2
    assert "no entrance is called 'Nowhere'" in ran.err
    assert "Gate" in ran.err


def test_the_drawing(doorwright: Doorwright, planned: Path, tmp_path: Path) -> None:
    ran = doorwright("day", planned, *FEW, "--out", tmp_path / "day.svg")
    assert ran.code == 0
    text = (tmp_path / "day.svg").read_text(encoding="utf-8")
    assert "60 days played with seed 1" in text
    assert text.rstrip().endswith("</svg>")
    assert doorwright("day", planned, "--out", tmp_path / "day.png").code == 2


def test_a_book_with_nothing_to_play(doorwright: Doorwright, tmp_path: Path) -> None:
    Book.create(tmp_path / "silent.book", Site(name="Silent House"), by="A. Tester", at=AT, message="made").close()
    ran = doorwright("day", tmp_path / "silent.book")
    assert ran.code == 2
    assert "no visitor call unit calls any dwelling" in ran.err


def test_the_sound_site_as_it_is_played() -> None:
    plan = day_building(Walk(put_profile("vcu-direct", calls_max_count=4)(sound_site())))
    assert plan is not None
    assert plan.building.entrances == ("Gate", "Main entrance", "Rear entrance")
    # 101 alone diverts to the desk; 0.1 of the visitors at one of three entrances are for it
    assert plan.building.homes == (
        Homes(name="homes 1", count=1, calls_per_day=3.0, entrances=(1.0, 1.0, 1.0), answer_ratio=0.7, diverts=True),
        Homes(name="homes 2", count=3, calls_per_day=3.0, entrances=(1.0, 1.0, 1.0), answer_ratio=0.7, diverts=False),
    )
    assert plan.building.desk_ratio == pytest.approx(0.1 / 3)
    assert plan.building.calls_max_count == 4


def test_a_further_call_unit_takes_half_of_its_entrance() -> None:
    plan = day_building(Walk(sound_site()), more_units={"entrance-gate": 1}, more_positions_count=2)
    assert plan is not None
    assert plan.building.entrances[:2] == ("Gate: VCU gate", "Gate: further call unit 1")
    assert all(homes.entrances == (0.5, 0.5, 1.0, 1.0) for homes in plan.building.homes)
    assert plan.building.desk is not None
    assert plan.building.desk.positions_count == 3


def test_no_desk_and_no_call_units() -> None:
    without_desk = day_building(Walk(without(Unit, "smu-desk")(sound_site())))
    assert without_desk is not None
    assert (without_desk.building.desk, without_desk.building.desk_ratio) == (None, 0.0)
    silent = both(without(Unit, "vcu-main", "vcu-rear", "vcu-gate"))
    assert day_building(Walk(silent(sound_site()))) is None
