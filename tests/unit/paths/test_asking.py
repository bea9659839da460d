"""Questions about one call: who rings in which order and who may free which door, and what is refused."""

from dataclasses import replace
from datetime import date

import pytest

from doorwright.app.ask_paths import ask_paths, change_on, date_in_words, when_of, zone_of
from doorwright.kernel.errors import Refused
from doorwright.model.calling import RingMode
from doorwright.model.place import Core, Dwelling
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.rules.example import put
from doorwright.rules.sound import sound_site


def berlin(**values: object) -> Site:
    return replace(sound_site(), **({"time_zone": "Europe/Berlin", "holidays": (date(2031, 5, 1),)} | values))  # type: ignore[arg-type]


def test_who_rings_in_which_order_and_who_may_free() -> None:
    site = put(Dwelling, "flat-1", ring_mode=RingMode.IN_TURN, ring_s=20)(berlin())
    # Saturday: outside the desk's hours; 101 rings on two receivers, then the desk takes what nobody answers
    found = ask_paths(Walk(site), entrance="main ENTRANCE", to="101", at="Sat 14:30")
    assert [(r.start_s, r.end_s, r.who, r.units, r.way) for r in found.ringings] == [
        (0, 20, "dwelling 101", ("URU 101",), "at once"),
        (20, 40, "dwelling 101", ("URU 101 bedroom",), "at once"),
        (40, 70, "Desk", ("Desk",), "no answer"),
    ]
    assert found.frees == (("dwelling 101", ("Main door",)), ("Desk", ("Main door",)))
    assert found.trade_doors == ()


def test_a_desk_and_the_trade_release() -> None:
    desk = ask_paths(Walk(berlin()), entrance="Main entrance", to="desk", at="Sun 03:00")
    assert [(r.who, r.start_s, r.end_s) for r in desk.ringings] == [("Desk", 0, 30)]
    rear = ask_paths(Walk(berlin()), entrance="Rear entrance", to="102", at="Mon 07:00")
    assert rear.trade_doors == ("Rear door",)
    assert ask_paths(Walk(berlin()), entrance="Rear entrance", to="102", at="Mon 10:00").trade_doors == ()


def test_a_date_is_looked_up_in_zone_and_holidays() -> None:
    walk = Walk(berlin())
    # 1 May 2031 is a Thursday; 10:00 summer time is 08:00 UTC
    assert str(when_of(walk, "2031-05-01 10:00")) == "2031-05-01 10:00 (Hol on Thu, Europe/Berlin; 08:00 UTC)"
    assert str(when_of(walk, "2031-05-02T10:00")) == "2031-05-02 10:00 (Fri after Hol, Europe/Berlin; 08:00 UTC)"
    assert when_of(walk, "1 May 2031, 10:00") == when_of(walk, "2031-05-01 10:00")
    assert when_of(walk, "2031-05-01 10:00").remark == ""


def test_the_hour_that_does_not_exist_and_the_one_that_occurs_twice_are_explained() -> None:
    walk = Walk(berlin())
    gap = when_of(walk, "2031-03-30 02:30")
    assert str(gap) == "2031-03-30 03:00 (Sun, Europe/Berlin; 01:00 UTC)"
    assert gap.remark == (
        "2031-03-30 02:30 does not exist in Europe/Berlin: clocks go forward from 02:00 to 03:00."
        " Hours that lie in the gap begin at its end, so this tells of 03:00."
    )
    twice = when_of(walk, "2031-10-26 02:30")
    assert str(twice) == "2031-10-26 02:30 (Sun, Europe/Berlin; 00:30 and 01:30 UTC)"
    assert twice.remark == (
        "2031-10-26 02:30 occurs twice in Europe/Berlin: clocks go back from 03:00 to 02:00."
        " Timetables follow the clock on the wall, so the same holds both times."
    )


def test_a_date_on_which_clocks_change_says_so() -> None:
    zone = zone_of(Walk(berlin()))
    assert change_on(date(2031, 3, 30), zone) == "clocks go forward: this day has 23 hours"
    assert change_on(date(2031, 10, 26), zone) == "clocks go back: this day has 25 hours"
    assert change_on(date(2031, 1, 15), zone) == ""


def test_a_label_that_several_cores_have_is_asked_for_with_its_core() -> None:
    site = berlin()
    twin = replace(site.dwellings[0], id="twin", core="core-b", call_number="9101")
    core = Core(id="core-b", building="building-1", name="Core B")
    walk = Walk(replace(site, cores=(*site.cores, core), dwellings=(*site.dwellings, twin)))
    with pytest.raises(Refused, match="2 parts are called '101'") as refused:
        ask_paths(walk, entrance="Main entrance", to="101", at="Sat 14:30")
    assert "'Core B/101'" in refused.value.remedy
    assert ask_paths(walk, entrance="Main entrance", to="Core B/101", at="Sat 14:30").called == twin


@pytest.mark.parametrize(
    ("entrance", "to", "at", "problem", "remedy"),
    [
        ("Mian entrance", "101", "Sat 14:30", "no entrance is called 'Mian entrance'", "Main entrance"),
        ("Main entrance", "110", "Sat 14:30", "no dwelling is called '110'", "101"),
        ("Main entrance", "101", "2031-02-30 10:00", "no day of the calendar", "2026-12-25"),
        ("Main entrance", "101", "03/04/2031 10:00", "may begin with the day or with the month", "year, month and day"),
        ("Main entrance", "101", "2031-03-30", "no moment of the week", "Add a time"),
        ("Main entrance", "101", "2031-03-30 24:30", "no moment of the week", "2027-03-28 14:30"),
        ("Main entrance", "101", "0001-01-02 10:00", "end of the calendar", "year in between"),
        ("Rear entrance", "Desk", "Sat 14:30", "no call from Rear entrance is for desk Desk", "serve it"),
    ],
)
def test_what_is_not_there_is_refused_with_what_is_near(
    entrance: str, to: str, at: str, problem: str, remedy: str
) -> None:
    with pytest.raises(Refused) as refused:
        ask_paths(Walk(berlin()), entrance=entrance, to=to, at=at)
    assert problem in refused.value.message
    assert remedy in refused.value.remedy


@pytest.mark.parametrize("zone", [None, "", "Europe/Nowhere", "../etc"])
def test_a_date_needs_a_time_zone_that_is_known(zone: str | None) -> None:
    walk = Walk(berlin(time_zone=zone))
    with pytest.raises(Refused, match="time zone"):
        when_of(walk, "2031-03-30 02:30")
    assert when_of(walk, "Sat 14:30").dated is None  # a moment of the week needs none
    assert date_in_words("30 March 2031") == date(2031, 3, 30)
