"""What is entered in units of clocks, timetables, ringing, diverts and doors, worked out by hand from a small block.

Where each is entered is common practice: timetables at the entrance's unit, diverts where calls are routed, rights and
release times in the unit that frees the door.
"""

from dataclasses import replace
from datetime import date

import pytest

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.change import diff
from doorwright.model.door import Door, FailMode, ReleaseRight
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.hours import window_text
from doorwright.plan.releases import runs_of
from doorwright.plan.settings import settings_of
from doorwright.plan.touch import Touch, touch_list
from tests.unit.plan.block import block, planned, plus, put, server, unit

DAYTIME = Window(days=(0, 1, 2, 3, 4), start_min=480, end_min=1080)


def town(*, with_server: bool = False) -> Site:
    site = plus(
        block({"A": {0: ["1", "2", "3"]}, "B": {0: ["5"]}}),
        Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True),
        unit("vcu gate", entrance="gate"),
        unit("smu desk", call_number="90"),
        unit("uru bedroom", dwelling="A/2", position=1),
        Door(id="leaf", name="Leaf", entrance="gate", freed_by="vcu gate", output=2, release_s=6.5,
             fail_mode=FailMode.SAFE),
        Timetable(id="day", name="Day", entrance="gate", purpose=TimetablePurpose.DIVERT, windows=(DAYTIME,),
                  divert_to="smu desk"),
        Divert(id="away", cause=DivertCause.NO_ANSWER, dwelling="A/1", to_dwelling="B/5", timetable="day"),
        ReleaseRight(id="right", door="leaf", cores=("A",), desks=("smu desk",), timetable="day"),
        *([server(address="192.0.2.9")] if with_server else []),
    )  # fmt: skip
    return planned(replace(site, time_zone="Etc/UTC", holidays=(date(2031, 5, 1),))).site


SITE, SERVED = town(), town(with_server=True)


def at(site: Site, kind: type[Unit] | type[SipServer], ident: str, about: str) -> dict[str, str]:
    walk = Walk(site)
    found = settings_of(walk, walk.get(kind, ident))
    return {name: value for name, value in found.items() if name.startswith(about)}


def touched(after: Site, before: Site = SITE) -> dict[str, Touch]:
    return {touch.name: touch for touch in touch_list(Walk(before), Walk(after), diff(before, after))}


def test_a_timetable_is_kept_at_its_entrance_and_the_holidays_with_it() -> None:
    assert at(SITE, Unit, "vcu gate", "timetable") == {
        "timetable day: name": "Day", "timetable day: windows": "Mon-Fri 08:00-18:00",
        "timetable day: for what": "calls divert", "timetable day: calls go to": "90",
    }  # fmt: skip
    assert at(SITE, Unit, "vcu gate", "clock") == {"clock: time zone": "Etc/UTC", "clock: holidays": "2031-05-01"}
    assert at(SITE, Unit, "uru A/1", "clock") == {"clock: time zone": "Etc/UTC"}
    # a server that diverts inside the hours keeps them too, and what they are for at the gate is not its concern
    assert at(SERVED, SipServer, "server", "timetable").keys() == {"timetable day: name", "timetable day: windows"}
    assert at(SERVED, SipServer, "server", "clock: h") == {"clock: holidays": "2031-05-01"}


def test_a_divert_is_entered_where_calls_are_routed() -> None:
    text = "no answer, calls to 1, inside Day: to 5"
    assert at(SITE, Unit, "vcu gate", "divert") == {"divert away": text}  # the primary of the group of entrances
    assert at(SITE, Unit, "vcu A", "divert") == {}
    assert at(SERVED, SipServer, "server", "divert") == {"divert away": text}
    assert at(SERVED, Unit, "vcu gate", "divert") == {}


def test_how_a_dwelling_rings_is_entered_in_its_primary_or_at_the_server() -> None:
    site = put(SITE, "A/2", ring_mode=RingMode.IN_TURN, ring_s=25)
    assert at(site, Unit, "uru A/2", "ringing") == {"ringing A/2": "in turn, 25 s each"}
    assert at(site, Unit, "uru bedroom", "ringing") == {}
    assert at(site, Unit, "uru A/1", "ringing") == {"ringing A/1": "30 s"}  # one receiver: nothing to take turns
    assert at(SERVED, SipServer, "server", "ringing A/1") == {"ringing A/1": "1: 30 s"}
    assert at(SERVED, Unit, "uru A/1", "ringing") == {}


def test_a_door_is_told_to_the_unit_that_frees_it() -> None:
    assert at(SITE, Unit, "vcu gate", "door") == {
        "door leaf: output": "2", "door leaf: release time": "6.5 s",
        "door leaf: lock": "fail-safe: the output takes its power away", "door leaf: in calls from": "vcu gate",
        "door leaf: freed by": "1-3, 90 inside Day",
    }  # fmt: skip
    without = SITE.with_tables({ReleaseRight: ()})
    assert at(without, Unit, "vcu gate", "door leaf: freed") == {"door leaf: freed by": "whoever is called"}


def test_other_hours_touch_what_keeps_them_and_nothing_else() -> None:
    longer = replace(SITE.timetables[0], windows=(replace(DAYTIME, end_min=1200),))
    touches = touched(SITE.with_tables({Timetable: (longer,)}))
    assert list(touches) == ["vcu gate"]
    (entry,) = touches["vcu gate"].entries
    assert (entry.heading, entry.name) == ("timetable Day", "windows")
    assert (entry.old, entry.new) == ("Mon-Fri 08:00-18:00", "Mon-Fri 08:00-20:00")
    assert touches["vcu gate"].work == ("try a call just before and just after an edge of Day",)


def test_another_release_time_asks_for_the_competent_person_unless_the_door_is_no_way_out() -> None:
    slower = replace(SITE.doors[0], release_s=9.0)
    touch = touched(SITE.with_tables({Door: (slower,)}))["vcu gate"]
    assert [(entry.name, entry.old, entry.new) for entry in touch.entries] == [("release time", "6.5 s", "9 s")]
    (caution,) = touch.cautions
    assert "competent person" in caution
    inner = replace(SITE.doors[0], escape_route=False)
    before, after = (SITE.with_tables({Door: (one,)}) for one in (inner, replace(inner, release_s=9.0)))
    assert touched(after, before)["vcu gate"].cautions == ()


def test_a_new_home_in_a_core_that_may_free_a_door_is_told_to_that_unit() -> None:
    after = planned(plus(SITE, Dwelling(id="A/4", door_label="4", core="A", level="L0")), prefix="later ").site
    entries = {entry.name: entry.new for entry in touched(after)["vcu gate"].entries}
    assert entries["freed by"] == "1-4, 90 inside Day"


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        (["101", "102", "103", "201"], "101-103, 201"),
        (["9", "10", "11"], "9, 10, 11"),  # other counts of digits do not follow one another
        (["08", "09", "10"], "08-10"),
        (["1A", "2"], "2, 1A"),
        ([], ""),
    ],
)
def test_numbers_that_follow_one_another_are_drawn_together(numbers: list[str], told: str) -> None:
    assert ", ".join(runs_of(numbers)) == told


def test_days_that_follow_one_another_are_drawn_together() -> None:
    def said(*days: int) -> str:
        return window_text(Window(days=days, start_min=0, end_min=60)).partition(" ")[0]

    assert (said(4, 0, 1, 2, 3), said(0, 1), said(5, 6, 7), said(0, 2, 3, 4, 7)) == (
        "Mon-Fri", "Mon+Tue", "Sat+Sun+Hol", "Mon+Wed-Fri+Hol",
    )  # fmt: skip
