"""Rules about desks, hours and holidays between their two examples."""

from dataclasses import replace

from doorwright.kernel.verdict import Missing, Subject
from doorwright.model.calling import HOLIDAY, Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.place import Entrance
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.rules.example import Edit, both, plus, put, without
from tests.rules.test_hard_cases import assessed, found

NO_ANSWER = DivertCause.NO_ANSWER
NO_RIGHTS = without(ReleaseRight, "right-main")


def hours(ident: str, *windows: Window, **values: object) -> Timetable:
    plain = Timetable(id=ident, name=ident, entrance="entrance-gate", purpose=TimetablePurpose.DIVERT, windows=windows)
    return replace(plain, **values)  # type: ignore[arg-type]


def sent(ident: str, cause: DivertCause = NO_ANSWER, **values: str) -> Divert:
    return Divert(id=ident, cause=cause, **values)  # type: ignore[arg-type]


def right(door: str, **values: object) -> ReleaseRight:
    return ReleaseRight(id="right-x", door=door, **values)  # type: ignore[arg-type]


def test_hours_that_a_right_or_a_desks_divert_uses_need_no_desk() -> None:
    night = hours("night", Window(days=(0,), start_min=1200, end_min=1320))
    (unused,) = found("divert-to-no-desk", plus(night))
    assert "no divert or right uses it" in unused.message
    assert found("divert-to-no-desk", plus(night, right("door-gate", dwellings=("flat-1",), timetable="night"))) == ()
    assert (
        found("divert-to-no-desk", plus(night, sent("x", desk="smu-desk", to_dwelling="flat-1", timetable="night")))
        == ()
    )
    wrong = replace(night, divert_to="uru-1")
    (still,) = found("divert-to-no-desk", plus(wrong, right("door-gate", dwellings=("flat-1",), timetable="night")))
    assert "which is no desk" in still.message


def test_a_loop_through_a_desk_is_told_once_and_of_the_desk() -> None:
    loop = plus(
        sent("x", desk="smu-desk", to_dwelling="flat-1"), sent("y", dwelling="flat-1", to_desk="smu-desk"),
        sent("z", dwelling="flat-2", to_desk="smu-desk"),
    )  # fmt: skip
    (one,) = found("desk-calls-go-round", loop)
    assert one.subjects == (Subject("unit", "smu-desk"), Subject("dwelling", "flat-1"))
    assert "Desk, dwelling 101, Desk" in one.message
    assert found("calls-go-round", loop) == ()


def test_of_two_desks_in_a_loop_one_speaks() -> None:
    night = Unit(id="smu-night", name="Night desk", kind=UnitKind.SMU, profile="smu-desk", registrar="vcu-main")
    loop = plus(night, sent("x", desk="smu-desk", to_desk="smu-night"), sent("y", desk="smu-night", to_desk="smu-desk"))
    (one,) = found("desk-calls-go-round", loop)
    assert "Desk, Night desk, Desk" in one.message


def test_a_desk_that_nobody_can_call_goes_round_for_nobody() -> None:
    alone: Edit = both(
        put(Entrance, "entrance-main", calls_desk=False), without(Key, "key-desk"), without(Timetable, "times-desk"),
        without(Divert, "divert-1"), plus(sent("x", desk="smu-desk", to_dwelling="flat-1")),
    )  # fmt: skip
    assert found("desk-calls-go-round", alone) == ()
    assert found("desk-never-rung", alone, put(Unit, "smu-desk", registrar="gone")) == ()


def test_a_desk_not_planned_yet_is_not_judged() -> None:
    unplanned = put(Unit, "smu-desk", registrar=None)
    assert assessed("desk-never-rung", unplanned).findings == ()
    waiting = assessed("desk-never-rung", unplanned).not_checked
    assert [one.missing for one in waiting] == [(Missing("unit", "registrar"),)]


def test_a_desk_that_is_silent_by_its_hours_is_no_finding_of_this_rule() -> None:
    never = hours("closed", entrance="entrance-main", purpose=TimetablePurpose.CALL)
    assert found("desk-never-rung", plus(never), put(Unit, "smu-desk", registrar="gone")) == ()


def test_a_door_for_the_desk_alone_is_free_by_the_desks_key() -> None:
    only_desk = both(NO_RIGHTS, plus(right("door-rear", desks=("smu-desk",))))
    (nobody,) = found("door-nobody-may-free", only_desk)
    assert Subject("door", "door-rear") in nobody.subjects
    keyed = plus(Key(id="key-x", unit="vcu-rear", module=0, slot=9, desk="smu-desk"))
    assert found("door-nobody-may-free", only_desk, keyed) == ()
    unplanned = assessed("door-nobody-may-free", only_desk, keyed, put(Unit, "smu-desk", registrar=None))
    assert unplanned.findings == ()
    assert [one.missing for one in unplanned.not_checked] == [(Missing("unit", "registrar"),)]
    assert found("release-right-beyond-entrance", only_desk, keyed) == ()


def test_a_key_to_a_desk_without_the_right_is_told() -> None:
    keyed = plus(
        Key(id="key-x", unit="vcu-rear", module=0, slot=9, desk="smu-desk"), right("door-rear", cores=("core-a",))
    )
    (one,) = found("who-answers-cannot-free", keyed)
    assert "Desk may free no door" in one.message
    assert "all week" in one.message
    assert found("who-answers-cannot-free", keyed, without(Door, "door-rear")) == ()


def test_a_divert_is_for_a_dwelling_or_for_a_desk() -> None:
    (one,) = found("divert-leads-nowhere", plus(sent("x", dwelling="flat-1", desk="smu-desk", to_dwelling="flat-2")))
    assert "a divert is for one" in one.message
    (gone,) = found("divert-leads-nowhere", plus(sent("x", desk="smu-9", to_dwelling="flat-2")))
    assert "its desk 'smu-9' is not of the site" in gone.message
    (unit,) = found("divert-leads-nowhere", plus(sent("x", desk="uru-1", to_dwelling="flat-2")))
    assert "is no desk" in unit.message


def test_diverts_of_one_desk_clash_and_not_with_those_for_all() -> None:
    (clash,) = found(
        "diverts-clash",
        plus(sent("x", desk="smu-desk", to_dwelling="flat-1"), sent("y", desk="smu-desk", to_dwelling="flat-2")),
    )
    assert "of SMU Desk" in clash.message
    apart = plus(sent("x", desk="smu-desk", to_dwelling="flat-1"), sent("y", to_dwelling="flat-2"))
    assert found("diverts-clash", apart) == ()


def test_closed_on_holidays_needs_holidays_and_overlaps_with_none() -> None:
    closed = put(Timetable, "times-trade", closed_on_holidays=True)
    (one,) = found("holidays-not-listed", closed)
    assert "is closed on holidays, and the site lists none" in one.message
    both_on_holidays = tuple(Window(days=(HOLIDAY,), start_min=a, end_min=b) for a, b in ((420, 600), (540, 660)))
    assert found("timetable-windows-overlap", put(Timetable, "times-trade", windows=both_on_holidays)) != ()
    assert (
        found(
            "timetable-windows-overlap",
            put(Timetable, "times-trade", windows=both_on_holidays, closed_on_holidays=True),
        )
        == ()
    )
