"""`doorwright paths`: the whole week, one entrance, one dwelling, one moment; and what is refused."""

from pathlib import Path

import pytest

from doorwright.app.ask_paths import moment
from doorwright.kernel.errors import Refused
from doorwright.paths.week import day_index
from tests.unit.cli.conftest import Doorwright


def test_the_week_of_the_example_is_told_for_each_entrance(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("paths", book, "--json")
    assert ran.code == 0
    entrances = ran.json["entrances"]
    assert entrances
    for entrance in entrances:
        for group in entrance["groups"]:
            assert sum(stretch["minutes"] for stretch in group["stretches"]) == 28 * 1440
            assert all(one["when"] and one["call"] for one in group["behaviours"])
    plain = doorwright("paths", book)
    assert all(entrance["entrance"] in plain.out for entrance in entrances)


def test_one_dwelling_at_one_moment(doorwright: Doorwright, book: Path) -> None:
    first = doorwright("paths", book, "--json").json["entrances"][0]
    label = first["groups"][0]["dwellings"][0]
    ran = doorwright(
        "paths", book, "--entrance", first["entrance"].upper(), "--dwelling", label, "--at", "Sat 14:30", "--json"
    )
    assert ran.code == 0
    (entrance,) = ran.json["entrances"]
    (group,) = entrance["groups"]
    assert (ran.json["at"], group["dwellings"]) == ("Sat 14:30", [label])
    assert len(group["behaviours"]) == len(group["stretches"]) == 1
    (answer,) = ran.json["answers"]
    assert answer["called"] == label
    assert answer["ringing"][0]["from_s"] == 0
    assert answer["may_free"]


@pytest.mark.parametrize(
    ("text", "minute"),
    [
        ("Mon 00:00", 0),
        ("sat 14:30", 5 * 1440 + 870),
        ("Sunday 23:59", 7 * 1440 - 1),
        ("Hol 09:00", day_index(0, holiday=True) * 1440 + 540),
        ("Hol on Wed 9:05", day_index(2, holiday=True) * 1440 + 545),
    ],
)
def test_moments_are_read(text: str, minute: int) -> None:
    assert moment(text) == minute


@pytest.mark.parametrize("text", ["", "Sat", "14:30", "Sat 24:00", "Xyz 10:00", "Sat on Mon 10:00", "Hol on Hol 10:00"])
def test_what_is_no_moment_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="no moment of the week"):
        moment(text)


@pytest.mark.parametrize("option", ["--entrance", "--dwelling", "--desk"])
def test_names_that_are_not_there_are_refused(doorwright: Doorwright, book: Path, option: str) -> None:
    ran = doorwright("paths", book, option, "Nowhere at all")
    assert ran.code == 2
    assert "Nowhere at all" in ran.err


def test_calls_of_the_desk_key_are_in_the_week(doorwright: Doorwright, book: Path) -> None:
    # examples/medium/write.py: entrances A, B, C and the gate call the concierge desk, the garage does not
    entrances = doorwright("paths", book, "--json").json["entrances"]
    desks = {entrance["entrance"]: [one["desk"] for one in entrance["desks"]] for entrance in entrances}
    assert desks.pop("Garage") == []
    assert set(map(tuple, desks.values())) == {("Concierge desk",)}
    ran = doorwright("paths", book, "--desk", "concierge DESK", "--at", "Sun 03:00")
    assert ran.code == 0
    assert "Entrance A to desk Concierge desk, Sun 03:00" in ran.out
    assert "Garage" not in ran.out


@pytest.mark.parametrize(
    ("at", "title", "remark"),
    [
        # Europe/London 2027: clocks go forward on 28 March from 01:00 to 02:00, and back on 31 October from 02:00 to
        # 01:00, both at 01:00 UTC (last Sundays; rule of the tz database)
        ("2027-03-28 01:30", "2027-03-28 02:00 (Sun, Europe/London; 01:00 UTC)", "does not exist in Europe/London"),
        ("2027-10-31 01:30", "2027-10-31 01:30 (Sun, Europe/London; 00:30 and 01:30 UTC)", "occurs twice"),
        ("2027-06-02 09:00", "2027-06-02 09:00 (Wed, Europe/London; 08:00 UTC)", ""),
    ],
)
def test_a_moment_of_the_calendar(doorwright: Doorwright, book: Path, at: str, title: str, remark: str) -> None:
    ran = doorwright("paths", book, "--entrance", "Entrance A", "--dwelling", "1", "--at", at)
    assert ran.code == 0
    assert f"Entrance A to dwelling 1, {title}" in ran.out
    assert remark in ran.out
    assert (doorwright("paths", book, "--at", at, "--json").json["remark"] == "") == (remark == "")


def test_a_day_of_the_calendar_in_local_time_and_utc(doorwright: Doorwright, book: Path) -> None:
    # 31 August 2026 is a Monday and a holiday of the example: the gate's desk takes calls from 10:00 to 12:00 instead
    # of 08:00 to 18:00; in summer London is an hour before UTC
    ran = doorwright("paths", book, "--entrance", "Gate", "--dwelling", "7", "--on", "31 August 2026", "--json")
    ((group,),) = [entrance["groups"] for entrance in ran.json["entrances"]]
    assert [(piece["from"], piece["from_utc"], piece["call"].split(" rings")[0]) for piece in group["day"]] == [
        ("2026-08-31T00:00+01:00", "2026-08-30T23:00Z", "the dwelling called"),
        ("2026-08-31T10:00+01:00", "2026-08-31T09:00Z", "Concierge desk"),
        ("2026-08-31T12:00+01:00", "2026-08-31T11:00Z", "the dwelling called"),
    ]
    told = doorwright("paths", book, "--on", "2026-10-25").out
    assert "Sunday 2026-10-25, no holiday, Europe/London: clocks go back: this day has 25 hours" in told
    assert "00:00 (+01:00) to 24:00 (+00:00)" in told
    # in winter local time is UTC: the trade release of Monday 11 January 2027 is 07:00-11:00 in both
    assert "Trade release: 07:00-11:00 (UTC 07:00 to 11:00)" in doorwright("paths", book, "--on", "2027-01-11").out


@pytest.mark.parametrize(
    "asked", [("--at", "Sat 14:30", "--on", "2027-01-01"), ("--dwelling", "1", "--desk", "Concierge desk"),
              ("--on", "2027-02-29"), ("--on", "Sat")],
)  # fmt: skip
def test_questions_that_are_two_or_none_are_refused(doorwright: Doorwright, book: Path, asked: tuple[str, ...]) -> None:
    ran = doorwright("paths", book, *asked)
    assert ran.code == 2
    assert ran.err
